"""Redo while somebody edits: only the parts that a change can reach are made anew, as the whole film has them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pastepot.timing.exposures import Frames
from pastepot.timing.planning import Plans
from pastepot.timing.redo import affected, expose_every, expose_some, groups, only
from pastepot.timing.rows import Exposed, Flags, Rows, Table, changes
from pastepot.timing.settings import Feel


def same_plans(a: Plans, b: Plans) -> bool:
    """Whether every part is taken anew on the same frames."""
    return (
        np.array_equal(a.shared, b.shared)
        and a.own.keys() == b.own.keys()
        and all(np.array_equal(a.own[who], b.own[who]) for who in a.own)
    )


def expose_again(
    before: Exposed, planned: Plans, rows: Rows, plans: Plans, changed: Flags, feel: Feel, table: Table
) -> tuple[Exposed, Flags]:
    """The film after curves, keys, pins or takes of the `changed` owners (P,) were edited, as `expose_every` has it.

    before: the film before that, from `expose_every` or this function, made on the plans `planned` with the same feel
            and table and the same owners and rows. Only owners that the change can reach are made anew.
    plans:  the plans as they are now. If they are others, the whole film is made anew: everything that moves hangs on
            them.
    Returns the film and (P,) which owners were made anew; all others are bit for bit as in `before`.
    """
    if not same_plans(planned, plans):
        return expose_every(rows, plans, feel, table), np.ones(len(rows.owners), bool)
    values, extreme, placed = before.values.copy(), before.extreme.copy(), before.placed.copy()
    nudged = None if before.nudged is None else before.nudged.copy()
    anew = np.zeros(len(rows.owners), bool)
    for own, owners in groups(rows, plans):
        if not (owners & changed).any():
            continue
        part, row = only(rows, owners)
        reached = affected(part, changed[owners], feel)
        made, some = expose_some(part, own, feel, table, reached)
        who = np.flatnonzero(owners)[reached]
        values[row[some]] = made.values[:, _on_show(own, before.starts)]
        where = np.ix_(who, np.searchsorted(before.starts, own))
        extreme[where], placed[where] = made.extreme, made.placed
        if nudged is not None and made.nudged is not None:
            nudged[where] = made.nudged
        anew[who] = True
    fresh = before.changes.copy()
    fresh[anew[rows.owner]] = changes(values[anew[rows.owner]])
    new = replace(before, values=values, changes=fresh, extreme=extreme, placed=placed, nudged=nudged)
    return new, anew


def _on_show(own: Frames, starts: Frames) -> Frames:
    at: Frames = np.searchsorted(own, starts, side="right") - 1
    return at
