"""One column of the printed exposure sheet: its name, its labels, rings and hold lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile

from pastepot.library.contact_values import Tone, Words, shorten
from pastepot.timing.chart_values import Drawing, Ring
from pastepot.timing.sheet import Cell, Column

Measure = Callable[[str, float], float]

_LABEL, _NAME, _LINE = 2.3, 2.05, 2.45
_HOLD, _RING = 0.22, 0.24


@dataclass(frozen=True)
class Place:
    """Where a column stands on its page. x, width, top, row: mm; row: the height of a frame."""

    x: float
    width: float
    first: int
    frames: int
    top: float
    row: float

    @property
    def middle(self) -> float:
        """Halfway across."""
        return self.x + self.width / 2

    def y(self, frame: int) -> float:
        """The upper edge of a frame's row."""
        return self.top + (frame - self.first) * self.row

    def baseline(self, frame: int, size: float) -> float:
        """Where a text stands that is centred in the frame's row."""
        return self.y(frame) + self.row / 2 + 0.36 * size


def headings(column: Column, place: Place, top: float, measure: Measure) -> Iterator[Words]:
    """The column's name without its character's, broken at hyphens into at most four lines."""
    name = column.name.removeprefix(f"{column.character}-") if column.character else column.name
    lines = _broken(name, place.width - 1.2, _NAME, measure)
    if len(lines) > 4:
        lines[3:] = ["".join(lines[3:])]
    for n, line in enumerate(lines):
        text = shorten(line, place.width - 1.2, _NAME, measure)
        yield Words(place.middle, top + 2.2 + n * (_NAME + 0.2), text, _NAME, "ink", "centre")


def _broken(text: str, width: float, size: float, measure: Measure) -> list[str]:
    lines: list[str] = []
    for piece in text.replace("-", "-\0").replace(" ", " \0").split("\0"):
        if lines and measure((lines[-1] + piece).strip(), size) <= width:
            lines[-1] += piece
        else:
            lines.append(piece)
    return lines


def draw_column(page: Drawing, column: Column, place: Place, measure: Measure) -> None:
    """The column's cells on the frames of this page; one that began on an earlier page is named again in grey."""
    plain = _without_what_all_share([c.label for c in column.cells if c.label]) if column.kind == "set" else {}
    last = place.first + place.frames - 1
    for cell in column.cells:
        if cell.last < place.first or cell.start > last:
            continue
        if column.kind == "dialogue":
            _line_of_dialogue(page, cell, place, measure)
        else:
            _exposure(page, cell, plain.get(cell.label, cell.label), place, measure)


def _exposure(page: Drawing, cell: Cell, label: str, place: Place, measure: Measure) -> None:
    start, end = max(cell.start, place.first), min(cell.last, place.first + place.frames - 1)
    carried = start > cell.start
    base = place.baseline(start, _LABEL)
    tone: Tone = "grey" if carried or not label else "ink"
    text = shorten(label, place.width - 2.0, _LABEL, measure) if label else "x"
    page.write(Words(place.middle, base, text, _LABEL, tone, "centre"))
    if cell.extreme and not carried:
        radius = min(max(measure(text, _LABEL) / 2 + 0.55, 1.55), place.row * 0.49, place.width / 2)
        page.shapes.append(Ring(place.middle, place.y(start) + place.row / 2, radius, _RING, "ink"))
    if not label or end == start:
        return
    bottom = place.y(end + 1)
    page.line(place.middle, place.y(start) + place.row, place.middle, bottom - 0.9, _HOLD, "ink")
    if end == cell.last:
        page.line(place.middle - 0.9, bottom - 0.9, place.middle + 0.9, bottom - 0.9, _HOLD, "ink")


def _line_of_dialogue(page: Drawing, cell: Cell, place: Place, measure: Measure) -> None:
    """What is said, in lines down the frames on which it is said, with a bar at their side."""
    if not cell.label:
        return
    start, end = max(cell.start, place.first), min(cell.last, place.first + place.frames - 1)
    left, top, bottom = place.x + 1.1, place.y(start) + 0.5, place.y(end + 1) - 0.5
    page.line(left, top, left, bottom, 0.5, "ink")
    room, width = int((bottom - top) / _LINE), place.width - 3.2
    lines = _broken(cell.label, width, _LABEL, measure)
    if len(lines) > max(room, 1):
        lines = [*lines[: max(room, 1) - 1], "".join(lines[max(room, 1) - 1 :])]
    tone: Tone = "grey" if start > cell.start else "ink"
    for n, line in enumerate(lines):
        text = shorten(line.strip(), width, _LABEL, measure)
        page.write(Words(left + 1.2, top + 1.9 + n * _LINE, text, _LABEL, tone))


def _without_what_all_share(labels: Sequence[str]) -> dict[str, str]:
    """Label -> the label without the words, between hyphens, that all of the set begin and end with."""
    words = {label: label.split("-") for label in labels}
    split = list(words.values())
    if len(split) < 2:
        return {}
    most = min(len(w) for w in split) - 1
    head = min(_shared(split), most)
    tail = min(_shared([w[::-1] for w in split]), most - head)
    return {label: "-".join(w[head : len(w) - tail]) for label, w in words.items()}


def _shared(split: Sequence[Sequence[str]]) -> int:
    """How many words all of them begin with."""
    return sum(1 for _ in takewhile(lambda words: len(set(words)) == 1, zip(*split, strict=False)))
