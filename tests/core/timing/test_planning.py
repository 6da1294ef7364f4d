"""Plans: by pattern, drawn, measured, split where it is fast, the camera's own and a part's own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse
from pastepot.timing.edits import Edit
from pastepot.timing.exposures import ends
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import expose
from pastepot.timing.planning import Wishes, drawn, measured, plans
from pastepot.timing.redo import expose_plans
from pastepot.timing.rows import Role, Rows


@pytest.mark.parametrize(
    ("at", "value"), [(0, 0), (0.1, 0), (0.25, 0.25), (0.49, 0.25), (0.5, 0.5), (0.75, 0.75), (0.99, 0.75), (1, 1)]
)
def test_plain_stepping_is_css_steps(one_part, table, at, value) -> None:
    """steps(4, jump-end) of CSS Easing Functions Level 1, section "Step Easing Functions"."""
    rows = one_part({Role.SLIDE_X: np.arange(101) / 100}, [1, 101])
    starts = plans(rows, Feel(), table, Wishes(pattern=(25,))).shared
    made = expose(rows, starts, Feel(offset_mm=0.0, turn_deg=0.0), table)
    frame = 1 + round(at * 100)
    assert made.values[0, np.searchsorted(starts, frame, side="right") - 1] == np.float32(value)


@given(st.data(), st.integers(0, 150), st.sets(st.integers(1, 150), max_size=6), st.integers(0, 99))
def test_drawn_plans_cover_the_range_and_keep_extremes(table, data, count, extremes, seed) -> None:
    odds = data.draw(st.lists(st.floats(0, 5), min_size=1, max_size=5).filter(lambda o: sum(o) > 0))
    starts = drawn(1, 1 + count, odds, replace(table, seed=seed), extremes)
    assert starts[0] == 1
    assert (np.diff(starts) > 0).all()
    assert {f for f in extremes if f <= 1 + count} <= set(starts.tolist())


def test_lengths_are_drawn_as_often_as_asked(table) -> None:
    lengths = np.diff(drawn(1, 40_000, (5, 3, 0, 2), table))
    shares = np.bincount(lengths, minlength=5)[1:5] / len(lengths)
    np.testing.assert_allclose(shares, [0.5, 0.3, 0, 0.2], atol=0.015)
    twice = drawn(1, 80_000, (5, 3, 0, 2), replace(table, fps=Fraction(24)))
    assert set(np.diff(twice).tolist()) == {2, 4, 8}
    same = drawn(1, 40_000, (5, 3, 0, 2), table)
    np.testing.assert_array_equal((twice[:1000] + 1) // 2, same[:1000])


def test_no_drawn_exposure_is_shorter_than_the_shortest_but_between_close_extremes(table) -> None:
    extremes = [20, 21, 47, 90]
    starts = drawn(1, 120, (0, 1, 1), table, extremes)
    lengths = ends(starts, 120) - starts + 1
    short = starts[lengths < 2]
    assert short.tolist() == [20]
    assert lengths.max() <= 4


def test_a_later_extreme_reshuffles_nothing_before_it(table) -> None:
    plain, other = (drawn(1, 400, (1, 1, 1), table, e) for e in ([], [200]))
    assert plain[plain < 195].tolist() == other[other < 195].tolist()


@pytest.mark.parametrize("odds", [(), (0, 0), (-1, 2), (float("nan"),)])
def test_odds_that_draw_nothing_are_refused(table, odds) -> None:
    with pytest.raises(Misuse, match="draw no lengths"):
        drawn(1, 10, odds, table)


def test_a_measured_plan_is_taken_as_it_is(one_part, table) -> None:
    rows = one_part({Role.SLIDE_X: np.arange(20.0)}, [1, 7, 20])
    made = plans(rows, Feel(fast_share=0.1), table, Wishes(starts=[-3, 4, 9, 9, 25]))
    assert made.shared.tolist() == [1, 4, 9]
    with pytest.raises(Misuse, match="whole frames"):
        measured(1, 10, [1.5])


def test_single_frames_where_it_is_fast(one_part, table) -> None:
    """10 mm a frame from frame 9 to 13, 1 mm elsewhere: on fours, more than 20 mm of a 100 mm frame there only."""
    x = np.cumsum(np.where((np.arange(24) >= 8) & (np.arange(24) < 12), 10, 1)) * 0.01
    rows = one_part({Role.SLIDE_X: x}, [1])
    made = plans(rows, Feel(fast_share=0.2), table, Wishes(pattern=(4,), frame_width_mm=100))
    assert made.shared.tolist() == [1, 5, 9, 10, 11, 12, 13, 17, 21]
    columns = np.append(made.shared - 1, 23)
    single = ends(made.shared, 24) == made.shared
    assert (np.diff(x[columns])[~single] * 100 <= 20).all()
    with pytest.raises(Misuse, match="width"):
        plans(rows, Feel(fast_share=0.2), table)


def shot() -> Rows:
    """The heron, the snail and a camera, with keys of their own."""
    values = np.array([np.linspace(0, 1, 24), np.linspace(1, 0, 24), np.linspace(0, 3, 24)], np.float32)
    keyed = np.zeros((3, 24), bool)
    for row, frames in enumerate(([1, 24], [1, 10], [1, 15])):
        keyed[row, [f - 1 for f in frames]] = True
    rows = np.arange(3)
    exact = np.array([False, False, True])
    return Rows(("heron", "snail", "camera"), rows, np.zeros(3, np.intp), values, keyed, exact, 1)


def test_a_camera_on_ones_and_a_part_on_threes(table) -> None:
    rows = shot()
    feel = Feel(pattern=(2,), camera="ones")
    made = plans(rows, feel, table, Wishes(own={"snail": (3,)}))
    assert made.shared.tolist() == [1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 24]  # the heron's extremes alone
    assert made.own[1].tolist() == [1, 4, 7, 10, 13, 16, 19, 22]
    assert made.own[2].tolist() == list(range(1, 25))
    exposed = expose_plans(rows, made, feel, table)
    assert exposed.starts.tolist() == list(range(1, 25))
    assert (np.flatnonzero(exposed.changes[1]) + 1).tolist() == made.own[1].tolist()
    assert exposed.changes[2].all()
    assert set((np.flatnonzero(exposed.changes[0]) + 1).tolist()) <= set(made.shared.tolist())
    assert (exposed.values[2] == rows.values[2]).all()
    assert (np.flatnonzero(exposed.extreme[1]) + 1).tolist() == [1, 10]


def test_one_plan_for_all_is_the_plain_way(table) -> None:
    rows, feel = shot(), Feel(pattern=(2,), uneven=0.3)
    made = plans(rows, feel, table)
    both = expose_plans(rows, made, feel, table), expose(rows, made.shared, feel, table)
    assert made.own == {}
    for name in ("starts", "values", "changes", "extreme", "placed"):
        np.testing.assert_array_equal(*(getattr(e, name) for e in both))


def test_a_pattern_for_nobody_is_refused(table) -> None:
    with pytest.raises(Misuse, match="teapot"):
        plans(shot(), Feel(), table, Wishes(own={"teapot": (2,)}))


def test_idle_pictures_are_merged_only_on_request(one_part, table) -> None:
    rows = one_part({Role.SLIDE_X: np.r_[np.zeros(10), np.linspace(0, 1, 10), np.ones(10)]}, [1, 10, 20, 30])
    keep, merge = (expose_plans(rows, plans(rows, f, table), f, table) for f in (Feel(), Feel(idle="merge")))
    assert len(keep.starts) == 30
    assert merge.starts.tolist() == [1, *range(12, 21)]
    on_show = np.searchsorted(merge.starts, keep.starts, side="right") - 1
    assert (merge.values[:, on_show] == keep.values).all()


def test_edits_and_what_became_of_them(table) -> None:
    made = plans(shot(), Feel(anchor="grid", pattern=(6,)), table, Wishes(edits=[Edit("drop", 8), Edit("drop", 99)]))
    assert made.shared.tolist() == [1, 13, 19]
    assert ["frame 99" in p.what for p in made.problems] == [True]
    assert made.problems[0].severity == "warning"
