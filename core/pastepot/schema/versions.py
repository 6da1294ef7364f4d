"""Files written by an older Pastepot are brought up to date one schema version at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, MutableMapping
from typing import Any, Literal

from pastepot.errors import PastepotError, Problem

Kind = Literal["film", "parts", "exposure-sheet", "track-reading"]
Values = MutableMapping[str, Any]
Step = Callable[[Values], None]
"""Changes the values of version n, in place, into those of version n + 1 ('schema' itself is set for it)."""

CURRENT: Mapping[Kind, int] = {"film": 1, "parts": 1, "exposure-sheet": 1, "track-reading": 1}
"""The schema version that is written today."""

STEPS: Mapping[Kind, Mapping[int, Step]] = {"film": {}, "parts": {}, "exposure-sheet": {}, "track-reading": {}}
"""Version n -> the step from n to n + 1. A new step comes with an old file in the tests."""


def upgrade(
    values: Values,
    kind: Kind,
    file: str,
    row: int = 0,
    steps: Mapping[Kind, Mapping[int, Step]] = STEPS,
    current: Mapping[Kind, int] = CURRENT,
) -> None:
    """Bring the values of a file up to date in place.

    Works on plain dicts and on tomlkit documents alike. Values without a proper version are left for the schema to
    refuse. PastepotError if the file is newer than this Pastepot.
    """
    version = values.get("schema")
    if not isinstance(version, int) or isinstance(version, bool):
        return
    if version > current[kind]:
        raise PastepotError(
            Problem(
                f"The file was written by a newer Pastepot (schema {version}; this one knows {current[kind]}).",
                "Bring Pastepot up to date.",
                file,
                row,
                field="schema",
            )
        )
    while version in steps[kind]:
        steps[kind][version](values)
        version += 1
        values["schema"] = version
