"""Drawings as PDF pages, with fpdf2: lines stay lines and text stays text, so they print sharp and can be searched."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.errors import MissingExtra, Misuse, Problem
from pastepot.library.contact_values import Words
from pastepot.timing.chart_values import INKS, Block, Drawing, Ink, Ring, Shape

if TYPE_CHECKING:
    from fpdf import FPDF

_POINTS = 72 / 25.4
_FAMILY = "sheet"
_NO_DATE = datetime(1980, 1, 1, tzinfo=UTC)  # there has to be one; the clock's would make every file another
_ENCODING = "cp1252"  # PDF's WinAnsiEncoding, with typographic quotes and dots


class Printer:
    """Sets pages into one PDF. `lacking` collects the characters that the typeface has no picture for.

    font: a TrueType or OpenType file for names that PDF's own Helvetica can't set. Raises MissingExtra without fpdf2,
    Misuse if the file is no font.
    """

    def __init__(self, title: str, font: Path | None = None) -> None:
        try:
            from fpdf import FPDF
        except ImportError as error:
            raise MissingExtra("print", "fpdf2", "A printed page") from error
        self.lacking: set[str] = set()
        self._pdf: FPDF = FPDF(unit="mm")
        self._pdf.core_fonts_encoding = _ENCODING
        self._pdf.set_title(title)
        self._pdf.set_creation_date(_NO_DATE)
        self._pdf.set_auto_page_break(False)
        self._pdf.set_margin(0)
        self._family = "Helvetica"
        if font is not None:
            self._add_font(font)
        self._pdf.set_font(self._family)

    def _add_font(self, font: Path) -> None:
        from fontTools.ttLib import TTFont

        try:
            with font.open("rb") as file:  # looked at here first, where it is closed again whatever it is
                TTFont(file, fontNumber=0)
            self._pdf.add_font(_FAMILY, fname=str(font))
        except Exception as error:  # the font library raises errors of many kinds
            fix = "Name a TrueType or OpenType font file."
            raise Misuse(Problem(f"{font} can't be read as a font.", fix)) from error
        self._family = _FAMILY

    def measure(self, text: str, size: float) -> float:
        """Width in mm of a text set at `size` mm."""
        self._pdf.set_font_size(size * _POINTS)
        return float(self._pdf.get_string_width(self._settable(text)))

    def add(self, drawing: Drawing) -> None:
        """One more page."""
        self._pdf.add_page(format=(drawing.width, drawing.height))
        for shape in drawing.shapes:
            self._shape(shape)
        for words in drawing.words:
            self._text(words)

    def save(self, path: Path) -> None:
        """Write the pages."""
        self._pdf.output(str(path))

    def _shape(self, shape: Shape) -> None:
        pdf = self._pdf
        if isinstance(shape, Block):
            pdf.set_fill_color(*INKS[shape.ink])
            pdf.rect(shape.x, shape.y, shape.w, shape.h, style="F")
            return
        pdf.set_draw_color(*INKS[shape.ink])
        pdf.set_line_width(shape.width)
        if isinstance(shape, Ring):
            if shape.fill:
                pdf.set_fill_color(*INKS[shape.fill])
            pdf.circle(shape.x, shape.y, shape.radius, style="DF" if shape.fill else "D")
            return
        points = [(float(x), float(y)) for x, y in shape.points.tolist()]
        if len(points) == 2:
            pdf.line(*points[0], *points[1])
        else:
            pdf.polyline(points)

    def _text(self, words: Words) -> None:
        ink: Ink = "extreme" if words.tone == "accent" else words.tone
        self._pdf.set_text_color(*INKS[ink])
        text = self._settable(words.text)
        width = self.measure(words.text, words.size)
        back = {"left": 0.0, "centre": width / 2, "right": width}[words.anchor]
        self._pdf.text(words.x - back, words.baseline, text)

    def _settable(self, text: str) -> str:
        """The text with a ? for each character that the typeface lacks."""
        if self._family == _FAMILY:
            known = self._pdf.fonts[_FAMILY].cmap  # type: ignore[union-attr]
            missing = {c for c in text if ord(c) not in known}
        else:
            missing = {c for c in text if not _in_helvetica(c)}
        self.lacking |= missing
        return "".join("?" if c in missing else c for c in text)


def _in_helvetica(letter: str) -> bool:
    try:
        return bool(letter.encode(_ENCODING))
    except UnicodeEncodeError:
        return False
