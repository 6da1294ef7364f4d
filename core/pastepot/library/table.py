"""The parts as a table for spreadsheets: CSV out, and changes and new parts in again.

Written after RFC 4180, with a byte-order mark so that spreadsheets read it as UTF-8. A text that a spreadsheet would
take for a formula gets an apostrophe before it on the way out and loses it on the way in.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import isclose
from pathlib import Path
from typing import Any

from pastepot.errors import Misuse, PastepotError, Problem
from pastepot.library import cells, manifest
from pastepot.library.cells import CellError
from pastepot.library.manifest import FIELDS
from pastepot.library.parts import Library, MouthShape, Part
from pastepot.output import output_problems, replacing

_MOUTH = ("lips", "open", "round", "tongue")
_REQUIRED = ("character", "type", "image", "px_per_mm", "pivot_x_mm", "pivot_y_mm")

READERS: Mapping[str, cells.Reader] = {
    "name": cells.text,
    "character": cells.text,
    "type": cells.text,
    "view": cells.text,
    "image": cells.text,
    "px_per_mm": cells.number,
    "pivot_x_mm": cells.number,
    "pivot_y_mm": cells.number,
    "parent": cells.text,
    "joint_x_mm": cells.number,
    "joint_y_mm": cells.number,
    "layer": cells.whole_number,
    "replaces": cells.text,
    "mouth_lips": cells.text,
    "mouth_open": cells.number,
    "mouth_round": cells.number,
    "mouth_tongue": cells.truth,
}
"""The columns in order, and how the cells of each are read."""

COLUMNS = tuple(READERS)

Flat = dict[str, Any]
"""A part as one row: column -> value, None for an empty cell."""


@dataclass(frozen=True)
class Changes:
    """What a table changes: fields of parts that are there, and parts that are new. Nothing is ever taken out."""

    fields: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    added: Sequence[Part] = ()


def write(library: Library, path: Path, overwrite: bool) -> None:
    """Write all parts to a CSV file. Misuse if the path is no place for one or exists and may not be replaced."""
    problems = output_problems(path, overwrite)
    if problems:
        raise Misuse(*problems)
    try:
        with replacing(path, overwrite=overwrite) as draft:
            draft.write_bytes(to_csv(library).encode("utf-8-sig"))
    except OSError as error:
        raise PastepotError(
            Problem(f"{path} cannot be written ({error.strerror or error}).", "Look at the folder and the disc.")
        ) from None


def to_csv(library: Library) -> str:
    """All parts as CSV text, one row each."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for part in library:
        writer.writerow(cells.written(value) for value in _flat(part).values())
    return out.getvalue()


def read(folder: Path, path: Path) -> Changes:
    """What a CSV file changes in a film's parts. PastepotError, with every problem found, if it does not make sense.

    Columns that are left out stay as they are; an empty cell empties an optional field.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise Misuse(Problem(f"{path} cannot be read ({error.strerror or error}).", "Correct the path.")) from None
    entries = manifest.read(folder).entries
    parts: dict[str, Part] = {}
    for entry in entries:
        parts.setdefault(entry.part.name, entry.part)
    return from_csv(decoded(data, path.name), path.name, parts)


def from_csv(text: str, file: str, parts: Mapping[str, Part]) -> Changes:
    """The same for CSV text; file: what problems call it, parts: those that are there, by name."""
    problems: list[Problem] = []
    fields: dict[str, dict[str, Any]] = {}
    added: dict[str, Part] = {}
    first_row: dict[str, int] = {}
    for row, given in _rows(text, file, problems):
        name = given["name"]
        if name in first_row:
            what = f"The part is in row {first_row[name]} already."
            problems.append(Problem(what, "Take one of the rows out.", file, row, name))
            continue
        first_row[name] = row
        old = parts.get(name)
        part = _part({**_flat(old), **_really_changed(given, old)} if old else given, file, row, problems)
        if part is None:
            continue
        if old is None:
            added[name] = part
        elif changed := {f: getattr(part, f) for f in FIELDS if getattr(part, f) != getattr(old, f)}:
            fields[name] = changed
    if problems:
        raise PastepotError(*problems)
    return Changes(fields, tuple(added.values()))


def apply(folder: Path, changes: Changes, dry_run: bool = False) -> None:
    """Make the changes in parts.toml in one step; comments, order and everything else stay. See `manifest.update`."""
    manifest.update(folder, changes.fields, changes.added, dry_run=dry_run)


def decoded(data: bytes, file: str) -> str:
    """A CSV file's text. PastepotError if it is not UTF-8."""
    fix = "Save it from the spreadsheet as CSV with the encoding UTF-8."
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise PastepotError(Problem("The table is UTF-16 text.", fix, file))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        raise PastepotError(Problem("The table is not UTF-8 text.", fix, file, row)) from None


def lines_of(text: str) -> tuple[list[str], int]:
    """The table's lines, and how many before them are left out: a spreadsheet may put 'sep=;' into the first."""
    lines = list(io.StringIO(text, newline=""))
    skipped = 1 if lines and re.fullmatch(r"\"?sep=.\"?\s*", lines[0]) else 0
    return lines[skipped:], skipped


