"""The graph over frames: the smooth curve thin, what is shown in bold steps, one panel for each way it moves."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pastepot.library.contact_values import Words
from pastepot.timing.chart_motion import Motion, Values
from pastepot.timing.chart_scale import ticks
from pastepot.timing.chart_values import Drawing, Ring, Stroke
from pastepot.units import nominal

_PANEL, _GAP, _AXIS = 34.0, 5.0, 16.0
_WAYS = (("right", "mm"), ("up", "mm"), ("turn", "°"))
_STILL = 1e-4
_NUMBERS_APART = 6.5


@dataclass(frozen=True)
class Seconds:
    """Where seconds begin: every so many frames from the film's first one on."""

    fps: Fraction
    first: int

    def begins(self, frame: int) -> bool:
        """Whether a second begins on the frame."""
        return (frame - self.first) % nominal(self.fps) == 0


def draw_graph(page: Drawing, motion: Motion, clock: Seconds, x: float, y: float, room: float) -> float:
    """Draw a panel for each way in which the piece moves, below `y`; returns where they end."""
    moving = [n for n in range(3) if np.ptp(motion.smooth[n]) > _STILL or np.ptp(motion.handmade[n]) > _STILL]
    if not moving:
        page.write(Words(x, y + 2.5, "It does not move.", 2.6, "grey"))
        return y + 4.0
    left, wide = x + _AXIS, room - _AXIS
    count = motion.smooth.shape[1]
    across = left + np.arange(count + 1) * wide / count
    for n, way in enumerate(moving):
        top = y + n * (_PANEL + _GAP)
        _frames(page, motion.first, clock, across, top)
        _panel(page, motion, way, across, top)
    bottom = y + len(moving) * (_PANEL + _GAP) - _GAP
    _numbers(page, motion.first, clock, across, bottom)
    return bottom + 5.0


def _panel(page: Drawing, motion: Motion, way: int, across: Values, top: float) -> None:
    smooth, handmade = motion.smooth[way], motion.handmade[way]
    low, high = float(min(smooth.min(), handmade.min())), float(max(smooth.max(), handmade.max()))
    room = max(high - low, 1e-3) * 0.08
    low, high = low - room, high + room
    left, right = float(across[0]), float(across[-1])

    def up(values: Values) -> Values:
        return np.asarray(top + (high - values) / (high - low) * _PANEL)

    name, unit = _WAYS[way]
    page.write(Words(left - _AXIS, top + 2.4, name, 2.5))
    for value in ticks(low, high, 5):
        at = float(up(np.array(value)))
        page.line(left, at, right, at, 0.1, "rule")
        page.write(Words(left - 1.4, at + 0.8, f"{value:g}{unit if unit == '°' else ' ' + unit}", 2.1, "grey", "right"))
    page.shapes.append(Stroke(np.column_stack([across[:-1], up(smooth)]), 0.2, "grey"))
    edges = np.repeat(across, 2)[1:-1]
    page.shapes.append(Stroke(np.column_stack([edges, np.repeat(up(handmade), 2)]), 0.6, "hand"))
    for cell in motion.column.cells:
        if cell.extreme:
            n = motion.index(cell)
            page.shapes.append(Ring(float(across[n]), float(up(handmade[n])), 1.1, 0.4, "extreme", "paper"))


def _frames(page: Drawing, first: int, clock: Seconds, across: Values, top: float) -> None:
    """Upright lines: seconds heavier, frames where there is room for them."""
    apart = float(across[1] - across[0])
    for frame, at in enumerate(across.tolist(), first):
        if clock.begins(frame):
            page.line(at, top, at, top + _PANEL, 0.3, "grey")
        elif apart >= 1.5:
            page.line(at, top, at, top + _PANEL, 0.06, "rule")


def _numbers(page: Drawing, first: int, clock: Seconds, across: Values, bottom: float) -> None:
    """Numbers of frames as close as they can be read, a second's first frame always among them."""
    second, apart = nominal(clock.fps), float(across[1] - across[0])
    shares = [n for n in range(1, second) if second % n == 0]
    step = next((n for n in shares if n * apart >= _NUMBERS_APART), second)
    while step * apart < _NUMBERS_APART:
        step += second
    for n in range((clock.first - first) % step, across.size - 1, step):
        page.write(Words(float(across[n]), bottom + 3.4, str(first + n), 2.1, "grey", "centre"))
