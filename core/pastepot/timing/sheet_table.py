"""Exposure sheets as tables for spreadsheets: frames down, columns across, a held frame an empty cell.

A cell holds its label; `*` after it marks an extreme, `x` alone says that nothing is shown (common practice on paper,
no source). A `\\` takes the meaning from the character after it. What spreadsheets do to texts is `library.cells`'
business.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import cast

from pastepot.errors import Misuse, Problem, raise_if_any
from pastepot.library import cells
from pastepot.library.cells import CellError
from pastepot.library.table import decoded, lines_of
from pastepot.naming import printable
from pastepot.output import output_problems, replacing
from pastepot.timing.sheet import KINDS, Cell, Column, Kind, Sheet, cells_from, checked, text_fault

TITLE, RATE, KIND, CHARACTER, FRAME = "exposure sheet", "rate", "kind", "character", "frame"
"""What stands first in the heading rows, in their order; the frames follow below the last."""

_RATE = re.compile(r"([1-9][0-9]{0,6}(?:/[1-9][0-9]{0,6})?)\s*fps")
_MARKED = re.compile(r"((?:\\.|[^\\])+?)\*")
_NOTHING = "x"


@dataclass(frozen=True)
class Reading:
    """A table as a sheet, and where in the table it came from. rows: frame -> 1-based row."""

    sheet: Sheet
    rows: Mapping[int, int]
    file: str


def write(sheet: Sheet, path: Path, overwrite: bool = False) -> None:
    """Write a .csv file. PastepotError if the place is none or taken, or the sheet does not hold together."""
    text = to_csv(sheet)
    raise_if_any(output_problems(path, overwrite))
    with replacing(path, overwrite=overwrite) as draft:
        draft.write_bytes(text.encode("utf-8-sig"))  # spreadsheets know UTF-8 by its byte-order mark


def to_csv(sheet: Sheet) -> str:
    """The sheet as CSV text (RFC 4180)."""
    checked(sheet)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([TITLE, cells.written(sheet.title)])
    writer.writerow([RATE, f"{sheet.fps} fps"])  # with its unit, or a spreadsheet makes a date of 25/2
    writer.writerow([KIND, *(column.kind for column in sheet.columns)])
    writer.writerow([CHARACTER, *(cells.written(column.character) for column in sheet.columns)])
    writer.writerow([FRAME, *(cells.written(column.name) for column in sheet.columns)])
    grid = [[""] * len(sheet.columns) for _ in range(sheet.frames)]
    for across, column in enumerate(sheet.columns):
        for cell in column.cells:
            grid[cell.start - sheet.first][across] = cells.written(_cell_text(cell))
    writer.writerows([frame, *row] for frame, row in enumerate(grid, sheet.first))
    return out.getvalue()


def _cell_text(cell: Cell) -> str:
    if not cell.label:
        return _NOTHING
    label = re.sub(r"([\\*])", r"\\\1", cell.label)
    if label.lower() == _NOTHING:
        label = "\\" + label
    return label + "*" * cell.extreme


def _label(text: str) -> tuple[str, bool]:
    """A cell's label and whether it is marked; the undoing of `_cell_text`."""
    if text.lower() == _NOTHING:
        return "", False
    marked = _MARKED.fullmatch(text)
    return re.sub(r"\\(.)", r"\1", marked[1].rstrip(" ") if marked else text), marked is not None


