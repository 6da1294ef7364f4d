"""Paper colour carried outward under the transparent part of a cut-out.

A renderer that filters an image near its edge mixes in what lies under alpha 0. If that is black, a dark fringe shows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.float32]

# How far from the edge a texture filter may reach, and how different (of 255) the colour there may be.
REACH_PX = 3
_TOLERANCE = 24.0 / 255.0


def needs_bleed(rgba: Pixels) -> bool:
    """Whether transparent pixels close to paper hide another colour than any paper beside them.

    rgba: (H, W, 4) straight alpha, encoded values 0..1.
    """
    clear = rgba[..., 3] == 0.0
    if not clear.any() or clear.all():
        return False
    nearest = np.full(clear.shape, np.inf, np.float32)
    for axis in (0, 1):
        for step in range(1, REACH_PX + 1):
            here, there = _slices(axis, step)
            difference = np.abs(rgba[here][..., :3] - rgba[there][..., :3]).max(axis=-1)
            for hidden, paper in ((here, there), (there, here)):
                at = clear[hidden] & ~clear[paper]
                nearest[hidden] = np.where(at, np.minimum(nearest[hidden], difference), nearest[hidden])
    close = np.isfinite(nearest)
    return bool(close.any()) and float(nearest[close].mean()) > _TOLERANCE


def _slices(axis: int, step: int) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    """The two overlapping pieces of a picture that lie `step` pixels apart."""
    whole = slice(None)
    ahead, behind = slice(None, -step), slice(step, None)
    return ((ahead, whole), (behind, whole)) if axis == 0 else ((whole, ahead), (whole, behind))


def bled(rgba: Pixels) -> Pixels:
    """A copy whose fully transparent pixels carry the colour of the nearest paper; all others are untouched.

    Fills from a pyramid of alpha-weighted averages: each level halves the picture until colour is known everywhere,
    then coarse colours fill the holes of the finer level (push-pull interpolation, Gortler et al. 1996, "The
    Lumigraph", section 4.3).
    """
    out = rgba.copy()
    clear = rgba[..., 3] == 0.0
    if clear.any() and not clear.all():
        filled = _filled(rgba[..., :3], rgba[..., 3])
        out[clear, :3] = np.clip(filled[clear], 0.0, 1.0)
    return out


def _filled(colour: Pixels, weight: Pixels) -> Pixels:
    """Colour everywhere: as given where weight > 0, from the coarser levels elsewhere."""
    if (weight > 0).all() or max(weight.shape) == 1:
        return colour
    height, width = weight.shape
    pad = ((0, height % 2), (0, width % 2))
    w = np.pad(weight, pad)
    c = np.pad(colour, (*pad, (0, 0))) * w[..., None]
    coarse_weight = _quads(w)
    coarse = _quads(c) / np.maximum(coarse_weight, 1e-12)[..., None]
    coarse_fill = _filled(coarse.astype(np.float32), np.minimum(coarse_weight, 1.0))
    fill: Pixels = coarse_fill.repeat(2, axis=0).repeat(2, axis=1)[:height, :width]
    fill[weight > 0] = colour[weight > 0]
    return fill


def _quads(a: Pixels) -> Pixels:
    total: Pixels = a[0::2, 0::2] + a[1::2, 0::2] + a[0::2, 1::2] + a[1::2, 1::2]
    return total
