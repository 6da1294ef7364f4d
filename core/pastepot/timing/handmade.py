"""Smooth motion turned into exposures set by hand.

What makes it look placed: everything changes on the same frames; a piece nobody touched does not move at all; a moved
piece lands a little off, each time anew; extremes are where the animator put them; errors never add up.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pastepot import chance
from pastepot.timing.exposures import Frames, ends
from pastepot.timing.feel import Feel
from pastepot.units import tick

# A pose that changes by less than this from one exposure to the next was not touched: rounding in a curve's evaluation
# between two equal keys must not wake a resting part. Blender units and radians; a ten-thousandth of a millimetre.
_STILL = 1e-6


class Role(IntEnum):
    """What a row of values is to a hand: where it may miss, what it only sets, what it swaps."""

    SLIDE_X = 0
    SLIDE_Z = 1
    TURN = 2
    POSE = 3  # any other part of the pose: set exactly, and a change of it is a touch
    SHOWN = 4  # visibility: swapped on exposures, no touch


@dataclass(frozen=True)
class Rows:
    """Smooth animation sampled on every frame.

    owners: (P,) names; the random numbers of a part hang on its name alone
    owner:  (K,) row -> index into owners
    role:   (K,) Role of each row
    values: (K, N) float32, frame `first` onwards
    keyed:  (K, N) whether the animator has a key on that frame
    exact:  (P,) owners that no hand misses, such as the camera
    """

    owners: tuple[str, ...]
    owner: NDArray[np.intp]
    role: NDArray[np.intp]
    values: NDArray[np.float32]
    keyed: NDArray[np.bool_]
    exact: NDArray[np.bool_]
    first: int


@dataclass(frozen=True)
class Exposed:
    """What each row shows from each exposure on.

    starts:  (E,) frames
    values:  (K, E) float32
    changes: (K, E) where a key is needed: the first exposure, and wherever the value differs from the one before
    extreme: (P, E) the owner's pose is one the animator keyed
    placed:  (P, E) the owner was touched
    """

    starts: Frames
    values: NDArray[np.float32]
    changes: NDArray[np.bool_]
    extreme: NDArray[np.bool_]
    placed: NDArray[np.bool_]


@dataclass(frozen=True)
class Table:
    """The film's side of it: rate, first frame, seed, and Blender units for a millimetre of paper."""

    fps: Fraction
    first_frame: int
    seed: int
    units_per_mm: float


def expose(rows: Rows, starts: Frames, feel: Feel, table: Table) -> Exposed:
    """Set every exposure by hand. Pure: equal input gives bit-equal output, and an owner's result hangs on no other's.

    An extreme inside an exposure is what that exposure shows (with anchored plans it is also where it begins), so a
    pose or a blink that the animator keyed is always seen.
    """
    last = rows.first + rows.values.shape[1] - 1
    groups = 2 * rows.owner + (rows.role == Role.SHOWN)  # an owner's pose, and its visibility
    shows, at_key = _shown_frames(_any_row(rows.keyed, groups, 2 * len(rows.owners)), starts, last, rows.first)
    sampled = np.take_along_axis(rows.values, shows[groups], axis=1)

    extreme = at_key[0::2]
    touched = _touched(sampled, rows)
    placed = touched | extreme
    placed[:, 0] = True
    since = np.maximum.accumulate(np.where(placed, np.arange(len(starts)), 0), axis=1)

    values = np.where(
        (rows.role == Role.SHOWN)[:, None],
        sampled,
        np.take_along_axis(sampled, since[rows.owner], axis=1),
    )
    missed = placed & ~extreme & ~rows.exact[:, None]
    missed[:, 0] = False  # before its first touch a part lies where it was put
    values = _miss(values, rows, missed, since, starts, feel, table)
    changes = np.ones(values.shape, bool)
    changes[:, 1:] = values[:, 1:] != values[:, :-1]
    return Exposed(starts, values, changes, extreme, placed)


def _any_row(flags: NDArray[np.bool_], groups: NDArray[np.intp], count: int) -> NDArray[np.bool_]:
    """(count, N): whether any row of each group has its flag set."""
    out = np.zeros((count, flags.shape[1]), bool)
    np.logical_or.at(out, groups, flags)
    return out


def _shown_frames(
    keyed: NDArray[np.bool_], starts: Frames, last: int, first: int
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Per group and exposure: the column whose values it shows, and whether that column is a key."""
    columns = np.arange(keyed.shape[1])
    latest_key = np.maximum.accumulate(np.where(keyed, columns, -1), axis=1)[:, ends(starts, last) - first]
    begin = starts - first
    at_key = latest_key >= begin
    return np.where(at_key, latest_key, begin), at_key


def _touched(sampled: NDArray[np.float32], rows: Rows) -> NDArray[np.bool_]:
    """(P, E): the owner's own pose differs from the exposure before."""
    moved = np.zeros(sampled.shape, bool)
    moved[:, 1:] = np.abs(np.diff(sampled.astype(np.float64), axis=1)) > _STILL
    moved[rows.role == Role.SHOWN] = False
    return _any_row(moved, rows.owner, len(rows.owners))


def _miss(
    values: NDArray[np.float32],
    rows: Rows,
    missed: NDArray[np.bool_],
    since: NDArray[np.intp],
    starts: Frames,
    feel: Feel,
    table: Table,
) -> NDArray[np.float32]:
    """Add each owner's placement error of the exposure in which it was last placed."""
    part = np.array([chance.part_key(name) for name in rows.owners], dtype=np.int64)[:, None]
    when = tick(starts, table.fps, table.first_frame)[None, :]
    x, z = chance.hand(table.seed, part, chance.Channel.PLACE, when)
    turn, _ = chance.hand(table.seed, part, chance.Channel.TURN, when)
    spread = feel.offset_mm * table.units_per_mm
    out = values.copy()
    errors = {Role.SLIDE_X: x * spread, Role.SLIDE_Z: z * spread, Role.TURN: turn * np.radians(feel.turn_deg)}
    off = np.take_along_axis(missed, since, axis=1)
    for role, error in errors.items():
        held = np.take_along_axis(np.where(missed, error, 0.0), since, axis=1)
        chosen = rows.role == role
        owner = rows.owner[chosen]
        # where nothing is added the value stays the keyed one to the bit
        out[chosen] = np.where(off[owner], values[chosen] + held[owner], values[chosen]).astype(np.float32)
    return out
