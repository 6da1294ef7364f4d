"""parts.toml: read fast, and written so that comments, order and spacing stay as the person made them."""

from __future__ import annotations

import numbers
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import tomlkit

from pastepot import schema, tomlfile
from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.film import PARTS_TOML
from pastepot.library import rules
from pastepot.library.parts import Library, MouthShape, Part
from pastepot.library.rules import Entry
from pastepot.schema import versions
from pastepot.tomledit import TomlEditor
from pastepot.tomlfile import TomlFile

FIELDS = (
    "name", "character", "type", "view", "image", "px_per_mm", "pivot_mm",
    "parent", "joint_mm", "layer", "replaces", "mouth",
)  # fmt: skip
"""A part's fields in the order in which they are written."""

_DEFAULTS: Mapping[str, Any] = {"view": "", "parent": "", "joint_mm": None, "layer": 0, "replaces": "", "mouth": None}

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Reading:
    """parts.toml as far as it makes sense: every part it lists, and all problems that its text alone shows."""

    source: TomlFile
    entries: tuple[Entry, ...]
    problems: tuple[Problem, ...]


def load(folder: Path) -> Library:
    """The parts of a film. PastepotError, with every problem found, if parts.toml does not make sense.

    A library that loads has unique names, parents that exist and never run in a circle, and image paths that, as
    text, stay inside the film folder. Whether the images are there and whole is `check`'s to say.
    """
    reading = read(folder)
    raise_if_any(reading.problems)
    return Library(tuple(entry.part for entry in reading.entries))


def read(folder: Path) -> Reading:
    """parts.toml with its problems. PastepotError only if it cannot be read at all."""
    return _reading(source(folder))


def source(folder: Path) -> TomlFile:
    """The file itself. PastepotError if it is missing or is not text."""
    return tomlfile.read(folder / PARTS_TOML, PARTS_TOML, f"Start a film folder with: pastepot new {folder}")


def set_fields(folder: Path, changes: Mapping[str, Values]) -> None:
    """Change fields of parts: {part's name: {field: value}}; None takes an optional field out. See `update`."""
    update(folder, changes)


def add_parts(folder: Path, parts: Sequence[Part], notes: Mapping[str, str] | None = None) -> None:
    """Add parts after those that are there; notes: field -> a comment to write beside it. See `update`."""
    update(folder, {}, parts, notes)


def update(
    folder: Path,
    changes: Mapping[str, Values],
    added: Sequence[Part] = (),
    notes: Mapping[str, str] | None = None,
    dry_run: bool = False,
) -> None:
    """Change and add parts in one step; everything else in the file stays character for character.

    Fields take the values of `Part`; `mouth` also takes a dict of only the fields to change. PastepotError, with the
    file untouched, if a part is not there, if a value makes no sense, or if the result would have a problem that the
    file does not have already. A dry run does everything but write.
    """
    before = read(folder)
    old = _brought_up_to_date(before)
    index = {entry.part.name: entry.index for entry in reversed(before.entries) if "name" in entry.good}
    raise_if_any(_impossible(changes, index, old))
    editor = TomlEditor(old.text)
    expected = tomllib.loads(old.text)
    for name, fields in changes.items():
        for field, value in fields.items():
            _change(editor, expected["part"][index[name]], index[name], field, _plain(value))
    for part in added:
        values = part_values(part)
        editor.append("part", values, notes or {})
        expected.setdefault("part", []).append(_plain(values))
    new = replace(old, text=editor.text())
    _prove(before, new, expected)
    if new.text != before.source.text and not dry_run:
        tomlfile.save(before.source, new.text)


def part_values(part: Part) -> dict[str, Any]:
    """A part as its [[part]] table holds it: fields at their defaults left out."""
    given = {field: getattr(part, field) for field in FIELDS}
    return {field: _plain(v) for field, v in given.items() if field not in _DEFAULTS or v != _DEFAULTS[field]}


def _reading(file: TomlFile) -> Reading:
    checked = schema.read("parts", file)
    tables = checked.values.get("part", [])
    faulty = {path[1:3] for path in checked.faulty if path[0] == "part" and len(path) > 2}
    entries = tuple(
        _entry(table, i, file.row(("part", i)), frozenset(field for field in table if (i, field) not in faulty))
        for i, table in enumerate(tables if isinstance(tables, list) else [])
        if isinstance(table, dict)
    )
    found = [*checked.problems, *rules.problems(entries, file)]
    return Reading(file, entries, tuple(sorted(found, key=lambda p: p.row)))


