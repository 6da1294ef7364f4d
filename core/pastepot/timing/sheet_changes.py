"""What was changed in an exposure sheet: exposures held longer or shorter, dropped, inserted, replaced."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from pastepot.errors import PastepotError, Problem
from pastepot.timing.sheet import Cell, Column, Sheet
from pastepot.timing.sheet_table import Reading

What = Literal["lengthened", "shortened", "dropped", "inserted", "replaced", "marked", "unmarked"]


@dataclass(frozen=True)
class Change:
    """One change in one column. before: the cell as it was, None if it is new; after: as it is, None if it is gone."""

    column: str
    what: What
    before: Cell | None
    after: Cell | None

    def text(self) -> str:
        """The change in words."""
        cell = self.before or self.after
        assert cell is not None
        which = f"{self.column}, frame {cell.start}: {f'“{cell.label}”' if cell.label else 'nothing shown'}"
        if self.what in ("lengthened", "shortened") and self.before and self.after:
            return f"{which} is held {_frames(self.after)} instead of {_frames(self.before)}."
        if self.what == "replaced" and self.after:
            return f"{which} becomes {f'“{self.after.label}”' if self.after.label else 'nothing'}."
        if self.what in ("marked", "unmarked"):
            return f"{which} is {'now' if self.what == 'marked' else 'no longer'} an extreme."
        return f"{which}, {_frames(cell)}, is {'new' if self.what == 'inserted' else 'dropped'}."


def changes(before: Sheet, edited: Reading, choices: Mapping[str, Collection[str]] | None = None) -> tuple[Change, ...]:
    """What an edited table changes in a sheet; columns that it leaves out stay as they are.

    choices: for the columns of replacement sets, the parts that may stand in them (left out: those already there).
    PastepotError, with every problem found, if it names poses or parts that there are not, or is of another scene.
    """
    problems = list(_other_scene(before, edited))
    found: list[Change] = []
    for column in edited.sheet.columns:
        try:
            old = before.column(column.name)
        except KeyError:
            near = difflib.get_close_matches(column.name, [c.name for c in before.columns], n=1)
            fix = f"Did you mean '{near[0]}'?" if near else "Take it out."
            problems.append(Problem(f"There is no column '{column.name}'.", fix, edited.file, part=column.name))
            continue
        if column.kind != "dialogue":
            known = (choices or {}).get(column.name) or {cell.label for cell in old.cells}
            problems += _unknown_labels(column, known, edited)
        found += _column_changes(old, column)
    if problems:
        raise PastepotError(*problems)
    return tuple(found)


def _other_scene(before: Sheet, edited: Reading) -> Iterator[Problem]:
    sheet = edited.sheet
    if sheet.fps != before.fps:
        what = f"The table is at {sheet.fps} frames a second, the film at {before.fps}."
        yield Problem(what, "Write the table again from this film.", edited.file)
    if sheet.first != before.first:
        what = f"The table begins at frame {sheet.first}, the film at {before.first}."
        yield Problem(what, "Let the table begin where the film does.", edited.file)


def _unknown_labels(column: Column, known: Collection[str], edited: Reading) -> Iterator[Problem]:
    for cell in column.cells:
        if cell.label and cell.label not in known:
            kind = "part" if column.kind == "set" else "pose"
            near = difflib.get_close_matches(cell.label, known, n=1)
            fix = f"Did you mean '{near[0]}'?" if near else f"Write a {kind} that the column has."
            what = f"Frame {cell.start} shows '{cell.label}', and there is no such {kind} in the column."
            yield Problem(what, fix, edited.file, edited.rows.get(cell.start, 0), column.name)


def _column_changes(before: Column, after: Column) -> Iterator[Change]:
    if before.cells == after.cells:
        return
    old, new = before.cells, after.cells
    matcher = difflib.SequenceMatcher(None, [c.label for c in old], [c.label for c in new], autojunk=False)
    for how, a, b, c, d in matcher.get_opcodes():
        paired = min(b - a, d - c)
        for was, now in zip(old[a : a + paired], new[c : c + paired], strict=True):
            if how == "replace":
                yield Change(before.name, "replaced", was, now)
            yield from _held_otherwise(before.name, was, now)
        for gone in old[a + paired : b]:
            yield Change(before.name, "dropped", gone, None)
        for added in new[c + paired : d]:
            yield Change(before.name, "inserted", None, added)


def _held_otherwise(column: str, was: Cell, now: Cell) -> Iterator[Change]:
    if was.frames != now.frames:
        yield Change(column, "lengthened" if now.frames > was.frames else "shortened", was, now)
    if was.extreme != now.extreme:
        yield Change(column, "marked" if now.extreme else "unmarked", was, now)


def _frames(cell: Cell) -> str:
    return f"{cell.frames} frame" + ("" if cell.frames == 1 else "s")
