"""Curve evaluation against CSS Easing Functions Level 1 (W3C): cubic-bezier() and steps().

The tables hold values worked out from the standard's definitions by bisection in float64.
"""

from __future__ import annotations

import numpy as np
import pytest
from pastepot.timing.curve import Curve, Extrapolation, Interpolation, evaluate

SHARES = np.array([0.1, 0.25, 1 / 3, 0.5, 2 / 3, 0.75, 0.9])
BEZIERS = [
    ("ease", (0.25, 0.1, 0.25, 1), (0.094796, 0.408511, 0.575862, 0.802403, 0.924824, 0.960459, 0.994316)),
    ("ease-in", (0.42, 0, 1, 1), (0.017027, 0.093465, 0.156164, 0.315357, 0.511651, 0.621862, 0.839428)),
    ("ease-out", (0, 0, 0.58, 1), (0.160572, 0.378138, 0.488349, 0.684643, 0.843836, 0.906535, 0.982973)),
    ("ease-in-out", (0.42, 0, 0.58, 1), (0.019722, 0.129162, 0.231775, 0.5, 0.768225, 0.870838, 0.980278)),
    (
        "overshoot",
        (0.68, -0.55, 0.265, 1.55),
        (-0.066291, -0.082807, -0.008502, 0.606680, 1.043436, 1.089166, 1.062373),
    ),
    # what Blender's automatic handles make of two keys; the values are those of 3 s**2 - 2 s**3, for thirds in time
    ("automatic", (1 / 3, 0, 2 / 3, 1), (0.028, 0.15625, 7 / 27, 0.5, 20 / 27, 0.84375, 0.972)),
]


def bezier(x1: float, y1: float, x2: float, y2: float) -> Curve:
    """The outer handles mirror the inner ones, so that the curve goes on along its end tangents as CSS has it."""
    left, right = [[-x1, -y1], [x2, y2]], [[x1, y1], [2 - x2, 2 - y2]]
    return Curve.of([[0, 0], [1, 1]], left, right, extrapolation=Extrapolation.LINEAR)


@pytest.mark.parametrize(("name", "points", "values"), BEZIERS)
def test_cubic_bezier(name: str, points: tuple[float, ...], values: tuple[float, ...]) -> None:
    assert evaluate(bezier(*points), SHARES) == pytest.approx(values, abs=1e-6)


def test_outside_the_keys_it_goes_on_along_the_tangent() -> None:
    """Level 1, "Cubic Bezier easing functions": for input outside 0 to 1 the curve is extended infinitely straight."""
    assert evaluate(bezier(0.25, 0.1, 0.25, 1), [-0.5, 1.5]) == pytest.approx([-0.2, 1.0], abs=1e-12)


@pytest.mark.parametrize(("at", "value"), [(0.0, 0.0), (1.0, 1.0)])
def test_a_key_has_its_own_value_exactly(at: float, value: float) -> None:
    assert all(evaluate(bezier(*points), at) == value for _, points, _ in BEZIERS)


STEPS_AT = np.array([0, 0.1, 0.25, 0.49, 0.5, 0.75, 0.99, 1])
STEPS = [
    ("jump-end", (0, 0.25, 0.5, 0.75, 1), (0, 0, 0.25, 0.25, 0.5, 0.75, 0.75, 1)),
    ("jump-start", (0.25, 0.5, 0.75, 1, 1), (0.25, 0.25, 0.5, 0.5, 0.75, 1, 1, 1)),
    ("jump-none", (0, 1 / 3, 2 / 3, 1, 1), (0, 0, 1 / 3, 1 / 3, 2 / 3, 1, 1, 1)),
    ("jump-both", (0.2, 0.4, 0.6, 0.8, 1), (0.2, 0.2, 0.4, 0.4, 0.6, 0.8, 0.8, 1)),
]


@pytest.mark.parametrize(("name", "heights", "values"), STEPS)
def test_held_keys_are_steps(name: str, heights: tuple[float, ...], values: tuple[float, ...]) -> None:
    keys = np.column_stack([np.linspace(0, 1, 5), heights])
    curve = Curve.of(keys, interpolation=Interpolation.CONSTANT)
    assert evaluate(curve, STEPS_AT) == pytest.approx(values, abs=0)
