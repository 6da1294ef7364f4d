"""Neat numbers for scales."""

from __future__ import annotations

import math


def neat(value: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that is not above `value` (> 0)."""
    power = 10.0 ** math.floor(math.log10(value) + 1e-9)
    return next(n * power for n in (5.0, 2.0, 1.0) if n * power <= value * (1 + 1e-9))


def ticks(low: float, high: float, most: int) -> list[float]:
    """At most `most` neat numbers, evenly apart, between low and high."""
    step = neat((high - low) / max(most - 1, 1))
    while len(found := _multiples(low, high, step)) > most:
        step = next(s for s in (2 * step, 2.5 * step) if math.isclose(s, neat(s)))
    return found


def _multiples(low: float, high: float, step: float) -> list[float]:
    return [n * step for n in range(math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6) + 1)]
