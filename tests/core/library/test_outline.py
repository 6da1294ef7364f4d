"""Outlines: they hold all the paper with room around it, leave out what is empty, and stay small."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pastepot.library.outline import inside_odd, outline


def disc(size: int, radius: float, hole: float = 0.0) -> np.ndarray:
    y, x = np.mgrid[:size, :size] + 0.5 - size / 2
    distance = np.hypot(x, y)
    return (distance < radius) & (distance >= hole)


def centres(mask: np.ndarray) -> np.ndarray:
    return np.argwhere(mask)[:, ::-1] + 0.5


@pytest.mark.parametrize("size", [40, 300, 1500])
def test_a_disc_costs_little_more_than_its_area(size: int) -> None:
    paper = disc(size, size * 0.4)
    found = outline(paper)
    assert found.holds(centres(paper)).all()
    everywhere = np.random.default_rng(1).uniform(0, size, (20_000, 2))
    # a disc wider by the whole margin, one pixel for the grid
    widest = size * 0.4 + max(4, size / 200) * 1.5 + max(1, size / 512) * 2
    assert found.holds(everywhere).mean() <= np.pi * widest**2 / size**2 + 0.02
    assert sum(map(len, found.loops)) <= 60


def test_a_hole_stays_a_hole() -> None:
    found = outline(disc(400, 160, hole=60))
    assert len(found.loops) == 2
    assert found.holds(np.array([[200.0, 200.0], [200.0, 100.0]])).tolist() == [False, True]


def test_paper_at_the_edge_of_the_image_is_held_up_to_it() -> None:
    found = outline(np.ones((30, 50), bool))
    assert found.holds(np.array([[0.0, 0.0], [50.0, 30.0], [50.0, 0.0], [25.0, 30.0]])).all()
    assert not found.holds(np.array([[-0.1, 5.0], [50.1, 5.0], [5.0, 30.1]])).any()


def test_no_paper_no_outline() -> None:
    found = outline(np.zeros((9, 7), bool))
    assert found.loops == ()
    assert not found.holds(np.array([[3.0, 3.0]])).any()


def test_dust_all_over_is_taken_as_a_rectangle() -> None:
    dust = np.zeros((2000, 2000), bool)
    dust[::40, ::40] = True
    assert [len(loop) for loop in outline(dust).loops] == [4]


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 90), st.integers(1, 90), st.floats(0.0, 1.0))
def test_any_paper_is_held_with_room_for_a_filtered_edge(seed: int, width: int, height: int, share: float) -> None:
    random = np.random.default_rng(seed)
    paper = random.random((height, width)) < share**3
    paper &= np.kron(random.random((-(-height // 9), -(-width // 9))) < 0.5, np.ones((9, 9)))[:height, :width] > 0
    found = outline(paper)
    pixels = np.argwhere(paper)[:, ::-1]
    around = np.array([(x, y) for x in (-1.5, 0.5, 2.5) for y in (-1.5, 0.5, 2.5)])
    points = (pixels[:, None] + around).reshape(-1, 2)
    inside_image = ((points >= 0) & (points <= found.size)).all(axis=1)
    assert found.holds(points[inside_image]).all()


def test_inside_odd_agrees_with_a_known_triangle() -> None:
    triangle = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 4.0]])
    points = np.array([[1.0, 1.0], [3.0, 3.0], [-1.0, 1.0]])
    assert inside_odd(points, (triangle,)).tolist() == [True, False, False]
