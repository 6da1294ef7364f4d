"""One mouth for each exposure, so that what must be seen is seen and nothing flutters.

Dynamic programming over pairs of mouths (Bellman 1957; Viterbi 1967): every exposure costs how wrong its mouth looks
for what is spoken meanwhile; changing costs a little, changing there and back more, and a closure of the lips that is
shown in none of the exposures it touches costs most. The weights were set on one voice and measured on others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pastepot.library.parts import MouthShape
from pastepot.timing.exposures import Frames
from pastepot.track.mouths import MouthSet, distances
from pastepot.track.sounds import REST, SILENCE, Kind, sound

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_WEIGHT: dict[Kind, float] = {"closure": 1.0, "teeth": 0.8, "vowel": 1.0, "consonant": 0.5, "rest": 1.0}
_UNSEEN: dict[Kind, float] = {"closure": 8.0, "teeth": 6.0, "vowel": 1.5}
_CHANGE, _FLUTTER, _SHORT = 0.12, 0.25, 0.3
_SHORTEST_S = 1 / 12  # a mouth shown for less is not seen: two frames at 24, handbooks [from memory]
_SHORT_PAUSE_S, _SHORT_PAUSE_WEIGHT = 0.2, 0.15
_VOWEL_S = 0.06  # a shorter vowel need not be seen
# The recogniser lets closures begin up to 40 ms early, in the sound before, and ends them a little early or late. The
# lips are surely shut in what lies between these shares of the time that was read (set on one voice and its own texts).
_SURELY_SHUT = 0.7, 0.8
_ROUNDED = 0.9
_GLIDE = 0.6  # the share of a gliding vowel that has its first shape
_EMPHASIS = 0.15  # the most by which loudness opens or closes a vowel


@dataclass(frozen=True)
class Timed:
    """A sound in time, seconds of the track. louder_db: than the line's usual vowel."""

    name: str
    start: float
    end: float
    louder_db: float = 0.0


@dataclass(frozen=True)
class Seen:
    """A shape that should be seen from start to end (seconds). mouth: the person's choice for it, else None."""

    start: float
    end: float
    shape: MouthShape
    kind: Kind
    weight: float
    mouth: int | None = None


def seen(sounds: Sequence[Timed], mouths: MouthSet) -> list[Seen]:
    """What sounds look like, one after another: glides end in their second shape, H takes that of what follows."""
    found: list[Seen] = []
    for number, timed in enumerate(sounds):
        name = timed.name
        if name == "HH" and number + 1 < len(sounds) and sounds[number + 1].name != SILENCE:
            follower = _one(sounds[number + 1], mouths)
            found.append(replace(follower, start=timed.start, end=timed.end, weight=0.3))
        elif sound(name).ends and name not in mouths.fixed:
            turn = timed.start + _GLIDE * (timed.end - timed.start)
            found.append(replace(_one(timed, mouths), end=turn))
            second = replace(timed, name=sound(name).ends)
            found.append(replace(_one(second, mouths), start=turn))
        else:
            found.append(_one(timed, mouths))
    return found


def _one(timed: Timed, mouths: MouthSet) -> Seen:
    kind = sound(timed.name).kind
    shape = sound(timed.name).shape
    weight = _WEIGHT[kind]
    if kind == "vowel":
        louder = float(np.clip(timed.louder_db / 20, -_EMPHASIS, _EMPHASIS))
        shape = replace(shape, open=float(np.clip(shape.open * (1 + louder), 0.0, 1.0)))
    if kind == "consonant" and shape.round > 0.9:
        weight = _ROUNDED  # a pursed mouth is seen as well as a vowel is
    if kind == "rest" and timed.end - timed.start < _SHORT_PAUSE_S:
        weight = _SHORT_PAUSE_WEIGHT
    return Seen(timed.start, timed.end, shape, kind, weight, mouths.fixed.get(timed.name))


def seen_roughly(start: float, step_s: float, opens: Sequence[float]) -> list[Seen]:
    """What amounts of opening look like, one each step_s from start; 0 is a closed mouth."""
    found = []
    for number, open_ in enumerate(opens):
        at = start + number * step_s
        shape = MouthShape("apart", open_, 0.3) if open_ > 0 else REST.shape
        kind: Kind = "consonant" if open_ > 0 else "rest"
        found.append(Seen(at, at + step_s, shape, kind, 1.0))
    return found


def choose(
    starts: Frames, last: int, rate: Fraction, speech: Sequence[Seen], mouths: MouthSet, lead_s: float = 0.0
) -> Ints:
    """(E,) the index of the mouth for each exposure.

    starts: (E,) frames on which exposures begin, frame 0 being the track's own beginning; last: the last frame
    speech: in any order; where nothing is spoken the mouth rests. The first and last exposure always rest unless
    speech fills them. lead_s: how much earlier than the sound the picture is
    """
    begin = starts.astype(np.float64) / float(rate) + lead_s
    end = np.append(starts[1:], last + 1).astype(np.float64) / float(rate) + lead_s
    if not speech:
        return np.full(len(starts), mouths.rest, np.int64)
    cost = _wrongness(begin, end, speech, mouths)
    alone, together = _unseen(begin, end, speech, mouths)
    short = np.where(end - begin < _SHORTEST_S - 1e-6, _SHORT, 0.0)
    return _cheapest(cost + alone, together, short)


