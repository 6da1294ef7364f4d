"""Files written by an older Pastepot are brought up to date one schema version at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, MutableMapping
from typing import Any, Literal

from pastepot.errors import PastepotError, Problem

Kind = Literal["film", "parts"]
Values = MutableMapping[str, Any]
Step = Callable[[Values], None]
"""Changes the values of version n, in place, into those of version n + 1 ('schema' itself is set for it)."""

CURRENT: Mapping[Kind, int] = {"film": 1, "parts": 1}
"""The schema version that is written today."""

STEPS: Mapping[Kind, Mapping[int, Step]] = {"film": {}, "parts": {}}
"""Version n -> the step from n to n + 1. A new step comes with an old file in the tests."""


def upgrade(values: Values, steps: Mapping[int, Step], current: int, file: str, row: int = 0) -> None:
    """Bring the values of a file up to `current` in place; a file without a proper version is left for the schema.

    Works on plain dicts and on editable documents alike. PastepotError if the file is newer than this Pastepot.
    """
    version = values.get("schema")
    if not isinstance(version, int) or isinstance(version, bool):
        return
    if version > current:
        raise PastepotError(
            Problem(
                f"The file was written by a newer Pastepot (schema {version}; this one knows {current}).",
                "Bring Pastepot up to date.",
                file,
                row,
                field="schema",
            )
        )
    while version in steps and version < current:
        steps[version](values)
        version += 1
        values["schema"] = version
