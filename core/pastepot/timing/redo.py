"""Working with it: part of a film made anew, several plans side by side, retouched exposures kept, and what is stale.

What a changed extreme can affect
- its owner: from the extreme before it to the one after it, and how the hold after that settles and drifts
- with children = "lifted": whatever lies on it, on the exposures on which it is placed
- with nudge: its neighbours, from the exposures on which it moves or moved until they are next placed
- if it went to another frame: the plan between the extremes around it, and so everything that moves there
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import Misuse, Problem
from pastepot.timing.exposures import Frames
from pastepot.timing.handmade import expose
from pastepot.timing.placement import from_the_root, neighbourhoods
from pastepot.timing.planning import Plans
from pastepot.timing.rows import Exposed, Flags, Places, Rows, Table, changes
from pastepot.timing.settings import Feel


def affected(rows: Rows, owners: Flags, feel: Feel) -> Flags:
    """(P,) whose result can change when these owners' curves do, on the same plan."""
    out = _descendants(rows, owners) if feel.children == "lifted" else owners.copy()
    if feel.nudge:
        for group in neighbourhoods(rows):
            if owners[group].any():
                out[group] = True
    return out


def needed(rows: Rows, owners: Flags, feel: Feel) -> Flags:
    """(P,) who has to be in `rows` for these owners to come out, to the bit, as they do in the whole film."""
    out = owners.copy()
    if feel.nudge:
        for group in neighbourhoods(rows):
            if out[group].any():
                out[group] = True
    return _ancestors(rows, out) if feel.children == "lifted" else out


def only(rows: Rows, owners: Flags) -> tuple[Rows, Places]:
    """The rows of some owners, and which rows of the whole they are. An owner's parent that is left out is none."""
    kept, row = np.flatnonzero(owners), np.flatnonzero(owners[rows.owner])
    index = np.full(len(owners) + 1, -1, np.intp)  # the last stands for no parent
    index[kept] = np.arange(len(kept))
    return replace(
        rows,
        owners=tuple(rows.owners[i] for i in kept.tolist()),
        owner=index[rows.owner[row]],
        role=rows.role[row],
        values=rows.values[row],
        keyed=rows.keyed[row],
        exact=rows.exact[kept],
        pinned=None if rows.pinned is None else rows.pinned[kept],
        parent=None if rows.parent is None else index[rows.parent[kept]],
        gaps_mm=None if rows.gaps_mm is None else rows.gaps_mm[np.ix_(kept, kept)],
        grab_mm=None if rows.grab_mm is None else rows.grab_mm[kept],
        reach_mm=None if rows.reach_mm is None else rows.reach_mm[kept],
        steps=None if rows.steps is None else rows.steps[row],
        take=None if rows.take is None else rows.take[kept],
        alive=None if rows.alive is None else rows.alive[kept],
    ), row


def expose_some(rows: Rows, starts: Frames, feel: Feel, table: Table, owners: Flags) -> tuple[Exposed, Places]:
    """These owners alone, as they come out in the whole film to the bit; and which rows of the whole they are."""
    part, row = only(rows, needed(rows, owners, feel))
    made = expose(part, starts, feel, table)
    wanted = owners[rows.owner[row]]
    who = owners[needed(rows, owners, feel)]
    return Exposed(
        starts,
        made.values[wanted],
        made.changes[wanted],
        made.extreme[who],
        made.placed[who],
        None if made.nudged is None else made.nudged[who],
    ), row[wanted]


def expose_plans(rows: Rows, plans: Plans, feel: Feel, table: Table) -> Exposed:
    """Everything, each owner on its own plan, told on the frames of all plans together.

    Lifting and nudging happen among owners of one plan. With idle = "merge", frames on which nothing at all changes
    are left out.
    """
    exposed = expose_every(rows, plans, feel, table)
    return without_idle(exposed) if feel.idle == "merge" else exposed


def groups(rows: Rows, plans: Plans) -> list[tuple[Frames, Flags]]:
    """Each plan that somebody is on, and (P,) who that is."""
    apart: dict[bytes, list[int]] = {}
    for who, own in plans.own.items():
        apart.setdefault(own.tobytes(), []).append(who)
    shared = np.ones(len(rows.owners), bool)
    shared[list(plans.own)] = False
    found = [(plans.shared, shared)]
    found += [(plans.own[who[0]], np.isin(np.arange(len(rows.owners)), who)) for who in apart.values()]
    return [group for group in found if group[1].any()]


