"""Exposure plans: on which frames a new picture is taken.

The whole frame is photographed at once, so one plan serves every part of a shot.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import accumulate, cycle, pairwise

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import Misuse, Problem

Frames = NDArray[np.int64]


def plan(first: int, last: int, pattern: Sequence[int], extremes: Iterable[int] = ()) -> Frames:
    """Starts of the exposures that cover frames first..last, ascending; the first start is `first`.

    pattern:  lengths in frames, repeated: (1,) on ones, (2,) on twos, (2, 2, 3) uneven
    extremes: frames on which an exposure must begin (those outside the range do not matter). The pattern starts anew at
              each. What is left before the next extreme and is shorter than the pattern's shortest exposure is added to
              the exposure before it: a pose that flashes by a frame early would read as a mistake.
    """
    lengths = checked_pattern(pattern)
    starts: list[int] = []
    for begin, end in anchored_in(first, last, extremes):
        starts.extend(_fill(begin, end, lengths))
    return np.array(starts, dtype=np.int64)


def anchored_in(first: int, last: int, extremes: Iterable[int]) -> list[tuple[int, int]]:
    """The stretches from one extreme within first..last to the next, each with the frame after it; Misuse for none."""
    if last < first:
        raise Misuse(Problem(f"The frame range {first}-{last} is empty.", "Give a last frame after the first."))
    anchors = sorted({first, *(f for f in extremes if first < f <= last)})
    return list(zip(anchors, [*anchors[1:], last + 1], strict=True))


def checked_pattern(pattern: Sequence[int]) -> tuple[int, ...]:
    """The pattern as a tuple; Misuse unless it is one or more whole numbers from 1."""
    lengths = tuple(pattern)
    if not lengths or any(isinstance(n, bool) or not isinstance(n, int) or n < 1 for n in lengths):
        raise Misuse(
            Problem(
                f"The exposure pattern {list(lengths)} is not a list of whole numbers from 1.",
                "Write for instance 1 (on ones), 2 (on twos) or 2,2,3.",
            )
        )
    return lengths


def _fill(begin: int, end: int, lengths: tuple[int, ...]) -> list[int]:
    starts = [begin]
    for start in accumulate(cycle(lengths), initial=begin):
        if start <= begin:
            continue
        if start > end - min(lengths):
            break
        starts.append(start)
    return starts


def scaled(pattern: Sequence[int], factor_up: int, factor_down: int = 1) -> tuple[int, ...]:
    """The pattern for another frame rate; Misuse where a length would not come out whole.

    On ones at 12 frames a second is on twos at 24: scaled((1,), 24, 12) == (2,).
    """
    lengths = [n * factor_up for n in checked_pattern(pattern)]
    if any(n % factor_down for n in lengths):
        raise Misuse(
            Problem(
                f"The exposure pattern {list(pattern)} has no whole lengths at {factor_up}/{factor_down} of its rate.",
                "Choose a pattern whose lengths divide evenly, or another frame rate.",
            )
        )
    return tuple(n // factor_down for n in lengths)


def spread(pattern: Sequence[int], factor_up: int, factor_down: int) -> tuple[int, ...]:
    """The pattern for another frame rate, to the frame: uneven where its lengths do not come out whole.

    Each exposure begins on the frame that is on show when it should: spread((1,), 30, 12) == (2, 3). Where the new rate
    is too slow to show one, it is left out.
    """
    lengths = checked_pattern(pattern)
    whole = factor_down // math.gcd(factor_down, factor_up * sum(lengths))
    at = [n * factor_up // factor_down for n in accumulate(lengths * whole, initial=0)]
    return tuple(b - a for a, b in pairwise(at) if b > a)


def ends(starts: Frames, last: int) -> Frames:
    """The last frame of each exposure of a plan that covers frames up to `last`."""
    return np.append(starts[1:] - 1, last)
