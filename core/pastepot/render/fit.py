"""Pictures that are narrower than a wide screen, made 16:9: with black bars at the sides, or cut above and below."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Fit = Literal["bars", "crop"]
WIDE = (16, 9)


def is_narrow(size: tuple[int, int]) -> bool:
    """Whether a picture of this width and height is narrower than 16:9."""
    return size[0] * WIDE[1] < size[1] * WIDE[0]


def fitted_size(size: tuple[int, int], fit: Fit) -> tuple[int, int]:
    """Width and height of the 16:9 film: as high as the pictures, or as wide, and even."""
    width, height = size
    if fit == "bars":
        return round(height * WIDE[0] / WIDE[1] / 2) * 2, height
    return width, round(width * WIDE[1] / WIDE[0] / 2) * 2


def fitted(pixels: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    """The picture (height, width, 3) in the middle of a frame of this width and height, black beside it."""
    height, width = pixels.shape[:2]
    top = max(0, height - size[1]) // 2
    kept = pixels[top : top + size[1]]
    left = (size[0] - width) // 4 * 2  # even, so that no block of colour is half picture and half bar
    made = np.zeros((kept.shape[0], size[0], 3), np.uint8)
    made[:, left : left + width] = kept
    return made
