"""The exposure sheet as a value: what every part shows on every frame, and for how long."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pastepot.errors import Problem, raise_if_any

Kind = Literal["dialogue", "part", "character", "set", "camera"]

KINDS: tuple[Kind, ...] = ("dialogue", "part", "character", "set", "camera")
"""dialogue: what is said · part: a piece's poses · character: those of a whole figure · set: which of the parts that
stand in for each other is shown · camera: its poses."""

MOST_FRAMES = 1_048_574
"""The last frame that Blender's timeline can count."""


@dataclass(frozen=True)
class Cell:
    """One exposure of one column: frames `start` to `last` show one thing.

    label:   a pose's number, a replacement part's name, a line of dialogue; '' where nothing is shown or said
    extreme: it is a pose that the animator keyed
    """

    start: int
    frames: int
    label: str
    extreme: bool = False

    @property
    def last(self) -> int:
        """The last frame that shows it."""
        return self.start + self.frames - 1


@dataclass(frozen=True)
class Column:
    """One column: its cells follow each other without a gap. `character`: whose part it is, '' for none."""

    name: str
    kind: Kind
    cells: tuple[Cell, ...]
    character: str = ""

    def at(self, frame: int) -> Cell:
        """The cell that covers a frame; KeyError if none does."""
        for cell in self.cells:
            if cell.start <= frame <= cell.last:
                return cell
        raise KeyError(frame)


@dataclass(frozen=True)
class Sheet:
    """An exposure sheet: frames `first` to `last` down, columns across in the order in which they are printed."""

    title: str
    fps: Fraction
    first: int
    frames: int
    columns: tuple[Column, ...]

    @property
    def last(self) -> int:
        """The last frame."""
        return self.first + self.frames - 1

    def column(self, name: str) -> Column:
        """The column of that name; KeyError if there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    def exposures(self) -> list[int]:
        """The frames on which the picture changes: those on which a cell begins, dialogue left out."""
        pictures = [c for c in self.columns if c.kind != "dialogue"]
        return sorted({self.first, *(cell.start for column in pictures for cell in column.cells)})


def checked(sheet: Sheet, file: str = "") -> Sheet:
    """The sheet itself; PastepotError, with everything found, if it does not hold together."""
    raise_if_any(problems(sheet, file))
    return sheet


def problems(sheet: Sheet, file: str = "") -> Iterator[Problem]:
    """Everything in which a sheet does not hold together: gaps, overlaps, names that are there twice."""
    if fault := text_fault(sheet.title):
        yield Problem(f"The title {fault}.", "Give the sheet's title, one line.", file, field="title")
    if not 1 <= sheet.fps <= 240:
        yield Problem(f"The rate is {sheet.fps}.", "Give frames a second from 1 to 240.", file, field="fps")
    if sheet.first < 0 or sheet.frames < 1 or sheet.last > MOST_FRAMES:
        what = f"The frames {sheet.first} to {sheet.last} are no range."
        yield Problem(what, f"Give one or more frames between 0 and {MOST_FRAMES}.", file, field="frames")
    names = [column.name for column in sheet.columns]
    for number, column in enumerate(sheet.columns):
        if fault := text_fault(column.name):
            what = f"The name of column {number + 1} {fault}."
            yield Problem(what, "Give every column a name, one line.", file, 0, column.name, "name")
        if column.name in names[:number]:
            what = f"There are two columns '{column.name}'."
            yield Problem(what, "Give each a name of its own.", file, 0, column.name, "name")
        if column.character and (fault := text_fault(column.character)):
            yield Problem(f"The character {fault}.", "Give its name, one line.", file, 0, column.name, "character")
        yield from _cell_problems(sheet, column, file)


def _cell_problems(sheet: Sheet, column: Column, file: str) -> Iterator[Problem]:
    expected = sheet.first
    for cell in column.cells:
        if cell.frames < 1:
            what = f"The cell at frame {cell.start} lasts {cell.frames} frames."
            yield Problem(what, "Give a length of 1 or more.", file, 0, column.name, "frames")
        if cell.start != expected:
            way = "overlaps the cell before it" if cell.start < expected else "leaves a gap before it"
            what = f"The cell at frame {cell.start} {way}."
            fix = f"Let it start at {expected}; where nothing is shown, put a cell without a label."
            yield Problem(what, fix, file, 0, column.name, "start")
        if cell.label and (fault := text_fault(cell.label)):
            what = f"The label of the cell at frame {cell.start} {fault}."
            yield Problem(what, "Write it on one line.", file, 0, column.name, "label")
        if cell.extreme and not cell.label:
            what = f"The cell at frame {cell.start} shows nothing and is marked as an extreme."
            yield Problem(what, "Give it a label, or take the mark off.", file, 0, column.name, "extreme")
        expected = cell.last + 1
    if expected != sheet.last + 1:
        what = f"The column ends at frame {expected - 1}, the sheet at {sheet.last}."
        yield Problem(what, "Let the last cell end with the sheet.", file, 0, column.name, "frames")


def text_fault(text: str) -> str:
    """What is wrong with a text of the sheet, as the end of a sentence; '' if nothing is."""
    if not text:
        return "is empty"
    if text != text.strip():
        return "begins or ends with a space"
    if hidden := [c for c in text if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")]:
        return f"holds a character that cannot be seen (U+{ord(hidden[0]):04X})"
    return ""


def one_line(text: str) -> str:
    """Any text as one that the sheet takes: runs of white space become a space, hidden characters are left out."""
    kept = (" " if c.isspace() else c for c in text if c.isspace() or not text_fault(f".{c}."))
    return " ".join("".join(kept).split())


def cells_from(starts: Sequence[int], labels: Sequence[str], last: int, extremes: Sequence[bool]) -> tuple[Cell, ...]:
    """Cells that begin at `starts`, ascending, and follow each other up to frame `last`."""
    ends = [*starts[1:], last + 1]
    return tuple(
        Cell(start, end - start, label, extreme and bool(label))
        for start, end, label, extreme in zip(starts, ends, labels, extremes, strict=True)
    )
