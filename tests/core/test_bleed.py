"""Paper colour under transparent edges."""

from __future__ import annotations

import numpy as np
import pytest
from pastepot.bleed import REACH_PX, bled, needs_bleed


def disc(size: int, hidden: tuple[float, float, float], paper: tuple[float, float, float]) -> np.ndarray:
    y, x = np.mgrid[:size, :size] - size / 2 + 0.5
    alpha = np.clip(size / 3 - np.hypot(x, y), 0, 1)
    rgba = np.empty((size, size, 4), np.float32)
    rgba[..., :3] = np.where((alpha > 0)[..., None], paper, hidden)
    rgba[..., 3] = alpha
    return rgba


PAPER = (0.8, 0.3, 0.2)


@pytest.mark.parametrize("size", [16, 61, 200])
def test_the_colour_runs_on_under_the_edge(size: int) -> None:
    before = disc(size, (0, 0, 0), PAPER)
    assert needs_bleed(before)
    after = bled(before)
    assert not needs_bleed(after)
    clear = before[..., 3] == 0
    assert (after[~clear] == before[~clear]).all()
    assert (after[..., 3] == before[..., 3]).all()
    assert np.abs(after[clear, :3] - PAPER).max() < 1e-5


def test_each_side_carries_its_own_colour() -> None:
    rgba = disc(120, (0, 0, 0), PAPER)
    rgba[:, :60, :3] = np.where((rgba[:, :60, 3] > 0)[..., None], (0.1, 0.2, 0.9), 0)
    after = bled(rgba)
    middle = after[60]
    left = np.flatnonzero(rgba[60, :, 3] > 0)[0] - REACH_PX
    right = np.flatnonzero(rgba[60, :, 3] > 0)[-1] + REACH_PX
    assert np.abs(middle[left, :3] - (0.1, 0.2, 0.9)).max() < 0.05
    assert np.abs(middle[right, :3] - PAPER).max() < 0.05


@pytest.mark.parametrize("alpha", [0.0, 1.0])
def test_all_clear_or_all_paper_is_left_alone(alpha: float) -> None:
    rgba = np.full((5, 7, 4), 0.5, np.float32)
    rgba[..., 3] = alpha
    assert not needs_bleed(rgba)
    assert (bled(rgba) == rgba).all()
