"""What speaks for a new picture between two neighbours: blocks that changed by more than noise can explain.

An unchanged block differs from itself by grain or coding (the same everywhere) and by what is left of the frame's
wander (more where the picture is steep). Both are estimated from the pictures themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.reference.footage import BLOCK

Blocks = NDArray[np.float64]

_ECHO = 0.04  # a codec refines a changed block afterwards: so much of the change before is no news
_FROZEN = 0.15  # of the noise: less than this, and the codec has copied the block
_TOP = ((1, 0.8), (3, 1.0), (8, 1.25))  # the mean of so many most changed blocks, and its weight
_HELD = (0.75, 0.18, 0.1)  # blends: noise counted off, share left unexplained, distance from either end


@dataclass(frozen=True)
class Evidence:
    """For each of T pictures, how much speaks for it being a new one. All (T,).

    score: log of how far the most changed blocks are above the noise, seen in every pair that spans the change
    plain: the same from this picture and the one before alone
    mix:   the share of the next picture in this one, if it is a blend of its neighbours; nan if not
    frozen: share of the blocks that the codec copied from the picture before, over all pictures
    noise:  mean square of the noise in even blocks
    """

    score: NDArray[np.float64]
    plain: NDArray[np.float64]
    mix: NDArray[np.float64]
    rest: NDArray[np.float64]
    frozen: float
    noise: float


def evidence(light: NDArray[np.float32]) -> Evidence:
    """Weigh (T, h, w) registered pictures of one shot."""
    count = len(light)
    steep = np.stack([_steepness(picture) for picture in light])
    one, two = (_energy(light, lag) for lag in (1, 2))
    steep_one = _highest(steep, 1)
    noise, wander = _noise(one[1:], steep_one[1:])
    ratio, whole = _ratio(one, noise + wander * steep_one)
    ratio_two, _ = _ratio(two, noise + wander * _highest(steep, 2))
    news = ratio.copy()
    floor = (noise + wander * steep_one[1:]) * whole[1:, None, None]
    news[1:] = one[1:] / (floor + _ECHO * one[:-1])
    lasting = news.copy()
    if count > 2:
        lasting[2:] = np.minimum(lasting[2:], ratio_two[2:])
        lasting[1:-1] = np.minimum(lasting[1:-1], ratio_two[2:])
    plain = _score(ratio)
    mix, rest = _blends(light, ratio, ratio_two, noise)
    frozen = float((one[1:] < _FROZEN * noise).mean()) if count > 1 else 0.0
    return Evidence(_score(lasting), plain, mix, rest, frozen, noise)


def _energy(light: NDArray[np.float32], lag: int) -> Blocks:
    out = np.zeros((len(light), light.shape[1] // BLOCK, light.shape[2] // BLOCK))
    for n in range(lag, len(light)):
        step = light[n] - light[n - lag]
        out[n] = _means(step * step)
    return out


def _steepness(picture: NDArray[np.float32]) -> Blocks:
    gy, gx = np.gradient(picture)
    return _means(gx * gx + gy * gy)


def _means(values: NDArray[np.float32]) -> Blocks:
    height, width = values.shape
    rows = values.reshape(height, width // BLOCK, BLOCK).sum(axis=2)
    means: Blocks = rows.reshape(height // BLOCK, BLOCK, width // BLOCK).sum(axis=1) / np.float64(BLOCK * BLOCK)
    return means


def _highest(values: Blocks, lag: int) -> Blocks:
    """Each value, or the largest of those up to `lag` before."""
    out = values.copy()
    for back in range(1, lag + 1):
        out[back:] = np.maximum(out[back:], values[:-back])
    return out


def _noise(energy: Blocks, steep: Blocks, bins: int = 24) -> tuple[float, float]:
    """Noise of even blocks, and squared wander in pixels: from how energy grows with steepness.

    Quantiles, since some blocks did change; high ones, since a codec leaves many blocks without any noise.
    """
    if not energy.size:
        return 0.05, 0.0006
    inner = (slice(None), *_inner(energy.shape[1:]))
    flat, level = energy[inner].ravel(), steep[inner].ravel()
    order = np.argsort(level)
    groups = [g for g in np.array_split(order, bins) if g.size]
    high = np.array([np.quantile(flat[g], 0.85) for g in groups])
    usual = np.array([np.quantile(flat[g], 0.6) for g in groups])
    centre = np.array([level[g].mean() for g in groups])
    noise = max(float(np.median(high[:10])), 0.05)
    wander = float(np.median(np.maximum(usual[10:20] - noise, 0) / np.maximum(centre[10:20], 1e-6)))
    return noise, max(wander, 0.05**2 / 4)


def _inner(shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Blocks away from the edge, where there are enough: what wanders in at the edge is no news."""
    rows, columns = shape
    return (
        slice(1, rows - 1) if rows > 6 else slice(None),
        slice(1, columns - 1) if columns > 6 else slice(None),
    )


def _ratio(energy: Blocks, floor: Blocks) -> tuple[Blocks, NDArray[np.float64]]:
    """Energy over the floor, and the factor by which whole pictures are above it: a key picture, a refocus."""
    ratio = energy / floor
    inner = (slice(None), *_inner(energy.shape[1:]))
    whole = np.maximum(np.quantile(ratio[inner].reshape(len(ratio), -1), 0.4, axis=1), 1.0)
    return ratio / whole[:, None, None], whole


def _score(ratio: Blocks) -> NDArray[np.float64]:
    inner = (slice(None), *_inner(ratio.shape[1:]))
    flat = ratio[inner].reshape(len(ratio), -1)
    most = min(max(k for k, _ in _TOP), flat.shape[1])
    top = -np.sort(-flat, axis=1)[:, :most]
    score: NDArray[np.float64] = np.max([w * np.log(top[:, :k].mean(axis=1) + 1e-3) for k, w in _TOP], axis=0)
    score[0] = score[1:].min() if len(score) > 1 else 0.0
    return score


def _blends(
    light: NDArray[np.float32], ratio: Blocks, two: Blocks, noise: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(T,) share of the next picture in each that is a mixture of its neighbours where it changed, and what is left."""
    mix, rest = np.full(len(light), np.nan), np.full(len(light), np.inf)
    inner = np.zeros(ratio.shape[1:], bool)
    inner[_inner(ratio.shape[1:])] = True
    counted, most, edge = _HELD
    for n in range(1, len(light) - 1):
        changed = inner & (two[n + 1] > 4) & (ratio[n] > 2) & (ratio[n + 1] > 2)
        if not changed.any():
            continue
        pixels = np.repeat(np.repeat(changed, BLOCK, axis=0), BLOCK, axis=1)
        here = (light[n] - light[n - 1])[pixels]
        there = (light[n + 1] - light[n - 1])[pixels]
        share = float(here @ there) / (float(there @ there) + 1e-6)
        left = float(((here - share * there) ** 2).mean())
        least = min(float((here**2).mean()), float(((there - here) ** 2).mean()))
        rest_share = max(left - counted * noise, 0.0) / (least + 1e-6)
        if edge < share < 1 - edge and rest_share < most:
            mix[n], rest[n] = share, rest_share
    return mix, rest
