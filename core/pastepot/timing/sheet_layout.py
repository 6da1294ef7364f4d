"""The exposure sheet laid out on paper: frames down, parts across, in the manner of the trade.

A label stands on the frame on which an exposure begins, a line runs down through the frames that hold it, extremes have
a ring, and seconds are ruled off by a heavy line (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from pastepot.library.contact_values import Anchor, Tone, Words, shorten
from pastepot.timing.chart_values import Block, Drawing
from pastepot.timing.sheet import Column, Sheet
from pastepot.timing.sheet_columns import Place, draw_column, headings
from pastepot.units import nominal, seconds

Measure = Callable[[str, float], float]
Paper = Literal["A4", "A3", "Letter"]

PAPERS: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "A3": (297.0, 420.0), "Letter": (215.9, 279.4)}
"""Width and height, mm: ISO 216, and ANSI/ASME Y14.1 size A (8.5 x 11 in), both from memory."""

MARGIN, HEAD, HEADINGS = 10.0, 13.0, 14.0
"""mm: around the page, for the title, for the columns' names."""
NUMBERS = 13.0
LEAST_ROW, MOST_ROW = 3.9, 5.6
_WIDTHS = {"dialogue": 30.0, "part": 11.5, "character": 11.5, "set": 21.0, "camera": 12.0}
_STRETCH = 1.5
_TITLE, _SMALL, _NUMBER = 5.0, 2.3, 2.2


@dataclass(frozen=True)
class _Grid:
    """One page's share of the sheet, and where it stands."""

    first: int
    frames: int
    rows: int
    left: float
    top: float
    row: float
    widths: tuple[float, ...]

    @property
    def right(self) -> float:
        return self.left + NUMBERS + sum(self.widths)

    @property
    def bottom(self) -> float:
        return self.top + self.frames * self.row

    def y(self, frame: int) -> float:
        """The upper edge of a frame's row."""
        return self.top + (frame - self.first) * self.row


def pages(sheet: Sheet, paper: Paper, measure: Measure) -> Iterator[Drawing]:
    """The sheet's pages: all columns of the first seconds, then those of the next."""
    width, height = PAPERS[paper]
    rows = rows_on_a_page(sheet, height)
    across = _across(sheet.columns, width - 2 * MARGIN - NUMBERS)
    down = range(sheet.first, sheet.last + 1, rows)
    total = len(down) * len(across)
    for nth, first in enumerate(down):
        for part, columns in enumerate(across):
            frames = min(rows, sheet.last + 1 - first)
            grid = _grid(first, frames, rows, columns, (width, height))
            page = Drawing(width, height)
            number = nth * len(across) + part + 1
            _head(page, sheet, grid, f"page {number} of {total}", measure)
            _ruling(page, sheet, grid)
            _columns(page, columns, grid, measure)
            yield page


def rows_on_a_page(sheet: Sheet, height: float) -> int:
    """As many whole seconds of frames as fit at a readable size; at very high rates as many frames as fit."""
    room = int((height - 2 * MARGIN - HEAD - HEADINGS) / LEAST_ROW)
    second = nominal(sheet.fps)
    return room // second * second or room


def _across(columns: Sequence[Column], room: float) -> list[list[Column]]:
    """The columns for each page across; dialogue is on every one, the camera last."""
    spoken = [c for c in columns if c.kind == "dialogue"]
    others = sorted((c for c in columns if c.kind != "dialogue"), key=lambda c: c.kind == "camera")
    taken = sum(_WIDTHS[c.kind] for c in spoken)
    groups: list[list[Column]] = [[]]
    left = room - taken
    for column in others:
        if groups[-1] and _WIDTHS[column.kind] > left:
            groups.append([])
            left = room - taken
        groups[-1].append(column)
        left -= _WIDTHS[column.kind]
    return [spoken + group for group in groups]


def _grid(first: int, frames: int, rows: int, columns: Sequence[Column], size: tuple[float, float]) -> _Grid:
    top = MARGIN + HEAD + HEADINGS
    row = min(MOST_ROW, (size[1] - MARGIN - top) / rows)
    widths = [_WIDTHS[c.kind] for c in columns]
    stretch = min(_STRETCH, (size[0] - 2 * MARGIN - NUMBERS) / max(sum(widths), 1.0))
    return _Grid(first, frames, rows, MARGIN, top, row, tuple(w * max(stretch, 1.0) for w in widths))


