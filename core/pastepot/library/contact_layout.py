"""Where everything goes on the contact sheet: headings and cells put on pages, as values of contact_values.py.

Painting them is contact_paint.py's work.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from pastepot.library import contact_scale
from pastepot.library.contact_values import (
    A4_MM,
    CAPS,
    CHARACTER,
    LINE_MM,
    NAME,
    PLATE_PAD_MM,
    SMALL,
    TITLE,
    Anchor,
    Bar,
    Box,
    Cell,
    Head,
    Measure,
    Page,
    Picture,
    Sheet,
    Tone,
    Words,
    shorten,
)

MARGIN_MM = 18.0
COLUMNS = 4
GUTTER_MM = 6.0
PLATE_MM = (A4_MM[0] - 2 * MARGIN_MM - (COLUMNS - 1) * GUTTER_MM) / COLUMNS
"""Width of an ordinary cell and of the ground its picture lies on; also the most that any ground is high."""
LOWEST_PLATE_MM = 16.0
ROW_GAP_MM = 5.5
CHARACTER_HEAD_MM = 13.5
TYPE_HEAD_MM = 8.2
LONGEST_BAR_MM = 16.0
WIDE = 2.0
"""Pictures at least this much wider than high get cells of two columns, where one would show them smaller than ..."""
SMALL_SCALE = Fraction(1, 4)
"""... this."""
FOOT_MM = 20.0


def lay_out(head: Head, pictures: Sequence[Picture], sheet: Sheet, measure: Measure) -> list[Page]:
    """Every picture on pages, by character and type, both in the order in which the library first names them."""
    flow = _Flow(head, sheet, measure)
    for character, members in _grouped(pictures, lambda p: p.part.character):
        kinds = [_Kind.of(kind, found, sheet, measure) for kind, found in _grouped(members, lambda p: p.part.type)]
        remark = _count(len(members), "part")
        for band in _bands(kinds):
            flow.add_band(character, remark, band)
            remark = ""
    return flow.finish()


def _grouped(pictures: Sequence[Picture], key: Callable[[Picture], str]) -> list[tuple[str, list[Picture]]]:
    order: dict[str, int] = {}
    for picture in pictures:
        order.setdefault(key(picture), len(order))
    ranked = sorted(pictures, key=lambda p: order[key(p)])
    return [(name, list(members)) for name, members in groupby(ranked, key)]


def _number(value: float, places: int) -> str:
    return f"{value:.{places}f}".rstrip("0").rstrip(".")


def _place(value: float) -> str:
    """A length with one decimal, or two where the second says something."""
    return f"{value:.2f}".removesuffix("0")


@dataclass(frozen=True)
class _Kind:
    """All parts of one type of one character: the scale most of them share, and how many columns each one takes."""

    name: str
    scale: Fraction
    span: int
    shown: tuple[tuple[Picture, Fraction | None], ...]
    labels: tuple[tuple[tuple[str, float, Tone], ...], ...]

    @staticmethod
    def of(name: str, members: Sequence[Picture], sheet: Sheet, measure: Measure) -> _Kind:
        scale, demands = _shared_scale(members, 1, sheet)
        span = 2 if scale < SMALL_SCALE and _mostly_wide(members) else 1
        if span == 2:
            scale, demands = _shared_scale(members, span, sheet)
        shown = tuple(
            (p, None if d is None else scale if d.suits(scale) else d.own())
            for p, d in zip(members, demands, strict=True)
        )
        width = _width(span)
        labels = tuple(_label(p, s if s != scale else None, width, measure) for p, s in shown)
        return _Kind(name, scale, span, shown, labels)

    @property
    def columns(self) -> int:
        """How many columns a row of it takes, at most all."""
        return min(COLUMNS, len(self.shown) * self.span)

    @property
    def uses_scale(self) -> bool:
        """Whether any part is drawn at the shared scale."""
        return any(scale == self.scale for _, scale in self.shown)

    def rows(self) -> list[range]:
        """The parts of each row, by number."""
        each = COLUMNS // self.span
        return [range(i, min(i + each, len(self.shown))) for i in range(0, len(self.shown), each)]

    def plate_height(self, row: range) -> float:
        """As high as the row's highest picture asks."""
        shown = (self.shown[n] for n in row)
        tallest = max((p.size_mm[1] * s for p, s in shown if p.size_mm and s), default=0.0)
        return min(PLATE_MM, max(LOWEST_PLATE_MM, tallest + 2 * PLATE_PAD_MM))

    def label_height(self, row: range) -> float:
        """As high as the row's longest label asks."""
        return 1.2 + LINE_MM * max(len(self.labels[n]) for n in row)


