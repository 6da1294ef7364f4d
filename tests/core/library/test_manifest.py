"""parts.toml read and written: nothing that the person wrote is lost, nothing wrong gets in."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pastepot import tomlfile
from pastepot.errors import PastepotError
from pastepot.library import manifest
from pastepot.library.parts import VIEWS, Library, MouthShape, Part
from pastepot.tomledit import literal

WRITTEN = """\
# The pond. [[part]]
schema = 1

  [[part]] # the heron
  name = "heron-body"
  character = 'heron'
  type="body"
  image = "parts/heron-body.png"
  px_per_mm = 11.811  # scanned in May
  pivot_mm = [
    12, # across
    40.5, # down
  ]

# The snail has
# a mouth.
[[part]]
name = "snail-mouth"
character = "snail"
type = "mouth"
image = "parts/snail-mouth.png"
px_per_mm = 11.811
pivot_mm = [ 3.0,2.0 ]
[part.mouth]
open = 0.5 # half

# The end.
"""


@pytest.fixture
def written(folder):
    folder.parts_toml.write_text(WRITTEN)
    return folder


def test_parts_are_read_with_their_rows(written):
    library = manifest.load(written.path)
    assert library.parts == (
        Part("heron-body", "heron", "body", "parts/heron-body.png", 11.811, (12.0, 40.5), row=4),
        Part("snail-mouth", "snail", "mouth", "parts/snail-mouth.png", 11.811, (3.0, 2.0),
             mouth=MouthShape("closed", 0.5, 0.0, False), row=17),
    )  # fmt: skip
    assert all(isinstance(n, float) for p in library for n in (p.px_per_mm, *p.pivot_mm))


def test_no_parts_are_a_library_too(folder):
    assert manifest.load(folder.path) == Library(())


def test_loading_tells_every_error_at_once_and_no_warning(folder):
    folder.part("a", parent="b", view="frnt")
    folder.part("a", laier=3)
    folder.part("c", image="../c.png")
    with pytest.raises(PastepotError) as caught:
        manifest.load(folder.path)
    assert [(p.part, p.field) for p in caught.value.problems] == [
        ("a", "parent"), ("a", "name"), ("a", "laier"), ("c", "image"),
    ]  # fmt: skip


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(PastepotError, match=r"There is no parts\.toml"):
        manifest.load(tmp_path)


CHANGES = [
    ("heron-body", {"px_per_mm": 23.622}, "11.811  # scanned", "23.622  # scanned"),
    ("heron-body", {"pivot_mm": (12.0, 39.0)}, "    40.5, #", "    39.0, #"),
    ("heron-body", {"view": "front"}, "  ]\n\n", '  ]\n  view = "front"\n\n'),
    ("heron-body", {"layer": np.int64(3)}, "  ]\n\n", "  ]\n  layer = 3\n\n"),
    ("snail-mouth", {"mouth": MouthShape("closed", 0.25)}, "open = 0.5 # half\n",
     'open = 0.25 # half\nlips = "closed"\nround = 0.0\ntongue = false\n'),
    ("snail-mouth", {"mouth": {"open": 0.25}}, "open = 0.5 #", "open = 0.25 #"),
    ("snail-mouth", {"mouth": None}, "[part.mouth]\nopen = 0.5 # half", "# half"),
    ("snail-mouth", {"parent": "heron-body"}, "[part.mouth]", 'parent = "heron-body"\n[part.mouth]'),
]  # fmt: skip


@pytest.mark.parametrize(("name", "fields", "before", "after"), CHANGES)
def test_a_field_changes_and_nothing_else(written, name, fields, before, after):
    assert WRITTEN.count(before) == 1
    manifest.set_fields(written.path, {name: fields})
    assert written.parts_toml.read_text() == WRITTEN.replace(before, after)


def test_values_that_are_there_already_are_not_written_again(written, monkeypatch):
    monkeypatch.setattr(tomlfile, "save", None)
    manifest.set_fields(written.path, {"heron-body": {"pivot_mm": (12.0, 40.5), "joint_mm": None}})


def test_a_dry_run_proves_and_does_not_write(written):
    manifest.update(written.path, {"heron-body": {"layer": 3}}, dry_run=True)
    assert written.parts_toml.read_text() == WRITTEN
    with pytest.raises(PastepotError, match=r"'layer' is 1\.5"):
        manifest.update(written.path, {"heron-body": {"layer": 1.5}}, dry_run=True)


REFUSED = [
    ({"zebra": {"layer": 1}}, "There is no part 'zebra'. Correct the name."),
    ({"heron-body": {"name": "x"}}, "A part's name is what scenes hang on."),
    ({"heron-body": {"colour": 1}}, "'colour' is not a field. Change one of: character, type"),
    ({"heron-body": {"layer": "high"}}, "'layer' is \"high\", not a whole number."),
    ({"heron-body": {"px_per_mm": float("nan")}}, "'px_per_mm' is nan, not a number."),
    ({"heron-body": {"px_per_mm": None}}, "'px_per_mm' is missing."),
    ({"heron-body": {"parent": "snail-moth"}}, "Did you mean 'snail-mouth'?"),
    ({"heron-body": {"image": "../x.png"}}, "may leave the film folder"),
    ({"heron-body": {"parent": "heron-body"}}, "The parents go round in a circle: heron-body → heron-body."),
]


@pytest.mark.parametrize(("changes", "said"), REFUSED)
def test_what_makes_no_sense_is_refused_and_the_file_stays(written, changes, said):
    with pytest.raises(PastepotError) as caught:
        manifest.set_fields(written.path, changes)
    assert said in str(caught.value)
    assert written.parts_toml.read_text() == WRITTEN


def test_a_part_whose_name_is_taken_is_not_added(written):
    with pytest.raises(PastepotError, match="differ only in case"):
        manifest.add_parts(written.path, [Part("Heron-Body", "heron", "body", "parts/x.png", 1.0, (0.0, 0.0))])
    assert written.parts_toml.read_text() == WRITTEN


def test_old_problems_do_not_stand_in_the_way_of_a_change(written):
    broken = WRITTEN.replace('type="body"', 'type="body"\n  zebra = 1')
    written.parts_toml.write_text(broken)
    manifest.set_fields(written.path, {"snail-mouth": {"layer": 3}, "heron-body": {"layer": 2}})
    text = written.parts_toml.read_text()
    assert "zebra = 1" in text
    assert [p.get("layer") for p in tomllib.loads(text)["part"]] == [2, 3]


def test_parts_written_in_one_list_are_read_but_not_changed(folder):
    text = 'schema=1\npart=[{name="a",character="c",type="t",image="parts/a.png",px_per_mm=1,pivot_mm=[0,0]}]\n'
    folder.parts_toml.write_text(text)
    assert manifest.load(folder.path)["a"].px_per_mm == 1.0
    with pytest.raises(PastepotError, match=r"Write each as a \[\[part\]\] table"):
        manifest.set_fields(folder.path, {"a": {"layer": 1}})
    with pytest.raises(PastepotError):
        manifest.add_parts(folder.path, [Part("b", "c", "t", "parts/b.png", 1.0, (0.0, 0.0))])
    assert folder.parts_toml.read_text() == text


def test_a_change_made_meanwhile_is_not_lost(written, monkeypatch):
    def prove_late(*_args):
        written.parts_toml.write_text(WRITTEN + "# typed just now\n")

    monkeypatch.setattr(manifest, "_prove", prove_late)
    with pytest.raises(PastepotError, match="was changed while it was worked on"):
        manifest.set_fields(written.path, {"heron-body": {"layer": 3}})
    assert written.parts_toml.read_text().endswith("# typed just now\n")


NAMES = st.text("abcdefghäßé鷺-. '", min_size=1, max_size=12).map(lambda s: f"a{s}z")
LENGTHS = st.floats(-1e5, 1e5, allow_nan=False)
SHARES = st.floats(0, 1)
POINTS = st.tuples(LENGTHS, LENGTHS)
MOUTHS = st.builds(
    MouthShape, st.sampled_from(["closed", "touching-teeth", "apart"]), SHARES, SHARES, st.booleans()
)  # fmt: skip
PARTS = st.builds(
    Part,
    name=NAMES,
    character=NAMES,
    type=st.sampled_from(["head", "mouth"]),
    image=NAMES.map(lambda n: f"parts/{n}.png"),
    px_per_mm=st.floats(0, 1000, exclude_min=True),
    pivot_mm=POINTS,
    view=st.sampled_from(["", *VIEWS]),
    joint_mm=st.none() | POINTS,
    layer=st.integers(-10000, 10000),
    replaces=st.just("") | NAMES,
    mouth=st.none() | MOUTHS,
)
LIBRARIES = st.lists(PARTS, max_size=6, unique_by=lambda p: manifest.rules.naming.same_name(p.name))
ANY_FOLDER = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)


def hung_up(parts: list[Part]) -> list[Part]:
    """Every part but the first hangs on the one before it."""
    return [replace(p, parent=parts[i - 1].name if i else "") for i, p in enumerate(parts)]


@given(LIBRARIES)
@ANY_FOLDER
def test_parts_that_are_added_are_read_back_the_same(folder, parts):
    folder.parts_toml.write_text("schema = 1\n")
    parts = hung_up(parts)
    manifest.add_parts(folder.path, parts)
    assert [replace(p, row=0) for p in manifest.load(folder.path)] == parts


@st.composite
def texts(draw):
    """A parts.toml with comments in every place that may have one, each of them different."""
    parts = draw(st.lists(PARTS, min_size=1, max_size=4, unique_by=lambda p: manifest.rules.naming.same_name(p.name)))
    count = iter(range(10**6))

    def comment() -> str:
        return f"# {next(count)} [[part]] \" '" if draw(st.booleans()) else ""

    lines = [comment(), "schema = 1 " + comment()]
    for part in parts:
        values = manifest.part_values(part)
        mouth = values.pop("mouth", None)
        lines += [comment(), "[[part]] " + comment()]
        for key in draw(st.permutations(list(values))):
            value = values[key]
            if isinstance(value, list) and draw(st.booleans()):
                lines += [f"{key} = [ {comment()}", *(f"  {v!r}, {comment()}" for v in value), f"] {comment()}"]
            else:
                lines.append(f"{key} = {literal(value)} {comment()}")
        if mouth is not None:
            lines += [comment(), f"[part.mouth] {comment()}"]
            lines += [f"{k} = {literal(v)} {comment()}" for k, v in mouth.items()]
        lines += [comment()]
    return draw(st.sampled_from(["\n", "\r\n"])).join([*lines, ""]), parts


@given(texts(), st.data())
@ANY_FOLDER
def test_changing_fields_keeps_every_comment(folder, text_and_parts, data):
    text, parts = text_and_parts
    folder.parts_toml.write_bytes(text.encode())
    assert [replace(p, row=0) for p in manifest.load(folder.path)] == parts
    changed = [
        replace(data.draw(PARTS), name=part.name, parent="") if data.draw(st.booleans()) else part for part in parts
    ]
    fields = {p.name: {f: getattr(p, f) for f in manifest.FIELDS[1:]} for p in changed}
    fields = {name: {f: None if v == "" else v for f, v in values.items()} for name, values in fields.items()}
    manifest.set_fields(folder.path, fields)
    after = folder.parts_toml.read_bytes().decode()
    assert [replace(p, row=0) for p in manifest.load(folder.path)] == changed
    assert comments(after) == comments(text)
    assert after.count("\r\n") == (after.count("\n") if "\r\n" in text else 0)


def comments(text: str) -> list[str]:
    return re.findall(r"# \d+ \[\[part\]\] \" '", text)


def test_order_and_comments_of_other_parts_stay_where_they_are(written):
    manifest.set_fields(written.path, {"heron-body": {"layer": 3, "px_per_mm": 5.0, "joint_mm": (1.0, 2.0)}})
    head, tail = "# The pond. [[part]]\nschema = 1\n\n  [[part]] # the heron\n", WRITTEN[WRITTEN.index("# The snail") :]
    text = written.parts_toml.read_text()
    assert text.startswith(head)
    assert text.endswith(tail)
