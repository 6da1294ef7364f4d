"""The curve of sRGB: from 8-bit codes to linear light, where light adds up (IEC 61966-2-1)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def linear(codes: ArrayLike) -> NDArray[np.float64]:
    """Linear light 0..1 of codes 0..255, whole or not, same shape."""
    v = np.asarray(codes, np.float64) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


LINEAR: NDArray[np.float32] = linear(np.arange(256)).astype(np.float32)
"""The same for every 8-bit code: index it with a picture."""
