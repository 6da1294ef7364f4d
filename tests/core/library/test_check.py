"""Every bad input that `pastepot check` knows, with its message."""

from __future__ import annotations

import os

import pytest


def only(found):
    assert len(found) == 1, [str(p) for p in found]
    return found[0]


def test_a_good_library_has_no_problems(folder):
    folder.part("heron-body", type="body", layer=30)
    folder.part("heron-head", parent="heron-body", joint_mm=[1.0, 2.0], view="front", replaces="heron-head")
    folder.part("heron-mouth", type="mouth", parent="heron-head", mouth={"lips": "apart", "open": 0.6, "round": 0.2})
    assert folder.problems() == []


BAD_FIELDS = [
    # fields of the part, the field that is named, severity, what is said
    ({"name": ""}, "name", "error", "'name' is empty. Give the part's own name"),
    ({"name": 7}, "name", "error", "'name' is 7, not a text in quotes."),
    ({"type": None}, "type", "error", "'type' is missing. Give what kind of piece it is"),
    ({"pivot": [1.0, 2.0]}, "pivot", "error", "'pivot' is not a field of [[part]]. Did you mean 'pivot_mm'?"),
    ({"zebra": 1}, "zebra", "error", "'zebra' is not a field of [[part]]. Take it out, or use one of: name, character"),
    ({"px_per_mm": 0}, "px_per_mm", "error", "'px_per_mm' is 0, not above 0."),
    ({"px_per_mm": 5000.0}, "px_per_mm", "error", "'px_per_mm' is 5000.0, more than 1000."),
    ({"px_per_mm": float("nan")}, "px_per_mm", "error", "'px_per_mm' is nan, not a number."),
    ({"layer": 2.5}, "layer", "error", "'layer' is 2.5, not a whole number."),
    ({"layer": True}, "layer", "error", "'layer' is true, not a whole number."),
    ({"pivot_mm": [1.0]}, "pivot_mm", "error", "'pivot_mm' has 1 value, not 2."),
    ({"pivot_mm": [1.0, "2"]}, "pivot_mm", "error", "Value 2 of 'pivot_mm' is \"2\", not a number."),
    ({"mouth": {"open": 1.5}, "type": "mouth"}, "mouth.open", "error", "'open' is 1.5, more than 1."),
    ({"mouth": {"lips": "appart"}, "type": "mouth"}, "mouth.lips", "error", "(did you mean 'apart'?)"),
    ({"mouth": {"layer": 3}, "type": "mouth"}, "mouth.layer", "error", "Move it up to [[part]], above the line"),
    ({"mouth": {"open": 0.5}}, "mouth", "warning", "A mouth is described on a part of type 'head'."),
    ({"view": "frnt"}, "view", "warning", "The view 'frnt' is none of front, side, back (did you mean 'front'?)."),
    ({"joint_mm": [1.0, 1.0]}, "joint_mm", "warning", "'joint_mm' is given without a parent."),
    ({"pivot_mm": [5.2, 3.0]}, "pivot_mm", "error", "'pivot_mm' is (5.2, 3), off its image, which is 5.08 × 6.773 mm."),
    ({"pivot_mm": [2.0, -1.0]}, "pivot_mm", "error", "off its image"),
    ({"px_per_mm": 12.0}, "px_per_mm", "warning", "'px_per_mm' is 12, and the image says 11.811 of itself."),
    ({"image": "parts/gone.png"}, "image", "error", "The image 'parts/gone.png' cannot be used. The file is missing."),
    ({"image": "parts"}, "image", "error", "The image 'parts' cannot be used. This is not a file."),
    ({"image": "../heron.png"}, "image", "error", "'../heron.png' goes up with .., so it may leave the film folder."),
    ({"image": "/tmp/a.png"}, "image", "error", "begins at the top of the disc, so it leaves the film folder."),
    ({"image": "C:/a.png"}, "image", "error", "begins with a drive letter, so it leaves the film folder."),
    ({"image": "parts\\a.png"}, "image", "error", "is written with \\, where / is needed."),
    ({"image": "parts//a.png"}, "image", "error", "has an empty or '.' step in it."),
    ({"image": "parts/nul.png"}, "image", "error", "'nul.png', that is a name that Windows keeps for itself."),
    ({"image": f"parts/{'a' * 200}.png"}, "image", "error", "that is 204 bytes long, and 200 is the most."),
]  # fmt: skip


@pytest.mark.parametrize(("fields", "field", "severity", "said"), BAD_FIELDS)
def test_a_bad_field_is_named_with_what_to_do(folder, fields, field, severity, said):
    folder.part(**fields)
    problem = only(folder.problems())
    assert said in str(problem)
    assert problem.fix
    assert (problem.file, problem.field, problem.severity) == ("parts.toml", field, severity)
    assert problem.part == ("part number 1" if "name" in fields else "heron-head")


