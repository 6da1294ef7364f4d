"""Exposure plans: every frame is covered, extremes begin exposures, and no pose flashes by."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse
from pastepot.timing.exposures import ends, plan, scaled

patterns = st.lists(st.integers(1, 5), min_size=1, max_size=4).map(tuple)


@pytest.mark.parametrize(
    ("first", "last", "pattern", "extremes", "starts"),
    [
        # on ones, twos and threes: common practice, no source
        (1, 4, (1,), (), [1, 2, 3, 4]),
        (1, 8, (2,), (), [1, 3, 5, 7]),
        (1, 9, (3,), (), [1, 4, 7]),
        (1, 14, (2, 2, 3), (), [1, 3, 5, 8, 10, 12]),
        (1, 8, (2,), (4,), [1, 4, 6]),  # frame 3 alone would flash by, so 1 is held for three
        (1, 6, (2,), (2, 3), [1, 2, 3, 5]),  # extremes a frame apart are each shown
        (1, 5, (2,), (0, 1, 9), [1, 3]),  # outside, or where it begins anyway
        (5, 5, (4,), (), [5]),
    ],
)
def test_plans(first: int, last: int, pattern: tuple[int, ...], extremes: tuple[int, ...], starts: list[int]) -> None:
    assert plan(first, last, pattern, extremes).tolist() == starts


@given(st.integers(-50, 50), st.integers(0, 200), patterns, st.sets(st.integers(-60, 260), max_size=20))
def test_every_plan_covers_the_range_and_begins_on_every_extreme(first, count, pattern, extremes) -> None:
    last = first + count
    starts = plan(first, last, pattern, extremes)
    assert starts[0] == first
    assert (np.diff(starts) > 0).all()
    assert starts[-1] <= last
    assert {f for f in extremes if first <= f <= last} <= set(starts.tolist())


@given(st.integers(0, 200), patterns, st.sets(st.integers(0, 200), max_size=20))
def test_no_exposure_is_shorter_than_the_pattern_but_between_close_extremes(count, pattern, extremes) -> None:
    starts = plan(0, count, pattern, extremes)
    lengths = ends(starts, count) - starts + 1
    anchors = {0, *extremes, count + 1}
    for start, length in zip(starts.tolist(), lengths.tolist(), strict=True):
        assert length >= min(pattern) or {start, start + length} <= anchors


@pytest.mark.parametrize("pattern", [(), (0,), (2, -1), (1.5,), (True,)])
def test_a_pattern_that_is_none_is_refused(pattern) -> None:
    with pytest.raises(Misuse, match="whole numbers from 1"):
        plan(1, 10, pattern)


def test_an_empty_range_is_refused() -> None:
    with pytest.raises(Misuse, match="empty"):
        plan(10, 9, (1,))


def test_patterns_move_between_rates() -> None:
    assert scaled((1,), 24, 12) == (2,)
    assert scaled((2, 4), 12, 24) == (1, 2)
    with pytest.raises(Misuse, match="no whole lengths"):
        scaled((1,), 30, 12)
