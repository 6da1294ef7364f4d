"""Imperfect spacing: how a hand divides the way between two extremes.

Everything happens along the way that the smooth curve takes: a part never leaves its path by it, all its channels stay
together, and the extremes are where they were. A way is a length in paper millimetres, summed over the frames:

    step = sqrt(dx**2 + dz**2 + (reach * dturn)**2 + (everything else in the pose, a unit for a unit)**2)

Lengths are whole numbers of 2**-20 mm, so that sums are exact: a result hangs on its own segment and on nothing before
it, to the bit. Exponentials and sines are avoided, because they differ in the last bit from machine to machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot import chance
from pastepot.timing.rows import REACH_MM, STILL, Flags, Floats, Places, Role, Rows, Table
from pastepot.timing.settings import Feel
from pastepot.units import tick

Lengths = NDArray[np.int64]

_PER_MM = 2**20
_HURRY_TICKS = 200  # a third of a second: how long a hand keeps hurrying or lagging
_LEAST = _PER_MM // 1000  # a way shorter than a thousandth of a millimetre is none
_STICK = 0.25  # of the smallest size of step: a slow-in's first crumbs are not taken at all
_BACK = -0.35  # each exposure of a settle, of the one before: past, a little short, home


@dataclass(frozen=True)
class Shown:
    """What the exposures show before anything is missed.

    column: (P, E) the column of Rows.values that each owner's pose comes from
    fixed:  (P, E) extremes and pinned exposures: nothing may change there
    starts: (E,) frames
    """

    column: Places
    fixed: Flags
    starts: NDArray[np.int64]


@dataclass(frozen=True)
class Segments:
    """Runs of exposures from one fixed one to the next (S of them), as places in a flattened (P, E) array.

    begin, end: (S,) the fixed exposures at both ends; the segment's steps are begin + 1 .. end
    after: (S,) one past the last exposure before the next fixed one after `end`
    way: (S,) its length. inside: (P, E) the segment of each exposure after its begin up to its end, -1 for none
    """

    begin: Places
    end: Places
    after: Places
    way: Lengths
    inside: Places


def wanted(feel: Feel) -> bool:
    """Whether the feel changes any spacing."""
    return bool(feel.uneven or feel.hurry or feel.ease_steps or feel.smallest_mm or feel.overshoot or feel.arc)


def spaced(
    rows: Rows, sampled: NDArray[np.float32], shown: Shown, parts: NDArray[np.int64], feel: Feel, table: Table
) -> tuple[NDArray[np.float32], Flags]:
    """The poses with a hand's spacing, and (P, E) where a part is on its way back from an overshoot.

    sampled: (K, E) the poses on the plan. parts: (P,) keys for the random numbers.
    """
    walked = travelled(rows, table)
    at = np.take_along_axis(walked, shown.column, axis=1)
    segments = _segments(at, shown.fixed, rows.exact)
    when = tick(shown.starts, table.fps, table.first_frame)
    out, settling = sampled.copy(), np.zeros(at.shape, bool)
    if not segments.begin.size:
        return out, settling
    new = _divided(at, segments, parts, when, feel, table.seed)
    moves = _moves(rows)
    if (new != at).any():
        out[moves] = _along(rows, sampled, walked, shown, new, at)[moves]
    if feel.arc:
        _bow(out, rows, segments, _share(new, at, segments), parts, when, feel, table)
    if feel.overshoot:
        settling = _settle(out, moves, rows, segments, feel)
    return out, settling


def travelled(rows: Rows, table: Table) -> Lengths:
    """(P, N) the way each owner has gone since the first frame, in 2**-20 mm."""
    reach = np.full(len(rows.owners), REACH_MM) if rows.reach_mm is None else np.asarray(rows.reach_mm, float)
    weight = np.where(rows.role == Role.TURN, reach[rows.owner], 1 / table.units_per_mm)
    squares = np.zeros((len(rows.owners), rows.values.shape[1]))
    for row in np.flatnonzero(_moves(rows)).tolist():
        step = np.diff(rows.values[row].astype(np.float64)) * weight[row]
        squares[rows.owner[row], 1:] += step * step
    return np.cumsum(np.rint(np.sqrt(squares) * _PER_MM).astype(np.int64), axis=1)


def _moves(rows: Rows) -> Flags:
    """(K,) the rows of a pose that go from value to value."""
    moves: Flags = rows.role != Role.SHOWN
    return moves if rows.steps is None else moves & ~rows.steps


def _segments(at: Lengths, fixed: Flags, exact: Flags) -> Segments:
    """The segments of all owners that a hand may space: those that go anywhere."""
    count, exposures = fixed.shape
    bound = fixed.copy()
    bound[:, 0] = True
    edges = np.flatnonzero(bound)
    beyond = np.append(edges[1:], bound.size)
    after = np.append(beyond[1:], bound.size)
    flat, owner = at.ravel(), edges // exposures
    here = np.flatnonzero((beyond < (owner + 1) * exposures) & fixed.ravel()[edges] & ~exact[owner])
    begin, end = edges[here], beyond[here]
    limit = (owner[here] + 1) * exposures
    way = flat[end] - flat[begin]
    goes = way > _LEAST
    begin, end, way = begin[goes], end[goes], way[goes]
    after = np.minimum(after[here], limit)[goes]
    inside = np.full(count * exposures, -1, np.intp)
    sizes = end - begin
    places = np.repeat(begin + 1 - (np.cumsum(sizes) - sizes), sizes) + np.arange(sizes.sum())
    inside[places] = np.repeat(np.arange(len(begin)), sizes)
    return Segments(begin, end, after, way, inside.reshape(count, exposures))


def _divided(
    at: Lengths, segments: Segments, parts: NDArray[np.int64], when: NDArray[np.int64], feel: Feel, seed: int
) -> Lengths:
    """(P, E) how far each owner has gone at each exposure, divided by a hand. The ends of segments stay."""
    where = segments.inside >= 0
    steps = np.zeros(at.shape)
    steps[:, 1:] = np.diff(at, axis=1)
    steps[~where] = 0
    segment = segments.inside[where]
    step = steps[where]
    if feel.ease_steps:
        most = np.zeros(len(segments.begin))
        np.maximum.at(most, segment, step)
        step = np.ceil(np.maximum(step / most[segment] * feel.ease_steps - _STICK, 0)) * most[segment]
    if feel.uneven or feel.hurry:
        step = step * _varied(where, parts, when, feel, seed)
    # whole numbers again: their sums are exact, whatever comes before them
    whole = np.zeros(at.shape, np.int64)
    whole[where] = np.rint(step)
    total = np.cumsum(whole, axis=1)
    flat_total, flat_at = total.ravel(), at.ravel()
    begin, end = segments.begin[segment], segments.end[segment]
    share = (total[where] - flat_total[begin]) / np.maximum(flat_total[end] - flat_total[begin], 1)
    gone = share * segments.way[segment]
    if feel.smallest_mm:
        grid = max(feel.smallest_mm * _PER_MM, 1.0)
        gone = np.minimum(np.rint(gone / grid) * grid, segments.way[segment])
    out = at.copy()
    out[where] = flat_at[begin] + np.rint(gone).astype(np.int64)
    out.ravel()[segments.end] = flat_at[segments.end]
    return out


def _varied(where: Flags, parts: NDArray[np.int64], when: NDArray[np.int64], feel: Feel, seed: int) -> Floats:
    """What each step is multiplied by: around 1, never 0 or less; very nearly e**x, without its last-bit differences.

    A quotient of polynomials that agrees with the exponential (a Pade approximant of e**(x / 4), squared twice).
    """
    owner, exposure = np.nonzero(where)
    x = np.zeros(len(owner))
    if feel.uneven:
        x += feel.uneven * chance.hand(seed, parts[owner], chance.Channel.SPACING, when[exposure])[0]
    if feel.hurry:
        x += feel.hurry * smooth(seed, parts, chance.Channel.SPACING, when, _HURRY_TICKS, lane=1)[0][where]
    root = (8 + x) / (8 - x)  # |x| is below 2 * HAND_LIMIT, which is below 8
    square: Floats = np.square(root)
    return np.square(square)


def smooth(
    seed: int, parts: NDArray[np.int64], channel: int, when: NDArray[np.int64], every: int, lane: int
) -> tuple[Floats, Floats]:
    """Two random values per part and time (P, E), drawn every so many ticks and joined by straight lines."""
    knot, rest = np.divmod(when, every)
    first = int(knot[0])
    knots = np.arange(first, int(knot[-1]) + 2) * every
    share = rest / every
    left, right = knot - first, knot - first + 1
    a, b = chance.hand(seed, parts[:, None], channel, knots[None, :], lane)
    one: Floats = np.add(a[:, left] * (1 - share), a[:, right] * share)
    other: Floats = np.add(b[:, left] * (1 - share), b[:, right] * share)
    return one, other


def _along(
    rows: Rows, sampled: NDArray[np.float32], walked: Lengths, shown: Shown, new: Lengths, at: Lengths
) -> NDArray[np.float32]:
    """(K, E) the poses at other points of the same way; where the point is the same, the same to the bit."""
    frames = walked.shape[1]
    owner, exposure = np.nonzero(new != at)
    span = int(walked[:, -1].max()) + 1
    line = (walked + np.arange(len(walked))[:, None] * span).ravel()
    goal = new[owner, exposure] + owner * span
    column = np.searchsorted(line, goal, side="right") - 1
    here = line[column]
    ahead = np.minimum(column + 1, (owner + 1) * frames - 1)
    share = (goal - here) / np.maximum(line[ahead] - here, 1)
    left, right = np.zeros(new.shape, np.intp), np.zeros(new.shape, np.intp)
    part = np.zeros(new.shape)
    moved = np.zeros(new.shape, bool)
    left[owner, exposure], right[owner, exposure] = column - owner * frames, ahead - owner * frames
    part[owner, exposure], moved[owner, exposure] = share, True
    out = sampled.copy()
    for row, who in enumerate(rows.owner.tolist()):
        places = np.flatnonzero(moved[who])
        a = rows.values[row, left[who, places]].astype(np.float64)
        b = rows.values[row, right[who, places]].astype(np.float64)
        out[row, places] = a + part[who, places] * (b - a)
    return out


def _share(new: Lengths, at: Lengths, segments: Segments) -> Floats:
    """(P, E) how much of its segment's way a part has gone, 0 outside segments."""
    where = segments.inside >= 0
    segment = segments.inside[where]
    out = np.zeros(at.shape)
    out[where] = (new[where] - at.ravel()[segments.begin[segment]]) / segments.way[segment]
    return out


