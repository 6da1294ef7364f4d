"""The movement of one piece, as its charts need it: where it goes smoothly, and where the hand sets it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pastepot.timing.chart_values import Points
from pastepot.timing.sheet import Cell, Column

_MOVES_MM = 0.01
"""Two extremes that lie closer together have nothing between them to chart."""

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Motion:
    """A piece on frames `first` onwards, against what it hangs on.

    smooth, handmade: (3, N) right and up in paper millimetres, turn in degrees, clockwise to the camera
    reach_mm:         the point whose path is drawn, right and up from the pivot as the piece lies unturned
    column:           its exposures, with the numbers of its poses
    """

    column: Column
    first: int
    smooth: Values
    handmade: Values
    reach_mm: tuple[float, float]

    def path(self, values: Values) -> Points:
        """(N, 2) right and up, mm: where the point goes."""
        x, z = self.reach_mm
        turn = np.radians(values[2])
        right = values[0] + x * np.cos(turn) + z * np.sin(turn)
        return np.column_stack([right, values[1] - x * np.sin(turn) + z * np.cos(turn)])

    def within(self, first: int, last: int) -> Motion:
        """The same on some of its frames; cells that reach over the edge are cut."""
        keep = slice(first - self.first, last + 1 - self.first)
        cells = tuple(
            Cell(start, min(c.last, last) + 1 - start, c.label, c.extreme and start == c.start)
            for c in self.column.cells
            if c.last >= first and c.start <= last
            for start in [max(c.start, first)]
        )
        column = Column(self.column.name, self.column.kind, cells, self.column.character)
        return Motion(column, first, self.smooth[:, keep], self.handmade[:, keep], self.reach_mm)

    def index(self, cell: Cell) -> int:
        """The column of `handmade` in which the cell begins."""
        return cell.start - self.first


@dataclass(frozen=True)
class Passage:
    """From one extreme to the next. shares: for each cell, how much of the way is behind it, 0 to 1."""

    cells: tuple[Cell, ...]
    shares: tuple[float, ...]
    length_mm: float


def passages(motion: Motion) -> list[Passage]:
    """Every run of exposures from an extreme to the next one in another place."""
    shown = [n for n, cell in enumerate(motion.column.cells) if cell.extreme]
    smooth, placed = motion.path(motion.smooth), motion.path(motion.handmade)
    found = []
    for a, b in pairwise(shown):
        cells = motion.column.cells[a : b + 1]
        if not all(cell.label for cell in cells):
            continue  # it was not in the picture all the way
        begin, end = motion.index(cells[0]), motion.index(cells[-1])
        way = smooth[begin : end + 1].copy()
        way[0], way[-1] = placed[begin], placed[end]
        shares, length = _shares(placed[[motion.index(cell) for cell in cells]], way)
        if length > _MOVES_MM:
            shares[0], shares[-1] = 0.0, 1.0
            found.append(Passage(cells, tuple(shares.tolist()), length))
    return found


def _shares(points: Points, way: Points) -> tuple[Values, float]:
    """For each point the share of the way's length at which the way comes nearest to it; and that length."""
    steps = np.diff(way, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    total = float(lengths.sum())
    if total <= 0.0:
        return np.zeros(len(points)), 0.0
    before = np.cumsum(lengths) - lengths
    along = np.einsum("psk,sk->ps", points[:, None] - way[None, :-1], steps) / np.maximum(lengths**2, 1e-30)
    along = np.clip(along, 0.0, 1.0)
    gaps = points[:, None] - (way[None, :-1] + along[..., None] * steps)
    nearest = np.argmin((gaps**2).sum(axis=2), axis=1)
    at = np.take_along_axis(along, nearest[:, None], axis=1)[:, 0]
    return (before[nearest] + at * lengths[nearest]) / total, total