def _shared_scale(
    members: Sequence[Picture], span: int, sheet: Sheet
) -> tuple[Fraction, list[contact_scale.Demand | None]]:
    demands = [_demand(p, span, sheet.density) for p in members]
    known = [d for d in demands if d is not None]
    return (contact_scale.common(known) if known else Fraction(1)), demands


def _mostly_wide(members: Sequence[Picture]) -> bool:
    sizes = [p.size_mm for p in members if p.size_mm is not None]
    return sum(w >= WIDE * h for w, h in sizes) * 2 > len(sizes)


def _width(span: int) -> float:
    return span * PLATE_MM + (span - 1) * GUTTER_MM


def _bands(kinds: Sequence[_Kind]) -> list[list[_Kind]]:
    """Types in their order, side by side where one row holds them."""
    bands: list[list[_Kind]] = []
    used = COLUMNS
    for kind in kinds:
        needed = len(kind.shown) * kind.span
        if used + needed > COLUMNS:
            bands.append([])
            used = 0
        bands[-1].append(kind)
        used += needed
    return bands


def _column_x(column: int) -> float:
    return MARGIN_MM + column * (PLATE_MM + GUTTER_MM)


def _demand(picture: Picture, span: int, density: float) -> contact_scale.Demand | None:
    """What limits this picture's scale: the plate, and its own pixels, of which the sheet never asks for more."""
    if picture.size_mm is None:
        return None
    w, h = picture.size_mm
    fits = min((_width(span) - 2 * PLATE_PAD_MM) / w, (PLATE_MM - 2 * PLATE_PAD_MM) / h)
    return contact_scale.Demand(max(w, h), min(fits, picture.part.px_per_mm / density))


def _label(
    picture: Picture, own_scale: Fraction | None, width: float, measure: Measure
) -> tuple[tuple[str, float, Tone], ...]:
    part = picture.part
    size = "size unknown" if picture.size_mm is None else "{:.1f} x {:.1f} mm".format(*picture.size_mm)
    lines: list[tuple[str, float, Tone]] = [
        (part.name, NAME, "ink"),
        (" · ".join(x for x in (part.view, size) if x), SMALL, "grey"),
        (f"pivot {_place(part.pivot_mm[0])}, {_place(part.pivot_mm[1])} mm", SMALL, "grey"),
        (f"{_number(part.px_per_mm, 3)} px/mm", SMALL, "grey"),
    ]
    if part.replaces:
        lines.append((f"set {part.replaces}", SMALL, "grey"))
    if own_scale is not None:
        lines.append((f"drawn {contact_scale.words(own_scale)}", SMALL, "accent"))
    return tuple((shorten(text, width, letters, measure), letters, tone) for text, letters, tone in lines)


