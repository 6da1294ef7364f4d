"""How a shot's whole frame wandered and its light changed, and how far that can be told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GAMMA = 2.2
"""What display light a code stands for: stops are told under this assumption."""

_LEAST = 8  # exposures
_ALIKE = 0.5  # pictures of an exposure that vary by less than this share of the whole lie alike
_TELLS = 1.5  # a figure must be above its floor by this factor


@dataclass(frozen=True)
class Figure:
    """A standard deviation, and the floor below which this footage can't show one. `value` is without the floor."""

    value: float
    floor: float

    @property
    def tells(self) -> bool:
        """Whether it is above the floor: if not, it can't be told."""
        return bool(np.isfinite(self.value) and self.value > _TELLS * self.floor)


UNKNOWN = Figure(float("nan"), float("nan"))


@dataclass(frozen=True)
class Wander:
    """weave: of either axis, small pixels; turn: radians; flicker: stops."""

    weave: Figure
    turn: Figure
    flicker: Figure


def wander(laid: Floats, starts: NDArray[np.int64]) -> Wander:
    """From (T, 8) shift, gain and their doubt of each picture, and where exposures begin.

    What changes slowly, as a moving camera does, is taken off. Where all pictures of an exposure lie alike, as in a
    film made of single photographs, an exposure counts once; else every picture does.
    """
    if len(starts) < _LEAST:
        return Wander(UNKNOWN, UNKNOWN, UNKNOWN)
    values = np.column_stack([laid[:, :3], GAMMA * np.log2(np.maximum(laid[:, 3], 1e-3))])
    doubt = np.column_stack([laid[:, 4:7], GAMMA / np.log(2) * laid[:, 7]])
    # Halves disagree by sqrt(2) more than half of the blocks err, and those err sqrt(2) more than all of them.
    floor = doubt.std(axis=0) / 2
    spread = np.where(_held(values, starts), _without_drift(_means(values, starts)), _without_drift(values))
    right, down, turn, stops = (Figure(_without(s, f), f) for s, f in zip(spread, floor, strict=True))
    weave = Figure(float(np.hypot(right.value, down.value) / np.sqrt(2)), float(np.hypot(right.floor, down.floor)))
    return Wander(weave, turn, stops)


def _means(values: Floats, starts: NDArray[np.int64]) -> Floats:
    """(E, K) means over the pictures of each exposure."""
    counts = np.diff(starts, append=len(values))
    means: Floats = np.add.reduceat(values, starts, axis=0) / counts[:, None]
    return means


def _held(values: Floats, starts: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(K,) whether pictures of one exposure differ far less than those of different ones."""
    counts = np.diff(starts, append=len(values))
    freedom = len(values) - len(starts)
    if freedom < _LEAST:
        return np.zeros(values.shape[1], bool)
    means = _means(values, starts)
    within = np.sqrt(((values - np.repeat(means, counts, axis=0)) ** 2).sum(axis=0) / freedom)
    held: NDArray[np.bool_] = within < _ALIKE * _without_drift(means)
    return held


def _without(spread: float, floor: float) -> float:
    return float(np.sqrt(max(spread**2 - floor**2, 0.0)))


def _without_drift(values: Floats) -> Floats:
    """(K,) standard deviation of (T, K) without what changes slowly: about its running mean of 9."""
    reach = 4
    padded = np.pad(values, ((reach, reach), (0, 0)), mode="reflect") if len(values) > reach else values
    if len(padded) == len(values):
        plain: Floats = values.std(axis=0)
        return plain
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1, axis=0)
    rest = values - windows.mean(axis=-1)
    spread: Floats = rest.std(axis=0) * np.sqrt((2 * reach + 1) / (2 * reach))
    return spread
