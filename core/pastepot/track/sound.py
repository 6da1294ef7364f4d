"""A track's sound as the recogniser wants it: one channel of 16 bits at 16 kHz, a piece at a time.

Whatever its length, only the pieces that are being worked on are in memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pastepot import media
from pastepot.errors import PastepotError, Problem

RATE = 16_000
"""Samples a second."""

ENDINGS = (".wav", ".flac", ".mp3", ".ogg", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".mov", ".mp4", ".mkv")
"""The endings by which a sound is found in the track folder."""

Samples = NDArray[np.int16]


class Piece(NamedTuple):
    """A stretch of the sound. span: number of the one asked for, start: of its first sample, seconds."""

    span: int
    start: float
    samples: Samples


class Measured:
    """What has been heard so far, once `pieces` is done: of the whole sound."""

    def __init__(self) -> None:
        self.samples = 0

    @property
    def seconds(self) -> float:
        """How long the sound is."""
        return self.samples / RATE


def pieces(path: Path, spans: Sequence[tuple[float, float]], measured: Measured | None = None) -> Iterator[Piece]:
    """The stretches of a sound between these seconds, each as soon as it has been read, in one pass.

    Spans may overlap and stand in any order; what lies outside the sound is left out, so that a piece may be shorter,
    or empty. PastepotError, with what to do, if the sound cannot be read or there is none in the file.
    """
    order = sorted(range(len(spans)), key=lambda i: spans[i])
    waiting = [(i, round(max(spans[i][0], 0.0) * RATE), round(spans[i][1] * RATE)) for i in order]
    open_: list[tuple[int, int, int, list[Samples]]] = []
    at = 0
    for block in blocks(path):
        end = at + len(block)
        while waiting and waiting[0][1] < end:
            open_.append((*waiting.pop(0), []))
        still = []
        for index, first, last, parts in open_:
            parts.append(block[max(first - at, 0) : max(last - at, 0)])
            if last <= end:
                yield Piece(index, first / RATE, np.concatenate(parts))
            else:
                still.append((index, first, last, parts))
        open_, at = still, end
        if measured is not None:
            measured.samples = at
    for index, first, _, parts in open_:
        yield Piece(index, first / RATE, np.concatenate(parts))
    for index, first, _ in waiting:
        yield Piece(index, first / RATE, np.zeros(0, np.int16))


def blocks(path: Path) -> Iterator[Samples]:
    """The whole sound in blocks of about a second. PastepotError if it cannot be read, or holds none."""
    heard: list[Samples] = []
    count = 0
    any_ = False
    for block in _resampled(path):
        any_ = any_ or len(block) > 0
        heard.append(block)
        count += len(block)
        if count >= RATE:
            yield np.concatenate(heard)
            heard, count = [], 0
    if count:
        yield np.concatenate(heard)
    if not any_:
        raise PastepotError(_unusable(path, "It holds no sound."))


def _resampled(path: Path) -> Iterator[Samples]:
    from av.audio.resampler import AudioResampler

    resampler: AudioResampler | None = None
    for frame in _decoded(path):
        if resampler is None:
            resampler = AudioResampler(format="s16", layout="mono", rate=RATE)
        frame.pts = None  # its samples count, not a clock that the file may have
        for made in resampler.resample(frame):
            yield made.to_ndarray()[0].astype(np.int16, copy=True)
    if resampler is not None:
        for made in resampler.resample(None):
            yield made.to_ndarray()[0].astype(np.int16, copy=True)


def _decoded(path: Path) -> Iterator[Any]:
    with media.opened(path, "audio", "Reading a sound", _unusable) as (container, stream):
        yield from container.decode(stream)


def _unusable(path: Path, why: str) -> Problem:
    return Problem(f"The sound can't be used. {why}", "Put a sound such as a WAV in its place.", f"track/{path.name}")
