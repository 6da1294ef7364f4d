"""Redo while somebody edits: only the parts, and only the stretch of the film, that a change can reach.

A stretch is cut where it is safe: at an extreme a part is placed exactly, whatever came before. What lifts or pushes
a part has to be right from there on too, so the cut goes one extreme further back for each part that lies below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pastepot.timing.exposures import Frames, ends
from pastepot.timing.handmade import expose
from pastepot.timing.redo import affected, moving, needed, only
from pastepot.timing.rows import Exposed, Flags, Places, Role, Rows, Table, any_row, changes
from pastepot.timing.settings import Feel


@dataclass(frozen=True)
class Piece:
    """A part of the film made anew.

    exposed: the exposures from frame `first` up to `last`, of some rows; the first `changes` are against the exposure
             before it
    row:     which rows of the whole they are; in them, what was written on first..last is to be replaced
    owner:   which owners of the whole Piece.exposed.extreme and .placed belong to
    """

    exposed: Exposed
    row: Places
    owner: Places
    first: int
    last: int


def again(
    rows: Rows,
    before: Frames,
    after: Frames,
    changed: Flags,
    feel: Feel,
    table: Table,
    frames: tuple[int, int] | None = None,
) -> list[Piece]:
    """What is to be written anew after `changed` owners' curves were edited, and the plan with them.

    rows: the film as it is now. before, after: the plan as it was and as it is. frames: the first and the last frame on
    which those owners' values or keys are not as they were (`edited_frames`); left out, they are made anew throughout.
    What lies outside of the pieces is seen as it was, to the bit, if it was made with the same feel and seed.
    """
    own = affected(rows, changed, feel)
    differ = np.setxor1d(before, after)
    span = list(differ[[0, -1]]) if differ.size else []
    pieces = []
    if frames is None:
        pieces.append(_piece(rows, after, own, 0, len(after) - 1, feel, table))
    elif own.any():
        pieces.append(_stretch(rows, after, own, [*frames, *span], feel, table))
    others = affected(rows, moving(rows, before, after, feel), feel) & ~own
    if differ.size and others.any():
        pieces.append(_stretch(rows, after, others, span, feel, table))
    return [piece for piece in pieces if len(piece.row)]


def edited_frames(old: Rows, new: Rows) -> tuple[int, int] | None:
    """The first and the last frame on which values, keys or pins differ between two states of the same rows."""
    differ = ((old.values != new.values) | (old.keyed != new.keyed)).any(axis=0)
    if new.pinned is not None and old.pinned is not None:
        differ |= (old.pinned != new.pinned).any(axis=0)
    at = np.flatnonzero(differ)
    return (int(at[0]) + new.first, int(at[-1]) + new.first) if at.size else None


def _stretch(rows: Rows, starts: Frames, owners: Flags, span: list[int], feel: Feel, table: Table) -> Piece:
    """Whatever can change when the animation or the plan does between these frames."""
    at = np.searchsorted(starts, [min(span), max(span)], side="right") - 1
    begin, end = _reached(rows, starts, owners, int(at[0]) - 1, int(at[1]) + 1, feel)
    return _piece(rows, starts, owners, begin, end, feel, table)


def _piece(rows: Rows, starts: Frames, owners: Flags, begin: int, end: int, feel: Feel, table: Table) -> Piece:
    """The owners' exposures `begin` to `end`, as they come out in the whole film."""
    there = needed(rows, owners, feel)
    low, high = _safe(rows, starts, there, begin - 1, end, feel)
    frames = slice(int(starts[low]) - rows.first, int(ends(starts, rows.last)[high]) + 1 - rows.first)
    part, row = only(_cut(rows, frames), there)
    made = expose(part, starts[low : high + 1], feel, table)
    mine, who = owners[rows.owner[row]], owners[there]
    at = slice(begin - low, end + 1 - low)
    # the exposure before is known, so that the first one is a key only where it differs
    exposed = Exposed(
        starts[begin : end + 1],
        made.values[mine, at],
        changes(made.values[mine])[:, at],
        made.extreme[who, at],
        made.placed[who, at],
        None if made.nudged is None else made.nudged[who, at],
    )
    last = int(ends(starts, rows.last)[end])
    return Piece(exposed, row[mine], np.flatnonzero(owners), int(starts[begin]), last)


def _cut(rows: Rows, frames: slice) -> Rows:
    return replace(
        rows,
        values=rows.values[:, frames],
        keyed=rows.keyed[:, frames],
        pinned=None if rows.pinned is None else rows.pinned[:, frames],
        first=rows.first + frames.start,
    )


def _reached(rows: Rows, starts: Frames, owners: Flags, begin: int, end: int, feel: Feel) -> tuple[int, int]:
    """The exposures that can change when those from `begin` to `end` do."""
    back, on = _extremes(rows, starts, owners)
    begin = max(0, begin)
    for _ in range(_depth(rows, feel)):
        begin = int(back[:, begin].min())
        end = int(on[:, min(len(starts) - 1, end + 1)].max())
    return begin, min(len(starts) - 1, end + feel.settle + 2)


def _safe(rows: Rows, starts: Frames, owners: Flags, begin: int, end: int, feel: Feel) -> tuple[int, int]:
    """The exposures that have to be there for those from `begin` to `end` to come out as in the whole film."""
    back, on = _extremes(rows, starts, owners)
    for _ in range(_depth(rows, feel)):
        begin = int(back[:, max(0, begin - feel.settle - 3)].min(initial=max(0, begin)))
    high = min(len(starts) - 1, end + 1)
    return begin, min(len(starts) - 1, int(on[:, high].max(initial=high)) + feel.settle + 2)


def _extremes(rows: Rows, starts: Frames, owners: Flags) -> tuple[Places, Places]:
    """(P', E) the last exposure up to each, and the first from each, in which an owner has an extreme."""
    pose = (rows.role != Role.SHOWN) & owners[rows.owner]
    keyed = any_row(rows.keyed[pose], rows.owner[pose], len(owners))[owners]
    extreme = np.logical_or.reduceat(keyed, starts - rows.first, axis=1)
    at = np.arange(len(starts))
    back = np.maximum.accumulate(np.where(extreme, at, 0), axis=1)
    on = np.minimum.accumulate(np.where(extreme, at, len(starts) - 1)[:, ::-1], axis=1)[:, ::-1]
    return back, on


def _depth(rows: Rows, feel: Feel) -> int:
    """How many extremes back a change is felt: one, and more where parts lift or push each other."""
    deep = 1
    if feel.children == "lifted" and rows.parent is not None:
        below = rows.parent
        while (below >= 0).any() and deep <= len(rows.owners):
            below = np.where(below >= 0, rows.parent[below], -1)
            deep += 1
    return deep + 2 if feel.nudge else deep
