"""film.toml: read, checked, started."""

from __future__ import annotations

from fractions import Fraction

import pytest
from pastepot import film
from pastepot.errors import Misuse, PastepotError

GOOD = 'schema = 1\ntitle = "Waiting"\nfps = 12\nsize = [1920, 1080]\n'


def problems_of(folder, text: str):
    folder.film_toml.write_text(text)
    return film.check_film(folder.path)


def test_what_must_be_there_is_enough(folder):
    folder.film_toml.write_text(GOOD)
    assert film.load(folder.path) == film.Film(folder.path, "Waiting", Fraction(12), (1920, 1080))


def test_every_field_is_read(folder):
    (folder.path / "reference/pond.feel.toml").touch()
    (folder.path / "reference/pond.mp4").touch()
    folder.film_toml.write_text("""\
schema = 1
title = "Waiting for the Teapot"
fps = "24000/1001"
size = [1920, 1080]
seed = 7
first_frame = 101
units_per_mm = 1
look = "lit"
layer_gap_mm = 0.5
frame_width_mm = 400
feel = "reference/pond.feel.toml"
reference = "reference/pond.mp4"
[[shot]]
name = "arrive"
start = 101
end = 148
[[shot]]
name = "wait"
start = 149
end = 149
""")
    assert film.check_film(folder.path) == []
    assert film.load(folder.path) == film.Film(
        folder.path, "Waiting for the Teapot", Fraction(24000, 1001), (1920, 1080), 7, 101, 1.0, "lit", 0.5, 400.0,
        "reference/pond.feel.toml", "reference/pond.mp4", (film.Shot("arrive", 101, 148), film.Shot("wait", 149, 149)),
    )  # fmt: skip


@pytest.mark.parametrize(("written", "fps"), [("12", 12), ('"25"', 25), ('"30000/1001"', Fraction(30000, 1001))])
def test_the_rate_is_exact(folder, written, fps):
    folder.film_toml.write_text(GOOD.replace("fps = 12", f"fps = {written}"))
    assert film.load(folder.path).fps == fps


BAD = [
    # a line of GOOD, what stands there instead, the field, what is said
    ("schema = 1", "", "schema", "'schema' is missing."),
    ("schema = 1", 'schema = "1"', "schema", "'schema' is \"1\". Give the version of this file's fields, 1."),
    ("schema = 1", "schema = 2", "schema", "written by a newer Pastepot (schema 2; this one knows 1)."),
    ('title = "Waiting"', "", "title", "'title' is missing. Give the film's title"),
    ('title = "Waiting"', 'titel = "W"\ntitle = "W"', "titel", "not a field of film.toml. Did you mean 'title'?"),
    ('title = "Waiting"', "title = 2026-05-03", "title", "the date or time 2026-05-03, not a text in quotes."),
    ('title = "Waiting"', 'title = " "', "title", "'title' is empty."),
    ('title = "Waiting"', 'title = "a\\tb"', "title", "'title' holds a character that cannot be seen."),
    ('title = "Waiting"', f'title = "{"w" * 201}"', "title", "'title' is 201 letters long, and 200 is the most."),
    ("fps = 12", "fps = 23.976", "fps", "'fps' is 23.976. Give frames per second"),
    ("fps = 12", 'fps = "24000/1001 fps"', "fps", "a fraction in quotes such as \"24000/1001\""),
    ("fps = 12", 'fps = "1000"', "fps", "'fps' is 1000 frames per second. Give a rate from 1 to 240."),
    ("fps = 12", 'fps = "1/2"', "fps", "'fps' is 0.5 frames per second."),
    ("size = [1920, 1080]", "size = 1920", "size", "'size' is 1920, not a list."),
    ("size = [1920, 1080]", "size = [1920, 1080, 3]", "size", "Value 3 of 'size' is 3, less than 4."),
    ("size = [1920, 1080]", "size = [1920, 2]\n", "size", "Value 2 of 'size' is 2, less than 4."),
    ("fps = 12", "fps = 12\nseed = -1", "seed", "'seed' is -1, less than 0."),
    ("fps = 12", "fps = 12\nlook = 'lid'", "look", "'look' is \"lid\" (did you mean 'lit'?)."),
    ("fps = 12", "fps = 12\nlayer_gap_mm = inf", "layer_gap_mm", "'layer_gap_mm' is inf, not a number."),
    ("fps = 12", "fps = 12\nfeel = '../a.feel.toml'", "feel", "goes up with .., so it may leave the film folder."),
    ("fps = 12", "fps = 12\nfeel = 'a.feel.toml'", "feel", "There is no file 'a.feel.toml'."),
    ("fps = 12", "fps = 12\nshot = [3]", "shot", "Value 1 of 'shot' is 3, not a table."),
]  # fmt: skip


@pytest.mark.parametrize(("line", "instead", "field", "said"), BAD)
def test_a_bad_field_is_named_with_its_row(folder, line, instead, field, said):
    found = problems_of(folder, GOOD.replace(line, instead))
    assert said in str(found[0])
    assert found[0].field == field
    assert found[0].fix
    assert found[0].row == (
        0 if "missing" in said else GOOD.split("\n").index(line) + instead.startswith("fps = 12\n") + 1
    )


def test_a_field_below_a_shot_is_told_where_it_belongs(folder):
    found = problems_of(folder, GOOD + '[[shot]]\nname = "a"\nstart = 1\nend = 2\nseed = 3\n')
    assert [str(p) for p in found] == [
        "film.toml:9 shot.seed: 'seed' is not a field of [[shot]]. "
        "Move it up to the top of film.toml, above the line [[shot]]."
    ]


