"""Black borders around a picture, and pictures in which two moments are woven together line by line."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

_BLACK = 40.0  # of 255: black on tape is not 0, and noise lifts the brightest value of a line
_MOST = 0.3  # no border takes more of a side than this
_TILE = 16


class Box(NamedTuple):
    """Where the picture is, in pixels of the file: `bottom` and `right` are the first beyond it."""

    top: int
    bottom: int
    left: int
    right: int

    @property
    def width(self) -> int:
        """Columns of the picture."""
        return self.right - self.left


def borders(brightest: NDArray[np.float32]) -> Box:
    """The picture's place, from the brightest value that each pixel ever had. brightest: (h, w), 0..255.

    A line belongs to the border while nine in ten of its pixels never left black. A film that is dark throughout
    keeps its whole frame.
    """
    height, width = brightest.shape
    rows = np.quantile(brightest, 0.9, axis=1) > _BLACK
    columns = np.quantile(brightest, 0.9, axis=0) > _BLACK
    top, bottom = _span(rows, height)
    left, right = _span(columns, width)
    return Box(top, bottom, left, right)


def _span(lit: NDArray[np.bool_], length: int) -> tuple[int, int]:
    at = np.flatnonzero(lit)
    most = int(length * _MOST)
    if not at.size or at[0] > most or length - 1 - at[-1] > most:
        return 0, length
    first, last = int(at[0]), int(at[-1]) + 1
    # A line or two at the edge of a border is half black.
    return first + 2 * (first > 0), last - 2 * (last < length)


def comb_share(whole: NDArray[Any]) -> float:
    """Share of tiles in which neighbouring lines differ far more than lines two apart: two moments in one picture."""
    x = whole.astype(np.int32)
    near = (x[2:-2] * 2 - x[1:-3] - x[3:-1]) ** 2
    far = (x[2:-2] * 2 - x[:-4] - x[4:]) ** 2
    rows, columns = near.shape[0] // _TILE, near.shape[1] // _TILE
    if not rows or not columns:
        return 0.0
    near_tiles, far_tiles = (_tiles(v, rows, columns) for v in (near, far))
    combed = (near_tiles > 2.5 * far_tiles) & (near_tiles > 4 * np.median(near_tiles) + 40)
    return float(combed.mean())


def _tiles(values: NDArray[np.int32], rows: int, columns: int) -> NDArray[np.float64]:
    cut = values[: rows * _TILE, : columns * _TILE]
    means: NDArray[np.float64] = cut.reshape(rows, _TILE, columns, _TILE).mean(axis=(1, 3), dtype=np.float64)
    return means
