"""Curves as arrays: exact where it must be, the same alone and together, and mistakes named by key."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing.curve import Curve, Extrapolation, Interpolation, evaluate, evaluate_many


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
def test_together_as_alone_and_in_any_order(some: list[Curve], seed: int) -> None:
    frames = np.random.default_rng(seed).permutation(np.arange(-20.0, 120.0, 0.5))
    together = evaluate_many(some, frames)
    alone = np.stack([evaluate(c, frames) for c in some])
    assert together == pytest.approx(alone, rel=1e-5, abs=1e-5)  # beside a vertical stretch the last digits differ


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
        ([[5, 0], [3, 1]], "Key 2 of 2 .* comes before"),
    ],
)
def test_mistakes_are_named_by_key(co: list[list[float]], complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        Curve.of(co)


def test_frames_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        evaluate(Curve.of([[0, 0]]), [np.inf])
