"""How each picture lies against a still one of its shot: shift, turn and brightness, whatever moves in it.

One step of Gauss and Newton (Lucas and Kanade 1981) on sums over blocks, weighted by how well each block agrees, so
that moving pieces do not pull at the table they lie on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.reference.footage import BLOCK, Light

Floats = NDArray[np.float64]

_STILLS = 15  # pictures whose median is the still one
_ROUNDS = 5
_TUKEY = 4.685  # biweight: 95 % efficient for normal errors (Holland and Welsch 1977)


@dataclass(frozen=True)
class Registered:
    """Pictures laid on one another.

    light: (T, h, w) float32, shifted, turned and brightened to agree
    shift: (T, 3) how each lay: right and down in small pixels, turned in radians
    gain:  (T,) how bright each was
    doubt: (T, 4) how far half of the blocks disagrees with the other half: shift as above, and gain
    still: (h, w) what they were laid on
    """

    light: NDArray[np.float32]
    shift: Floats
    gain: Floats
    doubt: Floats
    still: Light


def register(stack: NDArray[np.float32], still: Light | None = None) -> Registered:
    """Lay (T, h, w) pictures of one shot on `still`, or on the median of some of them."""
    soft = np.stack([soften(picture) for picture in stack])
    if still is None:
        still = median(soft)
        first = _lay(soft, still, np.zeros((len(soft), 3)))
        still = median(first.light)
        return _lay(soft, still, first.shift)
    return _lay(soft, still, _lay(soft, still, np.zeros((len(soft), 3))).shift)


def median(stack: NDArray[np.float32]) -> Light:
    """The median of a few pictures spread over the stack: what lies still in them."""
    chosen = np.unique(np.linspace(0, len(stack) - 1, min(len(stack), _STILLS)).astype(int))
    middle: Light = np.median(stack[chosen], axis=0).astype(np.float32)
    return middle


def _lay(soft: NDArray[np.float32], still: Light, start: Floats) -> Registered:
    fit = _Fit(still)
    shift, gain, doubt = start.copy(), np.ones(len(soft)), np.zeros((len(soft), 4))
    light = np.empty_like(soft)
    for n, picture in enumerate(soft):
        moved = displaced(picture, shift[n])
        step, gain[n], doubt[n] = fit.step(moved)
        shift[n] += step
        light[n] = displaced(picture, shift[n]) / np.float32(gain[n])
    return Registered(light, shift, gain, doubt, still)


class _Fit:
    """What of a step depends on the still picture alone."""

    def __init__(self, still: Light) -> None:
        self.still = still
        gy, gx = np.gradient(still)
        y, x = _places(still.shape)
        self.slopes = np.stack([gx, gy, gy * x - gx * y]).astype(np.float32)
        products = self.slopes[:, None] * self.slopes[None]
        self.normal = blocks_sum(products).reshape(3, 3, -1).transpose(2, 0, 1).astype(np.float64)
        self.sums = blocks_sum(still).ravel()
        rows, columns = (n // BLOCK for n in still.shape)
        self.half = np.add.outer(np.arange(rows), np.arange(columns)).ravel() % 2

    def step(self, moved: Light) -> tuple[Floats, float, Floats]:
        """The step, the gain, and by how much two halves of the blocks disagree about them."""
        sums = blocks_sum(moved).ravel()
        gain = _gain(sums, self.sums)
        difference: Light = (self.still - moved / np.float32(gain)).astype(np.float32)
        right = blocks_sum(self.slopes * difference).reshape(3, -1).T.astype(np.float64)
        energy = blocks_sum(np.square(difference)).ravel().astype(np.float64)
        weight = np.ones(len(energy))
        step = np.zeros(3)
        for _ in range(_ROUNDS):
            step = self._solved(weight, right)
            left = energy - 2 * right @ step + (step @ self.normal @ step)
            error = np.sqrt(np.maximum(left, 0))
            scale = _TUKEY * max(1.4826 * float(np.median(error)), 1e-6)
            weight = np.where(error < scale, (1 - (error / scale) ** 2) ** 2, 0.0)
        one, other = (self._solved(weight * (self.half == h), right) for h in (0, 1))
        gains = [_gain(sums[self.half == h], self.sums[self.half == h]) for h in (0, 1)]
        return np.clip(step, -3, 3), gain, np.append(one - other, gains[0] - gains[1])

    def _solved(self, weight: Floats, right: Floats) -> Floats:
        normal = (weight @ self.normal.reshape(len(weight), 9)).reshape(3, 3)
        if np.trace(normal) < 1e-6 or not np.linalg.cond(normal) < 1e8:
            return np.zeros(3)  # nothing in the picture to hold on to
        return np.linalg.solve(normal, weight @ right)


def _gain(mine: Light, still: Light) -> float:
    lit = still > 16 * BLOCK * BLOCK
    return float(np.median(mine[lit] / still[lit])) if lit.any() else 1.0


def displaced(picture: Light, shift: Floats) -> Light:
    """The picture as it was before it was shifted: value at p is the one at p + shift, edges repeated.

    Shifts by bilinear interpolation; the turn, a fraction of a pixel even at the corners, by the slope of the picture.
    """
    if not shift.any():
        return picture
    right, down, turn = shift
    out = _slid(_slid(picture, float(down), 0), float(right), 1)
    if abs(turn) > 1e-5:
        gy, gx = np.gradient(out)
        y, x = _places(picture.shape)
        out = out + np.float32(turn) * (gy * x - gx * y)
    return out.astype(np.float32)


def _slid(picture: Light, by: float, axis: int) -> Light:
    whole = int(np.floor(by))
    part = np.float32(by - whole)
    length = picture.shape[axis]
    at = np.arange(length) + whole
    near = np.take(picture, np.clip(at, 0, length - 1), axis=axis)
    if part == 0:
        return near
    return near + part * (np.take(picture, np.clip(at + 1, 0, length - 1), axis=axis) - near)


def _places(shape: tuple[int, ...]) -> tuple[Light, Light]:
    height, width = shape
    y = np.arange(height, dtype=np.float32)[:, None] - np.float32((height - 1) / 2)
    x = np.arange(width, dtype=np.float32)[None] - np.float32((width - 1) / 2)
    return y, x


def soften(picture: Light) -> Light:
    """The picture with each pixel spread over its neighbours (1 4 6 4 1), so that grain counts less than shapes."""
    for axis in (0, 1):
        length = picture.shape[axis]
        pad = [(2, 2) if a == axis else (0, 0) for a in (0, 1)]
        wide = np.pad(picture, pad, mode="edge")

        def cut(k: int, wide: Light = wide, axis: int = axis, length: int = length) -> Light:
            return wide[k : k + length] if axis == 0 else wide[:, k : k + length]

        picture = (cut(0) + cut(4) + 4 * (cut(1) + cut(3)) + 6 * cut(2)) / np.float32(16)
    return picture


def blocks_sum(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """(..., h / BLOCK, w / BLOCK) sums over blocks of (..., h, w)."""
    *outer, height, width = values.shape
    across = values.reshape(*outer, height, width // BLOCK, BLOCK).sum(axis=-1)
    down: NDArray[np.float32] = across.reshape(*outer, height // BLOCK, BLOCK, width // BLOCK).sum(axis=-2)
    return down