def _entry(table: Values, index: int, row: int, good: frozenset[str]) -> Entry:
    """A part out of those of its fields that keep to the schema."""

    def get(field: str, default: Any) -> Any:
        return table[field] if field in good else default

    joint = get("joint_mm", None)
    mouth = get("mouth", None)
    x, y = get("pivot_mm", (0.0, 0.0))
    part = Part(
        name=get("name", ""),
        character=get("character", ""),
        type=get("type", ""),
        image=get("image", ""),
        px_per_mm=float(get("px_per_mm", 1.0)),
        pivot_mm=(float(x), float(y)),
        view=get("view", ""),
        parent=get("parent", ""),
        joint_mm=None if joint is None else (float(joint[0]), float(joint[1])),
        layer=int(get("layer", 0)),
        replaces=get("replaces", ""),
        mouth=None if mouth is None else MouthShape(**mouth),
        row=row,
    )
    return Entry(index, part, good)


def _brought_up_to_date(reading: Reading) -> TomlFile:
    """The file in today's schema version, as text; itself unless it was written by an older Pastepot."""
    file = reading.source
    if tomllib.loads(file.text).get("schema") not in versions.STEPS["parts"]:
        return file
    document = tomlkit.parse(file.text)
    versions.upgrade(document, "parts", file.name)
    return replace(file, text=tomlkit.dumps(document))


def _impossible(changes: Mapping[str, Values], index: Mapping[str, int], file: TomlFile) -> list[Problem]:
    """Changes that cannot be made to this file, whatever their values."""
    found = []
    for name, fields in changes.items():
        if name not in index:
            found.append(Problem(f"There is no part '{name}'.", "Correct the name.", file.name, part=name))
        elif ("part", index[name]) not in file.statements:
            found.append(
                Problem("The parts are written in one list.", "Write each as a [[part]] table.", file.name, part=name)
            )
        for field in fields:
            if field not in FIELDS or field == "name":
                what = "A part's name is what scenes hang on." if field == "name" else f"'{field}' is not a field."
                found.append(Problem(what, f"Change one of: {', '.join(FIELDS[1:])}.", file.name, 0, name, field))
    return found


def _change(editor: TomlEditor, table: dict[str, Any], index: int, field: str, value: Any) -> None:
    """One field, in the text and in the values that the text should then have."""
    path = ("part", index)
    if value is None:
        if table.pop(field, None) is not None:
            editor.remove(path, field)
    elif isinstance(value, dict) and isinstance(table.get(field), dict):
        changed = {k: v for k, v in value.items() if not _same(table[field].get(k), v)}
        table[field].update(changed)
        if changed:
            editor.set(path, field, changed)
    elif not _same(table.get(field), value):
        table[field] = value
        editor.set(path, field, value)


def _same(old: Any, new: Any) -> bool:
    """Whether a value need not be written again: 12 stands for 12.0, but true does not stand for 1."""
    return bool(old == new) and isinstance(old, bool) == isinstance(new, bool)


def _plain(value: Any) -> Any:
    """A field's value as TOML values."""
    match value:
        case MouthShape():
            return {"lips": value.lips, "open": value.open, "round": value.round, "tongue": value.tongue}
        case Mapping():
            return {k: _plain(v) for k, v in value.items()}
        case tuple() | list():
            return [_plain(v) for v in value]
        case bool() | str():
            return value
        case numbers.Integral():
            return int(value)
        case numbers.Real():  # numpy's numbers too
            return float(value)
    return value


def _prove(before: Reading, new: TomlFile, expected: Values) -> None:
    """PastepotError unless the new text says exactly what it should, and brings in no problem that was not there."""
    known = {(p.what, p.part, p.field) for p in before.problems}
    raise_if_any(replace(p, row=0) for p in _reading(new).problems if (p.what, p.part, p.field) not in known)
    if new.data != expected:
        raise PastepotError(
            Problem(
                "The change cannot be written safely; nothing was changed.", "Make it in the file by hand.", new.name
            )
        )
