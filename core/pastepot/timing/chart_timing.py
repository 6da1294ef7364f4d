"""The timing chart: a line from one extreme to the next, a short stroke where each pose between them lies.

Numbers are those of the poses, ringed for extremes (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pastepot.library.contact_values import Words
from pastepot.timing.chart_motion import Passage, Values
from pastepot.timing.chart_values import Drawing, Ring

_LENGTH, _PITCH, _GAP = 44.0, 21.0, 7.0
_STROKE, _HALF_STROKE = 7.0, 4.6
_NUMBER, _APART = 2.1, 2.35


def draw_timing(page: Drawing, passages: Sequence[Passage], x: float, y: float, room: float) -> float:
    """Draw all passages in rows below `y`; returns where they end."""
    if not passages:
        page.write(Words(x, y + 2.5, "It does not move between two extremes.", 2.6, "grey"))
        return y + 4.0
    in_a_row = max(1, int(room / _PITCH))
    for n, passage in enumerate(passages):
        left = x + (n % in_a_row) * _PITCH
        top = y + (n // in_a_row) * (_LENGTH + 9.0 + _GAP) + 3.0
        _passage(page, passage, left, top)
    rows = -(-len(passages) // in_a_row)
    return y + rows * (_LENGTH + 9.0 + _GAP) - _GAP


def _passage(page: Drawing, passage: Passage, x: float, top: float) -> None:
    shares = np.clip(np.array(passage.shares), 0.0, 1.0)
    ends = (passage.cells[0], passage.cells[-1])
    page.line(x, top, x, top + _LENGTH, 0.35, "ink")
    at = top + shares * _LENGTH
    numbers = _spread(at, top, top + _LENGTH)
    for n, (cell, y) in enumerate(zip(passage.cells, at.tolist(), strict=True)):
        end = cell in ends
        length = _STROKE if end else _HALF_STROKE
        page.line(x, y, x + length, y, 0.45 if end else 0.35, "ink" if end else "hand")
        if end:
            radius = max(1.75, 0.62 * len(cell.label) + 0.65)
            page.shapes.append(Ring(x + _STROKE + radius, y, radius, 0.4, "extreme", "paper"))
            page.write(Words(x + _STROKE + radius, y + 0.36 * _NUMBER, cell.label, _NUMBER, "ink", "centre"))
        elif not np.isnan(numbers[n]):
            page.line(x + length, y, x + length + 1.4, float(numbers[n]), 0.1, "grey")
            page.write(Words(x + length + 1.8, float(numbers[n]) + 0.36 * _NUMBER, cell.label, _NUMBER))
    page.write(Words(x, top + _LENGTH + 4.6, f"{ends[0].start} to {ends[1].start}", 2.0, "grey"))
    page.write(Words(x, top + _LENGTH + 7.4, _millimetres(passage.length_mm), 2.0, "grey"))


def _spread(at: Values, top: float, bottom: float) -> Values:
    """Where the numbers of the poses between the ends stand: beside their strokes, but never on each other.

    NaN where there is no room for a number.
    """
    out = np.full(at.size, np.nan)
    low, high = top + 1.9 + _APART / 2, bottom - 1.9 - _APART / 2
    inside = np.arange(1, at.size - 1)
    inside = inside[np.argsort(at[inside], kind="stable")]
    fits = int((high - low) / _APART) + 1
    if inside.size > fits:
        inside = inside[np.linspace(0, inside.size - 1, fits).round().astype(int)]
    if not inside.size:
        return out
    ladder = np.arange(inside.size) * _APART
    level = np.clip(at[inside], low, high) - ladder
    down = np.maximum.accumulate(level)  # each at least one number's height below the one before …
    down = np.minimum(down, high - ladder[-1])  # … and all above the end
    out[inside] = np.maximum(down, low) + ladder
    return out


def _millimetres(length: float) -> str:
    return f"{length:.1f} mm" if length < 100 else f"{length:.0f} mm"
