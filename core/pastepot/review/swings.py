"""Where the light of a picture has swung up or down since its last swing, cell by cell.

A swing is one of the two opposing changes that make a flash. It is measured from peak to valley, over as many pictures
as it takes, and a cell's swings alternate: what goes on falling is one swing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pastepot.review.cells import Light

Mask = NDArray[np.bool_]
Enough = Callable[[Light, Light], Mask]
"""Whether a lighter and a darker state are far enough apart to be a swing."""

_ROUNDING = 1e-6  # of the values' scale: float32
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], np.float32)
# Linear RGB to CIE XYZ, as printed in W3C's Understanding 2.3.1.
_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]],
    np.float32,
)
_RED_SHARE, _RED_APART = 0.8, 0.2
_DARK = 0.01  # linear light: red darker than this, code 25, is taken for black, where coding noise has any colour


def luminance(rgb: Light) -> Light:
    """Relative luminance (rows, columns) of linear light."""
    return np.asarray(rgb @ _LUMINANCE)


def general(light: Light, dark: Light) -> Mask:
    """WCAG 2.2: 10 % of relative luminance or more, where the darker state is below 0.80."""
    return np.asarray((light - dark >= 0.1 - _ROUNDING) & (dark < 0.8))


def broadcast(light: Light, dark: Light) -> Mask:
    """ITU-R BT.1702: 20 cd/m2 or more where the darker state is below 160; a contrast of 1/17 or more elsewhere."""
    needed = np.where(dark < 160, np.float32(20), (light + dark) / 17)
    return np.asarray(light - dark >= needed - 200 * _ROUNDING)


class LightSwings:
    """Swings of one brightness."""

    def __init__(self, first: Light, enough: Enough) -> None:
        self._enough = enough
        self._way = np.zeros(first.shape, np.int8)
        self._high, self._low = first.copy(), first.copy()

    def step(self, value: Light) -> tuple[Mask, Mask]:
        """The cells (rows, columns) that have now fallen, and those that have risen, enough."""
        np.maximum(self._high, value, out=self._high)
        np.minimum(self._low, value, out=self._low)
        fell = (self._way >= 0) & self._enough(self._high, value)
        rose = (self._way <= 0) & self._enough(value, self._low) & ~fell
        for mask, way in ((fell, -1), (rose, 1)):
            self._way[mask] = way
            self._high[mask] = self._low[mask] = value[mask]
        return fell, rose


class RedSwings:
    """WCAG 2.2: swings to or from a saturated red, R / (R + G + B) at 0.8 or more, that move more than 0.2 in u'v'.

    What a state is held against is the one since the last swing that is furthest towards, or away from, pure red.
    """

    def __init__(self, first: Light) -> None:
        self._way = np.zeros(first.shape[:2], np.int8)
        self._red = np.zeros((*first.shape[:2], 2), np.float32)
        self._other = np.zeros_like(self._red)
        self._nearest = np.full(first.shape[:2], np.inf, np.float32)
        self._furthest = np.full(first.shape[:2], -np.inf, np.float32)
        self.step(first)

    def step(self, rgb: Light) -> tuple[Mask, Mask]:
        """The cells (rows, columns) that have now left red, and those that have become red."""
        colour, is_red = chromaticity(rgb), saturated_red(rgb)
        off = _apart(colour, _PURE_RED)
        left = ~is_red & (self._way >= 0) & np.isfinite(self._nearest) & (_apart(colour, self._red) > _RED_APART)
        came = is_red & (self._way <= 0) & np.isfinite(self._furthest) & (_apart(colour, self._other) > _RED_APART)
        for mask, way in ((left, -1), (came, 1)):
            self._way[mask] = way
            self._nearest[mask], self._furthest[mask] = np.inf, -np.inf
        closer, further = is_red & (off < self._nearest), ~is_red & (off > self._furthest)
        self._red[closer], self._nearest[closer] = colour[closer], off[closer]
        self._other[further], self._furthest[further] = colour[further], off[further]
        return left, came


def saturated_red(rgb: Light) -> Mask:
    """Whether red makes up 0.8 or more of the linear light (rows, columns, 3)."""
    return np.asarray((rgb[..., 0] >= _RED_SHARE * rgb.sum(axis=-1) - _ROUNDING) & (rgb[..., 0] >= _DARK))


def chromaticity(rgb: Light) -> Light:
    """CIE 1976 u', v' (rows, columns, 2) of linear light; (0, 0) for black."""
    xyz = rgb @ _XYZ.T
    sums = xyz @ np.array([1, 15, 3], np.float32)
    return np.asarray(xyz[..., :2] * np.array([4, 9], np.float32) / np.where(sums == 0, 1, sums)[..., None])


def _apart(a: Light, b: Light) -> Light:
    return np.asarray(np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1]))


_PURE_RED: Light = chromaticity(np.array([1, 0, 0], np.float32))
