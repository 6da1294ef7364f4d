"""Smooth motion turned into exposures set by hand.

What makes it look placed: everything changes on the same frames; a piece nobody touched does not move at all; a moved
piece lands a little off, each time anew; extremes are where the animator put them; errors never add up.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pastepot.timing import placement, spacing
from pastepot.timing.exposures import Frames, ends
from pastepot.timing.placement import Off, Steps
from pastepot.timing.rows import Exposed, Flags, Places, Role, Rows, Table, any_row, changes, part_keys
from pastepot.timing.settings import Feel
from pastepot.units import tick

__all__ = ["Exposed", "Role", "Rows", "Table", "expose"]


def expose(rows: Rows, starts: Frames, feel: Feel, table: Table) -> Exposed:
    """Set every exposure by hand. Pure: equal input gives bit-equal output.

    An extreme inside an exposure is what that exposure shows (with anchored plans it is also where it begins), so a
    pose or a blink that the animator keyed is always seen.

    An owner's result hangs on no other's, but for what the feel asks: `children` on whatever it lies on, `nudge` on its
    neighbours. `redo.needed` says which owners must be there for a part of the film to come out as the whole does.
    A changed extreme re-times its owner from the extreme before it to the one after it, and how the hold that follows
    settles; nothing else of it.
    """
    groups = 2 * rows.owner + (rows.role == Role.SHOWN)  # an owner's pose, and its visibility
    keyed = any_row(rows.keyed, groups, 2 * len(rows.owners))
    shows, at_key = _shown_frames(keyed, starts, rows.last, rows.first)
    sampled = np.take_along_axis(rows.values, shows[groups], axis=1)

    extreme, column = at_key[0::2], shows[0::2]
    pinned = np.zeros(extreme.shape, bool) if rows.pinned is None else np.take_along_axis(rows.pinned, column, axis=1)
    fixed = extreme | pinned
    parts = part_keys(rows, table)
    home = np.zeros(extreme.shape, bool)
    if spacing.wanted(feel):
        sampled, home = spacing.spaced(rows, sampled, spacing.Shown(column, fixed, starts), parts, feel, table)

    moved = placement.touched(sampled, rows)
    placed = moved | extreme
    placed[:, 1:] |= pinned[:, 1:] & ~pinned[:, :-1]
    placed[:, 0] = True
    exact = fixed | home | rows.exact[:, None]
    if feel.children == "lifted":
        placed = placement.lifted(placed, moved, exact, rows)
    since = np.maximum.accumulate(np.where(placed, np.arange(len(starts)), 0), axis=1)

    off, pushed = _off(rows, sampled, _Hand(moved, placed, exact, since), parts, starts, feel, table)
    values = np.where(
        (rows.role == Role.SHOWN)[:, None], sampled, np.take_along_axis(sampled, since[rows.owner], axis=1)
    )
    for role, by in ((Role.SLIDE_X, off.x), (Role.SLIDE_Z, off.z), (Role.TURN, off.turn)):
        row = np.flatnonzero(rows.role == role)
        values[row] = (values[row] + by[rows.owner[row]]).astype(np.float32)
    return Exposed(starts, values, changes(values), extreme, placed, pushed)


class _Hand:
    """What a hand does, (P, E) each.

    moved: the pose changes. placed: the part is set. exact: it is set, or lies, without an error.
    since: the exposure in which it was last placed.
    """

    def __init__(self, moved: Flags, placed: Flags, exact: Flags, since: Places) -> None:
        self.moved, self.placed, self.exact, self.since = moved, placed, exact, since


def _off(
    rows: Rows,
    sampled: NDArray[np.float32],
    hand: _Hand,
    parts: NDArray[np.int64],
    starts: Frames,
    feel: Feel,
    table: Table,
) -> tuple[Off, Flags | None]:
    """How far everything is off at each exposure, and who was pushed."""
    when = tick(starts, table.fps, table.first_frame)
    steps = Steps.of(rows, sampled)
    missed = hand.placed & ~hand.exact
    missed[:, 0] = False  # before its first touch a part lies where it was put
    off = _latest(placement.misses(rows, steps, parts, when, feel, table), missed, hand.since)
    pushed = None
    if feel.nudge:
        free = ~hand.placed & ~hand.exact
        pushed, way = placement.nudged(rows, steps, hand.moved, free, parts, when, feel, table)
        last_push = np.maximum.accumulate(np.where(pushed | hand.placed, np.arange(len(starts)), 0), axis=1)
        off = off.plus(_latest(way, pushed, last_push))
    if feel.life_mm or feel.life_deg:
        ends_hold = hand.placed if pushed is None else hand.placed | pushed
        off = off.plus(placement.drift(rows, ends_hold, hand.exact, parts, when, feel, table))
    return off, pushed


def _latest(off: Off, made: Flags, at: Places) -> Off:
    """The errors of the exposures `at` which they were made; nothing where none was."""
    return Off(*(np.take_along_axis(np.where(made, v, 0.0), at, axis=1) for v in (off.x, off.z, off.turn)))


def _shown_frames(keyed: Flags, starts: Frames, last: int, first: int) -> tuple[Places, Flags]:
    """Per group and exposure: the column whose values it shows, and whether that column is a key."""
    columns = np.arange(keyed.shape[1])
    latest_key = np.maximum.accumulate(np.where(keyed, columns, -1), axis=1)[:, ends(starts, last) - first]
    begin = starts - first
    at_key = latest_key >= begin
    return np.where(at_key, latest_key, begin), at_key
