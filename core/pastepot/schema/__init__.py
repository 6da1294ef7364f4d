"""The JSON Schemas (2020-12) of film.toml, parts.toml and exposure sheets, and checks against them in plain words.

The *.schema.json files here are the one place for fields, types, bounds and defaults; the same files are published in
docs/reference. Each property's `description` is written so that it ends the sentence "Give …".
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from pastepot.errors import PastepotError, Problem
from pastepot.schema import versions, words
from pastepot.schema.versions import Kind
from pastepot.tomlfile import KeyPath, TomlFile

if TYPE_CHECKING:
    from jsonschema.protocols import Validator


def text(kind: Kind) -> str:
    """The published JSON Schema of 'film', 'parts' or 'exposure-sheet'."""
    return resources.files(__name__).joinpath(f"{kind}.schema.json").read_text(encoding="utf-8")


@cache
def schema(kind: Kind) -> dict[str, Any]:
    """The same as values; do not change them."""
    value: dict[str, Any] = json.loads(text(kind))
    return value


@cache
def validator(kind: Kind) -> Validator:
    """What finds every fault in values of that kind."""
    import jsonschema  # here, so that `pastepot --help` need not wait for it

    checker = jsonschema.Draft202012Validator.TYPE_CHECKER.redefine("number", _is_finite_number)
    extended = jsonschema.validators.extend(jsonschema.Draft202012Validator, type_checker=checker)  # type: ignore[no-untyped-call]
    made: Validator = extended(schema(kind))
    return made


def _is_finite_number(_checker: object, value: object) -> bool:
    """TOML can say nan and inf, which would pass every bound; JSON, and so JSON Schema, has neither."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < float("inf")


@dataclass(frozen=True)
class Reading:
    """A file's values in today's schema version.

    problems: everything in which they break the schema, by row; faulty: the paths of those values
    """

    values: dict[str, Any]
    problems: tuple[Problem, ...]
    faulty: frozenset[KeyPath]


def read(kind: Kind, source: TomlFile) -> Reading:
    """Check a file against its schema. PastepotError if it is not TOML, or was written by a newer Pastepot."""
    values = source.data
    versions.upgrade(values, kind, source.name, source.row(("schema",)))
    try:
        found = [
            fault
            for error in validator(kind).iter_errors(values)
            for fault in words.problems(error, schema(kind), values, source)
        ]
    except ValueError:  # Python does not write out whole numbers of thousands of digits, and TOML can hold them
        raise PastepotError(
            Problem("The file holds a number of thousands of digits.", "Correct that number.", source.name)
        ) from None
    problems = sorted((problem for _, problem in found), key=lambda p: p.row)
    return Reading(values, tuple(problems), frozenset(path for path, _ in found))
