"""A picture as coarse cells of light, for measuring how much of it changes.

W3C WCAG 2.2 judges flashes on a screen 1024 x 768 pixels large, of which ten degrees of the eye take in 341 x 256. A
film fills that screen as far as its shape lets it, and one cell is 4 x 4 of those pixels, 0.117 degrees: finer patterns
than 0.1 degrees are what the standard leaves out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot.srgb import LINEAR

SCREEN = (1024, 768)
SIDE = 4
"""A cell's side in pixels of that screen."""

_UNTAGGED = 2  # ITU-T H.273: not said
_BT709, _BT601 = 1, 5
_HD_LINES = 720
_NITS = 200.0  # ITU-R BT.1702: the screen on which 20 cd/m2 are counted
_LUMA = (54, 183, 19)  # BT.709's weights in 256ths

Light = NDArray[np.float32]


@dataclass(frozen=True)
class Cells:
    """Means over each cell of a picture.

    rgb:  (rows, columns, 3) linear light of IEC 61966-2-1, 1.0 white
    nits: (rows, columns) cd/m2 on the screen of ITU-R BT.1702, 200 * V ** 2.4
    """

    rgb: Light
    nits: Light


def grid(size: tuple[int, int]) -> tuple[int, int]:
    """Rows and columns of cells of a film of this width and height that fills the screen as far as it can."""
    scale = min(SCREEN[0] / size[0], SCREEN[1] / size[1])
    return max(1, round(size[1] * scale / SIDE)), max(1, round(size[0] * scale / SIDE))


def cells(frame: Any, *, every_pixel: bool = False) -> Cells:
    """The cells of a PyAV VideoFrame; a frame that says nothing of its matrix is BT.709 from 720 lines on.

    The picture is first brought to the screen's size by the mean of its codes, then all is measured in light. With
    `every_pixel` its own pixels are measured, which takes several times as long.
    """
    rows, columns = grid((frame.width, frame.height))
    size = (frame.height, frame.width) if every_pixel else (rows * SIDE, columns * SIDE)
    codes = _codes(frame, size)
    red, green, blue = (codes[..., n].astype(np.uint16) * np.uint16(weight) for n, weight in enumerate(_LUMA))
    luma = (red + green + blue + np.uint16(128)) >> 8
    return Cells(_means(LINEAR[codes], rows, columns), _means(_SCREEN_NITS[luma], rows, columns))


def _codes(frame: Any, size: tuple[int, int]) -> NDArray[np.uint8]:
    source = frame.colorspace
    if int(source) == _UNTAGGED:
        source = _BT709 if frame.height >= _HD_LINES else _BT601
    made = frame.reformat(
        width=size[1],
        height=size[0],
        format="rgb24",
        src_colorspace=source,
        dst_color_range="JPEG",
        interpolation="AREA",
    )
    codes: NDArray[np.uint8] = made.to_ndarray()
    return codes


def _means(values: NDArray[Any], rows: int, columns: int) -> Light:
    height, width = values.shape[:2]
    if (height, width) == (rows * SIDE, columns * SIDE):
        blocks = values.reshape(rows, SIDE, columns, SIDE, *values.shape[2:])
        by_row = blocks[:, 0] + blocks[:, 1] + blocks[:, 2] + blocks[:, 3]
        return np.asarray((by_row[:, :, 0] + by_row[:, :, 1] + by_row[:, :, 2] + by_row[:, :, 3]) / SIDE**2)
    tops, lefts = _edges(height, rows), _edges(width, columns)
    sums = np.add.reduceat(np.add.reduceat(values, tops, axis=0), lefts, axis=1)
    counts = np.outer(np.diff([*tops, height]), np.diff([*lefts, width])).astype(np.float32)
    return np.asarray(sums / (counts[..., None] if values.ndim == 3 else counts))


def _edges(length: int, parts: int) -> NDArray[np.intp]:
    return np.minimum(np.arange(parts) * length // parts, length - 1).astype(np.intp)


_SCREEN_NITS: Light = (_NITS * (np.arange(256) / 255) ** 2.4).astype(np.float32)
