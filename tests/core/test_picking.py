"""Rays through sheets of paper: what is met, in which order, and how clicks go down the stack."""

from __future__ import annotations

import numpy as np
import pytest
from pastepot.picking import Sheets, next_down

FORWARD = np.array([0.0, 1.0, 0.0])


def pile(*depths: float) -> Sheets:
    """Sheets of 2 x 2 pixels from (0, 0) to (2, 2), each missing its top-right pixel, at these distances."""
    world = np.tile(np.eye(4), (len(depths), 1, 1))
    world[:, 1, 3] = depths
    count = len(depths)
    mask = np.array([[True, False], [True, True]])
    return Sheets(world, np.tile((0.0, 2.0), (count, 1)), np.tile((1.0, -1.0), (count, 1)), [mask] * count)


@pytest.mark.parametrize(
    ("x", "z", "met"),
    [(0.5, 1.5, [1, 2, 0]), (1.5, 1.5, []), (1.5, 0.5, [1, 2, 0]), (2.5, 0.5, []), (0.5, -0.1, [])],
)
def test_paper_is_met_nearest_first_and_holes_are_not(x: float, z: float, met: list[int]) -> None:
    assert pile(3.0, 1.0, 2.0).under(np.array([x, -5.0, z]), FORWARD) == met


def test_what_is_behind_edge_on_or_flattened_is_not_met() -> None:
    standing = pile(-9.0, 1.0, 2.0, 3.0)
    standing.world[1, :3, :3] = [[0, -1, 0], [1, 0, 0], [0, 0, 1]]  # a quarter turn: seen from its edge
    standing.world[2, :3, :3] = np.diag([0.0, 1.0, 1.0])
    assert standing.under(np.array([0.5, -5.0, 0.5]), FORWARD) == [3]


def test_no_sheets_nothing_met() -> None:
    empty = Sheets(np.empty((0, 4, 4)), np.empty(0), np.empty(0), [])
    assert empty.under(np.zeros(3), FORWARD) == []


def test_clicks_go_down_and_round() -> None:
    stack, taken, last = ["beak", "head", "reed"], [], []
    chosen = ""
    for _ in range(4):
        chosen = next_down(stack, last, chosen)
        last = stack
        taken.append(chosen)
    assert taken == ["beak", "head", "reed", "beak"]
    assert next_down(["snail"], stack, "head") == "snail"
    assert next_down([], stack, "head") == ""
