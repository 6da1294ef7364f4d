"""Curves as arrays: exact where it must be, the same alone and together, and mistakes named by key."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing.curve import (
    Curve,
    CycleMode,
    Cycles,
    Extrapolation,
    Interpolation,
    Numbers,
    Stepped,
    evaluate,
    evaluate_many,
)


@st.composite
def curves(draw) -> Curve:
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(1, 8))
    frames = np.unique(random.integers(0, 100, count)).astype(float)
    co = np.column_stack([frames, random.integers(-4, 5, len(frames))])
    reach = np.column_stack([random.uniform(0, 60, len(frames)), random.normal(0, 3, len(frames))])
    return Curve.of(
        co,
        co - reach,
        co + reach,
        interpolation=random.integers(0, len(Interpolation), len(frames)),
        easing=random.integers(0, 4, len(frames)),
        extrapolation=Extrapolation(int(random.integers(0, 2))),
    )


@given(curves())
def test_on_a_keys_frame_the_value_is_the_keys(curve: Curve) -> None:
    assert (evaluate(curve, curve.co[:, 0]) == curve.co[:, 1]).all()


@given(st.lists(curves(), min_size=1, max_size=6), st.integers(0, 2**32 - 1))
def test_together_as_alone_and_in_any_order_to_the_bit(some: list[Curve], seed: int) -> None:
    """Editing one part, or asking for other frames, must not wake another part by a last digit."""
    frames = np.random.default_rng(seed).permutation(np.arange(-20.0, 120.0, 0.5))
    together = evaluate_many(some, frames)
    assert (together == np.stack([evaluate(c, frames) for c in some])).all()
    few = frames[:7]
    assert (evaluate_many(some, few) == together[:, :7]).all()


@given(st.floats(-1e3, 1e3, width=32), st.floats(0.1, 30))
def test_a_level_segment_is_level_to_the_bit(height: float, reach: float) -> None:
    """A resting part must not be woken by rounding."""
    co = np.array([[0.0, height], [50.0, height]])
    arm = np.array([reach, 0.0])
    assert (evaluate(Curve.of(co, co - arm, co + arm), np.linspace(0, 50, 101)) == height).all()


@given(curves())
def test_values_are_finite_everywhere(curve: Curve) -> None:
    assert np.isfinite(evaluate(curve, np.linspace(-500, 500, 301))).all()


def test_no_keys_are_zero() -> None:
    assert evaluate(Curve.of(np.empty((0, 2))), [1.0, 2.0]).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("co", "complaint"),
    [
        ([[1, 0], [np.nan, 1]], "Key 2 of 2 .* not finite"),
        ([[1, np.inf]], "Key 1 of 1 .* not finite"),
        ([[0, 0], [5, 0], [3, 1]], "Key 3 of 3 at frame 3.0 comes before"),
    ],
)
def test_mistakes_are_named_by_key(co: list[list[float]], complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        Curve.of(co)


def test_frames_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        evaluate(Curve.of([[0, 0]]), [np.inf])


@pytest.mark.parametrize("name", ["handle_left", "handle_right", "interpolation", "easing", "back", "period"])
def test_arrays_that_do_not_match_the_keys_are_refused(name: str) -> None:
    good = Curve.of([[0, 0], [5, 1]])
    with pytest.raises(ValueError, match=f"{name} must have the shape"):
        replace(good, **{name: getattr(good, name)[:1]})


@pytest.mark.parametrize(
    ("name", "values", "complaint"),
    [
        ("interpolation", [0, 13], "Key 2 of 2 has the unknown interpolation 13"),
        ("easing", [4, 0], "Key 1 of 2 has the unknown easing 4"),
        ("period", [1.0, np.nan], "Key 2 of 2 has period = nan"),
    ],
)
def test_choices_that_are_none_are_named_by_key(name: str, values: list[float], complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        replace(Curve.of([[0, 0], [5, 1]]), **{name: np.array(values)})


def test_shapes_of_frames_are_kept() -> None:
    curve = Curve.of([[0, 0], [4, 8]], interpolation=Interpolation.LINEAR)
    assert evaluate(curve, 1) == 2
    assert evaluate(curve, [[1, 2], [3, 9]]).tolist() == [[2, 4], [6, 8]]
    assert evaluate_many([], [1, 2]).shape == (0, 2)
    assert evaluate_many([curve], []).shape == (1, 0)


@pytest.mark.parametrize("gap", [0.5, 1.0, 1e-3])
def test_two_keys_on_one_frame_are_a_jump(gap: float) -> None:
    curve = Curve.of([[0, 0], [5, 1], [5, 2], [9, 3]], interpolation=Interpolation.LINEAR)
    before, after = evaluate(curve, [5 - gap, 5 + gap])
    assert before == pytest.approx(1 - gap / 5)
    assert after == pytest.approx(2 + gap / 4)


def test_handles_that_stand_upright_in_the_middle_are_solved() -> None:
    """Both handles as long as the segment: the time has a threefold root halfway, x = 0.5 + 4 (t - 0.5)**3."""
    curve = Curve.of([[0, 0], [1, 1]], [[0, 0], [0, 0.5]], [[1, 0.5], [1, 1]])
    share = np.linspace(0.01, 0.99, 99)
    t = 0.5 + np.cbrt((share - 0.5) / 4)
    expected = 1.5 * t * (1 - t) ** 2 + 1.5 * t * t * (1 - t) + t**3
    assert evaluate(curve, share) == pytest.approx(expected, abs=1e-7)


def test_whole_numbers_round_half_up_and_switches_hold() -> None:
    co = [[0, 0], [8, 2]]
    line = Curve.of(co, interpolation=Interpolation.LINEAR, numbers=Numbers.WHOLE)
    assert evaluate(line, np.arange(9)).tolist() == [0, 0, 1, 1, 1, 1, 2, 2, 2]
    assert evaluate(replace(line, numbers=Numbers.SWITCH), np.arange(9)).tolist() == [0] * 8 + [2]


def test_steps_and_cycles() -> None:
    """Worked out by hand; Blender's own are in the tests that have it."""
    co = [[0, 0], [4, 4]]
    line = Curve.of(co, interpolation=Interpolation.LINEAR)
    held = replace(line, modifiers=(Stepped(2, 0),))
    assert evaluate(held, np.arange(6)).tolist() == [0, 0, 2, 2, 4, 4]
    again = replace(line, modifiers=(Cycles(CycleMode.MIRROR, CycleMode.REPEAT_OFFSET, 1, 0),))
    assert evaluate(again, [-6, -5, -3, -1, 5, 9]).tolist() == [0, 0, 3, 1, 5, 9]
    both = replace(again, modifiers=(*again.modifiers, Stepped(2, 1)))
    assert evaluate(both, [5, 6, 7, 8]).tolist() == [5, 5, 7, 7]


def test_steps_of_no_time_and_cycles_not_first_are_refused() -> None:
    with pytest.raises(ValueError, match="longer than no time"):
        Stepped(0)
    with pytest.raises(ValueError, match="CYCLES modifier of a curve must be its first"):
        Curve.of([[0, 0]], modifiers=(Stepped(2), Cycles()))
