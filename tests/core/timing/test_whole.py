"""What must hold for every film and every feel, with everything on that a feel can ask for."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pastepot.chance import HAND_LIMIT
from pastepot.timing.handmade import expose
from pastepot.timing.rows import Role, Rows

PATTERNS = st.sampled_from([(1,), (2,), (2, 2, 3)])


def pose(rows: Rows) -> np.ndarray:
    return rows.role != Role.SHOWN


def seen(exposed, frames: int) -> np.ndarray:
    """What is seen on every frame: (K, N)."""
    return exposed.values[:, np.searchsorted(exposed.starts, np.arange(1, frames + 1), side="right") - 1]


@given(st.data(), PATTERNS)
def test_extremes_and_pins_are_exact(films, feels, table, anchored, data, pattern) -> None:
    rows = data.draw(films())
    starts = anchored(rows, pattern)
    exposed = expose(rows, starts, data.draw(feels()), table)
    at = starts - 1
    exact = (exposed.extreme | rows.pinned[:, at])[rows.owner] & pose(rows)[:, None]
    # keys that share an exposure's frames are there too: with these plans each pose key begins an exposure
    assert (exposed.values[exact] == rows.values[:, at][exact]).all()
    own = np.zeros((len(rows.owners), rows.values.shape[1]), bool)
    np.logical_or.at(own, rows.owner[pose(rows)], rows.keyed[pose(rows)])
    assert (exposed.extreme == own[:, at]).all()


@given(st.data(), PATTERNS)
def test_what_nobody_touches_does_not_move_by_a_bit(films, feels, table, anchored, data, pattern) -> None:
    rows = data.draw(films())
    exposed = expose(rows, anchored(rows, pattern), data.draw(feels(life_mm=0.0, life_deg=0.0)), table)
    touched = exposed.placed if exposed.nudged is None else exposed.placed | exposed.nudged
    still = ~touched[rows.owner][:, 1:] & pose(rows)[:, None]
    assert (exposed.values[:, 1:][still] == exposed.values[:, :-1][still]).all()


@given(st.data(), PATTERNS)
def test_a_part_at_rest_between_equal_keys_stays_at_rest(films, feels, table, anchored, data, pattern) -> None:
    """No spacing, arc or quantum wakes a part that is held: nothing but a settle, a neighbour or a parent does."""
    rows = data.draw(films())
    feel = data.draw(feels(life_mm=0.0, life_deg=0.0, overshoot=0.0, children="stay", nudge=0.0))
    starts = anchored(rows, pattern)
    exposed = expose(rows, starts, feel, table)
    moved = np.zeros(exposed.placed.shape, bool)
    smooth = rows.values[:, starts - 1][pose(rows)]
    np.logical_or.at(moved[:, 1:], rows.owner[pose(rows)], np.diff(smooth, axis=1) != 0)
    pinned = rows.pinned[:, starts - 1]
    expected = moved | exposed.extreme | pinned
    assert not (exposed.placed & ~expected)[:, 1:].any()


@given(st.data(), PATTERNS)
def test_misses_stay_within_the_limits(films, feels, table, anchored, data, pattern) -> None:
    rows = data.draw(films())
    still = {"life_mm": 0.0, "life_deg": 0.0, "nudge": 0.0}
    feel = data.draw(feels(**still))
    starts = anchored(rows, pattern)
    rows = replace(rows, grab_mm=None)
    exact = expose(rows, starts, replace(feel, offset_mm=0.0, turn_deg=0.0, offset_share=0.0, turn_share=0.0), table)
    exposed = expose(rows, starts, feel, table)
    off = np.abs(exposed.values.astype(float) - exact.values)
    slides, turns = np.isin(rows.role, (Role.SLIDE_X, Role.SLIDE_Z)), rows.role == Role.TURN
    assert off[slides].max() <= max(feel.offset_mm, feel.offset_most_mm) * 0.01 * HAND_LIMIT + 1e-5
    assert off[turns].max() <= np.radians(max(feel.turn_deg, feel.turn_most_deg)) * HAND_LIMIT + 1e-5
    assert off[~slides & ~turns].max() == 0


@given(st.data(), PATTERNS)
def test_a_key_stands_only_where_something_changes(films, feels, table, anchored, data, pattern) -> None:
    rows = data.draw(films())
    exposed = expose(rows, anchored(rows, pattern), data.draw(feels()), table)
    assert exposed.changes[:, 0].all()
    assert (exposed.changes[:, 1:] == (exposed.values[:, 1:] != exposed.values[:, :-1])).all()
    assert np.isfinite(exposed.values).all()


@given(st.data())
def test_on_twos_at_24_looks_like_on_ones_at_12(films, feels, table, data) -> None:
    rows = replace(data.draw(films()), steps=None)
    feel = data.draw(feels())
    frames = rows.values.shape[1]
    twelve = expose(rows, np.arange(1, frames + 1), feel, table)
    # at 24 the same curve has a frame between each two
    at = np.arange(2 * frames - 1) / 2
    values = np.array([np.interp(at, np.arange(frames), row) for row in rows.values], np.float32)
    shown = rows.role == Role.SHOWN
    values[shown] = rows.values[shown].repeat(2, axis=1)[:, :-1]
    keyed = np.zeros(values.shape, bool)
    keyed[:, ::2] = rows.keyed
    doubled = replace(rows, values=values, keyed=keyed, pinned=rows.pinned.repeat(2, axis=1)[:, :-1])
    twos = expose(doubled, np.arange(1, 2 * frames, 2), feel, replace(table, fps=Fraction(24)))
    np.testing.assert_allclose(twos.values, twelve.values, atol=3e-5)


@given(st.data(), PATTERNS)
def test_a_changed_extreme_re_times_its_own_part_between_its_neighbours(
    films, feels, table, anchored, data, pattern
) -> None:
    """What lies before the extreme before it, and beyond the hold after the one after it, keeps every bit."""
    rows = data.draw(films(1))
    feel = data.draw(feels())
    starts = anchored(rows, pattern)
    before = expose(rows, starts, feel, table)
    extremes = np.flatnonzero(before.extreme[0] | rows.pinned[0, starts - 1])
    if len(extremes) < 5:
        return
    middle = data.draw(st.integers(1, len(extremes) - 2))
    a, b = extremes[middle - 1], extremes[middle + 1]
    after_b = extremes[middle + 2] if middle + 2 < len(extremes) else len(starts)
    frame_a, frame_b = starts[a] - 1, starts[b] - 1
    values = rows.values.copy()
    values[pose(rows), frame_a + 1 : frame_b] += np.float32(0.125)
    after = expose(replace(rows, values=values), starts, feel, table)
    kept = np.r_[0 : a + 1, after_b : len(starts)]
    assert (after.values[:, kept] == before.values[:, kept]).all()
