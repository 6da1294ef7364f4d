"""A film's sound: any file that the 'film' extra can read, as 48 kHz stereo of exactly the film's length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot import media
from pastepot.errors import PastepotError, Problem

RATE = 48_000
"""Samples a second in the film."""

_BLOCK = 4096

Stereo = NDArray[np.float32]
"""(2, n) samples, left and right, 1.0 full scale."""


@dataclass(frozen=True)
class Heard:
    """What a sound file holds, after all of it was decoded once."""

    seconds: Fraction
    rate: int
    channels: int


def examine(path: Path) -> Heard:
    """Decode the file from end to end. Raises PastepotError with what to do if that fails or there is no sound."""
    count, rate, channels = 0, 0, 0
    for frame in _decoded(path):
        count, rate, channels = count + frame.samples, frame.sample_rate, len(frame.layout.channels)
    if count == 0:
        raise PastepotError(_unusable(path, "It holds no sound."))
    return Heard(Fraction(count, rate), rate, channels)


def fitted(path: Path, start: int, total: int) -> Iterator[Stereo]:
    """Exactly `total` samples at 48 kHz in which the sound's own first sample comes at `start` (before 0: cut off).

    Silence fills what is left before and after; what goes past the end is cut off.
    """
    position = 0
    for block in _silence(min(max(start, 0), total)):
        position += block.shape[1]
        yield block
    skip = max(-start, 0)
    for block in _resampled(path):
        if position == total:
            return
        dropped = min(skip, block.shape[1])
        skip -= dropped
        kept = block[:, dropped : dropped + total - position]
        if kept.shape[1]:
            position += kept.shape[1]
            yield kept
    yield from _silence(total - position)


def _silence(samples: int) -> Iterator[Stereo]:
    for begin in range(0, samples, _BLOCK):
        yield np.zeros((2, min(_BLOCK, samples - begin)), np.float32)


def _resampled(path: Path) -> Iterator[Stereo]:
    """The whole sound at 48 kHz. One channel goes to both sides as it is: mixing it up would take 3 dB off."""
    from av.audio.resampler import AudioResampler

    resampler: AudioResampler | None = None
    for frame in _decoded(path):
        if resampler is None:
            layout = "mono" if len(frame.layout.channels) == 1 else "stereo"
            resampler = AudioResampler(format="fltp", layout=layout, rate=RATE)
        frame.pts = None  # its samples count, not a clock that the file may have
        for made in resampler.resample(frame):
            yield _both_sides(made.to_ndarray())
    if resampler is not None:
        for made in resampler.resample(None):
            yield _both_sides(made.to_ndarray())


def _both_sides(samples: NDArray[Any]) -> Stereo:
    return np.ascontiguousarray(np.broadcast_to(samples, (2, samples.shape[1])), np.float32)


def _decoded(path: Path) -> Iterator[Any]:
    """The file's frames of sound, as PyAV's AudioFrame."""
    with media.opened(path, "audio", "Delivering a film", _unusable) as (container, stream):
        yield from container.decode(stream)


def _unusable(path: Path, why: str) -> Problem:
    return Problem(f"The sound can't be used. {why}", "Name a sound file, such as a WAV, with --sound.", str(path))