def _wrongness(begin: Floats, end: Floats, speech: Sequence[Seen], mouths: MouthSet) -> Floats:
    """(E, M) how wrong each mouth is for what is spoken in each exposure, in exposures of a twelfth of a second."""
    shapes = distances([s.shape for s in speech], mouths.shapes)
    for number, s in enumerate(speech):
        if s.mouth is not None:
            shapes[number] = distances([mouths.shapes[s.mouth]], mouths.shapes)[0]
            shapes[number, s.mouth] = -0.1
    starts, ends = (np.array([getattr(s, name) for s in speech]) for name in ("start", "end"))
    both = np.minimum(end[:, None], ends) - np.maximum(begin[:, None], starts)
    share = np.clip(both, 0.0, None)
    weighed = share * np.array([s.weight for s in speech])
    nothing = np.clip((end - begin) - share.sum(axis=1), 0.0, None)
    at_rest = distances([REST.shape], mouths.shapes)
    at_rest[0, mouths.rest] = 0.0
    return np.asarray((weighed @ shapes + nothing[:, None] * at_rest) * 12)


def _unseen(begin: Floats, end: Floats, speech: Sequence[Seen], mouths: MouthSet) -> tuple[Floats, Floats]:
    """What it costs not to see a sound that has to be seen.

    alone: (E, M) where one exposure is all there is; together: (E, M, M) for the mouths of the exposure before and of
    this one, either of which would do.
    """
    count = len(mouths.mouths)
    alone, together = np.zeros((len(begin), count)), np.zeros((len(begin), count, count))
    for s in speech:
        if s.kind not in _UNSEEN or (s.kind == "vowel" and s.end - s.start < _VOWEL_S):
            continue
        wrong = ~_shows(s, mouths) * _UNSEEN[s.kind]
        since, until = _surely(s)
        first = int(np.searchsorted(begin, since, "right")) - 1
        final = int(np.searchsorted(begin, until, "left")) - 1
        first, final = max(first, 0), min(final, len(begin) - 1)
        if first >= len(begin) or final < 0 or until <= begin[0] or since >= end[-1]:
            continue
        if final <= first:
            alone[first] += wrong
        else:
            middle = (first + final + 1) // 2
            together[middle] += np.minimum(wrong[:, None], wrong[None, :])
    return alone, together


def _surely(s: Seen) -> tuple[float, float]:
    """From when until when the sound is surely made (seconds)."""
    if s.kind != "closure":
        return s.start, s.end
    since, until = (s.start + share * (s.end - s.start) for share in _SURELY_SHUT)
    return since, until


def _shows(s: Seen, mouths: MouthSet) -> NDArray[np.bool_]:
    """(M,) which mouths show the sound; where none has the lips for it, the nearest one does."""
    if s.mouth is not None:
        good = np.arange(len(mouths.mouths)) == s.mouth
    elif s.kind == "vowel":
        good = np.array([m.lips == "apart" and m.open >= min(0.2, s.shape.open) for m in mouths.shapes])
    else:
        good = np.array([m.lips == s.shape.lips for m in mouths.shapes])
    if not good.any():
        good[int(np.argmin(distances([s.shape], mouths.shapes)[0]))] = True
    return np.asarray(good, bool)


def _cheapest(cost: Floats, together: Floats, short: Floats) -> Ints:
    """The cheapest run of mouths. cost: (E, M), together: (E, M, M), short: (E,) for a mouth seen in one exposure."""
    exposures, count = cost.shape
    if exposures == 1:
        return np.array([int(np.argmin(cost[0]))], np.int64)
    same = np.eye(count, dtype=bool)
    change = np.where(same, 0.0, _CHANGE)
    total = cost[0][:, None] + cost[1][None, :] + together[1] + change  # [before, now]
    back = np.zeros((exposures, count, count), np.int16)
    for e in range(2, exposures):
        lone = total + np.where(same, 0.0, short[e - 1])  # now changes on both sides
        order = np.argsort(lone, axis=0)[:2]
        best, second = order[0], order[1]
        now = np.arange(count)
        # [now, next]: the cheapest mouth before, other than the next one; and the next one itself, there and back
        other = np.where(best[:, None] == now[None, :], second[:, None], best[:, None])
        straight = lone[other, now[:, None]]
        again = lone.T + _FLUTTER
        before = np.where(again < straight, now[None, :], other)
        step = np.minimum(again, straight)
        held = np.argmin(total, axis=0)
        before[now, now], step[now, now] = held, total[held, now]
        back[e] = before
        total = step + change + cost[e][None, :] + together[e]
    path = np.empty(exposures, np.int64)
    path[-2], path[-1] = np.unravel_index(int(np.argmin(total)), total.shape)
    for e in range(exposures - 1, 1, -1):
        path[e - 2] = back[e, path[e - 1], path[e]]
    return path
