"""What the timing works on: the smooth animation as rows of numbers, and the exposures that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pastepot import chance
from pastepot.timing.exposures import Frames

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

STILL = 1e-6
"""A pose that changes by less from one exposure to the next was not touched: rounding in a curve's evaluation between
two equal keys must not wake a resting part. Blender units and radians; a ten-thousandth of a millimetre."""


class Role(IntEnum):
    """What a row of values is to a hand: where it may miss, what it only sets, what it swaps."""

    SLIDE_X = 0
    SLIDE_Z = 1
    TURN = 2
    POSE = 3  # any other part of the pose: set exactly, and a change of it is a touch
    SHOWN = 4  # visibility: swapped on exposures, no touch


@dataclass(frozen=True)
class Rows:
    """Smooth animation sampled on every frame: K rows of P owners over N frames.

    owners: (P,) names; the random numbers of a part hang on its name (and its take) alone
    owner:  (K,) row -> index into owners
    role:   (K,) Role of each row; an owner has one row at most of SLIDE_X, SLIDE_Z and TURN each
    values: (K, N) float32, frame `first` onwards; slides in Blender units, turns in radians
    keyed:  (K, N) whether the animator has a key on that frame
    exact:  (P,) owners that no hand misses, such as the camera

    What follows may be left out:

    pinned:  (P, N) frames on which an owner is where the animator put it, to the bit: a foot on the ground
    parent:  (P,) the owner each lies on, -1 for none
    gaps_mm: (P, P) how far apart two owners lie, inf for never near; left out, the distance between their pivots counts
             among owners with one parent
    grab_mm: (P, 2) where a hand holds the part when it turns it: right and up from the pivot, as the part lies unturned
    reach_mm: (P,) how far a part stretches from its pivot, for the distance that a turn moves it; left out, REACH_MM
    steps:   (K,) rows that jump from key to key (constant interpolation): never seen between two values
    take:    (P,) another take of one part: 0 is the film's own
    alive:   (P,) owners that a feel with life in its holds moves; left out, all of them
    """

    owners: tuple[str, ...]
    owner: Places
    role: Places
    values: NDArray[np.float32]
    keyed: Flags
    exact: Flags
    first: int
    pinned: Flags | None = None
    parent: Places | None = None
    gaps_mm: Floats | None = None
    grab_mm: Floats | None = None
    reach_mm: Floats | None = None
    steps: Flags | None = None
    take: NDArray[np.int64] | None = None
    alive: Flags | None = None

    @property
    def last(self) -> int:
        """The last frame."""
        return self.first + int(self.values.shape[1]) - 1

    def row_of(self, role: Role) -> Places:
        """(P,) the owner's row of this role, -1 where it has none."""
        out = np.full(len(self.owners), -1, np.intp)
        chosen = np.flatnonzero(self.role == role)
        out[self.owner[chosen]] = chosen
        return out


REACH_MM = 40.0
"""How far a part counts as stretching where nothing better is known: about a forearm cut from a sheet of A4."""


@dataclass(frozen=True)
class Exposed:
    """What each row shows from each exposure on.

    starts:  (E,) frames
    values:  (K, E) float32
    changes: (K, E) where a key is needed: the first exposure, and wherever the value differs from the one before
    extreme: (P, E) the owner's pose is one the animator keyed
    placed:  (P, E) the owner was touched
    nudged:  (P, E) the owner was pushed by a neighbour; None where nothing nudges
    locked:  (K, E) values that the animator retouched and that were kept; None where there are none
    """

    starts: Frames
    values: NDArray[np.float32]
    changes: Flags
    extreme: Flags
    placed: Flags
    nudged: Flags | None = None
    locked: Flags | None = None


@dataclass(frozen=True)
class Table:
    """The film's side of it: rate, first frame, seed, and Blender units for a millimetre of paper."""

    fps: Fraction
    first_frame: int
    seed: int
    units_per_mm: float


def part_keys(rows: Rows, table: Table) -> NDArray[np.int64]:
    """(P,) what the random numbers of each owner hang on: its name, and its take where that is not 0."""
    keys = np.array([chance.part_key(name) for name in rows.owners], np.int64)
    if rows.take is None:
        return keys
    other = chance.words(table.seed, keys, chance.Channel.TAKE, np.asarray(rows.take, np.int64))[0].astype(np.int64)
    return np.where(np.asarray(rows.take) == 0, keys, other)


def changes(values: NDArray[np.float32]) -> Flags:
    """(K, E) where a key is needed."""
    out = np.ones(values.shape, bool)
    out[:, 1:] = values[:, 1:] != values[:, :-1]
    return out


def any_row(flags: Flags, groups: Places, count: int) -> Flags:
    """(count, N): whether any row of each group has its flag set. flags: (K, N), groups: (K,) below count."""
    out = np.zeros((count, flags.shape[1]), bool)
    for row, group in enumerate(groups.tolist()):
        out[group] |= flags[row]
    return out
