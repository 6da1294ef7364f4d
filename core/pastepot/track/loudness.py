"""How loud a piece of sound is along the way, and where in it somebody may be speaking, by loudness alone."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from pastepot.track.sound import RATE, Samples

STEP_S = 0.01
"""One level every hundredth of a second."""

_WINDOW = round(0.03 * RATE)
_HOP = round(STEP_S * RATE)
_QUIET_DB = -60.0
_LEAST_RANGE_DB = 12.0
_CLIPPED = 32_760
_CLIPPED_SHARE = 0.002

Floats = NDArray[np.float64]


def levels(samples: Samples) -> Floats:
    """(N,) loudness in dB below full scale, one value a hundredth of a second, over windows of three hundredths."""
    count = len(samples) // _HOP
    if count == 0:
        return np.zeros(0)
    padded = np.pad(samples[: count * _HOP].astype(np.float64) / 32768, (_WINDOW // 2, _WINDOW))
    padded -= padded.mean()
    power = np.concatenate([[0.0], np.cumsum(padded**2)])
    at = np.arange(count) * _HOP
    mean = (power[at + _WINDOW] - power[at]) / _WINDOW
    return np.asarray(10 * np.log10(np.maximum(mean, 1e-10)))


def is_silent(level: Floats) -> bool:
    """Whether nothing at all is to be heard."""
    return len(level) == 0 or float(np.percentile(level, 95)) < _QUIET_DB


def is_clipped(samples: Samples) -> bool:
    """Whether the sound was recorded too loud: its peaks are cut flat."""
    if len(samples) == 0:
        return False
    flat = np.abs(samples.astype(np.int32)) >= _CLIPPED
    return bool((flat[1:] & flat[:-1]).mean() > _CLIPPED_SHARE) if len(samples) > 1 else False


def loud(level: Floats) -> NDArray[np.bool_]:
    """(N,) where the sound stands out from its own background, gaps of less than a tenth of a second filled."""
    if is_silent(level):
        return np.zeros(len(level), bool)
    floor, top = (float(np.percentile(level, p)) for p in (10, 95))
    floor = max(floor, _QUIET_DB, top - 60)
    if top - floor < _LEAST_RANGE_DB:
        return np.ones(len(level), bool)  # as loud all the way: all of it, or none, is speech
    above = level > max(floor + 0.35 * (top - floor), top - 30)
    return _closed(above, round(0.1 / STEP_S))


def _closed(flags: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    """Fill runs of False no longer than `gap` that lie between two of True."""
    at = np.flatnonzero(flags)
    filled = flags.copy()
    for left, right in itertools.pairwise(at.tolist()):
        if 1 < right - left <= gap + 1:
            filled[left:right] = True
    return filled


def opens(level: Floats, step: int = 4) -> Floats:
    """(M,) how far a mouth may stand open, 0 to 1, one value for each `step` levels; 0 where nothing is said."""
    count = len(level) // step
    if count == 0:
        return np.zeros(0)
    speaking = loud(level)[: count * step].reshape(count, step).mean(axis=1) >= 0.5
    mean = level[: count * step].reshape(count, step).mean(axis=1)
    if not speaking.any():
        return np.zeros(count)
    top, floor = float(np.percentile(mean[speaking], 90)), float(np.percentile(mean[speaking], 5)) - 3.0
    share = np.clip((mean - floor) / max(top - floor, 1.0), 0.0, 1.0)
    return np.where(speaking, np.maximum(share, 0.15), 0.0)