def expose_every(rows: Rows, plans: Plans, feel: Feel, table: Table) -> Exposed:
    """As `expose_plans`, with the frames on which nothing changes still there. The same keys are needed for both."""
    starts = plans.union()
    values = np.zeros((len(rows.owner), len(starts)), np.float32)
    extreme, placed, nudged = (np.zeros((len(rows.owners), len(starts)), bool) for _ in range(3))
    for own, owners in groups(rows, plans):
        part, row = only(rows, owners)
        made = expose(part, own, feel, table)
        values[row] = made.values[:, np.searchsorted(own, starts, side="right") - 1]
        where = np.ix_(np.flatnonzero(owners), np.searchsorted(starts, own))
        extreme[where], placed[where] = made.extreme, made.placed
        if made.nudged is not None:
            nudged[where] = made.nudged
    return Exposed(starts, values, changes(values), extreme, placed, nudged if feel.nudge else None)


def without_idle(exposed: Exposed) -> Exposed:
    """The exposures in which something changes; one in which nothing does belongs to the one before it."""
    kept = exposed.changes.any(axis=0)
    return Exposed(
        exposed.starts[kept],
        exposed.values[:, kept],
        exposed.changes[:, kept],
        exposed.extreme[:, kept],
        exposed.placed[:, kept],
        None if exposed.nudged is None else exposed.nudged[:, kept],
        None if exposed.locked is None else exposed.locked[:, kept],
    )


def merge(new: Exposed, written: Exposed, current: NDArray[np.float32]) -> Exposed:
    """Redo that keeps what the animator retouched.

    written: what was written last time, in the same rows as `new`; its plan may be another, and its `locked` exposures
    stay locked. current: (K, E) what those rows show now on written.starts.
    A value that is no longer as written, or was locked before, holds for every new exposure that begins while the old
    one was on show. The result's `locked` says which those are: keep it for the next redo.
    """
    if current.shape != written.values.shape or len(new.values) != len(written.values):
        raise Misuse(Problem("The retouched keys do not fit the exposures.", "Read them again from the scene."))
    # a value that can't be compared (NaN) is left alone
    touched = (current != written.values) & np.isfinite(current)
    if written.locked is not None:
        touched |= written.locked
    on_show = np.searchsorted(written.starts, new.starts, side="right") - 1
    locked = np.where(on_show >= 0, touched[:, np.maximum(on_show, 0)], False)
    values = np.where(locked, current[:, np.maximum(on_show, 0)], new.values).astype(np.float32)
    return replace(new, values=values, changes=changes(values), locked=locked)


def fingerprint(rows: Rows, starts: Frames, feel: Feel, table: Table) -> str:
    """64 hex digits that change when the animation, the plan, the feel or the film's side changes: a stale scene."""
    total = hashlib.sha256()
    arrays = [rows.owner, rows.role, rows.values, rows.keyed, rows.exact, starts]
    arrays += [
        np.zeros(0) if extra is None else np.asarray(extra)
        for extra in (
            rows.pinned, rows.parent, rows.gaps_mm, rows.grab_mm, rows.reach_mm, rows.steps, rows.take, rows.alive
        )
    ]  # fmt: skip
    for array in arrays:
        plain = np.ascontiguousarray(array)
        wide = plain.astype("<i8") if plain.dtype.kind in "iu" else plain  # the same on every machine
        total.update(f"{wide.shape}{wide.dtype.kind}".encode())
        total.update(wide.tobytes())
    total.update(repr((rows.owners, rows.first, feel, table)).encode())
    return total.hexdigest()


def _descendants(rows: Rows, owners: Flags) -> Flags:
    out = owners.copy()
    if rows.parent is not None:
        for who in from_the_root(rows.parent):
            out[who] |= rows.parent[who] >= 0 and out[rows.parent[who]]
    return out


def _ancestors(rows: Rows, owners: Flags) -> Flags:
    out = owners.copy()
    if rows.parent is not None:
        for who in reversed(from_the_root(rows.parent)):
            if out[who] and rows.parent[who] >= 0:
                out[rows.parent[who]] = True
    return out