def _bow(
    out: NDArray[np.float32],
    rows: Rows,
    segments: Segments,
    share: Floats,
    parts: NDArray[np.int64],
    when: NDArray[np.int64],
    feel: Feel,
    table: Table,
) -> None:
    """Push the way sideways between two extremes: a parabola over the line between them, 0 at both."""
    exposures = share.shape[1]
    owner, at = segments.begin // exposures, segments.begin % exposures
    size = feel.arc * chance.hand(table.seed, parts[owner], chance.Channel.ARC, when[at])[0]
    row = {role: rows.row_of(role) for role in (Role.SLIDE_X, Role.SLIDE_Z)}
    chord = {}
    for role, of in row.items():
        there = out[of[owner], segments.end % exposures].astype(np.float64)
        chord[role] = np.where(of[owner] >= 0, there - out[of[owner], at], 0.0)
    sideways = {Role.SLIDE_X: -chord[Role.SLIDE_Z], Role.SLIDE_Z: chord[Role.SLIDE_X]}
    inside = segments.inside
    bump = np.where(inside >= 0, 4 * share * (1 - share), 0.0)
    for role, of in row.items():
        who = np.flatnonzero(of >= 0)
        shift = (size * sideways[role])[inside[who]] * bump[who]
        out[of[who]] = (out[of[who]] + shift).astype(np.float32)


