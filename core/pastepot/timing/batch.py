"""The values of many curves at once: their keys lie in one long list, and each kind of segment is one piece of maths.

The values of m curves at k frames are worked out in one flat array of m * k places. Between a key's frame and the next
key's, that key is in charge: a run of places in the flat array, with a start and a count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pastepot.timing import cubic
from pastepot.timing.easing import rise
from pastepot.timing.kinds import Easing, Extrapolation, Interpolation, Numbers

if TYPE_CHECKING:
    from pastepot.timing.curve import Curve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_AT_KEY = 1e-4  # frames: this close to a key Blender takes the key's own value
_LEVEL = float(np.finfo(np.float32).eps)  # a Bezier segment less high than this is level to Blender


@dataclass(frozen=True)
class _Keys:
    """All keys of all curves in one list (n in total), and which frames (k, sorted) each is in charge of."""

    frames: Floats
    co: Floats  # (n, 2)
    left: Floats  # (n, 2)
    right: Floats  # (n, 2)
    kind: Ints
    easing: Ints
    back: Floats
    amplitude: Floats
    period: Floats
    owner: Ints  # the curve of each key
    first: Ints  # of each curve: its first key
    last: Ints
    straight: NDArray[np.bool_]  # of each curve: goes on in a straight line outside its keys
    start: Ints  # of each key: where its run starts in the flat array of values
    count: Ints
    ahead: Ints  # of each curve: how many frames lie before its first key


@dataclass(frozen=True)
class _Run:
    """The places (j,) that some keys are in charge of: in the flat array, the key of each, and its frame."""

    where: Ints
    key: Ints
    frame: Floats


def values(curves: Sequence[Curve], frames: Floats) -> Floats:
    """(m, k) values of m curves, each with one key at least and its modifiers left aside, at k sorted frames."""
    keys = _gather(curves, frames)
    out = _held(keys)
    _fill_lines(keys, out)
    _fill_straight_ends(keys, out)
    _fill_beziers(keys, out)
    _fill_eased(keys, out)
    _fill_key_frames(keys, out)
    return out.reshape(len(curves), frames.size)


def _gather(curves: Sequence[Curve], frames: Floats) -> _Keys:
    sizes = np.array([len(c.co) for c in curves])
    owner = np.repeat(np.arange(len(curves)), sizes)
    last = np.cumsum(sizes) - 1
    first = last - sizes + 1
    co = np.concatenate([c.co for c in curves])
    switch = np.array([c.numbers is Numbers.SWITCH for c in curves])
    kind = np.concatenate([c.interpolation for c in curves])
    begin = np.searchsorted(frames, co[:, 0])
    end = np.append(begin[1:], 0)
    end[last] = frames.size
    return _Keys(
        frames=frames,
        co=co,
        left=np.concatenate([c.handle_left for c in curves]),
        right=np.concatenate([c.handle_right for c in curves]),
        kind=np.where(switch[owner], Interpolation.CONSTANT, kind),
        easing=np.concatenate([c.easing for c in curves]),
        back=np.concatenate([c.back for c in curves]),
        amplitude=np.concatenate([c.amplitude for c in curves]),
        period=np.concatenate([c.period for c in curves]),
        owner=owner,
        first=first,
        last=last,
        straight=np.array([c.extrapolation is Extrapolation.LINEAR for c in curves]),
        start=owner * frames.size + begin,
        count=end - begin,
        ahead=begin[first],
    )


def _spread(start: Ints, count: Ints) -> Ints:
    """All places of runs, one after the other."""
    before = np.cumsum(count) - count
    places: Ints = np.add(np.repeat(start - before, count), np.arange(count.sum()))
    return places


def _run(keys: _Keys, which: Ints) -> _Run:
    """What these keys are in charge of."""
    count = keys.count[which]
    where = _spread(keys.start[which], count)
    key = np.repeat(which, count)
    return _Run(where, key, keys.frames[where - keys.owner[key] * keys.frames.size])


def _segments(keys: _Keys, *kinds: Interpolation) -> Ints:
    """The keys that lead to a next one in one of these ways and have any frames to see to."""
    leads = np.isin(keys.kind, kinds) & (keys.count > 0)
    leads[keys.last] = False
    return np.flatnonzero(leads)


def _held(keys: _Keys) -> Floats:
    """Everywhere the value of the key in charge: right for CONSTANT, and what the other kinds start from."""
    count = keys.count.copy()
    count[keys.first] += keys.ahead
    return np.repeat(keys.co[:, 1], count)


def _fill_lines(keys: _Keys, out: Floats) -> None:
    which = _segments(keys, Interpolation.LINEAR)
    if which.size:
        run = _run(keys, which)
        way = keys.co[run.key + 1] - keys.co[run.key]
        out[run.where] += way[:, 1] * ((run.frame - keys.co[run.key, 0]) / way[:, 0])


def _fill_straight_ends(keys: _Keys, out: Floats) -> None:
    """Before the first and after the last key of the curves that go on in a straight line there."""
    rows = np.flatnonzero(keys.straight)
    if not rows.size:
        return
    start, k = rows * keys.frames.size, keys.frames.size
    alone = keys.first[rows] == keys.last[rows]
    sides = (
        (keys.first[rows], 1, keys.left, start, keys.ahead[rows]),
        (keys.last[rows], -1, keys.right, keys.start[keys.last[rows]], keys.count[keys.last[rows]]),
    )
    for end, step, handles, place, count in sides:
        # The slope: toward the neighbour from a LINEAR key, along the outer handle from any other.
        to_neighbour = (keys.kind[end] == Interpolation.LINEAR)[:, None]
        away = np.where(to_neighbour, keys.co[np.where(alone, end, end + step)], handles[end]) - keys.co[end]
        level = (away[:, 0] == 0) | (keys.kind[end] == Interpolation.CONSTANT)
        slope = np.where(level, 0.0, away[:, 1] / np.where(level, 1.0, away[:, 0]))
        where = _spread(place, count)
        frame = keys.frames[where - np.repeat(rows * k, count)]
        out[where] += np.repeat(slope, count) * (frame - np.repeat(keys.co[end, 0], count))


def _fill_beziers(keys: _Keys, out: Floats) -> None:
    which = _segments(keys, Interpolation.BEZIER)
    y = np.stack([keys.co[which, 1], keys.right[which, 1], keys.left[which + 1, 1], keys.co[which + 1, 1]])
    level = (abs(y[0] - y[3]) < _LEVEL) & (abs(y[1] - y[2]) < _LEVEL) & (abs(y[2] - y[3]) < _LEVEL)
    which = which[~level]
    if not which.size:
        return
    time, value = _coefficients(keys, which)
    run = _run(keys, which)
    at = np.repeat(np.arange(which.size), keys.count[which])
    share = (run.frame - keys.co[run.key, 0]) / (keys.co[run.key + 1, 0] - keys.co[run.key, 0])
    t = cubic.parameter(time[0][at], time[1][at], time[2][at], share)
    out[run.where] += ((value[0][at] * t + value[1][at]) * t + value[2][at]) * t


def _coefficients(keys: _Keys, which: Ints) -> tuple[Floats, Floats]:
    """The powers 3, 2, 1 of the parameter (3, s) that make up the share of time and the rise in value of segments.

    Handles longer than the segment are cut down to it. This much is done in float32, step by step as Blender does
    it: far from frame 0 its rounding shows in the fifth digit.
    """
    p0, p3 = keys.co[which].astype(np.float32), keys.co[which + 1].astype(np.float32)
    length = (p3 - p0)[:, :1]
    p1 = _cut(p0, keys.right[which].astype(np.float32), length)
    p2 = _cut(p3, keys.left[which + 1].astype(np.float32), length)
    three, two = np.float32(3), np.float32(2)
    powers = (p3 - p0 + three * (p1 - p2), three * (p0 - two * p1 + p2), three * (p1 - p0))
    time = np.stack([p[:, 0] for p in powers]).astype(np.float64) / length[:, 0]
    value = np.stack([p[:, 1] for p in powers]).astype(np.float64)
    return time, value


def _cut(key: NDArray[np.float32], handle: NDArray[np.float32], length: NDArray[np.float32]) -> NDArray[np.float32]:
    """The handle's end, drawn toward its key until it is no longer than the segment in time."""
    arm = key - handle
    reach = abs(arm[:, :1])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(reach > length, key - (length / reach) * arm, handle)


def _fill_eased(keys: _Keys, out: Floats) -> None:
    which = _segments(keys, *(k for k in Interpolation if k > Interpolation.BEZIER))
    code = keys.kind[which] * len(Easing) + keys.easing[which]
    for one in np.unique(code):
        kind, easing = divmod(int(one), len(Easing))
        run = _run(keys, which[code == one])
        duration, change = (keys.co[run.key + 1] - keys.co[run.key]).T
        out[run.where] += rise(
            Interpolation(kind),
            Easing(easing),
            (run.frame - keys.co[run.key, 0]) / duration,
            change,
            duration,
            keys.back[run.key],
            keys.amplitude[run.key],
            keys.period[run.key],
        )


def _fill_key_frames(keys: _Keys, out: Floats) -> None:
    """On a key's own frame nothing but the key's own value will do."""
    begin = np.searchsorted(keys.frames, keys.co[:, 0] - _AT_KEY)
    count = np.searchsorted(keys.frames, keys.co[:, 0] + _AT_KEY, side="right") - begin
    out[_spread(keys.owner * keys.frames.size + begin, count)] = np.repeat(keys.co[:, 1], count)
