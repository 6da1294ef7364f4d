"""Exposure sheets as JSON, for other programs: exposure-sheet.schema.json says what such a file holds."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from pastepot import schema
from pastepot.errors import Misuse, PastepotError, Problem, raise_if_any
from pastepot.naming import printable
from pastepot.output import output_problems, replacing
from pastepot.schema import versions, words
from pastepot.timing import sheet as sheets
from pastepot.timing.sheet import Cell, Column, Sheet
from pastepot.tomlfile import KeyPath

KIND: versions.Kind = "exposure-sheet"


@dataclass(frozen=True)
class _Source:
    """A JSON file as problems speak of it: values have a path in it, and no line."""

    name: str

    def row(self, path: KeyPath) -> int:
        return 0


def values(sheet: Sheet) -> dict[str, Any]:
    """The sheet as plain values that keep to the schema; what is at its default is left out."""
    return {
        "schema": versions.CURRENT[KIND],
        "title": sheet.title,
        "fps": sheet.fps.numerator if sheet.fps.denominator == 1 else str(sheet.fps),
        "first": sheet.first,
        "frames": sheet.frames,
        "columns": [_column_values(column) for column in sheet.columns],
    }


def _column_values(column: Column) -> dict[str, Any]:
    made: dict[str, Any] = {"name": column.name, "kind": column.kind}
    if column.character:
        made["character"] = column.character
    made["cells"] = [_cell_values(cell) for cell in column.cells]
    return made


def _cell_values(cell: Cell) -> dict[str, Any]:
    made: dict[str, Any] = {"start": cell.start, "frames": cell.frames}
    if cell.label:
        made["label"] = cell.label
    if cell.extreme:
        made["extreme"] = True
    return made


def from_values(given: object, file: str = "") -> Sheet:
    """The sheet that plain values mean. PastepotError, with every problem found, if they mean none."""
    if not isinstance(given, dict):
        raise PastepotError(Problem("The file holds no exposure sheet.", "Give one JSON object.", file))
    versions.upgrade(given, KIND, file)
    raise_if_any(_schema_problems(given, file))
    columns = tuple(
        Column(c["name"], c["kind"], tuple(_cell(cell) for cell in c["cells"]), c.get("character", ""))
        for c in given["columns"]
    )
    made = Sheet(given["title"], Fraction(given["fps"]), int(given["first"]), int(given["frames"]), columns)
    return sheets.checked(made, file)


def _cell(given: Mapping[str, Any]) -> Cell:
    return Cell(int(given["start"]), int(given["frames"]), given.get("label", ""), given.get("extreme", False))


def _schema_problems(given: dict[str, Any], file: str) -> Iterator[Problem]:
    top, source = schema.schema(KIND), _Source(file)
    for error in schema.validator(KIND).iter_errors(given):
        if error.validator == "additionalProperties":
            table: Any = error.instance
            yield from _unknown_fields(tuple(error.absolute_path), table, given, file)
            continue
        for path, problem in words.problems(error, top, given, source):
            where, field = _place(path, given)
            yield replace(problem, part=where, field=field)


def _unknown_fields(path: KeyPath, table: Mapping[str, Any], given: Mapping[str, Any], file: str) -> Iterator[Problem]:
    known = list(words.along(schema.schema(KIND), path)[-1]["properties"])
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            fix = f"Did you mean '{near[0]}'?" if near else f"Take it out, or use one of: {', '.join(known)}."
            where, field = _place((*path, key), given)
            yield Problem(f"'{printable(key)}' is not a field here.", fix, file, 0, where, field)


def _place(path: KeyPath, given: Mapping[str, Any]) -> tuple[str, str]:
    """A value's place in words: the column, and the cell and field in it."""
    if len(path) < 2 or path[0] != "columns":
        return "", ".".join(str(step) for step in path)
    column = given["columns"][path[1]]
    name = column.get("name") if isinstance(column, dict) else None
    where = printable(name) if isinstance(name, str) and name else f"column number {int(path[1]) + 1}"
    field = [f"cell number {step + 1}" if isinstance(step, int) else str(step) for step in path[2:]]
    return where, " · ".join(field[1:] if path[2:3] == ("cells",) and len(field) > 1 else field)


def dumps(sheet: Sheet) -> str:
    """The sheet as JSON text, a line for each cell: a change shows as a change of a few lines."""
    made = values(sheets.checked(sheet))
    columns = made.pop("columns")
    head = json.dumps(made, ensure_ascii=False, indent=1)[:-2]
    body = ",\n".join(_column_text(column) for column in columns)
    return f'{head},\n "columns": [{body and chr(10)}{body}{body and chr(10) + " "}]\n}}\n'


def _column_text(column: dict[str, Any]) -> str:
    cells = ",\n".join("    " + json.dumps(cell, ensure_ascii=False) for cell in column.pop("cells"))
    return f'  {json.dumps(column, ensure_ascii=False)[:-1]}, "cells": [\n{cells}\n  ]}}'


def loads(text: str, file: str = "") -> Sheet:
    """The sheet in a JSON text; file: what problems call it. PastepotError with every problem found."""
    try:
        given = json.loads(text)
    except RecursionError:
        raise PastepotError(Problem("The file is nested too deeply.", "Take the nested brackets out.", file)) from None
    except json.JSONDecodeError as error:
        what = f"The file is not JSON: {error.msg[:1].lower()}{error.msg[1:]}, at letter {error.colno} of the line."
        raise PastepotError(Problem(what, "Correct that line.", file, error.lineno)) from None
    except ValueError:
        fix = "Correct that number."
        raise PastepotError(Problem("The file holds a number of thousands of digits.", fix, file)) from None
    return from_values(given, file)


def load(path: Path) -> Sheet:
    """The sheet in a .json file. Misuse if it cannot be read, PastepotError with every problem found in it."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise Misuse(Problem(f"{path} cannot be read ({error.strerror or error}).", "Correct the path.")) from None
    except UnicodeDecodeError:
        raise PastepotError(Problem("The file is not UTF-8 text.", "Save it as UTF-8.", path.name)) from None
    return loads(text, path.name)


def save(sheet: Sheet, path: Path, overwrite: bool = False) -> None:
    """Write a .json file. PastepotError if the place is none or taken, or the sheet does not hold together."""
    text = dumps(sheet)
    raise_if_any(output_problems(path, overwrite))
    with replacing(path, overwrite=overwrite) as draft:
        draft.write_bytes(text.encode())
