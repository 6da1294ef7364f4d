"""From evidence to exposures: two classes of pictures, and what is known of how long holds last.

Holds are a hidden semi-Markov chain (Ferguson 1980): the best sequence by dynamic programming, the certainty of each
start from its forward and backward sums, the distribution of lengths from the clip itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.reference.evidence import Evidence

Floats = NDArray[np.float64]

SURE = 0.99
"""A start or a hold of at least this probability is called sure."""

_LONGEST = 600
_ROUNDS = 4
_PSEUDO = 8.0  # holds' worth of what is usual, beside those counted in the clip


@dataclass(frozen=True)
class Starts:
    """Where exposures begin in a shot of T pictures.

    starts: indices, the first picture's included
    new:    (T,) probability that each picture begins an exposure
    threshold: of the score, beyond which a picture counts as new before the lengths of holds are considered
    """

    starts: NDArray[np.int64]
    new: Floats
    threshold: float


def decide(seen: Evidence) -> Starts:
    """The exposures of one shot."""
    count = len(seen.score)
    if count < 2:
        return Starts(np.zeros(min(count, 1), np.int64), np.ones(count), 0.0)
    odds, threshold = log_odds(seen.score, seen.frozen)
    odds = merged(odds, seen, threshold)
    usual = _usual(min(_LONGEST, count))
    lengths = usual
    for _ in range(_ROUNDS):
        starts = _unforced(best(odds, lengths), odds, len(lengths))
        holds = np.minimum(np.diff(starts), len(lengths))
        counted = np.bincount(holds, minlength=len(lengths) + 1)[1:].astype(float)
        if counted.sum() < 3:
            break
        lengths = (counted + _PSEUDO * usual) / (counted.sum() + _PSEUDO)
    return Starts(_unforced(best(odds, lengths), odds, len(lengths)), probabilities(odds, lengths), threshold)


def _unforced(starts: NDArray[np.int64], odds: Floats, longest: int) -> NDArray[np.int64]:
    """Without starts that stand there only because no hold may be longer."""
    forced = np.append(False, np.diff(starts) == longest) & (odds[starts] < 0)
    return starts[~forced]


def log_odds(score: Floats, frozen: float) -> tuple[Floats, float]:
    """(T,) log-odds that each picture is new, and the threshold. frozen: see Evidence."""
    limits = (1.3, float(np.interp(frozen, [0.1, 0.3], [1.7, 5.5])))
    x = score[1:]
    threshold = 2.0
    split = otsu(x)
    low, high = x[x < split], x[x >= split]
    if len(low) >= 4 and len(high) >= 4:
        apart = (np.median(high) - np.median(low)) / (low.std() + high.std() + 0.1)
        if apart > 1.2 and np.median(low) < 4.2:
            threshold = split
    threshold = float(np.clip(threshold, *limits))
    for _ in range(8):
        low_class = _class(x[x < threshold], 0.5, 0.5, 0.25)
        high_class = _class(x[x >= threshold], 4.0, 1.0, 0.7)
        high_class = (max(high_class[0], low_class[0] + 1.2), high_class[1])
        between = np.linspace(low_class[0], high_class[0], 200)
        better = _log_normal(between, *high_class) > _log_normal(between, *low_class)
        crossing = float(np.clip(between[int(np.argmax(better))], *limits))
        if abs(crossing - threshold) < 0.02:
            break
        threshold = (threshold + crossing) / 2
    low_class = (low_class[0], max(low_class[1], 0.45))
    high_class = (high_class[0], max(high_class[1], 0.9))
    odds = _log_normal(score, *high_class) - _log_normal(score, *low_class)
    odds = np.where(score >= high_class[0], np.maximum(odds, 4), odds)
    odds = np.where(score <= low_class[0], np.minimum(odds, -4), odds)
    at = np.array([threshold])
    level = float((_log_normal(at, *high_class) - _log_normal(at, *low_class))[0])
    return np.clip(odds - level, -10, 10), threshold


def _class(x: Floats, centre: float, width: float, least: float) -> tuple[float, float]:
    if len(x) < 4:
        return centre, width
    middle = float(np.median(x))
    return middle, max(least, 1.4826 * float(np.median(np.abs(x - middle))))


def _log_normal(x: Floats, centre: float, width: float) -> Floats:
    logs: Floats = -0.5 * ((x - centre) / width) ** 2 - np.log(width)
    return logs


def otsu(x: Floats, bins: int = 64) -> float:
    """The threshold with the largest variance between the two classes it makes (Otsu 1979)."""
    low, high = float(x.min()), float(x.max())
    if high - low < 1e-12:
        return high
    counts, edges = np.histogram(x, bins, (low, high))
    centres = (edges[1:] + edges[:-1]) / 2
    weight, moment = np.cumsum(counts), np.cumsum(counts * centres)
    inside = (weight > 0) & (weight < weight[-1])
    spread = (moment[-1] * weight - moment * weight[-1]) ** 2 / np.maximum(weight * (weight[-1] - weight), 1)
    return float(centres[int(np.argmax(np.where(inside, spread, 0)))])


def merged(odds: Floats, seen: Evidence, threshold: float) -> Floats:
    """The odds with a picture that is a blend of its neighbours counted as one change, not two."""
    out = odds.copy()
    last = -9
    for n in np.flatnonzero(np.isfinite(seen.mix)).tolist():
        if seen.plain[n] < threshold - 0.3 or seen.plain[n + 1] < threshold - 0.3:
            continue
        if n == last + 1 and seen.rest[n] > seen.rest[last]:
            continue
        keep, drop = (n, n + 1) if seen.mix[n] >= 0.49 else (n + 1, n)
        out[keep], out[drop] = max(out[n], out[n + 1]), -8.0
        last = n
    return out


def _usual(longest: int) -> Floats:
    after = np.arange(1, longest + 1)
    long = 0.22 * 0.12 * 0.88**after + 0.02 / after**2
    chances = np.concatenate([[0.16, 0.3, 0.2, 0.12], long])[:longest]
    usual: Floats = chances / chances.sum()
    return usual


def best(odds: Floats, lengths: Floats) -> NDArray[np.int64]:
    """The likeliest starts, the first picture's included. lengths[d - 1]: how likely a hold of d pictures is.

    The first and the last hold may go on outside the shot.
    """
    count, longest = len(odds), len(lengths)
    log_length, log_tail = _logs(lengths)
    value, came = np.full(count + 1, -np.inf), np.zeros(count + 1, np.int64)
    value[0] = 0.0
    for t in range(1, count + 1):
        begin = t - np.arange(1, min(longest, t) + 1)
        options = value[begin] + _gain(odds, begin, t, count, log_length, log_tail)
        chosen = int(options.argmax())
        value[t], came[t] = options[chosen], begin[chosen]
    starts = []
    t = count
    while t > 0:
        t = int(came[t])
        starts.append(t)
    return np.array(starts[::-1], np.int64)


def probabilities(odds: Floats, lengths: Floats) -> Floats:
    """(T,) probability that each picture begins an exposure, over all sequences of holds."""
    count, longest = len(odds), len(lengths)
    log_length, log_tail = _logs(lengths)
    forward = np.full(count + 1, -np.inf)
    backward = np.full(count + 1, -np.inf)
    forward[0] = backward[count] = 0.0
    for t in range(1, count + 1):
        begin = t - np.arange(1, min(longest, t) + 1)
        forward[t] = _log_sum(forward[begin] + _gain(odds, begin, t, count, log_length, log_tail))
    for t in range(count - 1, -1, -1):
        end = t + np.arange(1, min(longest, count - t) + 1)
        begin = np.full(len(end), t)
        steps = np.where((end == count) | (begin == 0), log_tail[end - t - 1], log_length[end - t - 1])
        backward[t] = _log_sum(backward[end] + steps + (odds[t] if t > 0 else 0.0))
    new: Floats = np.exp(np.minimum(forward[:-1] + backward[:-1] - forward[count], 0.0))
    return new


def _logs(lengths: Floats) -> tuple[Floats, Floats]:
    tail = np.cumsum(lengths[::-1])[::-1]
    return np.log(lengths + 1e-9), np.log(np.maximum(tail, 1e-9))


def _gain(odds: Floats, begin: NDArray[np.int64], end: int, count: int, log_length: Floats, log_tail: Floats) -> Floats:
    long = end - begin - 1
    open_ended = (begin == 0) | (end == count)
    steps: Floats = np.where(open_ended, log_tail[long], log_length[long]) + np.where(begin > 0, odds[begin], 0.0)
    return steps


def _log_sum(x: Floats) -> float:
    top = float(x.max())
    return top if not np.isfinite(top) else top + float(np.log(np.exp(x - top).sum()))
