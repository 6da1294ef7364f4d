"""How many different pictures a second the film was made with, before it was converted."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

_RATES = (8, 10, 12, Fraction(25, 2), 15, Fraction(50, 3), 18, 20, 24, 25, 30)
_FITS = 0.97
_PHASES = 24
_LEAST = 12


def content_rate(starts: NDArray[np.int64], rate: Fraction) -> tuple[Fraction, float] | None:
    """The slowest usual rate on whose frames nearly all exposures begin, and the share that does.

    starts: pictures of the film at `rate` a second. None with too few of them to tell.
    """
    if len(starts) < _LEAST:
        return None
    nominal = Fraction(round(rate)) if abs(rate - round(rate)) < Fraction(1, 10) else rate
    for slower in _RATES:
        if slower < nominal:
            share = _fit(starts, float(nominal / slower))
            if share >= _FITS:
                return Fraction(slower), share
    return nominal, 1.0


def _fit(starts: NDArray[np.int64], step: float) -> float:
    """Largest share of starts on the grid floor(k * step + phase), over all phases."""
    best = 0.0
    for phase in np.arange(_PHASES) / _PHASES * step:
        k = np.ceil((starts - phase) / step - 1e-9)
        on = np.floor(k * step + phase + 1e-9) == starts
        also = np.ceil(np.floor((starts - phase) / step + 1e-9) * step + phase - 1e-9) == starts
        best = max(best, float(on.mean()), float(also.mean()))
    return best
