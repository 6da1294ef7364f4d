"""pastepot new, scan, check and parts, as they are typed: exit codes, what is said where, JSON."""

from __future__ import annotations

import json

import pytest
from pastepot import cli, film
from pastepot.library import filenames, manifest


@pytest.fixture
def pastepot(capsys):
    """Runs a command; gives the exit code, what it printed and what it complained of."""

    def run(*words: object):
        code = cli.main([str(w) for w in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def test_new_starts_a_film(pastepot, tmp_path):
    place = tmp_path / "kettle-pond"
    code, out, err = pastepot("new", place, "--title", "The Teapot", "--fps", "24000/1001", "--size", "1280x720")
    assert (code, err) == (0, "")
    assert out == f"{place} is ready. Put the cut-out pictures into {place}/parts, then: pastepot scan {place}\n"
    assert (film.load(place).title, film.load(place).size) == ("The Teapot", (1280, 720))
    assert str(film.load(place).fps) == "24000/1001"


def test_new_takes_the_folders_name_for_a_title(pastepot, tmp_path, monkeypatch):
    (tmp_path / "kettle-pond").mkdir()
    monkeypatch.chdir(tmp_path / "kettle-pond")
    code, out, _ = pastepot("new", ".", "--json")
    assert code == 0
    assert json.loads(out) == {
        "film": ".", "title": "kettle-pond", "fps": "12", "size": [1920, 1080], "problems": [],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--size", "1920"], "'1920' is not a size like 1920x1080"),
        (["--size", "2x1080"], "Value 1 of 'size' is 2, less than 4."),
        (["--fps", "fast"], "'fps' is \"fast\". Give frames per second"),
        (["--title", ""], "'title' is empty."),
    ],
)
def test_new_with_settings_that_make_no_sense_is_misuse(pastepot, tmp_path, words, said):
    code, _, err = pastepot("new", tmp_path / "pond", *words)
    assert code == 2
    assert said in err
    assert not (tmp_path / "pond").exists()


def test_new_does_not_touch_a_film_that_is_there(pastepot, folder):
    before = folder.film_toml.read_bytes()
    code, _, err = pastepot("new", folder.path)
    assert code == 2
    assert f"There is a film.toml in {folder.path} already. Give another place for the film." in err
    assert folder.film_toml.read_bytes() == before


def test_scan_adds_parts_and_says_so(pastepot, folder):
    folder.picture("heron-head-front.png")
    folder.picture("snail-mouth-small.png")
    code, out, err = pastepot("scan", folder.path)
    assert (code, err) == (0, "")
    assert out == (
        "heron-head-front: head of heron, layer 50\n"
        "snail-mouth-small: mouth of snail, layer 60\n"
        "2 new parts added to parts.toml. Each pivot is drafted at the middle of its picture: "
        "put it where the part turns.\n"
    )
    assert [p.name for p in manifest.load(folder.path)] == ["heron-head-front", "snail-mouth-small"]


def test_scan_can_only_say_what_it_would_do(pastepot, folder):
    folder.picture("heron-head-front.png")
    before = folder.parts_toml.read_bytes()
    code, out, _ = pastepot("scan", folder.path, "--dry-run")
    assert code == 0
    assert "1 new part would be added." in out
    assert folder.parts_toml.read_bytes() == before


def test_scan_adds_what_fits_and_complains_of_the_rest(pastepot, folder):
    folder.picture("heron-head-front.png")
    folder.picture("heron-front-head.png")
    code, out, err = pastepot("scan", folder.path)
    assert code == 1
    assert "1 new part added" in out
    assert err == (
        "error: parts/heron-front-head.png: The file name does not say what part it is. "
        "Rename it heron-head-front.png.\n"
    )


def test_scan_in_json(pastepot, folder, make_png):
    folder.picture("heron-head-front.png", make_png.png(extra=b""))
    code, out, err = pastepot("scan", folder.path, "--json")
    said = json.loads(out)
    assert (code, err) == (0, "")
    assert said["written"] is True
    assert said["added"] == [
        {"name": "heron-head-front", "character": "heron", "type": "head", "view": "front",
         "image": "parts/heron-head-front.png", "px_per_mm": 11.811, "pivot_mm": [2.54, 3.39], "layer": 50}
    ]  # fmt: skip
    assert [(p["severity"], p["field"]) for p in said["problems"]] == [("warning", "px_per_mm")]


def test_scan_explains_the_naming_convention(pastepot):
    code, out, _ = pastepot("scan", "--help")
    assert code == 0
    assert " ".join(filenames.EXPLAINED.split()) in " ".join(out.split())


def test_check_of_a_good_film(pastepot, folder):
    folder.part()
    assert pastepot("check", folder.path) == (0, "No problems.\n", "")


def test_check_with_only_warnings_is_good(pastepot, folder):
    folder.part(view="frnt")
    code, out, err = pastepot("check", folder.path)
    assert (code, out) == (0, "0 errors, 1 warning.\n")
    assert err.startswith("warning: parts.toml:10 heron-head · view: The view 'frnt' is none of")


def test_check_tells_all_errors_at_once(pastepot, folder):
    folder.part("a", laier=1)
    folder.part("b", parent="zebra", view="x")
    code, out, err = pastepot("check", folder.path)
    assert (code, out) == (1, "2 errors, 1 warning.\n")
    assert len(err.splitlines()) == 3


def test_check_in_json(pastepot, folder):
    folder.part("a", parent="zebra")
    code, out, err = pastepot("check", folder.path, "--json")
    said = json.loads(out)
    assert (code, err, said["errors"], said["warnings"]) == (1, "", 1, 0)
    assert said["problems"] == [
        {"what": "There is no part 'zebra'.", "fix": "Correct 'parent', or add that part.",
         "file": "parts.toml", "row": 10, "part": "a", "field": "parent", "severity": "error"}
    ]  # fmt: skip


def test_check_of_a_folder_without_a_film(pastepot, tmp_path):
    code, out, err = pastepot("check", tmp_path)
    assert (code, out) == (1, "2 errors, 0 warnings.\n")
    assert f"Start a film folder with: pastepot new {tmp_path}" in err


def test_parts_go_out_and_come_in(pastepot, folder, tmp_path):
    folder.part("a")
    folder.part("b")
    table = tmp_path / "t.csv"
    assert pastepot("parts", folder.path, "--csv", table) == (0, f"{table}: 2 parts.\n", "")
    table.write_text(table.read_text(encoding="utf-8-sig").replace("b,heron,head", "b,heron,body"))
    before = folder.parts_toml.read_text()
    dry = pastepot("parts", folder.path, "--from-csv", table, "--dry-run")
    assert dry == (0, "b: type\n1 part would be changed, 0 parts would be added.\n", "")
    assert folder.parts_toml.read_text() == before
    assert pastepot("parts", folder.path, "--from-csv", table) == (0, "b: type\n1 part changed, 0 parts added.\n", "")
    assert [p.type for p in manifest.load(folder.path)] == ["head", "body"]


def test_parts_from_a_table_in_json(pastepot, folder, tmp_path):
    folder.part("a")
    table = tmp_path / "t.csv"
    table.write_text(
        "name,layer,character,type,image,px_per_mm,pivot_x_mm,pivot_y_mm\na,3,heron,head,parts/a.png,11.811,2,3\n"
    )
    with table.open("a") as file:
        file.write("c,0,snail,eye,parts/c.png,2,0,0\n")
    code, out, _ = pastepot("parts", folder.path, "--from-csv", table, "--json")
    said = json.loads(out)
    assert (code, said["changed"], said["written"]) == (0, {"a": ["layer"]}, True)
    assert [p["name"] for p in said["added"]] == ["c"]


def test_a_bad_table_changes_nothing(pastepot, folder, tmp_path):
    folder.part("a")
    before = folder.parts_toml.read_text()
    table = tmp_path / "t.csv"
    table.write_text('name,px_per_mm,layer\na,"1,5",high\n')
    code, _, err = pastepot("parts", folder.path, "--from-csv", table)
    assert code == 1
    assert [line.split(": ")[1] for line in err.splitlines()] == ["t.csv:2 a · px_per_mm", "t.csv:2 a · layer"]
    assert folder.parts_toml.read_text() == before


MISUSE = [
    ([], "one of the arguments --csv --from-csv is required"),
    (["--csv", "t.csv", "--from-csv", "t.csv"], "not allowed with argument"),
    (["--csv", "t.csv", "--dry-run"], "--dry-run goes with --from-csv."),
    (["--from-csv", "t.csv", "--overwrite"], "--overwrite goes with --csv."),
    (["--from-csv", "gone.csv"], "gone.csv cannot be read (No such file or directory)."),
    (["--csv", "there.csv"], "there.csv exists already. Choose another name, or say --overwrite"),
    (["--csv", "no/t.csv"], "The folder no does not exist."),
]


@pytest.mark.parametrize(("words", "said"), MISUSE)
def test_parts_used_wrongly(pastepot, folder, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.csv").write_text("mine")
    code, _, err = pastepot("parts", folder.path, *words)
    assert code == 2
    assert said in err
    assert (tmp_path / "there.csv").read_text() == "mine"


@pytest.mark.parametrize("name", ["new", "scan", "check", "parts"])
def test_every_command_shows_an_example(pastepot, name):
    code, out, _ = pastepot(name, "--help")
    assert code == 0
    assert f"example:\n  pastepot {name} " in out
    assert "--json" in out