def read(path: Path) -> Reading:
    """The sheet in a .csv file. Misuse if it cannot be read, PastepotError with every problem found in it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise Misuse(Problem(f"{path} cannot be read ({error.strerror or error}).", "Correct the path.")) from None
    return from_csv(decoded(data, path.name), path.name)


def from_csv(text: str, file: str = "") -> Reading:
    """The same for CSV text; file: what problems call it."""
    table = _Table(file)
    lines, skipped = lines_of(text)
    first = lines[0].lstrip('"') if lines else ""
    sign = first[len(TITLE) :].lstrip('"')[:1]
    reader = csv.reader(lines, delimiter=sign if sign in tuple(";\t,") else ",", strict=True)
    try:
        for record in reader:
            table.take(record, reader.line_num + skipped)
    except csv.Error as error:
        table.tell(f"The table is not CSV: {error}.", "Save it as CSV again.", reader.line_num + skipped)
    return table.finished()


class _Table:
    """A table on its way to a sheet, with everything that is wrong with it."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._problems: list[Problem] = []
        self._head: dict[str, tuple[int, list[str]]] = {}
        self._rows: dict[int, int] = {}  # frame -> row
        self._found: list[list[tuple[int, str]]] = []  # for each column, the frames on which cells begin

    def tell(self, what: str, fix: str, row: int, column: str = "") -> None:
        self._problems.append(Problem(what, fix, self._file, row, column))

    def take(self, record: Sequence[str], row: int) -> None:
        """One row of the table, whichever it is."""
        if not any(cell.strip() for cell in record):
            return
        if FRAME in self._head:
            self._take_frame(record, row)
            return
        key = record[0].strip().lower()
        if key not in (TITLE, RATE, KIND, CHARACTER, FRAME):
            fix = f"Above the row '{FRAME}' stand '{TITLE}', '{RATE}', '{KIND}' and '{CHARACTER}'."
            self.tell(f"The row begins with '{printable(record[0])}'.", fix, row)
            return
        texts = [self._text(cell, row, f"column {n}") or "" for n, cell in enumerate(record[1:], 2)]
        while texts and not texts[-1]:
            texts.pop()
        self._head[key] = (row, texts)
        if key == FRAME:
            self._found = [[] for _ in texts]

    def _text(self, cell: str, row: int, column: str) -> str | None:
        try:
            text = cells.text(cell)
        except CellError as fault:
            self.tell(fault.what, fault.fix, row, column)
            return None
        if text and (fault_of := text_fault(text)):
            self.tell(f"The text {fault_of}.", "Write it on one line.", row, column)
            return None
        return text

    def _take_frame(self, record: Sequence[str], row: int) -> None:
        frame = self._frame(record[0], row)
        names = self._head[FRAME][1]
        if any(cell.strip() for cell in record[1 + len(names) :]):
            fix = "Give every column a name in that row, and put texts with the separator in quotes."
            self.tell(f"The row has more cells than the row '{FRAME}'.", fix, row)
        if frame is None:
            return
        for column, name, cell in zip(self._found, names, record[1:], strict=False):
            if text := self._text(cell, row, name):
                column.append((frame, text))

    def _frame(self, cell: str, row: int) -> int | None:
        """The row's frame, if it is the one after the row before."""
        try:
            frame = cells.whole_number(cell)
        except CellError as fault:
            self.tell(fault.what, fault.fix, row, FRAME)
            return None
        last = max(self._rows, default=None)
        if frame is None:
            what = "The row has cells and no frame number."
            fix = "Number it if the sheet is to be longer; else drop as many frames as were put in above."
            self.tell(what, fix, row, FRAME)
            return None
        if last is not None and frame != last + 1:
            fix = "Let every frame have one row, in order."
            self.tell(f"Frame {frame} follows frame {last}.", fix, row, FRAME)
            return None
        self._rows[frame] = row
        return frame

    def finished(self) -> Reading:
        """The sheet. PastepotError with everything found on the way if there is none."""
        fix = "Begin with: pastepot sheet FILE.blend -o OUT.csv"
        for key in (TITLE, RATE, KIND, FRAME):
            if key not in self._head:
                self.tell(f"The table has no row '{key}'.", fix, 0)
        if FRAME in self._head and not self._rows:
            self.tell("The table has no frames.", fix, 0)
        fps = self._rate()
        columns = tuple(self._columns())
        raise_if_any(self._problems)
        title = "".join(self._head[TITLE][1][:1])
        sheet = Sheet(title, fps, min(self._rows), len(self._rows), columns)
        return Reading(checked(sheet, self._file), self._rows, self._file)

    def _rate(self) -> Fraction:
        row, texts = self._head.get(RATE, (0, ["12 fps"]))
        found = _RATE.fullmatch(texts[0]) if texts else None
        if found is None:
            given = printable(texts[0]) if texts else ""
            self.tell(f"The rate is '{given}'.", "Write it like '12 fps' or '24000/1001 fps'.", row)
            return Fraction(12)
        return Fraction(found[1])

    def _columns(self) -> Iterator[Column]:
        row, names = self._head.get(FRAME, (0, []))
        kind_row, kinds = self._head.get(KIND, (0, []))
        _, characters = self._head.get(CHARACTER, (0, []))
        for n, (name, found) in enumerate(zip(names, self._found, strict=True)):
            kind = kinds[n].lower() if n < len(kinds) else ""
            if not name and not kind and not found:
                continue  # an empty column between two
            if not name:
                self.tell(f"Column {n + 2} has no name.", f"Name it in the row '{FRAME}'.", row)
            if kind not in KINDS:
                near = difflib.get_close_matches(kind, KINDS, n=1)
                fix = f"Did you mean '{near[0]}'?" if near else f"Write one of: {', '.join(KINDS)}."
                self.tell(f"Its kind is '{printable(kind)}'.", fix, kind_row, name)
            if not self._rows:
                continue
            first, last = min(self._rows), max(self._rows)
            if not found or found[0][0] != first:
                what = f"Nothing stands in the column's first row, frame {first}."
                self.tell(what, f"Write what is shown there, or '{_NOTHING}' for nothing.", self._rows[first], name)
                continue
            read_as = [_label(text) for _, text in found]
            made = cells_from([f for f, _ in found], [label for label, _ in read_as], last, [e for _, e in read_as])
            yield Column(name, cast(Kind, kind), made, characters[n] if n < len(characters) else "")