def _settle(out: NDArray[np.float32], moves: Flags, rows: Rows, segments: Segments, feel: Feel) -> Flags:
    """Go past each extreme that is held for long enough, and come back in `settle` exposures; then lie as keyed."""
    exposures = segments.inside.shape[1]
    held = segments.after - segments.end
    still = _held_still(out[moves], rows.owner[moves], segments, len(rows.owners))
    chosen = np.flatnonzero((held > feel.settle + 1) & still)
    begin, end = segments.begin[chosen], segments.end[chosen]
    settling = np.zeros(segments.inside.shape, bool)
    past = np.zeros(segments.inside.shape)
    source = np.zeros((2, *segments.inside.shape), np.intp)
    for k in range(1, feel.settle + 1):
        past.ravel()[end + k] = feel.overshoot * _BACK ** (k - 1)
        source[0].ravel()[end + k], source[1].ravel()[end + k] = begin % exposures, end % exposures
    for k in range(1, feel.settle + 2):
        settling.ravel()[end + k] = True
    settles: Flags = np.any(settling, axis=1)
    for row in np.flatnonzero(moves & settles[rows.owner]).tolist():
        who = rows.owner[row]
        at = np.flatnonzero(past[who])
        here = out[row].astype(np.float64)
        shift = past[who, at] * (here[source[1][who, at]] - here[source[0][who, at]])
        out[row, at] = (here[at] + shift).astype(np.float32)
    return settling


def _held_still(pose: NDArray[np.float32], owner: Places, segments: Segments, count: int) -> Flags:
    """(S,) whether nothing moves from a segment's end to the next fixed exposure."""
    exposures = segments.inside.shape[1]
    stirs = np.zeros((count, exposures), np.int64)
    for row, who in enumerate(owner.tolist()):
        stirs[who, 1:] += np.abs(np.diff(pose[row].astype(np.float64))) > STILL
    flat = np.cumsum(stirs.ravel())
    still: Flags = flat[segments.after - 1] == flat[segments.end]
    return still
