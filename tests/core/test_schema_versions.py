"""Older files are brought up to date step by step; newer ones are left alone."""

from __future__ import annotations

import pytest
import tomlkit
from pastepot.errors import PastepotError
from pastepot.schema import versions


def first_step(values):
    for part in values["part"]:
        part["layer"] = part.pop("level")


def second_step(values):
    values["unit"] = "mm"


STEPS = {"parts": {1: first_step, 2: second_step}}
THIRD = {"parts": 3}


def test_every_step_is_taken_in_order():
    values = {"schema": 1, "part": [{"level": 3}]}
    versions.upgrade(values, "parts", "parts.toml", steps=STEPS, current=THIRD)
    assert values == {"schema": 3, "part": [{"layer": 3}], "unit": "mm"}


def test_a_file_half_way_takes_the_rest():
    values = {"schema": 2, "part": []}
    versions.upgrade(values, "parts", "parts.toml", steps=STEPS, current=THIRD)
    assert values == {"schema": 3, "part": [], "unit": "mm"}


def test_a_document_keeps_its_comments():
    document = tomlkit.parse("# mine\nschema = 1\n[[part]]\nlevel = 3 # high\nname = 'a' # b\n")
    versions.upgrade(document, "parts", "parts.toml", steps=STEPS, current=THIRD)
    text = tomlkit.dumps(document)
    assert "# mine\nschema = 3\n" in text
    assert "name = 'a' # b\n" in text


@pytest.mark.parametrize("version", [None, "1", True, 1.0])
def test_without_a_proper_version_nothing_is_done(version):
    values = {"schema": version}
    versions.upgrade(values, "parts", "parts.toml", steps=STEPS, current=THIRD)
    assert values == {"schema": version}


def test_a_newer_file_is_refused():
    with pytest.raises(PastepotError) as caught:
        versions.upgrade({"schema": 4}, "parts", "parts.toml", 7, STEPS, THIRD)
    assert str(caught.value.problems[0]) == (
        "parts.toml:7 schema: The file was written by a newer Pastepot (schema 4; this one knows 3). "
        "Bring Pastepot up to date."
    )


def test_an_old_parts_toml_is_brought_up_to_date_when_it_is_changed(folder, monkeypatch):
    """The whole way through the manifest, with a step that only this test knows."""
    from pastepot.library import manifest

    def step(values):
        for part in values["part"]:
            part["layer"] = part.pop("level")

    monkeypatch.setattr(versions, "STEPS", {"film": {}, "parts": {0: step}})
    monkeypatch.setattr(versions.upgrade, "__defaults__", (0, versions.STEPS, versions.CURRENT))
    folder.part("a", level=4)
    text = folder.parts_toml.read_text().replace("schema = 1", "# mine\nschema = 0")
    folder.parts_toml.write_text(text)
    assert manifest.load(folder.path)["a"].layer == 4
    assert folder.parts_toml.read_text() == text
    manifest.set_fields(folder.path, {"a": {"view": "front"}})
    assert folder.parts_toml.read_text().startswith("# mine\nschema = 1\n")
    assert (manifest.load(folder.path)["a"].layer, manifest.load(folder.path)["a"].view) == (4, "front")