def _head(page: Drawing, sheet: Sheet, grid: _Grid, number: str, measure: Measure) -> None:
    base, right = MARGIN + 5.0, page.width - MARGIN
    last = grid.first + grid.frames - 1
    rate = f"{sheet.fps}" if sheet.fps.denominator == 1 else f"{float(sheet.fps):.3f}"
    facts = f"frames {grid.first} to {last} of {sheet.first} to {sheet.last}, {rate} frames a second"
    since = [float(seconds(f - sheet.first, sheet.fps)) for f in (grid.first, last + 1)]
    page.write(_words(MARGIN, base, shorten(sheet.title, right - MARGIN - 40, _TITLE, measure), _TITLE))
    page.write(_words(right, base, number, _SMALL, "ink", "right"))
    page.write(_words(MARGIN, base + 4.6, facts, _SMALL, "grey"))
    page.write(_words(right, base + 4.6, f"{since[0]:.2f} to {since[1]:.2f} s", _SMALL, "grey", "right"))


def _ruling(page: Drawing, sheet: Sheet, grid: _Grid) -> None:
    """Rows, with every other second shaded a little, and numbers at the left."""
    second = nominal(sheet.fps)
    half = second // 2 if second % 2 == 0 else 0
    for frame in range(grid.first, grid.first + grid.frames):
        since = frame - sheet.first
        if since // second % 2:
            page.shapes.append(Block(grid.left, grid.y(frame), grid.right - grid.left, grid.row, "shade"))
    for frame in range(grid.first, grid.first + grid.frames + 1):
        since, y = frame - sheet.first, grid.y(frame)
        if since % second == 0:
            page.line(grid.left, y, grid.right, y, 0.5, "ink")
        elif half and since % half == 0:
            page.line(grid.left, y, grid.right, y, 0.25, "grey")
        else:
            page.line(grid.left, y, grid.right, y, 0.1, "rule")
        if frame < grid.first + grid.frames:
            base = y + grid.row / 2 + 0.36 * _NUMBER
            if since % second == 0:
                page.write(_words(grid.left + 0.8, base, f"{since // second} s", _NUMBER, "grey"))
            page.write(_words(grid.left + NUMBERS - 1.6, base, str(frame), _NUMBER, "ink", "right"))
    page.line(grid.left, grid.bottom, grid.right, grid.bottom, 0.35, "ink")


def _columns(page: Drawing, columns: Sequence[Column], grid: _Grid, measure: Measure) -> None:
    """The columns' names, the lines between them, and what stands in them."""
    x = grid.left + NUMBERS
    top = grid.top - HEADINGS
    page.line(grid.left, top, grid.right, top, 0.35, "ink")
    page.write(_words(grid.left + NUMBERS / 2, grid.top - 1.6, "frame", _SMALL, "grey", "centre"))
    for edge in (grid.left, grid.right):
        page.line(edge, top, edge, grid.bottom, 0.35, "ink")
    before = ""
    for n, (column, width) in enumerate(zip(columns, grid.widths, strict=True)):
        new = n == 0 or column.character != before
        page.line(x, top if new else top + 4.2, x, grid.bottom, 0.3 if new else 0.12, "ink" if new else "grey")
        if new and column.character:
            room = _room(columns[n:], grid.widths[n:], column.character)
            page.write(_words(x + 1.0, top + 3.0, shorten(column.character, room - 1.5, 2.5, measure), 2.5))
        place = Place(x, width, grid.first, grid.frames, grid.top, grid.row)
        for words in headings(column, place, top + 4.2, measure):
            page.write(words)
        draw_column(page, column, place, measure)
        before, x = column.character, x + width


def _room(columns: Sequence[Column], widths: Sequence[float], character: str) -> float:
    """The width of the columns that belong together from the first on."""
    total = 0.0
    for column, width in zip(columns, widths, strict=True):
        if column.character != character:
            break
        total += width
    return total


def _words(x: float, baseline: float, text: str, size: float, tone: Tone = "ink", anchor: Anchor = "left") -> Words:
    return Words(x, baseline, text, size, tone, anchor)
