"""The charts of one piece on one page: its timing, its spacing, and its movement over the frames."""

from __future__ import annotations

from pastepot.library.contact_values import Words
from pastepot.timing.chart_graph import Seconds, draw_graph
from pastepot.timing.chart_motion import Motion, passages
from pastepot.timing.chart_spacing import draw_spacing
from pastepot.timing.chart_timing import draw_timing
from pastepot.timing.chart_values import Drawing, Ring
from pastepot.timing.sheet import Sheet

WIDTH, MARGIN = 297.0, 12.0
"""mm: a landscape A4 page's width (ISO 216, from memory); charts are as tall as they need."""

_TITLE, _CAPTION, _GAP = 5.0, 3.0, 9.0


def draw(motion: Motion, sheet: Sheet) -> Drawing:
    """All charts of one piece of the sheet."""
    page = Drawing(WIDTH, 0.0)
    last = motion.first + motion.smooth.shape[1] - 1
    page.write(Words(MARGIN, MARGIN + 5.0, motion.column.name, _TITLE))
    facts = f"{sheet.title} · frames {motion.first} to {last}, {sheet.fps} frames a second"
    page.write(Words(MARGIN, MARGIN + 10.0, facts, 2.6, "grey"))
    _legend(page)
    y = MARGIN + 19.0
    room = WIDTH - 2 * MARGIN
    y = _captioned(page, "Timing", "between extremes, by the way that lies behind each pose", y)
    y = draw_timing(page, passages(motion), MARGIN, y, room) + _GAP
    y = _captioned(page, "Spacing", "the path of the piece's far end, with a mark for each exposure", y)
    y = draw_spacing(page, motion, MARGIN, y, room) + _GAP
    y = _captioned(page, "Movement", "over the frames", y)
    y = draw_graph(page, motion, Seconds(sheet.fps, sheet.first), MARGIN, y, room)
    page.height = y + MARGIN
    return page


def _captioned(page: Drawing, name: str, about: str, y: float) -> float:
    page.write(Words(MARGIN, y, name, _CAPTION))
    page.write(Words(MARGIN + 19.0, y, about, 2.4, "grey"))
    page.line(MARGIN, y + 1.6, WIDTH - MARGIN, y + 1.6, 0.12, "rule")
    return y + 5.5


def _legend(page: Drawing) -> None:
    y, x = MARGIN + 9.2, WIDTH - MARGIN - 84.0
    page.line(x, y, x + 7, y, 0.25, "grey")
    page.write(Words(x + 8.5, y + 0.8, "smooth", 2.4, "grey"))
    page.line(x + 23, y, x + 30, y, 0.7, "hand")
    page.write(Words(x + 31.5, y + 0.8, "as it is set", 2.4, "grey"))
    page.shapes.append(Ring(x + 52, y, 1.2, 0.45, "extreme", "paper"))
    page.write(Words(x + 54.5, y + 0.8, "extreme, with its pose", 2.4, "grey"))
