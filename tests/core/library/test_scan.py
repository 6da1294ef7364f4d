"""Drafting parts from pictures' file names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.library import filenames, manifest, scan
from pastepot.library.parts import VIEWS, MouthShape, Part

NAMES = [
    # file name, character, type, variants, view, replacement set
    ("heron-head-front", "heron", "head", (), "front", ""),
    ("heron-head", "heron", "head", (), "", ""),
    ("snail-mouth-small-front", "snail", "mouth", ("small",), "front", "snail-mouth"),
    ("old-snail-mouth-wide-open-side", "old-snail", "mouth", ("wide", "open"), "side", "old-snail-mouth"),
    ("heron-hand-left-fist", "heron", "hand", ("left", "fist"), "", "heron-hand-left"),
    ("heron-hand-open-near-back", "heron", "hand", ("open", "near"), "back", "heron-hand-near"),
    ("heron-upper-arm-left-side", "heron", "upper-arm", ("left",), "side", ""),
    ("heron-arm-2", "heron", "arm", ("2",), "", ""),
    ("pond-backdrop", "pond", "backdrop", (), "", ""),
    ("hand-head", "hand", "head", (), "", ""),
    ("heron-eyes-shut", "heron", "eyes", ("shut",), "", "heron-eyes"),
    ("schnecke-ärger-mouth", "schnecke-ärger", "mouth", (), "", "schnecke-ärger-mouth"),
]


@pytest.mark.parametrize(("stem", "character", "kind", "variants", "view", "replaces"), NAMES)
def test_a_file_name_says_what_part_it_is(stem, character, kind, variants, view, replaces):
    said = filenames.read(stem)
    assert said == filenames.Reading(character, kind, variants, view)
    assert said.set_name == replaces
    assert filenames.nearest(stem) == ""


MISFITS = [
    ("Heron head front", "heron-head-front"),
    ("heron_head_front", "heron-head-front"),
    ("heron-front-head", "heron-head-front"),
    ("heron--head", "heron-head"),
    ("heron.head.side", "heron-head-side"),
    ("blob", ""),
    ("head", ""),
    ("head-front", ""),
    ("heron-knee-front", ""),
    ("heron-head-front-side", ""),
    ("front", ""),
    ("-", ""),
]


@pytest.mark.parametrize(("stem", "near"), MISFITS)
def test_a_file_name_that_does_not_fit_gets_one_that_does(folder, stem, near):
    assert filenames.read(stem) is None
    assert filenames.nearest(stem) == near
    folder.picture(f"{stem}.png")
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert [p.what for p in draft.problems] == ["The file name does not say what part it is."]
    expected = f"Rename it {near}.png." if near else "Rename it character-type[-variant...][-view].png;"
    assert draft.problems[0].fix.startswith(expected)
    assert draft.problems[0].file == f"parts/{stem}.png"


@given(
    st.from_regex("[a-z]{3,5}[0-9]", fullmatch=True),
    st.sampled_from(list(filenames.TYPES)),
    st.lists(st.from_regex("[a-z]{3,5}[0-9]", fullmatch=True), max_size=2),
    st.sampled_from(["", *VIEWS]),
)
def test_every_name_by_the_pattern_is_read(character, kind, variants, view):
    stem = "-".join([character, kind, *variants, *([view] if view else [])])
    assert filenames.read(stem) == filenames.Reading(character, kind, tuple(variants), view)


def test_the_convention_explains_every_type_and_view():
    for word in (*filenames.TYPES, *VIEWS, *filenames.SIDES, *filenames.REPLACEABLE):
        assert word in filenames.EXPLAINED


def test_a_part_is_drafted_from_what_the_picture_says(folder, make_png):
    folder.picture("snail-mouth-small-front.png", make_png.png(60, 80, extra=make_png.density(23622)))
    draft = scan.scan(folder.path)
    assert draft.problems == ()
    assert draft.parts == (
        Part("snail-mouth-small-front", "snail", "mouth", "parts/snail-mouth-small-front.png", 23.622, (1.27, 1.69),
             view="front", layer=filenames.TYPES["mouth"], replaces="snail-mouth"),
    )  # fmt: skip


def test_a_picture_without_a_scale_is_taken_as_300_dpi_with_a_warning(folder, make_png):
    folder.picture("heron-head.png", make_png.png(60, 80, extra=b""))
    draft = scan.scan(folder.path)
    assert (draft.parts[0].px_per_mm, draft.parts[0].pivot_mm) == (11.811, (2.54, 3.39))
    assert [(p.severity, p.field) for p in draft.problems] == [("warning", "px_per_mm")]
    assert "11.811 pixels per millimetre (300 dpi) is taken." in draft.problems[0].what


def test_what_is_drafted_passes_the_check(folder):
    for stem, *_ in NAMES:
        folder.picture(f"{stem}.png")
    scan.add(folder.path, scan.scan(folder.path))
    assert folder.problems() == []
    assert len(manifest.load(folder.path)) == len(NAMES)


def test_the_file_says_that_the_pivot_is_a_draft(folder):
    folder.picture("heron-head.png")
    scan.add(folder.path, scan.scan(folder.path))
    assert "pivot_mm = [2.54, 3.39]  # drafted: the middle of the image; put it" in folder.parts_toml.read_text()


def test_scanning_again_changes_nothing(folder):
    folder.picture("heron-head.png")
    scan.add(folder.path, scan.scan(folder.path))
    before = folder.parts_toml.read_bytes()
    draft = scan.scan(folder.path)
    assert draft == scan.Draft((), ())
    scan.add(folder.path, draft)
    assert folder.parts_toml.read_bytes() == before


def test_entries_that_a_person_wrote_stay_before_the_new_ones(folder):
    folder.part("my own name", image="parts/heron-head.png", type="thing", mouth={"open": 0.5}, layer=7)
    folder.picture("heron-head.png")
    folder.picture("heron-body.png")
    before = folder.parts_toml.read_text()
    scan.add(folder.path, scan.scan(folder.path))
    after = folder.parts_toml.read_text()
    assert after.startswith(before)
    assert [p.name for p in manifest.load(folder.path)] == ["my own name", "heron-body"]
    assert manifest.load(folder.path)["my own name"].mouth == MouthShape(open=0.5)


def test_pictures_in_folders_below_are_found_in_order_and_hidden_ones_passed_over(folder):
    for name in ("b/heron-leg.png", "a/heron-arm.PNG", "heron-body.png", ".heron-head.png", ".cache/heron-tail.png"):
        folder.picture(name)
    (folder.path / "parts/notes.txt").touch()
    draft = scan.scan(folder.path)
    assert [p.image for p in draft.parts] == ["parts/heron-body.png", "parts/a/heron-arm.PNG", "parts/b/heron-leg.png"]
    assert draft.problems == ()


def test_a_name_that_is_taken_is_not_drafted(folder):
    folder.part("Heron-Head", image="parts/other.png")
    folder.picture("other.png")
    folder.picture("heron-head.png")
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert draft.problems[0].what == "There is a part 'heron-head' already, with another picture."


def test_two_pictures_of_one_name_are_both_told(folder):
    folder.picture("a/heron-head.png")
    folder.picture("b/heron-head.png")
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert [p.what for p in draft.problems] == ["Two new pictures are called 'heron-head'."] * 2


@pytest.mark.parametrize("ending", ["jpg", "JPEG", "tif", "webp"])
def test_other_pictures_are_told_to_become_png(folder, ending):
    folder.picture(f"heron-head.{ending}")
    draft = scan.scan(folder.path)
    assert [str(p) for p in draft.problems] == [
        f"parts/heron-head.{ending}: The picture is not a PNG. Save it as PNG with transparency."
    ]


def test_a_broken_picture_is_not_drafted(folder, make_png):
    folder.picture("heron-head.png", make_png.png()[:-5])
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert draft.problems[0].what.startswith("The file is cut off after")


def test_a_link_out_of_the_film_folder_is_not_drafted(folder, tmp_path, make_png):
    (tmp_path / "outside.png").write_bytes(make_png.png())
    (folder.path / "parts/heron-head.png").symlink_to(tmp_path / "outside.png")
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert draft.problems[0].what == "The file is a link that leads out of the film folder."


@pytest.mark.parametrize(("name", "said"), [("heron-head?", "holds ?"), ("heron-head-" + "x" * 60, "63 is the most")])
def test_a_file_name_that_some_computer_does_not_take_is_told(folder, name, said):
    folder.picture(f"{name}.png")
    draft = scan.scan(folder.path)
    assert draft.parts == ()
    assert said in draft.problems[0].what


def test_a_film_without_a_parts_folder_is_told(folder):
    (folder.path / "parts").rmdir()
    assert [p.what for p in scan.scan(folder.path).problems] == ["There is no folder parts/."]


def test_a_library_with_problems_can_still_grow(folder):
    folder.part("a", zebra=1)
    folder.picture("heron-head.png")
    scan.add(folder.path, scan.scan(folder.path))
    assert 'name = "heron-head"' in folder.parts_toml.read_text()