def _rows(text: str, file: str, problems: list[Problem]) -> Iterator[tuple[int, Flat]]:
    """Row number and values of each row that can be read; the problems of the others are added to `problems`."""
    lines, skipped = lines_of(text)
    reader = csv.reader(lines, delimiter=_delimiter("".join(lines[:1])), strict=True)
    columns: list[str] = []
    try:
        for record in reader:
            row = reader.line_num + skipped
            if not columns:
                columns = [c.strip().lower() for c in record]
                faults = list(_header_problems(columns, file, row))
                problems += faults
                if faults:
                    return
            elif any(cell.strip() for cell in record):
                given = _row(columns, record, file, row, problems)
                if given is not None:
                    yield row, given
    except csv.Error as error:
        fix = "Save the table as CSV again."
        problems.append(Problem(f"The table is not CSV: {error}.", fix, file, reader.line_num + skipped))
    if not columns and not problems:
        problems.append(Problem("The table is empty.", "Begin with: pastepot parts DIR --csv OUT.csv", file))


def _delimiter(header: str) -> str:
    """The delimiter under which the first line names most of our columns; numbers and texts have no say in it."""
    return max(",;\t", key=lambda d: sum(c.strip(' "').lower() in READERS for c in header.strip().split(d)))


def _header_problems(columns: Sequence[str], file: str, row: int) -> Iterator[Problem]:
    if "name" not in columns:
        fix = "Keep the first row as `pastepot parts DIR --csv` writes it, cells separated by , or ;."
        yield Problem("The first row has no column 'name'.", fix, file, row)
        return
    for i, column in enumerate(columns):
        if column in columns[:i]:
            yield Problem(f"There are two columns '{column}'.", "Take one out.", file, row, field=column)
        elif column not in READERS:
            near = difflib.get_close_matches(column, COLUMNS, n=1)
            fix = f"Did you mean '{near[0]}'?" if near else f"Take it out. Columns are: {', '.join(COLUMNS)}."
            yield Problem(f"The column '{column}' is not known.", fix, file, row, field=column)


def _row(columns: Sequence[str], record: Sequence[str], file: str, row: int, problems: list[Problem]) -> Flat | None:
    """One row's values; None, with its problems told, if a cell makes no sense. Cells cut off are not given."""
    name = next((cell.strip() for column, cell in zip(columns, record, strict=False) if column == "name"), "")
    found: list[Problem] = []
    given: Flat = {}
    if any(cell.strip() for cell in record[len(columns) :]):
        fix = 'Put texts with the separator in quotes, and write decimals with a point ("1.5").'
        found.append(Problem("The row has more cells than the first row.", fix, file, row, name))
    if not name:
        found.append(Problem("The row has no name.", "Give the part's name.", file, row, field="name"))
    for column, cell in zip(columns, record, strict=False):
        try:
            given[column] = READERS[column](cell)
        except CellError as fault:
            found.append(Problem(fault.what, fault.fix, file, row, name, column))
    problems += found
    return None if found else given


def _really_changed(given: Flat, old: Part) -> Flat:
    """A row without the numbers that a spreadsheet only rounded in their last digits."""
    before = _flat(old)

    def rounded(column: str, value: Any) -> bool:
        was = before[column]
        return isinstance(value, float) and isinstance(was, float) and isclose(value, was, rel_tol=1e-9)

    return {column: value for column, value in given.items() if not rounded(column, value)}


def _flat(part: Part) -> Flat:
    flat: Flat = {column: getattr(part, column, None) for column in COLUMNS}
    flat["pivot_x_mm"], flat["pivot_y_mm"] = part.pivot_mm
    flat["joint_x_mm"], flat["joint_y_mm"] = part.joint_mm or (None, None)
    for name in _MOUTH if part.mouth else ():
        flat[f"mouth_{name}"] = getattr(part.mouth, name)
    return flat


def _part(flat: Flat, file: str, row: int, problems: list[Problem]) -> Part | None:
    """The part of one row; None, with its problems told, if something is missing."""
    name = flat["name"]
    missing = [c for c in _REQUIRED if flat.get(c) is None]
    joint = (flat.get("joint_x_mm"), flat.get("joint_y_mm"))
    if joint != (None, None) and None in joint:
        missing.append("joint_x_mm" if joint[0] is None else "joint_y_mm")
    for column in missing:
        problems.append(Problem(f"'{column}' is empty.", "Fill the cell.", file, row, name, column))
    if missing:
        return None
    mouth = {m: flat[f"mouth_{m}"] for m in _MOUTH if flat.get(f"mouth_{m}") is not None}
    return Part(
        name=name,
        character=flat["character"],
        type=flat["type"],
        image=flat["image"],
        px_per_mm=flat["px_per_mm"],
        pivot_mm=(flat["pivot_x_mm"], flat["pivot_y_mm"]),
        view=flat.get("view") or "",
        parent=flat.get("parent") or "",
        joint_mm=None if joint[0] is None or joint[1] is None else (joint[0], joint[1]),
        layer=flat.get("layer") or 0,
        replaces=flat.get("replaces") or "",
        mouth=MouthShape(**mouth) if mouth else None,
    )