BAD_NAMES = [
    ("CON", "is a name that Windows keeps for itself"),
    ("com1.front", "is a name that Windows keeps for itself"),
    ("LPT³", "is a name that Windows keeps for itself"),
    ("head.", "ends with a dot"),
    ("head ", "ends with a space"),
    (" head", "begins with a space"),
    ("a\tb", "holds a character that cannot be seen (U+0009)"),
    *((f"a{c}b", f"holds {c}, which file names cannot have on every computer") for c in '<>:"/\\|?*'),
    ("x" * 64, "is 64 bytes long, and 63 is the most"),
    ("é" * 32, "is 64 bytes long, and 63 is the most"),
]


@pytest.mark.parametrize(("name", "said"), BAD_NAMES)
def test_a_name_that_some_computer_does_not_take_is_refused(folder, name, said):
    folder.picture("a.png")
    folder.part(name, image="parts/a.png")
    problem = only(folder.problems())
    assert said in problem.what
    assert (problem.field, problem.severity) == ("name", "error")


@pytest.mark.parametrize("name", ["heron-head", "console", "com10", "nullify", "x" * 63, "Reiher-Kopf-ä", "a.b", "鷺"])
def test_names_that_every_computer_takes_are_fine(folder, name):
    folder.picture("a.png")
    folder.part(name, image="parts/a.png")
    assert folder.problems() == []


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("heron", "heron", "The name 'heron' is given twice."),
        ("heron", "Heron", "The names 'Heron' and 'heron' differ only in case"),
        ("straße", "STRASSE", "differ only in case"),
        ("caf\u00e9", "cafe\u0301", "or in how accents are stored"),
    ],
)
def test_names_are_unique_by_any_computers_reckoning(folder, first, second, said):
    folder.picture("a.png")
    folder.part(first, image="parts/a.png")
    folder.part(second, image="parts/a.png")
    problem = only(folder.problems())
    assert said in problem.what
    assert "the other is in row 3." in problem.fix
    assert problem.row == 12


def test_a_circle_of_parents_is_shown_once(folder):
    folder.part("a", parent="b")
    folder.part("b", parent="c")
    folder.part("c", parent="b")
    folder.part("d", parent="a")
    problem = only(folder.problems())
    assert problem.what == "The parents go round in a circle: b → c → b."
    assert problem.part == "b"


def test_a_part_that_is_its_own_parent_is_a_circle(folder):
    folder.part("a", parent="a")
    assert only(folder.problems()).what == "The parents go round in a circle: a → a."


def test_a_long_circle_is_shortened(folder):
    for i in range(30):
        folder.part(f"p{i}", parent=f"p{(i + 1) % 30}")
    assert only(folder.problems()).what.endswith("p0 → p1 → p2 → p3 → p4 → p5 → … → p0.")


@pytest.mark.parametrize(("parent", "near"), [("heron-bodi", "heron-body"), ("HERON-BODY", "heron-body")])
def test_an_unknown_parent_gets_the_nearest_name(folder, parent, near):
    folder.part("heron-body")
    folder.part("heron-head", parent=parent)
    problem = only(folder.problems())
    assert str(problem).endswith(f"There is no part '{parent}'. Did you mean '{near}'?")


def test_a_parent_of_another_character_is_a_warning(folder):
    folder.part("snail-shell", character="snail")
    folder.part("heron-head", parent="snail-shell")
    problem = only(folder.problems())
    assert problem.what == "The parent 'snail-shell' belongs to 'snail', this part to 'heron'."
    assert problem.severity == "warning"


def test_a_replacement_set_with_two_parents_is_a_warning(folder):
    folder.part("heron-body")
    folder.part("mouth-a", parent="heron-body", replaces="mouths")
    folder.part("mouth-b", replaces="mouths")
    folder.part("mouth-c", replaces="mouths")
    problem = only(folder.problems())
    assert problem.what == (
        "The replacement set 'mouths' has different parents: 'heron-body' for 'mouth-a', none for 'mouth-b'."
    )
    assert problem.severity == "warning"


def test_views_of_a_replacement_set_may_hang_on_different_parents(folder):
    folder.part("body-front")
    folder.part("body-side")
    folder.part("head-front", parent="body-front", replaces="head", view="front")
    folder.part("head-side", parent="body-side", replaces="head", view="side")
    assert folder.problems() == []


def test_a_joint_off_the_parents_image_is_an_error(folder):
    folder.part("heron-body")
    folder.part("heron-head", parent="heron-body", joint_mm=[2.0, 7.0])
    problem = only(folder.problems())
    assert "'joint_mm' is (2, 7), off the image of its parent 'heron-body', which is 5.08 × 6.773 mm." in problem.what
    assert problem.field == "joint_mm"


def test_half_a_pixel_of_rounding_is_no_problem(folder):
    folder.part(pivot_mm=[60 / 11.811 + 0.04, 80 / 11.811 + 0.04])
    assert folder.problems() == []


