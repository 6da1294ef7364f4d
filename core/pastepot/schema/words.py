"""What a schema error means, in words for the person who wrote the file."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

from pastepot.errors import Problem
from pastepot.naming import printable
from pastepot.tomlfile import KeyPath

if TYPE_CHECKING:
    from jsonschema.exceptions import ValidationError

Schema = Mapping[str, Any]


class Source(Protocol):
    """The file that values were read from."""

    @property
    def name(self) -> str:
        """What problems call it."""

    def row(self, path: KeyPath) -> int:
        """1-based line of a value; 0 where that is not known."""


_TYPES = {
    "string": "a text in quotes",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a table",
}


def problems(
    error: ValidationError, top: Schema, values: Mapping[str, Any], source: Source
) -> list[tuple[KeyPath, Problem]]:
    """One schema error as Problems, each with the path of its value: what is wrong, where, and what to give.

    top: the whole schema, values: the whole file's values.
    """
    path = tuple(error.absolute_path)
    value: Any = error.instance
    if error.validator == "additionalProperties":
        keys = [k for k in value if k not in along(top, path)[-1]["properties"]]
        return [_problem((*path, k), *_unknown(k, path, top), values, source) for k in keys]
    if error.validator == "required":
        required: Any = error.validator_value
        key = next(k for k in required if error.message.startswith(repr(k)))
        path += (key,)
        return [_problem(path, f"'{key}' is missing.", _give(path, top), values, source)]
    return [_problem(path, f"{_subject(path)} {_fault(error)}.", _give(path, top), values, source)]


def _problem(path: KeyPath, what: str, fix: str, values: Mapping[str, Any], source: Source) -> tuple[KeyPath, Problem]:
    part = ""
    if path[0] == "part" and len(path) > 1:
        table = values["part"][path[1]]
        part = part_label(table.get("name") if isinstance(table, Mapping) else None, int(path[1]))
        field = path[2:]
    else:
        field = path
    name = ".".join(k for k in field if isinstance(k, str))
    return path, Problem(what, fix, source.name, source.row(path), part, name)


def part_label(name: object, index: int) -> str:
    """What problems call a part: its name, or its place in the file if it has none."""
    return printable(name) if isinstance(name, str) and name else f"part number {index + 1}"


def _subject(path: KeyPath) -> str:
    if isinstance(path[-1], int):
        return f"Value {path[-1] + 1} of '{path[-2]}'"
    return f"'{path[-1]}'"


def _fault(error: ValidationError) -> str:
    """The fault as the end of a sentence about the value."""
    limit: Any = error.validator_value
    value: Any = error.instance
    match error.validator:
        case "type":
            return f"is {shown(value)}, not {_TYPES[limit]}"
        case "minLength":
            return "is empty"
        case "maxLength":
            return f"is {len(value)} letters long, and {limit} is the most"
        case "minItems" | "maxItems":
            return f"has {len(value)} value{'' if len(value) == 1 else 's'}, not {limit}"
        case "minimum":
            return f"is {shown(value)}, less than {limit}"
        case "maximum":
            return f"is {shown(value)}, more than {limit}"
        case "exclusiveMinimum":
            return f"is {shown(value)}, not above {limit}"
        case "enum":
            near = difflib.get_close_matches(value, limit, n=1) if isinstance(value, str) else []
            return f"is {shown(value)}" + (f" (did you mean '{near[0]}'?)" if near else "")
    return f"is {shown(value)}"


def _unknown(key: str, path: KeyPath, top: Schema) -> tuple[str, str]:
    """What and fix for a key that the table at `path` does not have."""
    tables = along(top, path)
    what = f"'{printable(key)}' is not a field of {_header(path) if path else top['title']}."
    for depth in range(len(path)):
        if key in tables[depth].get("properties", {}):
            return what, f"Move it up to {_table(path[:depth], top)}, above the line {_header(path)}."
    known = list(tables[-1]["properties"])
    near = difflib.get_close_matches(key, known, n=1)
    if near:
        return what, f"Did you mean '{near[0]}'?"
    return what, f"Take it out, or use one of: {', '.join(known)}."


def _table(path: KeyPath, top: Schema) -> str:
    return _header(path) if path else f"the top of {top['title']}"


def _header(path: KeyPath) -> str:
    """How the header of the table at `path` is written: [[part]], [part.mouth]."""
    names = ".".join(k for k in path if isinstance(k, str))
    return f"[[{names}]]" if isinstance(path[-1], int) else f"[{names}]"


def _give(path: KeyPath, top: Schema) -> str:
    """The remedy: the description of the nearest thing that has one."""
    return f"Give {next(s['description'] for s in reversed(along(top, path)) if 'description' in s)}."


def along(top: Schema, path: KeyPath) -> list[Schema]:
    """The schemas on the way down to `path`, the whole file's first."""
    schemas = [top]
    for step in path:
        here = schemas[-1]
        below: Schema = here["items"] if isinstance(step, int) else here["properties"][step]
        if "$ref" in below:
            below = {**top["$defs"][below["$ref"].removeprefix("#/$defs/")], **below}
        schemas.append(below)
    return schemas


def shown(value: object) -> str:
    """A value as a person would write it, cut short."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return f'"{printable(value if len(value) <= 60 else value[:57] + "...")}"'
        case int() | float():
            return repr(value)[:60]
        case list():
            return "a list"
        case Mapping():
            return "a table"
        case datetime.date() | datetime.time():
            return f"the date or time {value.isoformat()}"
    return repr(value)
