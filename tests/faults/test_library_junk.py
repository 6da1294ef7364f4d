"""Whatever stands in the files: problems, never a crash."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pastepot import film
from pastepot.errors import PastepotError, Problem
from pastepot.library import check, manifest, png, scan, table

ANY_FOLDER = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=80)
FIELDS = [
    *manifest.FIELDS,
    "schema",
    "part",
    "shot",
    "title",
    "fps",
    "size",
    "look",
    "feel",
    "seed",
    "start",
    "zebra",
    "",
]

leaves = (
    st.integers()
    | st.floats()
    | st.booleans()
    | st.text(max_size=8)
    | st.dates()
    | st.sampled_from(["parts/a.png", "..", "a", "front", "closed", "24/1"])
)
values = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(FIELDS), inner, max_size=4),
    max_leaves=8,
)
tables = st.dictionaries(st.sampled_from(FIELDS), values, max_size=8)
files = st.fixed_dictionaries(
    {"schema": st.just(1) | leaves},
    optional={"part": st.lists(tables, max_size=3), "shot": st.lists(tables, max_size=2)},
)


@pytest.fixture
def folder(tmp_path) -> Path:
    film.create(tmp_path / "pond", "T", 12, (64, 64))
    return tmp_path / "pond"


def all_problems(found: list[Problem]) -> bool:
    return all(isinstance(p, Problem) and p.what and p.fix for p in found)


def told(work: Callable[[], object]) -> list[Problem]:
    """What a call refuses with; nothing if it goes well. Any other error is a failure of the test."""
    try:
        work()
    except PastepotError as error:
        return list(error.problems)
    return []


@given(files, files)
@ANY_FOLDER
def test_any_values_at_all(folder, film_values, parts_values):
    (folder / "film.toml").write_text(tomlkit.dumps(film_values), encoding="utf-8")
    (folder / "parts.toml").write_text(tomlkit.dumps(parts_values), encoding="utf-8")
    found = check.check(folder)
    assert all_problems(found)
    for load, name in ((film.load, "film.toml"), (manifest.load, "parts.toml")):
        refused = told(lambda: load(folder))  # noqa: B023  (called at once)
        assert all_problems(refused)
        assert not refused or any(p.severity == "error" for p in found if p.file == name)


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
@ANY_FOLDER
def test_any_bytes_at_all(folder, data):
    (folder / "film.toml").write_bytes(data)
    (folder / "parts.toml").write_bytes(data)
    (folder / "parts" / "heron-head.png").write_bytes(data)
    (folder / "t.csv").write_bytes(data)
    assert all_problems(check.check(folder))
    assert all_problems(told(lambda: scan.scan(folder)))
    assert all_problems(told(lambda: table.read(folder, folder / "t.csv")))


@given(st.binary(max_size=120), st.booleans())
@ANY_FOLDER
def test_any_picture_at_all(folder, data, begins_well):
    path = folder / "parts" / "a.png"
    path.write_bytes((png.SIGNATURE + b"\0\0\0\rIHDR" if begins_well else b"") + data)
    with pytest.raises(png.PngError):
        png.verify(path)