def test_two_characters_do_not_share_an_image(folder):
    folder.part("heron-foot")
    folder.part("snail-foot", character="snail", image="parts/heron-foot.png")
    problem = only(folder.problems())
    assert problem.what == "The image 'parts/heron-foot.png' of 'snail' also belongs to 'heron-foot' of 'heron'."
    assert (problem.part, problem.severity) == ("snail-foot", "error")


def test_an_image_shared_under_two_names_is_seen(folder):
    folder.part("heron-foot")
    folder.part("snail-foot", character="snail", image="parts/linked.png")
    os.link(folder.path / "parts/heron-foot.png", folder.path / "parts/linked.png")
    assert "also belongs to 'heron-foot'" in only(folder.problems()).what


def test_a_link_out_of_the_film_folder_is_refused_unread(folder, tmp_path):
    (tmp_path / "secret.png").write_bytes(b"not looked at")
    folder.part(image="parts/link.png")
    (folder.path / "parts/link.png").symlink_to(tmp_path / "secret.png")
    problem = only(folder.problems())
    assert "'parts/link.png' is a link that leads out of the film folder." in problem.what
    assert problem.fix == "Put the picture itself into the film folder."


def test_a_folder_that_leads_out_is_refused(folder, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (folder.path / "shared").symlink_to(tmp_path / "elsewhere")
    folder.part(image="shared/a.png")
    assert "leads out of the film folder" in only(folder.problems()).what


def test_a_link_inside_the_film_folder_is_fine(folder):
    folder.part("a")
    folder.part("b", image="parts/link.png")
    (folder.path / "parts/link.png").symlink_to(folder.path / "parts/a.png")
    assert folder.problems() == []


def test_links_in_a_circle_are_a_problem_not_a_crash(folder):
    (folder.path / "parts/x.png").symlink_to("x.png")
    folder.part(image="parts/x.png")
    assert "cannot be used" in only(folder.problems()).what


def test_an_image_spelt_in_another_case_is_told_its_name(folder):
    folder.picture("Heron.png")
    folder.part(image="parts/heron.png")
    problem = only(folder.problems())
    assert "'parts/heron.png' is called 'Heron.png' on the disc" in problem.what
    assert problem.fix == "Write it as it is on the disc."


@pytest.mark.parametrize(
    ("cut", "said"), [(0, "The file is empty."), (20, "The file is cut off"), (-3, "The file is cut off after")]
)
def test_a_broken_image_is_found(folder, make_png, cut, said):
    folder.part(picture=make_png.png()[:cut])
    problem = only(folder.problems())
    assert f"The image 'parts/heron-head.png' cannot be used. {said}" in problem.what
    assert problem.fix == "Save or copy the picture again."


def test_an_image_without_transparency_is_a_warning(folder, make_png):
    folder.part(picture=make_png.png(colour=2))
    problem = only(folder.problems())
    assert "has no transparency, so the part shows as a whole rectangle." in problem.what
    assert problem.severity == "warning"


def test_pixels_that_are_not_square_are_a_warning(folder, make_png):
    folder.part(picture=make_png.png(extra=make_png.density(11811, 5906)))
    assert "its pixels are not square (11.81 × 5.906 px per mm)" in only(folder.problems()).what


def test_one_per_cent_of_scale_is_no_problem(folder):
    folder.part(px_per_mm=11.811 * 1.009)
    assert folder.problems() == []


def test_everything_is_told_at_once_in_the_order_of_the_rows(folder):
    folder.film_toml.write_text("schema = 1\n")
    folder.part("a", image="parts/gone.png", laier=3)
    folder.part("b", parent="zebra", px_per_mm="3")
    found = folder.problems()
    assert [(p.file, p.field) for p in found] == [
        ("film.toml", "title"), ("film.toml", "fps"), ("film.toml", "size"),
        ("parts.toml", "image"), ("parts.toml", "laier"), ("parts.toml", "px_per_mm"), ("parts.toml", "parent"),
    ]  # fmt: skip
    assert [p.row for p in found if p.file == "parts.toml"] == sorted(p.row for p in found if p.file == "parts.toml")


def test_an_empty_folder_is_told_how_to_begin(tmp_path, folder):
    from pastepot.library import check

    found = check.check(tmp_path)
    assert [p.what for p in found] == [
        f"There is no film.toml in {tmp_path}.",
        f"There is no parts.toml in {tmp_path}.",
    ]
    assert found[0].fix == f"Start a film folder with: pastepot new {tmp_path}"


def test_each_image_is_read_once_however_many_parts_use_it(folder, monkeypatch):
    from pastepot.library import png

    read: list[str] = []
    verify = png.verify
    monkeypatch.setattr(png, "verify", lambda path: read.append(path.name) or verify(path))
    folder.part("a")
    for i in range(5):
        folder.part(f"b{i}", image="parts/a.png")
    assert folder.problems() == []
    assert read == ["a.png"]
