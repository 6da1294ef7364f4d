"""Redo while editing: a film of which a part was made anew is, to the bit, the film made anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing import redo
from pastepot.timing.feel import Feel
from pastepot.timing.live import expose_again
from pastepot.timing.planning import Wishes, plans
from pastepot.timing.rows import Exposed, Role, Rows

PATTERNS = st.sampled_from([(1,), (2,), (2, 2, 3)])


def assert_same(a: Exposed, b: Exposed) -> None:
    for name in ("starts", "values", "changes", "extreme", "placed", "nudged"):
        assert np.array_equal(getattr(a, name), getattr(b, name)), name


def edited(data: st.DataObject, rows: Rows, changed: np.ndarray) -> Rows:
    """Some owners' curves, keys, pins and takes changed in some stretch."""
    own = changed[rows.owner] & (rows.role != Role.SHOWN)
    values, keyed, pinned, take = (a.copy() for a in (rows.values, rows.keyed, rows.pinned, rows.take))
    frames = values.shape[1]
    begin = data.draw(st.integers(0, frames - 1))
    stretch = slice(begin, data.draw(st.integers(begin + 1, frames)))
    values[own, stretch] *= np.float32(1.5)
    if data.draw(st.booleans()):
        keyed[own] = np.roll(rows.keyed[own], data.draw(st.integers(-3, 3)), axis=1)
    if data.draw(st.booleans()):
        pinned[changed] = ~pinned[changed]
    if data.draw(st.booleans()):
        take[changed] += 1
    return replace(rows, values=values, keyed=keyed, pinned=pinned, take=take)


@given(st.data(), PATTERNS, st.booleans())
def test_a_part_made_anew_is_the_film_made_anew(films, feels, table, data, pattern, lively) -> None:
    rows = data.draw(films(6))
    # all that lets parts hang on each other and on what comes later, together: an earlier attempt failed there
    hard = {"life_mm": 1.0, "life_from": 2, "nudge": 1.0, "children": "lifted", "idle": "merge"} if lively else {}
    feel = data.draw(feels(fast_share=data.draw(st.sampled_from([0.0, 0.01])), **hard))
    count = len(rows.owners)
    own = {rows.owners[n]: pattern for n in range(count) if data.draw(st.integers(0, 4)) == 0}
    wishes = Wishes(pattern=pattern, own=own, frame_width_mm=400)
    planned = plans(rows, feel, table, wishes)
    before = redo.expose_every(rows, planned, feel, table)
    for _ in range(2):  # one redo upon another
        changed = np.array(data.draw(st.lists(st.booleans(), min_size=count, max_size=count)))
        now = edited(data, rows, changed)
        anew = plans(now, feel, table, wishes)
        made, touched = expose_again(before, planned, now, anew, changed, feel, table)
        assert_same(made, redo.expose_every(now, anew, feel, table))
        if len(before.starts) == len(made.starts):
            kept = ~touched[rows.owner]
            assert (made.values[kept] == before.values[kept]).all()
        rows, planned, before = now, anew, made


@given(st.data(), PATTERNS)
def test_merging_idle_pictures_takes_no_key_away(films, feels, table, data, pattern) -> None:
    """So that a redo may keep them: what is written is the same."""
    rows, feel = data.draw(films()), data.draw(feels(idle="merge", fast_share=0.0))
    planned = plans(rows, feel, table, Wishes(pattern=pattern))
    every, merged = redo.expose_every(rows, planned, feel, table), redo.expose_plans(rows, planned, feel, table)
    for row in range(len(rows.owner)):
        keys = [(e.starts[e.changes[row]].tolist(), e.values[row, e.changes[row]].tolist()) for e in (every, merged)]
        assert keys[0] == keys[1]


def test_a_part_that_nothing_joins_to_the_changed_one_is_left_alone(table) -> None:
    frames = 24
    values = np.tile(np.arange(frames, dtype=np.float32), (2, 1))
    keyed = np.zeros((2, frames), bool)
    keyed[:, [0, frames - 1]] = True
    two = np.arange(2)
    rows = Rows(("heron", "snail"), two, np.array([Role.SLIDE_X] * 2), values, keyed, np.zeros(2, bool), 1)
    planned = plans(rows, Feel(), table)
    before = redo.expose_every(rows, planned, Feel(), table)
    now = replace(rows, values=values * np.array([[2], [1]], np.float32))
    _, anew = expose_again(before, planned, now, planned, np.array([True, False]), Feel(), table)
    assert anew.tolist() == [True, False]
