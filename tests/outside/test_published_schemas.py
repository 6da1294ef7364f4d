"""The schemas in docs/reference, as anybody would use them: with the jsonschema library, by JSON Schema 2020-12."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import jsonschema
import pytest
from pastepot.timing import sheet_json, sheet_table

REFERENCE = Path(__file__).resolve().parents[2] / "docs" / "reference"
PART = {"name": "a", "character": "c", "type": "t", "image": "parts/a.png", "px_per_mm": 11.811, "pivot_mm": [1, 2.5]}
FILM = {"schema": 1, "title": "T", "fps": 12, "size": [1920, 1080]}


def validator(kind: str) -> jsonschema.Draft202012Validator:
    schema = json.loads((REFERENCE / f"{kind}.schema.json").read_text(encoding="utf-8"))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("kind", ["film", "parts"])
def test_the_examples_in_the_manual_are_valid(kind):
    text = (REFERENCE / f"{kind}-toml.md").read_text(encoding="utf-8")
    examples = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    assert examples
    for example in examples:
        validator(kind).validate(tomllib.loads(example))


@pytest.mark.parametrize("kind", ["film", "parts"])
def test_the_examples_in_the_schema_are_valid(kind):
    schema = validator(kind)

    def check(properties):
        for field in properties.values():
            for example in (*field.get("examples", ()), *([field["default"]] if "default" in field else ())):
                schema.evolve(schema={**field, "$defs": schema.schema["$defs"]}).validate(example)

    check(schema.schema["properties"])
    for table in schema.schema["$defs"].values():
        check(table.get("properties", {}))


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"fps": "24000/1001"},
        {"size": [1920.0, 1080]},  # JSON Schema: a number without a fraction is an integer
        {"look": "lit", "seed": 0, "shot": [{"name": "a", "start": 1, "end": 2}]},
    ],
)
def test_good_films_are_valid(change):
    validator("film").validate(FILM | change)


@pytest.mark.parametrize(
    "change",
    [
        {"fps": 0}, {"fps": 12.5}, {"fps": "twelve"}, {"fps": True}, {"fps": "24/0"}, {"title": ""}, {"size": [1920]},
        {"size": [1920, 1080, 3]}, {"seed": -1}, {"look": "glossy"}, {"units_per_mm": 0}, {"colour": 1},
        {"shot": [{"name": "a", "start": 1}]}, {"schema": 2}, {"schema": True},
    ],
)  # fmt: skip
def test_bad_films_are_not(change):
    assert not validator("film").is_valid(FILM | change)


@pytest.mark.parametrize(
    "change",
    [{}, {"joint_mm": [0, 0.5]}, {"layer": -3}, {"mouth": {}}, {"mouth": {"lips": "touching-teeth", "open": 1}}],
)
def test_good_parts_are_valid(change):
    validator("parts").validate({"schema": 1, "part": [PART | change]})


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""}, {"px_per_mm": 0}, {"px_per_mm": "11"}, {"pivot_mm": [1]}, {"pivot_mm": [1, 2, 3]},
        {"pivot_mm": [1, True]}, {"layer": 1.5}, {"mouth": {"open": 1.01}}, {"mouth": {"lips": "x"}}, {"pivot": [1, 2]},
    ],
)  # fmt: skip
def test_bad_parts_are_not(change):
    assert not validator("parts").is_valid({"schema": 1, "part": [PART | change]})


SHEET = {"schema": 1, "title": "T", "fps": 12, "first": 1, "frames": 2}
WING = {"name": "wing", "kind": "part", "cells": [{"start": 1, "frames": 2}]}


def test_the_sheet_in_the_manual_is_valid_and_holds_together():
    text = (REFERENCE / "exposure-sheet.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```json\n(.*?)```", text, re.DOTALL)
    validator("exposure-sheet").validate(json.loads(example))
    assert sheet_json.loads(example).column("heron-wing").character == "heron"


def test_the_table_in_the_manual_is_one():
    text = (REFERENCE / "exposure-sheet.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```\n(exposure sheet,.*?)```", text, re.DOTALL)
    assert [len(c.cells) for c in sheet_table.from_csv(example).sheet.columns] == [3, 4, 3]


@pytest.mark.parametrize(
    "change", [{}, {"fps": "24000/1001"}, {"frames": 2.0}, {"columns": [WING | {"character": ""}]}]
)
def test_good_sheets_are_valid(change):
    validator("exposure-sheet").validate(SHEET | {"columns": [WING]} | change)


@pytest.mark.parametrize(
    "change",
    [
        {"fps": 0}, {"fps": 12.5}, {"title": ""}, {"frames": 0}, {"first": -1}, {"frames": True}, {"columns": {}},
        {"columns": [WING | {"kind": "hand"}]}, {"columns": [WING | {"cells": [{"start": 1}]}]}, {"a": 1},
        {"columns": [WING | {"cells": [{"start": 1, "frames": 1.5}]}]}, {"schema": 2},
    ],
)  # fmt: skip
def test_bad_sheets_are_not(change):
    assert not validator("exposure-sheet").is_valid(SHEET | {"columns": [WING]} | change)
