"""The JSON Schemas (2020-12) of film.toml and parts.toml, and checks against them in plain words.

film.schema.json and parts.schema.json are the one place for fields, types, bounds and defaults; the same files are
published in docs/reference. Each property's `description` is written so that it ends the sentence "Give …".
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from pastepot.errors import Problem
from pastepot.schema import versions, words
from pastepot.schema.versions import Kind
from pastepot.tomlfile import TomlFile

if TYPE_CHECKING:
    from jsonschema.protocols import Validator


def text(kind: Kind) -> str:
    """The published JSON Schema of 'film' or 'parts'."""
    return resources.files(__name__).joinpath(f"{kind}.schema.json").read_text(encoding="utf-8")


@cache
def schema(kind: Kind) -> dict[str, Any]:
    """The same as values; do not change them."""
    value: dict[str, Any] = json.loads(text(kind))
    return value


@cache
def _validator(kind: Kind) -> Validator:
    import jsonschema  # here, so that `pastepot --help` need not wait for it

    checker = jsonschema.Draft202012Validator.TYPE_CHECKER.redefine("number", _is_finite_number)
    extended = jsonschema.validators.extend(jsonschema.Draft202012Validator, type_checker=checker)  # type: ignore[no-untyped-call]
    made: Validator = extended(schema(kind))
    return made


def _is_finite_number(_checker: object, value: object) -> bool:
    """TOML can say nan and inf, which would pass every bound; JSON, and so JSON Schema, has neither."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < float("inf")


def read(kind: Kind, source: TomlFile) -> tuple[dict[str, Any], list[Problem]]:
    """A file's values in today's schema version, and everything in which they break the schema, by row.

    PastepotError if the file is not TOML, or was written by a newer Pastepot.
    """
    values = source.data
    row = source.row(("schema",))
    versions.upgrade(values, versions.STEPS[kind], versions.CURRENT[kind], source.name, row)
    try:
        found = [
            problem
            for error in _validator(kind).iter_errors(values)
            for problem in words.problems(error, schema(kind), values, source)
        ]
    except ValueError:  # Python does not write out whole numbers of thousands of digits, and TOML can hold them
        found = [Problem("The file holds a number of thousands of digits.", "Correct that number.", source.name)]
    return values, sorted(found, key=lambda p: p.row)
