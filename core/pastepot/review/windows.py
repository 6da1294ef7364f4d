"""How often large enough areas swing within one second, for every place in the picture where the eye may rest."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pastepot.review.swings import Mask

_KEPT = 64  # swings remembered for each window: more than one second holds at 60 pictures a second
_SAME_MOMENT = 0.0501  # s: pictures closer than 1/20 s to each other are seen as one change
_EXACT = 1e-6  # s


class Windows:
    """Counts swings in every window of a picture of cells.

    shape:  rows and columns of the picture's cells
    window: of a window's; one that is larger than the picture is cut to it
    area:   cells of it that have to swing the same way at the same moment to be counted
    """

    def __init__(self, shape: tuple[int, int], window: tuple[int, int], area: float) -> None:
        self._window = (min(window[0], shape[0]), min(window[1], shape[1]))
        self._need = whole_cells(area)
        self._across = shape[1] - self._window[1] + 1
        count = (shape[0] - self._window[0] + 1) * self._across
        self._times = np.full((_KEPT, count), -np.inf)
        self._next = np.zeros(count, np.intp)
        self._way = np.zeros(count, np.int8)
        self._before: tuple[float, Mask, Mask] | None = None
        self._last_counted = -np.inf

    def add(self, time: float, fell: Mask, rose: Mask) -> int:
        """Take in the cells that swung at `time` (s). The most swings that any window had in the second up to now."""
        now = (fell, rose)
        if self._before is not None and time - self._before[0] < _SAME_MOMENT:
            fell, rose = fell | self._before[1], rose | self._before[2]
        self._before = (time, *now)
        for mask, way in ((fell, -1), (rose, 1)):
            self._count(time, mask, way)
        if time - self._last_counted >= 1 - _EXACT:
            return 0
        return int(self._recent(time).max())

    def busiest(self, time: float, swung: Mask) -> tuple[tuple[int, int, int, int], float]:
        """Where the most swings were in the second up to `time`, and the time of the first of them.

        The place is the row, column, height and width of the `swung` cells in all windows that had that many.
        """
        counts = self._recent(time)
        most = np.flatnonzero(counts == counts.max())
        times = self._times[:, most]
        (height, width), (rows, columns) = self._window, divmod(most, self._across)
        top, left = int(rows.min()), int(columns.min())
        seen = swung[top : int(rows.max()) + height, left : int(columns.max()) + width]
        down, across = np.flatnonzero(seen.any(axis=1)), np.flatnonzero(seen.any(axis=0))
        box = (top + int(down[0]), left + int(across[0]), int(np.ptp(down)) + 1, int(np.ptp(across)) + 1)
        return box, float(times[times > time - 1 + _EXACT].min())

    def swung_at(self, time: float) -> bool:
        """Whether a swing was counted at that time."""
        return self._last_counted == time

    def _recent(self, time: float) -> NDArray[np.intp]:
        """Two swings that are exactly one second apart are not in one second."""
        return np.asarray((self._times > time - 1 + _EXACT).sum(axis=0))

    def _count(self, time: float, mask: Mask, way: int) -> None:
        if np.count_nonzero(mask) < self._need:
            return
        earlier = self._times[(self._next - 1) % _KEPT, np.arange(self._next.size)] < time
        hit = np.flatnonzero((self._sums(mask).ravel() >= self._need) & (self._way != way) & earlier)
        if not hit.size:
            return
        self._times[self._next[hit], hit] = time
        self._next[hit] = (self._next[hit] + 1) % _KEPT
        self._way[hit] = way
        self._last_counted = time

    def _sums(self, mask: Mask) -> NDArray[np.int32]:
        height, width = self._window
        total = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1), np.int32)
        total[1:, 1:] = mask.cumsum(axis=0, dtype=np.int32).cumsum(axis=1)
        return np.asarray(
            total[height:, width:] - total[:-height, width:] - total[height:, :-width] + total[:-height, :-width]
        )


def whole_cells(area: float) -> int:
    """How many cells a square of this area (cells) covers whole, however it lies across them: never less than that.

    A cell that is partly in a changing area changes by less, perhaps by too little to be counted; so the limit is set
    this much lower, and an area a little below the standard's may be counted as well.
    """
    return max(1, (math.floor(math.sqrt(area)) - 1) ** 2)
