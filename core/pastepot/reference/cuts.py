"""Where one shot ends and the next begins, told while the film is read.

A cut is a place where no picture before it resembles any after it. A flash, a bump of the table or a broken picture is
not one, since the pictures on either side of it do. Hard cuts and fades through black only: a dissolve is not found.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from pastepot.reference.footage import Light

LATE = 2
"""A cut is told so many pictures after it: a flash may last so long."""

_COARSE = 4  # small pictures' pixels for one of those compared
_ALIKE = 0.62  # more than this, and two pictures show one shot whatever the shot
_FALL = 0.22  # a cut falls so far below what is usual in its shot
_CHANGED = 0.85  # less than this to the picture before: the first of a shot may be mixed with the last of another
_DARK = 6.0  # contrast, of 255, below which there is no picture
_AROUND = 24


class Cuts:
    """Fed with one picture after the other, tells each cut two pictures late: see LATE."""

    def __init__(self) -> None:
        self._last: deque[NDArray[np.float32]] = deque(maxlen=6)
        self._alike: deque[float] = deque(maxlen=_AROUND)
        self._dark: deque[bool] = deque(maxlen=4)
        self._since = 0

    def feed(self, light: Light) -> float | None:
        """If a shot begins LATE pictures before this one: how unlike the pictures before and after are, 0..2."""
        self._last.append(_outlines(light))
        self._dark.append(float(light.std()) < _DARK)
        self._since += 1
        if len(self._last) < 6:
            return None
        earlier, before_last, before, here, after, after_next = self._last
        # A flash of two pictures hides behind none of these.
        pairs = ((before, after), (before_last, after), (before, after_next), (earlier, after))
        alike = max(_resemblance(a, b) for a, b in pairs)
        usual = float(np.median(self._alike)) if len(self._alike) >= 3 else 1.0
        changed = _resemblance(before, here) < _CHANGED and alike < min(_ALIKE, usual - _FALL)
        lit = self._dark[0] and not self._dark[1] and not self._dark[2]
        if (changed or lit) and self._since > 2 * LATE:
            self._alike.clear()
            self._since = LATE
            return 1.0 - alike
        self._alike.append(alike)
        return None


def _outlines(light: Light) -> NDArray[np.float32]:
    """The picture coarse, without what is finer than a few pixels or as wide as a quarter of it."""
    rows, columns = (n // _COARSE for n in light.shape)
    cut = light[: rows * _COARSE, : columns * _COARSE]
    coarse = cut.reshape(rows, _COARSE, columns, _COARSE).mean(axis=(1, 3))
    wide = coarse
    for axis in (0, 1):
        wide = _running(wide, 2 * (coarse.shape[axis] // 12) + 1, axis)
    out: NDArray[np.float32] = (coarse - wide).astype(np.float32)
    return out


def _running(x: NDArray[np.float32], width: int, axis: int) -> NDArray[np.float32]:
    half = width // 2
    pad = [(half + 1, half) if a == axis else (0, 0) for a in (0, 1)]
    total = np.cumsum(np.pad(x, pad, mode="edge"), axis=axis)
    at = np.arange(x.shape[axis])
    mean: NDArray[np.float32] = (np.take(total, at + width, axis=axis) - np.take(total, at, axis=axis)) / width
    return mean


def _resemblance(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    size = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / size if size > 1e-6 else 1.0
