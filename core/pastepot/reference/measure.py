"""Measures a whole film in one pass: shots, exposures, and how the frame and its light wandered.

A shot is worked on in stretches, so that memory does not grow with its length.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import PastepotError, Problem
from pastepot.reference import decide, footage
from pastepot.reference.cuts import LATE, Cuts
from pastepot.reference.evidence import Evidence, evidence
from pastepot.reference.footage import Light, Look, Read
from pastepot.reference.frame import Wander, wander
from pastepot.reference.rate import content_rate
from pastepot.reference.registration import register

Progress = Callable[[int, int, str], None]

_STRETCH = 144  # pictures worked on at once
_BEFORE = 3  # pictures before one that its evidence looks at
_AFTER = 5  # pictures that wait: its evidence looks at one, and a cut is told late


@dataclass(frozen=True)
class Shot:
    """A shot, in pictures of the film counted from 0, `last` included.

    unlike: how unlike the pictures on either side of its beginning are, 0 to 2; 0 for the first
    starts: pictures on which exposures begin
    new:    (last - first + 1,) probability of that for each picture
    threshold: of the score, see decide.Starts
    """

    first: int
    last: int
    unlike: float
    starts: NDArray[np.int64]
    new: NDArray[np.float64]
    wander: Wander

    @property
    def holds(self) -> NDArray[np.int64]:
        """Lengths of the exposures that begin and end within the shot, in pictures."""
        return np.diff(self.starts)

    @property
    def sure(self) -> float:
        """Share of its pictures of which it is sure whether they are new."""
        certain = np.maximum(self.new, 1 - self.new) >= decide.SURE
        return float(certain.mean())


@dataclass(frozen=True)
class Measured:
    """What was measured.

    times:   (N,) seconds of each picture
    content: pictures a second that the film was made with, and the share of exposures that agree; None: can't tell
    damaged: places of the file that could not be decoded
    """

    look: Look
    times: NDArray[np.float64]
    shots: tuple[Shot, ...]
    content: tuple[Fraction, float] | None
    damaged: int

    @property
    def starts(self) -> NDArray[np.int64]:
        """Every picture on which an exposure begins."""
        return np.concatenate([shot.starts for shot in self.shots])

    def hold_seconds(self) -> NDArray[np.float64]:
        """How long each exposure lasts that begins and ends within a shot."""
        return np.concatenate([np.diff(self.times[shot.starts]) for shot in self.shots])


def measure(
    path: Path,
    *,
    one_field: bool | None = None,
    cuts: Sequence[int] | None = None,
    progress: Progress | None = None,
) -> Measured:
    """Measure a film. PastepotError, with what to do, where it can't be.

    one_field: read every other line only; None: if the film's beginning shows woven fields
    cuts: first pictures of shots, where a person knows them better
    """
    seen = footage.look(path, one_field=one_field)
    read, walk, finder = Read(), _Walk(), Cuts()
    given = None if cuts is None else set(cuts)
    times: list[float] = []
    for picture in footage.pictures(path, seen, read):
        times.append(picture.seconds)
        if given is not None:
            if picture.number in given and picture.number:
                walk.cut(picture.number, 0.0)
            walk.add(picture.light)
        else:
            walk.add(picture.light)
            unlike = finder.feed(picture.light)
            if unlike is not None:
                walk.cut(picture.number - LATE, unlike)
        if progress is not None and picture.number % 24 == 0:
            progress(picture.number, max(seen.expected, picture.number + 1), "measuring picture")
    if not times:
        raise PastepotError(Problem("Not one picture in the film can be read.", "Choose another copy.", path.name))
    shots = tuple(walk.finished())
    if progress is not None:
        progress(len(times), len(times), "measuring picture")
    every = np.concatenate([shot.starts for shot in shots])
    return Measured(seen, np.array(times), shots, content_rate(every, seen.rate), read.damaged)


class _Walk:
    """Collects pictures, and works on them whenever there are enough."""

    def __init__(self) -> None:
        self._shots: list[Shot] = []
        self._begin(0, 0.0)

    def _begin(self, first: int, unlike: float) -> None:
        self._first, self._unlike = first, unlike
        self._waiting: list[Light] = []
        self._known = 0  # pictures at the head of those waiting whose evidence has been weighed
        self._still: Light | None = None
        self._weighed: list[tuple[Evidence, slice]] = []
        self._shift: list[NDArray[np.float64]] = []

    def add(self, light: Light) -> None:
        self._waiting.append(light)
        if len(self._waiting) >= _STRETCH + _BEFORE + _AFTER:
            self._weigh(len(self._waiting) - _AFTER)

    def cut(self, at: int, unlike: float) -> None:
        """A shot begins at this picture, which may be one of those waiting."""
        length = at - self._first
        done = sum(len(s) for s in self._shift)
        keep = length - done + self._known
        later = self._waiting[keep:]
        self._waiting = self._waiting[:keep]
        self._finish()
        self._begin(at, unlike)
        self._waiting = later

    def finished(self) -> list[Shot]:
        self._finish()
        return self._shots

    def _weigh(self, until: int) -> None:
        """Work on the pictures waiting, of which those from `until` on stay."""
        if until <= self._known:
            return
        laid = register(np.stack(self._waiting), self._still)
        self._still = laid.still
        part = slice(self._known, until)
        self._weighed.append((evidence(laid.light), part))
        self._shift.append(np.column_stack([laid.shift, laid.gain, laid.doubt])[part])
        keep = max(until - _BEFORE, 0)
        self._known = until - keep
        self._waiting = self._waiting[keep:]

    def _finish(self) -> None:
        self._weigh(len(self._waiting))
        if not self._shift:
            return
        seen = joined(self._weighed)
        decided = decide.decide(seen)
        starts = decided.starts + self._first
        about = wander(np.concatenate(self._shift), decided.starts)
        last = self._first + len(seen.score) - 1
        self._shots.append(Shot(self._first, last, self._unlike, starts, decided.new, about))


def joined(parts: Sequence[tuple[Evidence, slice]]) -> Evidence:
    """The evidence of a shot from that of its stretches, of each the given pictures."""

    def all_of(name: str) -> NDArray[np.float64]:
        return np.concatenate([getattr(seen, name)[part] for seen, part in parts])

    frozen, noise = (float(np.mean([getattr(seen, name) for seen, _ in parts])) for name in ("frozen", "noise"))
    return Evidence(all_of("score"), all_of("plain"), all_of("mix"), all_of("rest"), frozen, noise)
