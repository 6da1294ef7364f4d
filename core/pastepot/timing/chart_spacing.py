"""The spacing chart: the path that a piece takes, with one mark for each exposure."""

from __future__ import annotations

import numpy as np

from pastepot.library.contact_values import Words
from pastepot.timing.chart_motion import Motion, Values
from pastepot.timing.chart_scale import neat
from pastepot.timing.chart_values import Drawing, Points, Ring, Stroke

_TALL, _INSET, _MARK, _RING = 78.0, 8.0, 1.6, 1.15
_NEAR, _CLEAR = 3.2, 2.6
_FINE = 8  # parts into which a frame of the smooth path is divided: a turn's path is an arc


def draw_spacing(page: Drawing, motion: Motion, x: float, y: float, room: float) -> float:
    """Draw the path below `y`; returns where it ends."""
    smooth, placed = motion.path(_finer(motion.smooth)), motion.path(motion.handmade)
    cells = [cell for cell in motion.column.cells if cell.label]
    marks = placed[[motion.index(cell) for cell in cells]] if cells else placed[:0]
    every = np.vstack([smooth, marks])
    low, high = every.min(axis=0), every.max(axis=0)
    span = np.maximum(high - low, 1e-9)
    if span.max() < 1e-6:
        page.write(Words(x, y + 2.5, "It stays in one place.", 2.6, "grey"))
        return y + 4.0
    scale = float(min((room - 2 * _INSET) / span[0], (_TALL - 2 * _INSET) / span[1]))
    tall = float(span[1]) * scale + 2 * _INSET

    def on_page(points: Points) -> Points:
        right = x + (points[:, 0] - low[0]) * scale + (room - span[0] * scale) / 2
        return np.column_stack([right, y + _INSET + (high[1] - points[:, 1]) * scale])

    page.shapes.append(Stroke(on_page(smooth), 0.22, "grey"))
    at = on_page(marks)
    normals = _normals(on_page(smooth), [_FINE * motion.index(cell) for cell in cells])
    for cell, (px, py), (nx, ny) in zip(cells, at.tolist(), normals.tolist(), strict=True):
        if cell.extreme:
            page.shapes.append(Ring(px, py, _RING, 0.45, "extreme", "paper"))
        else:
            page.line(px - nx * _MARK, py - ny * _MARK, px + nx * _MARK, py + ny * _MARK, 0.35, "hand")
    extremes = [n for n, cell in enumerate(cells) if cell.extreme]
    _labels(page, at, extremes, normals, [cell.label for cell in cells])
    _bar(page, x, y + tall, scale)
    return y + tall + 3.0


def _finer(values: Values) -> Values:
    """(3, N) as (3, _FINE (N - 1) + 1), straight from frame to frame in each channel."""
    frames = np.arange(values.shape[1])
    between = np.linspace(0, frames[-1], _FINE * frames[-1] + 1)
    return np.array([np.interp(between, frames, row) for row in values])


def _normals(path: Points, at: list[int]) -> Points:
    """(n, 2) unit vectors across the path at the given samples; upright where it stands still."""
    if not at:
        return np.zeros((0, 2))
    ahead, behind = np.minimum(np.array(at) + 1, len(path) - 1), np.maximum(np.array(at) - 1, 0)
    way = path[ahead] - path[behind]
    length = np.hypot(way[:, 0], way[:, 1])[:, None]
    still = length[:, 0] < 1e-9
    unit = way / np.where(length < 1e-9, 1.0, length)
    unit[still] = (1.0, 0.0)
    return np.column_stack([unit[:, 1], -unit[:, 0]])


def _labels(page: Drawing, at: Points, extremes: list[int], normals: Points, labels: list[str]) -> None:
    """The numbers of the extremes, on the emptier side of the path; those that lie in one place share a label."""
    groups: list[tuple[int, list[str]]] = []
    for n in extremes:
        near = [names for other, names in groups if np.hypot(*(at[other] - at[n])) < _NEAR]
        if not near:
            groups.append((n, [labels[n]]))
        elif labels[n] not in near[0]:
            near[0].append(labels[n])
    taken = at
    for n, names in groups:
        ways = [side * reach * normals[n] for reach in (2.8, 4.4, 6.0) for side in (1.0, -1.0)]
        gaps = [np.hypot(*(taken - (at[n] + way)).T).min() for way in ways]
        way = ways[next((k for k, gap in enumerate(gaps) if gap >= _CLEAR), int(np.argmax(gaps)))]
        x, y = (at[n] + way).tolist()
        taken = np.vstack([taken, [x, y]])
        text = ", ".join(names[:4]) + (" …" if len(names) > 4 else "")
        page.write(Words(x, y + 0.8, text, 2.2, "ink", "centre"))


def _bar(page: Drawing, x: float, y: float, scale: float) -> None:
    """The scale: a neat number of paper millimetres."""
    length = neat(30.0 / scale)
    end = x + length * scale
    page.line(x, y, end, y, 0.3, "ink")
    for edge in (x, end):
        page.line(edge, y - 0.8, edge, y + 0.8, 0.3, "ink")
    page.write(Words(end + 1.6, y + 0.8, f"{length:g} mm", 2.3, "ink"))
