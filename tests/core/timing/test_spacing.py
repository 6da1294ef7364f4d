"""How a hand divides the way between two extremes: along it, in order, and all of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import expose
from pastepot.timing.rows import Role

STILL = {"offset_mm": 0.0, "turn_deg": 0.0, "offset_share": 0.0, "turn_share": 0.0, "life_mm": 0.0, "life_deg": 0.0}
EVEN = np.linspace(0, 1, 41)
EASED = (1 - np.cos(np.pi * EVEN)) / 2


def x_of(exposed) -> np.ndarray:
    return exposed.values[0].astype(float)


def spaced(one_part, table, feel: Feel, curve: np.ndarray = EASED, height: float = 1.0) -> np.ndarray:
    """One slide of `height` Blender units between two extremes, on ones."""
    rows = one_part({Role.SLIDE_X: curve * height}, [1, len(curve)])
    return x_of(expose(rows, np.arange(1, len(curve) + 1), feel, table))


@given(st.data(), st.sampled_from([EVEN, EASED, EVEN**3]), st.floats(-5, 5))
def test_the_way_is_gone_in_order_and_whole(one_part, feels, table, data, curve, height) -> None:
    assume(abs(height) > 0.001)
    feel = data.draw(feels(**STILL, overshoot=0.0))
    x = spaced(one_part, table, feel, curve, height)
    steps = np.diff(x) * np.sign(height)
    assert (steps >= 0).all()
    assert x[0] == 0
    assert x[-1] == np.float32(height)
    assert np.abs(np.diff(x)).sum() == pytest.approx(abs(np.float32(height)), rel=1e-12)


@given(st.data())
def test_a_part_stays_on_its_way(one_part, feels, table, data) -> None:
    """Place, angle and size stay together: the pose between two extremes is one that the smooth curve goes through."""
    feel = data.draw(feels(**STILL, overshoot=0.0, arc=0.0))
    curve = {Role.SLIDE_X: EASED, Role.SLIDE_Z: EASED * 2 + 1, Role.TURN: -EASED, Role.POSE: 1 + EASED / 2}
    x, z, turn, size = expose(one_part(curve, [1, 41]), np.arange(1, 42), feel, table).values.astype(float)
    np.testing.assert_allclose(z, 2 * x + 1, atol=1e-6)
    np.testing.assert_allclose(turn, -x, atol=1e-6)
    np.testing.assert_allclose(size, 1 + x / 2, atol=1e-6)


@given(st.data(), st.floats(0.1, 10))
def test_moves_are_whole_numbers_of_the_smallest(one_part, feels, table, data, smallest) -> None:
    feel = data.draw(feels(**STILL, overshoot=0.0, arc=0.0, smallest_mm=smallest))
    mm = spaced(one_part, table, feel) * 100
    inside = (mm > 1e-6) & (mm < 100 - 1e-4)
    assert np.abs(mm[inside] / smallest - np.rint(mm[inside] / smallest)).max(initial=0) < 1e-4 / smallest + 1e-4
    moved = np.abs(np.diff(mm))
    assert (moved[:-1][moved[:-1] > 1e-4] >= min(smallest, 100) * 0.5).all()


def test_the_smallest_move_is_off_by_half_of_it_at_most(one_part, table) -> None:
    x = spaced(one_part, table, Feel(**STILL, smallest_mm=4.0))
    assert np.abs(x - EASED).max() <= 0.02 + 1e-6
    assert len(np.unique(x)) <= 27


@pytest.mark.parametrize("sizes", [1, 2, 3, 5])
def test_slow_in_and_slow_out_have_so_few_sizes_of_step(one_part, table, sizes) -> None:
    steps = np.diff(spaced(one_part, table, Feel(**STILL, ease_steps=sizes)))
    found = np.unique(np.rint(steps * 1e4))
    assert len(found[found > 0]) <= 2 * sizes  # each size may fall to either side in rounding
    assert len(np.unique(np.rint(steps[steps > 1e-6] / steps.max() * sizes))) <= sizes


@pytest.mark.parametrize("amount", [0.1, 0.2, 0.3])
def test_the_steps_vary_by_about_so_much(one_part, table, amount) -> None:
    """Coefficient of variation of the steps of an even slide, against the number in the feel."""
    line = np.linspace(0, 1, 4001)
    steps = np.diff(spaced(one_part, table, Feel(**STILL, uneven=amount), line, 100))
    assert np.std(steps) / np.mean(steps) == pytest.approx(amount, rel=0.1)
    assert abs(np.corrcoef(steps[1:], steps[:-1])[0, 1]) < 0.05


def test_a_hand_that_hurries_keeps_hurrying(one_part, table) -> None:
    line = np.linspace(0, 1, 4001)
    steps = np.diff(spaced(one_part, table, Feel(**STILL, hurry=0.3), line, 100))
    assert np.corrcoef(steps[1:], steps[:-1])[0, 1] > 0.7
    assert 0.15 < np.std(steps) / np.mean(steps) < 0.3


def held(frames: int = 30) -> np.ndarray:
    return np.concatenate([np.linspace(0, 1, 11), np.ones(frames - 11)])


def test_overshoot_goes_past_a_held_extreme_and_comes_home(one_part, table) -> None:
    feel = Feel(**STILL, overshoot=0.1, settle=2)
    x = x_of(expose(one_part({Role.SLIDE_X: held()}, [1, 11, 30]), np.arange(1, 31), feel, table))
    np.testing.assert_allclose(x[10:14], [1, 1.1, 1 - 0.035, 1], atol=1e-6)
    assert (x[[10, *range(13, 30)]] == 1).all()


def test_home_from_an_overshoot_is_exact_with_misses_on(one_part, table) -> None:
    rows = one_part({Role.SLIDE_X: held()}, [1, 11, 30])
    x = x_of(expose(rows, np.arange(1, 31), Feel(overshoot=0.1), table))
    assert (x[13:] == 1).all()


@pytest.mark.parametrize(
    ("curve", "keys"),
    [
        (np.concatenate([np.linspace(0, 1, 11), [1, 1, 1]]), [1, 11, 14]),  # too short a hold
        (np.linspace(0, 1, 30), [1, 11, 30]),  # moves on
    ],
)
def test_no_overshoot_without_a_hold(one_part, table, curve, keys) -> None:
    rows = one_part({Role.SLIDE_X: curve}, keys)
    starts = np.arange(1, len(curve) + 1)
    plain, over = (expose(rows, starts, Feel(**STILL, overshoot=o), table) for o in (0.0, 0.3))
    assert (plain.values == over.values).all()


@given(st.integers(0, 50))
def test_an_arc_bows_sideways_only_and_meets_both_extremes(one_part, table, seed) -> None:
    rows = one_part({Role.SLIDE_X: EASED * 3, Role.SLIDE_Z: EASED * 4}, [1, 41])
    exposed = expose(rows, np.arange(1, 42), Feel(**STILL, arc=0.1), replace(table, seed=seed))
    x, z = exposed.values.astype(float)
    along, across = (3 * x + 4 * z) / 5, (-4 * x + 3 * z) / 5
    np.testing.assert_allclose(along, EASED * 5, atol=1e-5)
    assert (exposed.values[:, [0, -1]] == rows.values[:, [0, -1]]).all()
    bow = across[20]
    np.testing.assert_allclose(across, bow * 4 * EASED * (1 - EASED), atol=1e-5)
    assert abs(bow) <= 0.1 * 5 * 3.4642


def test_arcs_bow_to_either_side(one_part, table) -> None:
    rows = one_part({Role.SLIDE_X: EASED, Role.SLIDE_Z: EASED * 0}, [1, 41])
    made = [expose(rows, np.arange(1, 42), Feel(**STILL, arc=0.1), replace(table, seed=s)) for s in range(400)]
    bows = np.array([e.values[1, 20] for e in made])
    assert np.std(bows) == pytest.approx(0.1, rel=0.1)
    assert abs(np.mean(bows)) < 0.02


def test_a_jump_is_never_seen_half_way(one_part, table) -> None:
    """A row that jumps from key to key stays so while the rest of the pose is spaced anew."""
    jump = np.where(np.arange(41) < 20, 0.0, 1.0)
    rows = one_part({Role.SLIDE_X: EASED, Role.POSE: jump}, [1, 41], steps=np.array([False, True]))
    exposed = expose(rows, np.arange(1, 42), Feel(**STILL, uneven=0.5, hurry=0.5), table)
    assert (exposed.values[1] == jump.astype(np.float32)).all()
    assert (exposed.values[0] != rows.values[0]).any()


def test_a_segments_steps_hang_on_their_time_and_not_on_what_was_before(one_part, table) -> None:
    """An exposure more at the film's beginning moves every exposure on by one, and changes nothing later."""
    rows = one_part({Role.SLIDE_X: np.concatenate([np.linspace(0, 3.3, 20), np.linspace(3.3, 0, 41)])}, [1, 20, 61])
    starts = np.r_[1:10:3, 10:62:2]
    feel = Feel(uneven=0.3, hurry=0.3, arc=0.1)
    made = expose(rows, starts, feel, table)
    more = expose(rows, np.union1d(starts, [2]), feel, table)
    later = np.flatnonzero(starts >= 20)
    assert (made.values[:, later] == more.values[:, later + 1]).all()