class _Flow:
    """Lets headings and rows run down the pages; a heading never stands without a row below it."""

    def __init__(self, head: Head, sheet: Sheet, measure: Measure) -> None:
        self._head, self._sheet, self._measure = head, sheet, measure
        self._pages: list[Page] = []
        self._y = 0.0
        self._new_page()

    @property
    def _page(self) -> Page:
        return self._pages[-1]

    def add_band(self, character: str, remark: str, band: Sequence[_Kind]) -> None:
        """Types side by side (or one, of several rows) with their headings; `remark` opens the character."""
        for number in range(max(len(k.rows()) for k in band)):
            row = [(k, k.rows()[number]) for k in band if number < len(k.rows())]
            plate = max(k.plate_height(numbers) for k, numbers in row)
            label = max(k.label_height(numbers) for k, numbers in row)
            opening = (CHARACTER_HEAD_MM if remark else 0.0) + TYPE_HEAD_MM if number == 0 else 0.0
            broken = not self._fits(opening + plate + label)
            if broken:
                self._new_page()
            if broken or remark:
                self._character_heading(character, remark or "continued")
            if broken or number == 0:
                self._type_headings(band)
            self._row(row, plate, label)
            remark = ""

    def finish(self) -> list[Page]:
        """The pages, numbered; a page as tall as needed gets its height."""
        if not self._head.parts:
            self._say(MARGIN_MM, self._y + 4, "The library has no parts yet.", NAME, "grey")
            self._y += 4
        if self._sheet.height_mm is None:
            self._page.height = math.ceil(self._y + FOOT_MM - ROW_GAP_MM)
            return self._pages
        for number, page in enumerate(self._pages, 1):
            text = f"{number} / {len(self._pages)}"
            page.words.append(Words(page.width / 2, page.height - 11, text, SMALL, "grey", "centre"))
        return self._pages

    def _fits(self, height: float) -> bool:
        return self._sheet.height_mm is None or self._y + height <= self._sheet.height_mm - FOOT_MM

    def _new_page(self) -> None:
        self._pages.append(Page(A4_MM[0], self._sheet.height_mm or 0.0))
        right = A4_MM[0] - MARGIN_MM
        if len(self._pages) == 1:
            self._title(right)
            return
        self._say(MARGIN_MM, 14.5, self._head.title, SMALL, "grey", width=right - MARGIN_MM)
        self._page.rules.append(Box(MARGIN_MM, 17.0, right - MARGIN_MM, 0))
        self._y = 23.0

    def _title(self, right: float) -> None:
        head, page = self._head, self._page
        self._say(MARGIN_MM, 26.0, head.title, TITLE, "ink", width=128.0)
        self._say(MARGIN_MM, 33.5, "CONTACT SHEET", CAPS, "grey", spaced=True)
        facts = " · ".join(x for x in (_count(head.parts, "part"), head.date) if x)
        self._say(right, 26.0, facts, NAME, "ink", "right", width=42.0)
        self._say(right, 33.5, "pivot", SMALL, "grey", "right")
        page.marks.append((right - self._measure("pivot", SMALL) - 2.4, 33.5 - SMALL * 0.3))
        page.rules.append(Box(MARGIN_MM, 37.5, right - MARGIN_MM, 0))
        self._y = 44.0

    def _character_heading(self, name: str, remark: str) -> None:
        self._say(MARGIN_MM, self._y + 7.0, name or "no character", CHARACTER, "ink", width=130.0)
        self._say(A4_MM[0] - MARGIN_MM, self._y + 7.0, remark, SMALL, "grey", "right")
        self._y += CHARACTER_HEAD_MM

    def _type_headings(self, band: Sequence[_Kind]) -> None:
        """The type's name above its first plate, and under it the scale that its parts share."""
        column = 0
        for kind in band:
            x, width = _column_x(column), _width(kind.columns)
            self._say(x, self._y + 2.0, (kind.name or "no type").upper(), CAPS, "ink", width=width, spaced=True)
            if kind.uses_scale:
                self._scale(kind.scale, x, self._y + 5.9)
            column += kind.columns
        self._y += TYPE_HEAD_MM

    def _scale(self, scale: Fraction, x: float, baseline: float) -> None:
        length_mm = contact_scale.bar_mm(scale, LONGEST_BAR_MM)
        drawn = length_mm * float(scale)
        text = f"{_number(length_mm, 2)} mm · {contact_scale.words(scale)}"
        self._page.bars.append(Bar(x, baseline - SMALL * 0.36, drawn))
        self._say(x + drawn + 1.8, baseline, text, SMALL, "grey")

    def _row(self, kinds: Sequence[tuple[_Kind, range]], plate_height: float, label_height: float) -> None:
        column = 0
        for kind, numbers in kinds:
            for n in numbers:
                plate = Box(_column_x(column), self._y, _width(kind.span), plate_height)
                self._page.cells.append(_cell(*kind.shown[n], kind.labels[n], plate, plate_height + label_height))
                column += kind.span
        self._y += plate_height + label_height + ROW_GAP_MM

    def _say(
        self,
        x: float,
        baseline: float,
        text: str,
        size: float,
        tone: Tone,
        anchor: Anchor = "left",
        *,
        width: float | None = None,
        spaced: bool = False,
    ) -> None:
        if width is not None:
            # Spaced capitals are about a seventh of their size wider, each.
            text = shorten(text, width, size, lambda t, s: self._measure(t, s) + (len(t) * s * 0.14 if spaced else 0))
        self._page.words.append(Words(x, baseline, text, size, tone, anchor, spaced))


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _cell(
    picture: Picture, scale: Fraction | None, label: tuple[tuple[str, float, Tone], ...], plate: Box, height: float
) -> Cell:
    drawn, pivot = None, None
    if picture.size_mm is not None and scale is not None:
        w, h = (length * float(scale) for length in picture.size_mm)
        drawn = Box(plate.x + (plate.w - w) / 2, plate.y + (plate.h - h) / 2, w, h)
        at = (drawn.x + picture.part.pivot_mm[0] * float(scale), drawn.y + picture.part.pivot_mm[1] * float(scale))
        pivot = at if _inside(plate, at) else None
    top = plate.y + plate.h + 1.2
    words = tuple(
        Words(plate.x, top + LINE_MM * (n + 0.75), text, size, tone) for n, (text, size, tone) in enumerate(label)
    )
    return Cell(
        picture.part, Box(plate.x, plate.y, plate.w, height), plate, drawn, pivot, scale, words, picture.trouble
    )


def _inside(box: Box, at: tuple[float, float]) -> bool:
    return box.x <= at[0] <= box.x + box.w and box.y <= at[1] <= box.y + box.h