SHOTS = [
    ((("a/b", 1, 2),), "The shot name 'a/b' holds /, which file names cannot have on every computer.", "error"),
    ((("a", 1, 2), ("A", 3, 4)), "Shot 'A' has the name of the shot in row 5.", "error"),
    ((("a", 3, 2),), "Shot 'a' ends on frame 2, before it starts on frame 3.", "error"),
    ((("a", 0, 2),), "Shot 'a' starts on frame 0, before the film's first frame, 1.", "error"),
    ((("a", 5, 9), ("b", 1, 5)), "Shots 'b' and 'a' share frames: one ends on 5, the other starts on 5.", "warning"),
]


@pytest.mark.parametrize(("shots", "said", "severity"), SHOTS)
def test_shots_that_make_no_sense(folder, shots, said, severity):
    text = "".join(f'[[shot]]\nname = "{name}"\nstart = {start}\nend = {end}\n' for name, start, end in shots)
    found = problems_of(folder, GOOD + text)
    assert [(p.what, p.severity) for p in found] == [(said, severity)]


def test_a_shot_inside_another_is_seen(folder):
    shots = (("a", 1, 100), ("b", 5, 6), ("c", 50, 60))
    text = "".join(f'[[shot]]\nname = "{name}"\nstart = {start}\nend = {end}\n' for name, start, end in shots)
    assert [p.what[:25] for p in problems_of(folder, GOOD + text)] == [
        "Shots 'a' and 'b' share f", "Shots 'a' and 'c' share f",
    ]  # fmt: skip


def test_a_link_out_of_the_film_folder_is_refused(folder, tmp_path):
    (tmp_path / "a.feel.toml").touch()
    (folder.path / "a.feel.toml").symlink_to(tmp_path / "a.feel.toml")
    found = problems_of(folder, GOOD + 'feel = "a.feel.toml"\n')
    assert [p.what for p in found] == ["'a.feel.toml' is a link that leads out of the film folder."]


def test_a_missing_reference_is_a_warning(folder):
    found = problems_of(folder, GOOD + 'reference = "pond.mp4"\n')
    assert [(p.what, p.severity) for p in found] == [("There is no file 'pond.mp4'.", "warning")]
    assert film.load(folder.path).reference == "pond.mp4"


def test_loading_tells_every_error_at_once(folder):
    folder.film_toml.write_text("schema = 1\nfps = 0\nlook = 1\n")
    with pytest.raises(PastepotError) as caught:
        film.load(folder.path)
    assert [p.field for p in caught.value.problems] == ["title", "size", "fps", "look"]


def test_starting_a_film_makes_its_folders(tmp_path):
    place = tmp_path / "films" / "kettle pond"
    made = film.create(place, 'The "kettle" \\ pond — ü', "24000/1001", (1280, 720))
    assert made == film.load(place)
    assert (made.title, made.fps, made.size) == ('The "kettle" \\ pond — ü', Fraction(24000, 1001), (1280, 720))
    assert film.check_film(place) == []
    assert sorted(p.name for p in place.iterdir()) == sorted([*film.FOLDERS, "film.toml", "parts.toml"])
    assert [*(place / "parts").iterdir()] == []


@pytest.mark.parametrize("fps", [12, Fraction(25), Fraction(30000, 1001), "24"])
def test_a_rate_is_taken_in_every_form(tmp_path, fps):
    assert film.create(tmp_path / "f", "T", fps, (64, 64)).fps == Fraction(fps)


def everything_below(folder):
    return {p: p.read_bytes() if p.is_file() else None for p in folder.rglob("*")}


@pytest.mark.parametrize("there", ["film.toml", "parts.toml", "renders"])
def test_nothing_of_the_persons_is_touched(tmp_path, there):
    place = tmp_path / "pond"
    place.mkdir()
    (place / there).write_text("mine")
    before = everything_below(tmp_path)
    with pytest.raises(Misuse) as caught:
        film.create(place, "T", 12, (64, 64))
    assert there in caught.value.problems[0].what
    assert everything_below(tmp_path) == before


def test_a_dangling_link_is_not_written_through(tmp_path):
    place = tmp_path / "pond"
    place.mkdir()
    (place / "film.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(Misuse, match=r"There is a film\.toml"):
        film.create(place, "T", 12, (64, 64))
    assert not (tmp_path / "elsewhere.toml").exists()


def test_a_file_in_the_folders_place_is_told(tmp_path):
    (tmp_path / "pond").write_text("mine")
    with pytest.raises(Misuse, match="is not a folder"):
        film.create(tmp_path / "pond", "T", 12, (64, 64))


def test_pictures_that_are_there_already_stay(tmp_path):
    picture = tmp_path / "pond" / "parts" / "heron.png"
    picture.parent.mkdir(parents=True)
    picture.write_bytes(b"mine")
    film.create(tmp_path / "pond", "T", 12, (64, 64))
    assert picture.read_bytes() == b"mine"


def test_settings_that_make_no_sense_make_no_folder(tmp_path):
    with pytest.raises(Misuse) as caught:
        film.create(tmp_path / "pond", "", "twelve", (0, 64))
    assert [p.field for p in caught.value.problems] == ["title", "fps", "size"]
    assert all(p.row == 0 for p in caught.value.problems)
    assert not (tmp_path / "pond").exists()


def test_a_failure_half_way_leaves_nothing(tmp_path, monkeypatch):
    def full(*_args, **_options):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(film, "replacing", full)
    with pytest.raises(PastepotError, match="No space left on device"):
        film.create(tmp_path / "a" / "pond", "T", 12, (64, 64))
    assert [*tmp_path.iterdir()] == []
