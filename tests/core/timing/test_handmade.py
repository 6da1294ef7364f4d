"""What must hold for every film: extremes exact, the untouched still, errors never add up, no one disturbs another."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing.exposures import plan
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import Exposed, Role, Rows, Table, expose

TABLE = Table(Fraction(12), 1, 7, 0.01)
FEEL = Feel(offset_mm=0.3, turn_deg=0.5)
ROLES = np.array([Role.SLIDE_X, Role.SLIDE_Z, Role.TURN, Role.POSE, Role.SHOWN])


@st.composite
def films(draw) -> Rows:
    """A few parts with random keys, holds and visibility, sampled on 2 to 60 frames."""
    parts, frames = draw(st.integers(1, 4)), draw(st.integers(2, 60))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rows = parts * len(ROLES)
    keyed = random.random((rows, frames)) < draw(st.sampled_from([0.0, 0.05, 0.3]))
    values = np.empty((rows, frames), np.float32)
    for row in range(rows):
        at = np.union1d(np.flatnonzero(keyed[row]), [0, frames - 1])
        heights = random.integers(-3, 4, len(at)).astype(np.float32)  # whole numbers: some neighbours are equal
        values[row] = np.interp(np.arange(frames), at, heights)
    values[ROLES.size - 1 :: ROLES.size] = values[ROLES.size - 1 :: ROLES.size] > 0
    return Rows(
        owners=tuple(f"part {n}" for n in range(parts)),
        owner=np.repeat(np.arange(parts), len(ROLES)),
        role=np.tile(ROLES, parts),
        values=values,
        keyed=keyed,
        exact=np.zeros(parts, bool),
        first=1,
    )


def anchored(rows: Rows, pattern: tuple[int, ...]) -> np.ndarray:
    posed = rows.keyed[rows.role != Role.SHOWN].any(axis=0)
    return plan(1, rows.values.shape[1], pattern, (np.flatnonzero(posed) + 1).tolist())


def held(exposed: Exposed, frames: int) -> np.ndarray:
    """What is seen on every frame: (K, N)."""
    return exposed.values[:, np.searchsorted(exposed.starts, np.arange(1, frames + 1), side="right") - 1]


patterns = st.sampled_from([(1,), (2,), (3,), (2, 2, 3)])


@given(films(), patterns)
def test_every_extreme_is_shown_exactly(rows: Rows, pattern) -> None:
    exposed = expose(rows, anchored(rows, pattern), FEEL, TABLE)
    seen = held(exposed, rows.values.shape[1])
    pose = rows.role != Role.SHOWN
    own_key = np.zeros((len(rows.owners), rows.values.shape[1]), bool)
    np.logical_or.at(own_key, rows.owner[pose], rows.keyed[pose])
    at = own_key[rows.owner] & pose[:, None]
    assert (seen[at] == rows.values[at]).all()


@given(films(), patterns)
def test_an_untouched_part_does_not_move_by_a_bit(rows: Rows, pattern) -> None:
    starts = anchored(rows, pattern)
    exposed = expose(rows, starts, FEEL, TABLE)
    pose = rows.role != Role.SHOWN
    still = ~exposed.placed[rows.owner][:, 1:] & pose[:, None]
    assert (exposed.values[:, 1:][still] == exposed.values[:, :-1][still]).all()
    smooth = rows.values[:, starts - 1]
    moved = np.zeros(exposed.placed.shape, bool)
    np.logical_or.at(moved[:, 1:], rows.owner[pose], np.diff(smooth[pose], axis=1) != 0)
    assert (exposed.placed[:, 1:] == (moved | exposed.extreme)[:, 1:]).all()


@given(films(), patterns)
def test_misses_are_bounded_and_never_add_up(rows: Rows, pattern) -> None:
    starts = anchored(rows, pattern)
    exposed = expose(rows, starts, FEEL, TABLE)
    slides = np.isin(rows.role, (Role.SLIDE_X, Role.SLIDE_Z))
    off = np.abs(exposed.values[slides] - rows.values[slides][:, starts - 1])
    assert off.max() <= FEEL.offset_mm * 0.01 * 3.4642 + 1e-6
    pose = rows.role == Role.POSE
    assert np.abs(exposed.values[pose] - rows.values[pose][:, starts - 1]).max() <= 1e-6


@given(films(), patterns, st.data())
def test_changing_one_part_disturbs_no_other(rows: Rows, pattern, data) -> None:
    starts = anchored(rows, pattern)
    part = data.draw(st.integers(0, len(rows.owners) - 1))
    values = rows.values.copy()
    values[rows.owner == part] += np.float32(0.5)
    before = expose(rows, starts, FEEL, TABLE)
    after = expose(replace(rows, values=values), starts, FEEL, TABLE)
    others = rows.owner != part
    assert (before.values[others] == after.values[others]).all()


@given(films(), patterns)
def test_frames_after_do_not_disturb_frames_before(rows: Rows, pattern) -> None:
    frames = rows.values.shape[1]
    starts = anchored(rows, pattern)
    cut = int(starts[len(starts) // 2])
    before = expose(rows, starts, FEEL, TABLE)
    values = rows.values.copy()
    values[:, cut:] = 0
    after = expose(replace(rows, values=values), starts, FEEL, TABLE)
    assert (held(before, frames)[:, : cut - 1] == held(after, frames)[:, : cut - 1]).all()


@given(films(), patterns)
def test_a_key_stands_only_where_something_changes(rows: Rows, pattern) -> None:
    exposed = expose(rows, anchored(rows, pattern), FEEL, TABLE)
    assert exposed.changes[:, 0].all()
    assert (exposed.changes[:, 1:] == (exposed.values[:, 1:] != exposed.values[:, :-1])).all()


@given(films(), patterns)
def test_still_as_stone_is_plain_stepping(rows: Rows, pattern) -> None:
    starts = anchored(rows, pattern)
    exposed = expose(rows, starts, Feel(offset_mm=0, turn_deg=0), TABLE)
    pose = rows.role != Role.SHOWN
    assert np.abs(exposed.values[pose] - rows.values[pose][:, starts - 1]).max() <= 1e-6


@given(films())
def test_on_twos_at_24_looks_like_on_ones_at_12(rows: Rows) -> None:
    frames = rows.values.shape[1]
    twelve = expose(rows, np.arange(1, frames + 1), FEEL, TABLE)
    keyed = np.zeros((len(rows.role), 2 * frames), bool)
    keyed[:, ::2] = rows.keyed
    doubled = replace(rows, values=rows.values.repeat(2, axis=1), keyed=keyed)
    twos = expose(doubled, np.arange(1, 2 * frames + 1, 2), FEEL, replace(TABLE, fps=Fraction(24)))
    assert (twelve.values == twos.values).all()


def one_part(values: list[float], keys: list[int], role: Role = Role.SLIDE_X) -> Rows:
    keyed = np.zeros((1, len(values)), bool)
    keyed[0, [k - 1 for k in keys]] = True
    return Rows(
        ("heron",), np.array([0]), np.array([role]), np.array([values], np.float32), keyed, np.array([False]), 1
    )


def test_the_seed_decides_the_misses() -> None:
    rows = one_part([0, 1, 2, 3], [1, 4])
    starts = np.arange(1, 5)
    a, again = expose(rows, starts, FEEL, TABLE), expose(rows, starts, FEEL, TABLE)
    b = expose(rows, starts, FEEL, replace(TABLE, seed=8))
    assert (a.values == again.values).all()
    assert (a.values[0, 1:3] != b.values[0, 1:3]).all()
    assert (a.values[0, [0, 3]] == [0, 3]).all()


def test_a_camera_never_misses() -> None:
    rows = replace(one_part([0, 1, 2, 3], [1, 4]), exact=np.array([True]))
    assert expose(rows, np.arange(1, 5), FEEL, TABLE).values.tolist() == [[0, 1, 2, 3]]


def test_a_blink_between_exposures_is_seen() -> None:
    """On twos, a picture swapped on an off frame is shown with the exposure it falls into, not lost."""
    rows = one_part([0, 1, 1, 1, 1, 1], [1, 2], Role.SHOWN)
    assert expose(rows, np.array([1, 3, 5]), FEEL, TABLE).values.tolist() == [[1, 1, 1]]


def test_an_extreme_inside_a_grid_exposure_is_what_it_shows() -> None:
    rows = one_part([0, 5, 4, 3, 2, 1], [1, 2, 6])
    assert expose(rows, np.array([1, 3, 5]), Feel(offset_mm=0, turn_deg=0), TABLE).values.tolist() == [[5, 4, 1]]


def test_the_size_of_the_misses_is_the_feels() -> None:
    """Standard deviation per axis, over many placements, against the number in the feel (2 % of sampling error)."""
    count = 20_001
    values = [float(n % 1000) for n in range(count)]
    rows = one_part(values, [1])
    off = expose(rows, np.arange(1, count + 1), FEEL, TABLE).values[0].astype(float) - values
    assert np.std(off[1:]) == pytest.approx(FEEL.offset_mm * 0.01, rel=0.02)
    assert abs(np.mean(off[1:])) < 0.02 * FEEL.offset_mm * 0.01
    assert abs(np.corrcoef(off[1:-1], off[2:])[0, 1]) < 0.02


def test_rounding_between_two_equal_keys_wakes_nobody() -> None:
    """Blender's curves are only nearly level between equal keys: a hold stays one value to the bit."""
    noise = 1 + np.array([0, 3, -2, 4, -4, 1, 0, 2, -3, 0]) * 1.2e-7
    rows = one_part(noise.tolist(), [1, 10])
    for feel in (FEEL, replace(FEEL, uneven=0.5, hurry=0.5, ease_steps=2, smallest_mm=0.1, arc=0.1, overshoot=0.1)):
        exposed = expose(rows, np.arange(1, 11), feel, TABLE)
        assert (exposed.values[0, :9] == exposed.values[0, 0]).all()
