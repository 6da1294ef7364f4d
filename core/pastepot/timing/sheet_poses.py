"""Columns of the exposure sheet out of values on every frame: poses numbered, replacements named, lines laid out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pastepot.timing.sheet import Cell, cells_from, one_line


def pose_cells(
    values: NDArray[np.float32], shown: NDArray[np.bool_], keyed: NDArray[np.bool_], first: int
) -> tuple[Cell, ...]:
    """The exposures of one piece, its poses numbered from 1 in the order in which they are first seen.

    values: (K, N) every channel of its pose on frames `first` onwards; shown, keyed: (N,). A pose that comes back bit
    for bit keeps its number. A cell is an extreme if the animator has a key on one of its frames.
    """
    seen = np.where(shown, values, np.float32(0))
    changed = np.ones(shown.shape, bool)
    changed[1:] = (seen[:, 1:] != seen[:, :-1]).any(axis=0) | (shown[1:] != shown[:-1])
    at = np.flatnonzero(changed)
    number = _numbered(seen[:, at], shown[at])
    labels = [str(n) if n else "" for n in number.tolist()]
    return cells_from((at + first).tolist(), labels, first + shown.size - 1, np.logical_or.reduceat(keyed, at).tolist())


def _numbered(poses: NDArray[np.float32], shown: NDArray[np.bool_]) -> NDArray[np.int64]:
    """(E,): 1, 2, 3 … by first appearance for poses that are shown, 0 for the others."""
    number = np.zeros(shown.shape, np.int64)
    if not shown.any():
        return number
    _, first_seen, kind = np.unique(poses[:, shown], axis=1, return_index=True, return_inverse=True)
    rank = np.empty(first_seen.size, np.int64)
    rank[np.argsort(first_seen)] = np.arange(1, first_seen.size + 1)
    number[shown] = rank[kind.ravel()]
    return number


def set_cells(shown: Mapping[str, NDArray[np.bool_]], first: int) -> tuple[tuple[Cell, ...], list[int]]:
    """Which part of a replacement set is shown: part's name -> (N,) whether it is.

    Where several are shown at once the label names them all, and the frames on which such a cell begins are returned
    too: that is a mistake in the film.
    """
    names = list(shown)
    flags = np.array([shown[name] for name in names], bool)
    at = np.flatnonzero(np.append(True, (flags[:, 1:] != flags[:, :-1]).any(axis=0)))
    labels = [" + ".join(name for name, on in zip(names, flags[:, n], strict=True) if on) for n in at]
    crowded = [int(n) + first for n in at[flags[:, at].sum(axis=0) > 1]]
    last = first + flags.shape[1] - 1
    return cells_from((at + first).tolist(), labels, last, [False] * len(at)), crowded


def dialogue_cells(lines: Iterable[tuple[int, int, str]], first: int, last: int) -> tuple[Cell, ...]:
    """Lines (first frame, last frame, text) as cells, silence between them; where two overlap the later one wins."""
    marks: dict[int, str] = {first: ""}
    spoken = sorted((start, end, one_line(text)) for start, end, text in lines if end >= first and start <= last)
    for n, (start, end, text) in enumerate(spoken):
        marks[max(start, first)] = text
        following = spoken[n + 1][0] if n + 1 < len(spoken) else last + 1
        if end + 1 < following and end < last:
            marks[end + 1] = ""
    starts: Sequence[int] = sorted(marks)
    return cells_from(starts, [marks[s] for s in starts], last, [False] * len(starts))
