"""At what scale parts are shown on the contact sheet: neat ratios, one for a whole type wherever that is readable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

READABLE_MM = 8.0
"""A part whose longer side would be drawn shorter than this gets a scale of its own."""

_STEPS = ("1", "1.5", "2", "2.5", "3", "4", "5", "6", "8")
_DIVISORS = (*(Fraction(s) * 10**power for power in range(4) for s in _STEPS), Fraction(12), Fraction(120))
NEAT = tuple(sorted({1 / d for d in _DIVISORS} | {Fraction(2), Fraction(3), Fraction(4)}, reverse=True))
"""The scales we draw at, largest first: 4 : 1 down to 1 : 8000."""


@dataclass(frozen=True)
class Demand:
    """One part as far as its scale goes. Millimetres of paper; `largest` is the scale at which it just fits."""

    longest_mm: float
    largest: float

    def suits(self, scale: Fraction) -> bool:
        """Whether the part fits at this scale and can still be read."""
        return scale <= self.largest and self.longest_mm * scale >= READABLE_MM

    def own(self) -> Fraction:
        """The largest neat scale at which the part fits."""
        return next((s for s in NEAT if s <= self.largest), Fraction(self.largest).limit_denominator(10**7))


def common(demands: Sequence[Demand]) -> Fraction:
    """The scale that suits most of these parts, the largest such; at least one demand must be given."""
    best = max(NEAT, key=lambda s: (sum(d.suits(s) for d in demands), s))
    if any(d.suits(best) for d in demands):
        return best
    return min(d.own() for d in demands)


def words(scale: Fraction) -> str:
    """The scale as it is printed: '1 : 2.5', '2 : 1'."""
    if scale >= 1:
        return f"{float(scale):g} : 1"
    return f"1 : {float(1 / scale):.6g}"


def bar_mm(scale: Fraction, longest_drawn_mm: float) -> float:
    """The paper length of a scale bar: the largest of 1, 2, 5, 10, 20 … mm that is drawn no longer than asked."""
    lengths = [m * 10.0**power for power in range(-2, 6) for m in (1, 2, 5)]
    return max(m for m in lengths if m * scale <= longest_drawn_mm or m == lengths[0])
