"""docs/reference says what the code says."""

from __future__ import annotations

import importlib.util
from dataclasses import MISSING, fields
from pathlib import Path
from types import ModuleType

import pytest
from pastepot import schema
from pastepot.film import Film
from pastepot.library import manifest
from pastepot.library.parts import MouthShape, Part

ROOT = Path(__file__).resolve().parents[2]


def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_reference", ROOT / "docs" / "make_reference.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_is_up_to_date():
    pages = maker().pages()
    assert {"film.schema.json", "parts.schema.json", "film-toml.md", "parts-toml.md", "feel-toml.md"} <= {
        path.name for path in pages
    }
    stale = [p.name for p, text in pages.items() if not p.exists() or p.read_text(encoding="utf-8") != text]
    assert not stale, f"docs/reference is behind the code in {', '.join(stale)}. Run: python docs/make_reference.py"


def test_the_two_copies_of_each_schema_are_one():
    for kind in ("film", "parts"):
        published = (ROOT / "docs" / "reference" / f"{kind}.schema.json").read_text(encoding="utf-8")
        assert published == schema.text(kind), "Run: python docs/make_reference.py"


def defaults(kind: type) -> dict[str, object]:
    return {f.name: f.default for f in fields(kind) if f.default is not MISSING}


@pytest.mark.parametrize(
    ("properties", "kind", "elsewhere"),
    [
        (schema.schema("film")["properties"], Film, {"shots": ()}),
        (schema.schema("parts")["$defs"]["part"]["properties"], Part, {"joint_mm": None, "mouth": None, "row": 0}),
        (schema.schema("parts")["$defs"]["mouth"]["properties"], MouthShape, {}),
    ],
)
def test_defaults_in_schema_and_code_are_one(properties, kind, elsewhere):
    assert {k: v["default"] for k, v in properties.items() if "default" in v} | elsewhere == defaults(kind)


def test_every_field_of_a_part_is_in_the_schema():
    names = {f.name for f in fields(Part)} - {"row"}
    assert names == set(schema.schema("parts")["$defs"]["part"]["properties"]) == set(manifest.FIELDS)


def test_every_field_of_a_film_is_in_the_schema():
    names = {f.name for f in fields(Film)} - {"folder", "shots"} | {"schema", "shot"}
    assert names == set(schema.schema("film")["properties"])
