"""Exposure sheets and charts as files: which format a name asks for, and how it is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pastepot.errors import Misuse, Problem, raise_if_any
from pastepot.film import Shot
from pastepot.output import output_problems, replacing
from pastepot.timing import sheet_json, sheet_table
from pastepot.timing.chart_motion import Motion
from pastepot.timing.sheet import Sheet
from pastepot.timing.sheet_layout import Paper

SHEETS = (".csv", ".json", ".pdf", ".otio")
CHARTS = (".svg", ".png", ".pdf")


@dataclass(frozen=True)
class Wish:
    """What the person asked for. frames: a folder of rendered frames that an .otio file is to name."""

    paper: Paper = "A4"
    font: Path | None = None
    frames: Path | None = None
    overwrite: bool = False


def suffix(path: Path, known: Sequence[str], what: str) -> str:
    """The format that the file's name asks for; Misuse if it is none of those known."""
    found = path.suffix.lower()
    if found not in known:
        fix = f"End its name with {', '.join(known[:-1])} or {known[-1]}."
        raise Misuse(Problem(f"{what} can't be written as '{path.name}'.", fix))
    return found


def load(path: Path) -> Sheet:
    """The sheet in a .json or .csv file; see sheet_json.load and sheet_table.read."""
    return sheet_table.read(path).sheet if path.suffix.lower() == ".csv" else sheet_json.load(path)


def write(sheet: Sheet, path: Path, shots: Sequence[Shot], wish: Wish) -> list[Problem]:
    """Write the sheet as its file's name says; returns warnings. Raises Misuse, MissingExtra, PastepotError."""
    kind = suffix(path, SHEETS, "An exposure sheet")
    raise_if_any(output_problems(path, wish.overwrite))
    if kind == ".csv":
        sheet_table.write(sheet, path, wish.overwrite)
    elif kind == ".json":
        sheet_json.save(sheet, path, wish.overwrite)
    elif kind == ".otio":
        from pastepot.timing import sheet_otio

        shown = sheet_otio.pictures(wish.frames, sheet.fps) if wish.frames else None
        sheet_otio.write(sheet, path, shots, shown, wish.overwrite)
    else:
        return _print_sheet(sheet, path, wish)
    return []


def _print_sheet(sheet: Sheet, path: Path, wish: Wish) -> list[Problem]:
    from pastepot.timing.sheet_layout import pages
    from pastepot.timing.sheet_pdf import Printer

    printer = Printer(sheet.title, wish.font)
    with replacing(path, overwrite=wish.overwrite) as draft:
        for page in pages(sheet, wish.paper, printer.measure):
            printer.add(page)
        printer.save(draft)
    return _lacking(printer.lacking)


def write_chart(motion: Motion, sheet: Sheet, path: Path, wish: Wish) -> list[Problem]:
    """Write the charts of one piece as the file's name says; returns warnings. Raises as `write` does."""
    from pastepot.timing import chart, chart_png, chart_svg
    from pastepot.timing.sheet_pdf import Printer

    kind = suffix(path, CHARTS, "A chart")
    raise_if_any(output_problems(path, wish.overwrite))
    drawing = chart.draw(motion, sheet)
    title = f"{sheet.title}: {motion.column.name}"
    lacking: set[str] = set()
    with replacing(path, overwrite=wish.overwrite) as draft:
        if kind == ".svg":
            draft.write_bytes(chart_svg.to_svg(drawing, title).encode())
        elif kind == ".png":
            letters = chart_png.letters(wish.font)
            dots = chart_png.DENSITY * 25.4
            chart_png.paint(drawing, letters).save(draft, "PNG", dpi=(dots, dots))
            lacking = letters.lacking
        else:
            printer = Printer(title, wish.font)
            printer.add(drawing)
            printer.save(draft)
            lacking = printer.lacking
    return _lacking(lacking)


def _lacking(letters: set[str]) -> list[Problem]:
    if not letters:
        return []
    what = f"The typeface lacks: {' '.join(sorted(letters)[:20])}"
    return [Problem(what, "Name a font that has them with --font.", severity="warning")]
