"""Where a Bezier curve's time reaches a given moment."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_QUICK_STEPS = 3
_MOST_STEPS = 100  # bisection alone needs 53
_ARRIVED = 1e-15
_CLOSE = 1e-9  # a Newton step this small leaves an error of its square, except at a double root


def parameter(a: Floats, b: Floats, c: Floats, share: Floats) -> Floats:
    """The t in [0, 1] at which a*t**3 + b*t**2 + c*t = share; all arrays (n,), share in [0, 1].

    The left side must rise from 0 to 1 (to rounding) and pass each share once on its way, as the time of a Bezier
    segment does whose handles are no longer than it. Method: a few Newton steps for all; then, for those that are
    still on their way (a vertical or level stretch), Newton kept inside a shrinking bracket with bisection (Press,
    Teukolsky, Vetterling, Flannery, "Numerical Recipes", 3rd ed., section 9.4). No t depends on what else is asked.
    """
    t = share.copy()
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for _ in range(_QUICK_STEPS):
            step = (((a * t + b) * t + c) * t - share) / ((3 * a * t + 2 * b) * t + c)
            np.clip(t - step, 0.0, 1.0, out=t)
        slow = np.flatnonzero(~(abs(step) < _CLOSE))
        if slow.size:
            t[slow] = _bracketed(a[slow], b[slow], c[slow], share[slow])
    return t


def _bracketed(a: Floats, b: Floats, c: Floats, share: Floats) -> Floats:
    t, low, high = share.copy(), np.zeros(share.shape), np.ones(share.shape)
    width = np.ones(share.shape)
    for _ in range(_MOST_STEPS):
        excess = ((a * t + b) * t + c) * t - share
        low, high = np.where(excess > 0, low, t), np.where(excess > 0, t, high)
        newton = np.where(excess == 0, t, t - excess / ((3 * a * t + 2 * b) * t + c))
        good = (newton >= low) & (newton <= high) & (abs(newton - t) < 0.5 * width)
        after = np.where(good, newton, 0.5 * (low + high))
        arrived = width < _ARRIVED  # stays where it is, however long the others take
        width = np.where(arrived, width, abs(after - t))
        t = np.where(arrived, t, after)
        if (width < _ARRIVED).all():
            break
    return t
