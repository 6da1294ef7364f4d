"""Where a hand misses: about the point it holds, more after a wide move, on what it lifts, on what it brushes."""

from __future__ import annotations

import cmath
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import expose
from pastepot.timing.rows import Role, Rows

NONE = Feel(offset_mm=0.0, turn_deg=0.0)
STILL = {"offset_mm": 0.0, "turn_deg": 0.0}


def cast(values: dict[str, list[float]], keys: dict[str, list[int]], **more: object) -> Rows:
    """Parts that each slide along x; z stands still."""
    count = len(values)
    rows = np.zeros((2 * count, len(next(iter(values.values())))), np.float32)
    rows[::2] = list(values.values())
    keyed = np.zeros(rows.shape, bool)
    for n, name in enumerate(values):
        keyed[2 * n, [k - 1 for k in keys.get(name, [])]] = True
    return Rows(
        owners=tuple(values),
        owner=np.repeat(np.arange(count), 2),
        role=np.tile([Role.SLIDE_X, Role.SLIDE_Z], count),
        values=rows,
        keyed=keyed,
        exact=np.zeros(count, bool),
        first=1,
        **more,
    )


def every(rows: Rows) -> np.ndarray:
    return np.arange(1, rows.values.shape[1] + 1)


@given(st.integers(0, 1000), st.floats(-3, 3), st.floats(-80, 80), st.floats(-80, 80))
def test_the_point_that_is_held_stays_where_it_is(one_part, table, seed, angle, right, up) -> None:
    """A part turned about the held point: that point does not move. In complex numbers, not by the code's formula."""
    turn = np.linspace(angle, angle + 1, 12)
    curve = {Role.SLIDE_X: np.zeros(12), Role.SLIDE_Z: np.zeros(12), Role.TURN: turn}
    rows = one_part(curve, [1, 12], grab_mm=np.array([[right, up]]))
    feel = Feel(offset_mm=0.0, turn_deg=2.0)
    x, z, made = expose(rows, every(rows), feel, replace(table, seed=seed)).values.astype(float)
    # seen along +y with x right and z up, a turn about y goes clockwise
    held = complex(right, up) * table.units_per_mm
    for n in range(12):
        should = held * cmath.exp(-1j * float(rows.values[2, n]))
        is_at = complex(x[n], z[n]) + held * cmath.exp(-1j * made[n])
        assert abs(is_at - should) < 2e-6
    assert np.ptp(made - turn) > 0


def test_wide_moves_miss_by_more_up_to_a_limit(one_part, table) -> None:
    """Sigma = min(hypot(base, share * step), limit), over many seeds; 3 % of sampling error."""
    steps_mm = np.array([0.0, 1, 10, 20, 40, 400, 0])
    x = np.cumsum(steps_mm) * 0.01
    rows = one_part({Role.SLIDE_X: x}, [1, 7])
    feel = Feel(offset_mm=0.2, offset_share=0.02, offset_most_mm=0.6, turn_deg=0.0)
    made = [expose(rows, every(rows), feel, replace(table, seed=s)).values[0] for s in range(3000)]
    spread = np.std(np.array(made, float) - x, axis=0) * 100
    expected = np.minimum(np.hypot(0.2, 0.02 * steps_mm), 0.6)
    np.testing.assert_allclose(spread[1:6], expected[1:6], rtol=0.04)
    assert spread[0] == pytest.approx(0, abs=1e-4)


def test_a_pinned_foot_is_where_it_was_put(one_part, table) -> None:
    x = np.linspace(0, 1, 20)
    x[8:14] = x[8]
    pinned = np.zeros((1, 20), bool)
    pinned[0, 10:13] = True
    rows = one_part({Role.SLIDE_X: x}, [1, 20], pinned=pinned)
    made = expose(rows, every(rows), Feel(offset_mm=1.0, uneven=0.5, life_mm=1.0, life_from=2), table).values[0]
    assert (made[10:13] == rows.values[0, 10:13]).all()
    assert (made[1:10] != rows.values[0, 1:10]).all()


def test_what_lies_on_a_part_is_lifted_with_it(table) -> None:
    """The heron's head lies on its neck, its hat on the head, the snail on nothing; the neck moves from frame 6."""
    moves = [0.0] * 5 + [0.1, 0.2, 0.3, 0.4, 0.5]
    rest = [1.0] * 10
    rows = cast(
        {"hat": rest, "head": rest, "neck": moves, "snail": rest},
        {"neck": [1, 5, 10], "head": [8]},
        parent=np.array([1, 2, -1, -1]),
    )
    made = expose(rows, every(rows), Feel(children="lifted"), table)
    stays = expose(rows, every(rows), Feel(children="stay"), table)
    moved = np.diff(made.values[::2], axis=1) != 0
    assert not moved[:, :4].any()  # though the neck has an extreme at frame 5
    assert moved[0, 4:].all()
    assert moved[1, 4:].all()
    assert made.values[2, 7] == 1.0  # the head's own extreme
    assert not moved[3].any()
    assert (made.values[4:6] == stays.values[4:6]).all()
    assert (stays.values[[0, 6]] == 1).all()


def test_the_camera_lifts_nothing(table) -> None:
    rows = cast({"head": [1.0] * 6, "camera": [0, 1, 2, 3, 4, 5.0]}, {}, parent=np.array([1, -1]))
    rows = replace(rows, exact=np.array([False, True]))
    assert (expose(rows, every(rows), Feel(children="lifted"), table).values[0] == 1).all()


