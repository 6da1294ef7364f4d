"""Which frames show the same picture, so that each picture is rendered once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import Problem

SCHEMA = 1
"""Part of every render's fingerprint: raise it when the way frames are told apart changes."""

Frames = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Plan:
    """What is to be seen on each frame of a render.

    frames:   (F,) the frames, one after another
    picture:  (F,) for each the first frame that shows the same picture; that frame's number names the picture
    refusals: why no frame may stand in for another; empty where some may
    """

    frames: Frames
    picture: Frames
    refusals: tuple[Problem, ...] = ()

    @property
    def pictures(self) -> Frames:
        """(P,) the distinct pictures, in the order they are first seen."""
        return np.unique(self.picture)

    def shown_on(self, picture: int) -> list[int]:
        """Every frame that shows the picture, its own first."""
        return [int(frame) for frame in self.frames[self.picture == picture]]


def every_frame(first: int, last: int, refusals: tuple[Problem, ...] = ()) -> Plan:
    """A picture of its own for each frame from first to last. Raises ValueError if there is none."""
    if last < first:
        raise ValueError(f"The frames to render end at {last}, before they start at {first}.")
    frames = np.arange(first, last + 1)
    return Plan(frames, frames, refusals)


def same_pictures(first: int, values: NDArray[np.uint32]) -> Plan:
    """One picture for all frames whose values are the same, wherever in the film they are.

    values: (F, C) the bits of everything that changes, a row for each frame from `first` on, a column for each thing.
    Bits, not numbers: 0.0 and -0.0 count as different and a NaN equals itself, so no rounding can join two frames.
    """
    plan = every_frame(first, first + len(values) - 1)
    changing = np.ascontiguousarray(values[:, (values != values[:1]).any(axis=0)])
    if changing.shape[1] == 0:
        return Plan(plan.frames, np.full_like(plan.frames, first))
    rows = changing.view(np.dtype((np.void, changing.shape[1] * changing.itemsize))).ravel()
    _, seen_first, group = np.unique(rows, return_index=True, return_inverse=True)
    return Plan(plan.frames, plan.frames[seen_first[group.ravel()]])
