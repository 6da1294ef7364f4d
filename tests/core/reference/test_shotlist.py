"""The list of shots: found, written, corrected by a person, taken again."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import opentimelineio as otio
import paper_film
import pytest
from paper_film import PaperFilm, Recipe
from pastepot import cli, film
from pastepot.errors import PastepotError
from pastepot.reference import shotlist


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    frames = [f for seed in (1, 2, 3) for f in PaperFilm(Recipe(seed, "twos", 30, (320, 240), grain=2)).frames()]
    return paper_film.write(tmp_path / "pond.mkv", frames, Fraction(24))


def test_the_list_goes_into_the_film_folder_and_is_taken_as_corrected(clip, tmp_path, capsys):
    folder = tmp_path / "film"
    film.create(folder, "Waiting", 24, (640, 480))
    words = ["shots", str(clip), "--film", str(folder), "--otio"]
    assert cli.main(words) == 0
    listed = folder / "reference" / "pond.shots.csv"
    assert shotlist.firsts(listed) == [0, 30, 60]
    timeline = otio.adapters.read_from_file(str(folder / "reference" / "pond.shots.otio"))
    assert [c.source_range.duration.to_frames() for c in timeline.find_clips()] == [30, 30, 30]

    assert cli.main(words) == 1
    assert "exists already" in capsys.readouterr().err
    kept = listed.read_text(encoding="utf-8").splitlines()
    listed.write_text("\n".join([kept[0], kept[1], kept[3]]) + "\n", encoding="utf-8")
    assert cli.main(["measure", str(clip), "--shots", str(listed), "--json"]) == 0
    assert [s["first"] for s in json.loads(capsys.readouterr().out)["shots"]] == [0, 60]


def test_a_flash_is_no_cut(tmp_path):
    frames = list(PaperFilm(Recipe(5, "twos", 60, (320, 240), grain=2)).frames())
    for n in (30, 31):
        frames[n] = 255 - frames[n]
    paper_film.write(tmp_path / "a.mkv", frames, Fraction(24))
    assert shotlist.find(tmp_path / "a.mkv").firsts == (0,)


def test_a_shot_begins_out_of_black(tmp_path):
    lit = list(PaperFilm(Recipe(5, "twos", 40, (320, 240), grain=2)).frames())
    frames = [*lit, *([lit[0] * 0 + 6] * 10), *lit]
    paper_film.write(tmp_path / "a.mkv", frames, Fraction(24))
    assert 50 in shotlist.find(tmp_path / "a.mkv").firsts


def test_every_wrong_line_is_told(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("name,first\na,0\nb,soon\nc,-4\n", encoding="utf-8")
    with pytest.raises(PastepotError) as caught:
        shotlist.firsts(path)
    assert [problem.row for problem in caught.value.problems] == [3, 4]