def neighbours(gap_mm: float, count: int = 4001, seed_gap: bool = False) -> Rows:
    """One part that steps back and forth by 10 mm, and one beside it that nobody touches."""
    steps = (np.arange(count) % 2) * 0.1
    return cast(
        {"heron": steps.tolist(), "snail": [5.0] * count}, {}, gaps_mm=np.array([[np.inf, gap_mm], [gap_mm, np.inf]])
    )


@pytest.mark.parametrize(("gap", "chance"), [(0.0, 0.3), (15.0, 0.15), (30.0, 0.0), (100.0, 0.0)])
def test_how_often_a_neighbour_is_pushed(table, gap, chance) -> None:
    rows = neighbours(gap)
    made = expose(rows, every(rows), Feel(**STILL, nudge=0.3, nudge_reach_mm=30.0), table)
    assert made.nudged[1, 1:].mean() == pytest.approx(chance, abs=0.03)
    assert not made.nudged[0].any()


def test_pushes_do_not_add_up(table) -> None:
    rows = neighbours(0.0)
    made = expose(rows, every(rows), Feel(**STILL, nudge=0.5, nudge_share=0.2, offset_most_mm=3.0), table)
    off = made.values[2].astype(float) - 5
    assert set(np.unique(np.rint(off * 1e4))) == {-200, 0, 200}  # 0.2 of 10 mm, to either side
    still = ~made.nudged[1, 1:]
    assert (off[1:][still] == off[:-1][still]).all()
    narrow = expose(rows, every(rows), Feel(**STILL, nudge=0.5, nudge_share=0.2, offset_most_mm=0.5), table)
    assert np.abs(narrow.values[2] - 5).max() == pytest.approx(0.005, abs=1e-6)


def test_neighbours_are_found_by_their_pivots(table) -> None:
    """The snail is 20 mm from where the heron moves, the boat 900 mm; the kettle lies on something else."""
    moves = (np.arange(600) % 2 * 0.1).tolist()
    rows = cast(
        {"heron": moves, "snail": [0.2] * 600, "boat": [9.0] * 600, "kettle": [0.2] * 600},
        {},
        parent=np.array([-1, -1, -1, 2]),
    )
    made = expose(rows, every(rows), Feel(**STILL, nudge=0.5), table)
    assert made.nudged.any(axis=1).tolist() == [False, True, False, False]


def test_another_take_of_one_part_leaves_the_rest(films, table) -> None:
    rows = cast({"heron": np.linspace(0, 1, 20).tolist(), "snail": np.linspace(0, 1, 20).tolist()}, {})
    first = expose(rows, every(rows), Feel(uneven=0.3), table)
    same = expose(replace(rows, take=np.array([0, 0])), every(rows), Feel(uneven=0.3), table)
    other = expose(replace(rows, take=np.array([1, 0])), every(rows), Feel(uneven=0.3), table)
    third = expose(replace(rows, take=np.array([2, 0])), every(rows), Feel(uneven=0.3), table)
    assert (first.values == same.values).all()
    assert (other.values[:2, 1:] != first.values[:2, 1:]).all()
    assert (other.values[:2, 1:] != third.values[:2, 1:]).all()
    assert (other.values[2:] == first.values[2:]).all()


@given(st.integers(0, 1000), st.floats(0.1, 3), st.floats(0.1, 5))
def test_life_in_a_hold_stays_within_its_limit(one_part, table, seed, mm, deg) -> None:
    x = np.concatenate([np.linspace(0, 1, 5), np.ones(36), [1.5, 2]])
    curve = {Role.SLIDE_X: x, Role.SLIDE_Z: x * 0, Role.TURN: x}
    rows = one_part(curve, [1, 5, 41, 43])
    made = expose(rows, every(rows), Feel(**STILL, life_mm=mm, life_deg=deg), replace(table, seed=seed)).values
    off = made.astype(float) - rows.values
    assert np.hypot(off[0], off[1]).max() <= mm * 0.01 + 1e-6
    assert np.abs(off[2]).max() <= np.radians(deg) + 1e-6
    assert (off[:, [0, 1, 2, 3, 4, 40, 41, 42]] == 0).all()
    assert (off[0, 5:40] != 0).mean() > 0.8  # it may pass through nothing on its way
    # slowly: no exposure takes more than a tenth of the way from one limit to the other
    assert np.abs(np.diff(off[0])).max() <= 2 * mm * 0.01 / 5


def test_short_holds_and_parts_without_life_do_not_stir(one_part, table) -> None:
    x = np.concatenate([np.linspace(0, 1, 5), np.ones(7)])
    rows = one_part({Role.SLIDE_X: x}, [1, 5])
    long = expose(rows, every(rows), Feel(**STILL, life_mm=1.0, life_from=8), table)
    assert (long.values[0, 5:] != 1).all()
    for feel, film in ((Feel(**STILL, life_mm=1.0, life_from=9), rows), (NONE, rows)):
        assert (expose(film, every(rows), feel, table).values == rows.values).all()
    dead = replace(rows, alive=np.array([False]))
    assert (expose(dead, every(rows), Feel(**STILL, life_mm=1.0, life_from=2), table).values == rows.values).all()


def test_rings_of_parents_do_no_harm(table) -> None:
    rows = cast({"a": [0, 1.0, 2], "b": [0.0, 0, 0]}, {}, parent=np.array([1, 0]))
    assert np.isfinite(expose(rows, every(rows), Feel(children="lifted"), table).values).all()
