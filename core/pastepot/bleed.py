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
    clear = np.ascontiguousarray(rgba[..., 3]) == 0.0
    if not clear.any() or clear.all():
        return False
    colours, flat, width = rgba.reshape(-1, rgba.shape[-1]), clear.ravel(), clear.shape[1]
    hidden, difference = [], []
    for stride, in_row in ((width, False), (1, True)):
        for away in range(stride, (REACH_PX + 1) * stride, stride):
            for clear_at, paper_at in ((0, away), (away, 0)):
                length = max(0, flat.size - away)
                at = np.flatnonzero(flat[clear_at:][:length] & ~flat[paper_at:][:length])
                if in_row:
                    at = at[at % width + away < width]  # not round the end of a row
                hidden.append(at + clear_at)
                difference.append(np.abs(colours[at + clear_at, :3] - colours[at + paper_at, :3]).max(axis=-1))
    return _mean_of_least(np.concatenate(hidden), np.concatenate(difference)) > _TOLERANCE


def _mean_of_least(pixel: NDArray[np.intp], difference: Pixels) -> float:
    """Over the pixels that are named, the mean of each one's least difference; 0 without any."""
    if not len(pixel):
        return 0.0
    order = np.argsort(pixel, kind="stable")
    starts = np.flatnonzero(np.diff(pixel[order], prepend=-1))
    return float(np.minimum.reduceat(difference[order], starts).mean())


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
