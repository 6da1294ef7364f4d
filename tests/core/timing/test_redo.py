"""Redo: a part of the film comes out as in the whole, retouched exposures stay, and a stale scene is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse
from pastepot.timing import redo
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import expose
from pastepot.timing.rows import Exposed, Role

PATTERNS = st.sampled_from([(1,), (2,), (2, 2, 3)])


@given(st.data(), PATTERNS)
def test_a_part_alone_comes_out_as_in_the_whole_film(films, feels, table, anchored, data, pattern) -> None:
    rows, feel = data.draw(films(6)), data.draw(feels())
    starts = anchored(rows, pattern)
    owners = np.array(data.draw(st.lists(st.booleans(), min_size=len(rows.owners), max_size=len(rows.owners))))
    whole = expose(rows, starts, feel, table)
    some, row = redo.expose_some(rows, starts, feel, table, owners)
    assert row.tolist() == np.flatnonzero(owners[rows.owner]).tolist()
    assert (some.values == whole.values[row]).all()
    assert (some.changes == whole.changes[row]).all()
    assert (some.extreme == whole.extreme[owners]).all()
    assert (some.placed == whole.placed[owners]).all()
    if whole.nudged is not None:
        assert (some.nudged == whole.nudged[owners]).all()


@given(st.data(), PATTERNS)
def test_who_is_not_affected_keeps_every_bit(films, feels, table, anchored, data, pattern) -> None:
    rows, feel = data.draw(films(6)), data.draw(feels())
    starts = anchored(rows, pattern)
    changed = np.arange(len(rows.owners)) == data.draw(st.integers(0, len(rows.owners) - 1))
    values = rows.values.copy()
    values[changed[rows.owner] & (rows.role != Role.SHOWN)] *= np.float32(1.5)
    before, after = (expose(replace(rows, values=v), starts, feel, table) for v in (rows.values, values))
    others = ~redo.affected(rows, changed, feel)[rows.owner]
    assert (before.values[others] == after.values[others]).all()


def exposed(starts: list[int], values: list[list[float]]) -> Exposed:
    array = np.array(values, np.float32)
    flags = np.ones(array.shape, bool)
    return Exposed(np.array(starts), array, flags, flags, flags)


def test_retouched_exposures_are_kept() -> None:
    written = exposed([1, 3, 5, 7], [[0, 1, 2, 3], [5, 5, 5, 5]])
    current = written.values.copy()
    current[0, 1] = 1.5
    new = exposed([1, 3, 4, 5, 7], [[0, 10, 11, 12, 13], [6, 6, 6, 6, 6]])
    made = redo.merge(new, written, current)
    assert made.values.tolist() == [[0, 1.5, 1.5, 12, 13], [6, 6, 6, 6, 6]]
    assert made.locked.tolist() == [[False, True, True, False, False], [False] * 5]
    assert made.changes.tolist() == [[True, True, False, True, True], [True, False, False, False, False]]


def test_what_was_locked_stays_locked_through_every_redo() -> None:
    written = exposed([1, 3], [[0, 1]])
    once = redo.merge(exposed([1, 3], [[7, 8]]), written, np.array([[0, 4]], np.float32))
    twice = redo.merge(exposed([1, 3], [[9, 9]]), once, once.values)
    assert twice.values.tolist() == [[9, 4]]
    assert twice.locked.tolist() == [[False, True]]


def test_nothing_retouched_is_the_new_film() -> None:
    written, new = exposed([2, 3], [[0, 1]]), exposed([1, 3], [[7, 8]])
    made = redo.merge(new, written, written.values)
    assert (made.values == new.values).all()
    assert not made.locked.any()


def test_keys_of_other_rows_are_refused() -> None:
    with pytest.raises(Misuse, match="do not fit"):
        redo.merge(exposed([1], [[0]]), exposed([1], [[0]]), np.zeros((2, 1), np.float32))


def test_a_fingerprint_knows_every_change(films, table, one_part) -> None:
    rows = one_part({Role.SLIDE_X: np.arange(6.0)}, [1, 6])
    starts, feel = np.array([1, 3, 5]), Feel()
    first = redo.fingerprint(rows, starts, feel, table)
    assert first == redo.fingerprint(replace(rows, values=rows.values.copy()), starts.copy(), Feel(), table)
    values, keyed = rows.values.copy(), rows.keyed.copy()
    values[0, 3] = np.nextafter(values[0, 3], np.float32(9))
    keyed[0, 2] = True
    others = [
        (replace(rows, values=values), starts, feel, table),
        (replace(rows, keyed=keyed), starts, feel, table),
        (replace(rows, owners=("snail",)), starts, feel, table),
        (replace(rows, pinned=np.ones((1, 6), bool)), starts, feel, table),
        (replace(rows, take=np.array([1])), starts, feel, table),
        (replace(rows, first=2), starts, feel, table),
        (rows, np.array([1, 3, 6]), feel, table),
        (rows, starts, Feel(arc=0.1), table),
        (rows, starts, feel, replace(table, seed=8)),
    ]
    prints = [redo.fingerprint(*other) for other in others]
    assert len({first, *prints}) == len(others) + 1
