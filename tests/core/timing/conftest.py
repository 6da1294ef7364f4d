"""Random films and random feels, as hypothesis strategies for the property tests of the timing."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import strategies as st
from pastepot.timing.exposures import plan
from pastepot.timing.feel import SETTINGS, Feel, Setting
from pastepot.timing.light import SAFE_FLICKER_STOPS
from pastepot.timing.rows import Role, Rows, Table

ROLES = np.array([Role.SLIDE_X, Role.SLIDE_Z, Role.TURN, Role.POSE, Role.SHOWN])


@st.composite
def a_film(draw, parts: int = 4) -> Rows:
    """Parts that lie on each other and near each other, sampled on 2 to 80 frames: some move, rest, are pinned or hide.

    Each has keys of its own, most in all its rows; it rests between some, all the way through some films.
    """
    count, frames = draw(st.integers(1, parts)), draw(st.integers(2, 80))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    often, rests = draw(st.sampled_from([0.0, 0.05, 0.15])), draw(st.sampled_from([0.0, 0.5, 0.9]))
    keyed = np.zeros((count * len(ROLES), frames), bool)
    values = np.empty(keyed.shape, np.float32)
    for row in range(len(keyed)):
        if row % len(ROLES) == 0:
            keys = random.random(frames) < often
            at = np.union1d(np.flatnonzero(keys), [0, frames - 1])
            kept = random.random(len(at)) < rests
        keyed[row] = keys & (random.random() < 0.8)
        heights = random.integers(-2, 3, len(at)) / 8
        for n in np.flatnonzero(kept[1:]) + 1:
            heights[n] = heights[n - 1]
        values[row] = np.interp(np.arange(frames), at, heights)
    values[len(ROLES) - 1 :: len(ROLES)] = values[len(ROLES) - 1 :: len(ROLES)] > 0
    return Rows(
        owners=tuple(f"part {n}" for n in range(count)),
        owner=np.repeat(np.arange(count), len(ROLES)),
        role=np.tile(ROLES, count),
        values=values,
        keyed=keyed,
        exact=random.random(count) < 0.1,
        first=1,
        pinned=random.random((count, frames)) < draw(st.sampled_from([0.0, 0.05])),
        parent=np.array([random.integers(-1, n) for n in range(count)]),
        grab_mm=random.normal(0, 20, (count, 2)),
        take=random.integers(0, 2, count),
    )


def _value(setting: Setting) -> st.SearchStrategy:
    match setting.kind:
        case "lengths":
            return st.lists(st.integers(1, 5), min_size=1, max_size=4).map(tuple)
        case "odds":
            return st.sampled_from([(), (1.0, 2.0), (0.0, 3.0, 1.0)])
        case "choice":
            return st.sampled_from(setting.choices)
        case "yes or no":
            return st.just(setting.default)
        case "whole":
            return st.integers(int(setting.low), int(min(setting.high, 8)))
    high = SAFE_FLICKER_STOPS if setting.name == "flicker_stops" else min(setting.high, 2.0)
    return st.just(0.0) | st.floats(max(setting.low, 0.0), high) if setting.low == 0 else st.floats(setting.low, 100)


@pytest.fixture(scope="session")
def films() -> Callable[..., st.SearchStrategy[Rows]]:
    return a_film


@pytest.fixture(scope="session")
def feels() -> Callable[..., st.SearchStrategy[Feel]]:
    """Random feels; named settings are as given instead."""

    def make(**given: object) -> st.SearchStrategy[Feel]:
        return st.builds(Feel, **{s.name: st.just(given[s.name]) if s.name in given else _value(s) for s in SETTINGS})

    return make


@pytest.fixture(scope="session")
def table() -> Table:
    return Table(Fraction(12), 1, 7, 0.01)


@pytest.fixture(scope="session")
def anchored() -> Callable[..., np.ndarray]:
    """A plan that begins on every extreme."""

    def make(rows: Rows, pattern: tuple[int, ...]) -> np.ndarray:
        posed = rows.keyed[rows.role != Role.SHOWN].any(axis=0)
        return plan(1, rows.values.shape[1], pattern, (np.flatnonzero(posed) + 1).tolist())

    return make


@pytest.fixture(scope="session")
def one_part() -> Callable[..., Rows]:
    """One part with rows of its own: role -> values; keys on the given frames in all of them."""

    def make(values: dict[Role, list[float]], keys: list[int], **more: object) -> Rows:
        rows = np.array(list(values.values()), np.float32)
        keyed = np.zeros(rows.shape, bool)
        keyed[:, [k - 1 for k in keys]] = True
        none = np.zeros(len(rows), np.intp)
        return Rows(("heron",), none, np.array(list(values)), rows, keyed, np.array([False]), 1, **more)

    return make
