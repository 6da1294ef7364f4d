"""Films of known truth, measured: exposures, cuts, weave, borders, and files that are no films."""

from __future__ import annotations

import json
import tracemalloc
from fractions import Fraction
from pathlib import Path

import numpy as np
import paper_film
import pytest
from paper_film import PaperFilm, Recipe
from pastepot import cli
from pastepot.errors import PastepotError
from pastepot.reference import decide, footage, measure, told
from pastepot.reference.borders import borders
from pastepot.reference.rate import content_rate
from pastepot.timing import feel, sheet_files

SMALL = (320, 240)


def film(path: Path, recipe: Recipe, **options: str) -> PaperFilm:
    made = PaperFilm(recipe)
    paper_film.write(path, list(made.frames()), Fraction(24), **options)
    return made


@pytest.mark.parametrize("pattern", ["ones", "twos", "mixed", "random"])
def test_exposures_are_found_through_grain_and_weave(pattern, tmp_path):
    made = film(tmp_path / "a.mkv", Recipe(21, pattern, 48, SMALL, 3, weave=0.4, stops=0.03, grain=3))
    found = measure.measure(tmp_path / "a.mkv")
    true, got = set(made.truth.starts.tolist()), set(found.starts.tolist())
    assert len(true & got) >= 0.95 * len(true | got)


def test_a_still_film_is_one_exposure(tmp_path):
    picture = PaperFilm(Recipe(4, size=SMALL)).back
    grain = np.random.default_rng(1)
    frames = [picture + grain.normal(0, 4, picture.shape).astype(np.float32) for _ in range(60)]
    paper_film.write(tmp_path / "a.mkv", frames, Fraction(24))
    assert measure.measure(tmp_path / "a.mkv").starts.tolist() == [0]


def test_weave_and_flicker_come_out_as_they_were_put_in(tmp_path):
    made = film(tmp_path / "a.mkv", Recipe(5, "twos", 96, (640, 480), weave=0.5, stops=0.04, grain=3))
    shot = measure.measure(tmp_path / "a.mkv").shots[0]
    weave = float(np.sqrt((made.truth.weave**2).mean())) / 2  # half as many pixels across
    assert shot.wander.weave.tells
    assert shot.wander.weave.value == pytest.approx(weave, rel=0.15)
    assert shot.wander.flicker.value == pytest.approx(float(made.truth.stops.std()), rel=0.15)


def test_a_film_without_weave_tells_none(tmp_path):
    film(tmp_path / "a.mkv", Recipe(6, "twos", 48, SMALL, grain=4))
    assert not measure.measure(tmp_path / "a.mkv").shots[0].wander.weave.tells


def test_shots_begin_where_the_sheet_of_paper_changes(tmp_path):
    parts = [PaperFilm(Recipe(seed, "twos", 40, SMALL, grain=2)) for seed in (1, 2, 3)]
    frames = [frame for part in parts for frame in part.frames()]
    paper_film.write(tmp_path / "a.mkv", frames, Fraction(24))
    found = measure.measure(tmp_path / "a.mkv")
    assert [shot.first for shot in found.shots] == [0, 40, 80]
    assert [shot.last for shot in found.shots] == [39, 79, 119]
    given = measure.measure(tmp_path / "a.mkv", cuts=[40])
    assert [shot.first for shot in given.shots] == [0, 40]


def test_the_length_of_a_shot_does_not_matter(tmp_path, monkeypatch):
    """A shot is worked on in stretches; their joints lose no exposure."""
    made = film(tmp_path / "a.mkv", Recipe(9, "mixed", 120, SMALL, 3, weave=0.3, grain=2))
    monkeypatch.setattr(measure, "_STRETCH", 40)
    found = measure.measure(tmp_path / "a.mkv")
    assert sum(len(shot.new) for shot in found.shots) == 120
    true, got = set(made.truth.starts.tolist()), set(found.starts.tolist())
    assert len(true & got) >= 0.95 * len(true | got)


def test_memory_does_not_grow_with_the_film(tmp_path):
    peaks = []
    for count in (300, 700):
        paper_film.write(tmp_path / "a.mkv", [np.full((64, 64), 90, np.float32)] * count, Fraction(24))
        tracemalloc.start()
        measure.measure(tmp_path / "a.mkv")
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < peaks[0] * 1.3


def test_woven_fields_are_read_by_one_of_them(tmp_path):
    frames = list(PaperFilm(Recipe(11, "twos", 48, SMALL, grain=2)).frames())
    woven = paper_film.pulldown(frames, "comb")
    paper_film.write(tmp_path / "a.mkv", woven, Fraction(30))
    assert footage.look(tmp_path / "a.mkv").field
    paper_film.write(tmp_path / "b.mkv", frames, Fraction(24))
    assert not footage.look(tmp_path / "b.mkv").field


def test_black_borders_are_left_out():
    picture = np.full((240, 426), 120, np.float32)
    picture[:, :53] = picture[:, 373:] = 5
    box = borders(picture)
    assert (box.top, box.bottom) == (0, 240)
    assert 53 <= box.left <= 56
    assert 370 <= box.right <= 373
    assert borders(np.full((240, 320), 8, np.float32)) == (0, 240, 0, 320)


@pytest.mark.parametrize(("made_at", "rate"), [(12, 24), (24, 25), (24, 30), (15, 30), (12, 25)])
def test_the_rate_before_the_conversion_is_found(made_at, rate):
    starts = np.unique(np.floor(np.arange(0, 200) * rate / made_at + 0.4).astype(np.int64))
    found = content_rate(starts, Fraction(rate))
    assert found is not None
    assert found[0] == made_at
    assert content_rate(starts[:5], Fraction(rate)) is None


def test_probabilities_agree_with_every_sequence_counted_one_by_one():
    """Forward and backward sums against all 2^(T-1) ways to divide a short shot."""
    random = np.random.default_rng(3)
    odds, lengths = random.normal(0, 2, 9), np.array([0.2, 0.4, 0.2, 0.1, 0.04, 0.03, 0.01, 0.01, 0.01])
    tail = np.cumsum(lengths[::-1])[::-1]
    weights, members = [], []
    for code in range(2**8):
        starts = [0, *(n + 1 for n in range(8) if code >> n & 1)]
        ends = [*starts[1:], 9]
        weight = sum(odds[s] for s in starts[1:])
        for s, e in zip(starts, ends, strict=True):
            open_ended = s == 0 or e == 9
            weight += np.log(tail[e - s - 1] if open_ended else lengths[e - s - 1])
        weights.append(np.exp(weight))
        members.append(np.isin(np.arange(9), starts))
    weighed = np.array(weights)
    expected = (weighed[:, None] * np.array(members)).sum(axis=0) / weighed.sum()
    assert decide.probabilities(odds, lengths) == pytest.approx(expected, abs=1e-6)
    assert decide.best(odds, lengths).tolist() == np.flatnonzero(members[int(weighed.argmax())]).tolist()


def test_a_start_that_changes_nothing_keeps_long_holds_whole():
    assert decide.best(np.full(300, -9.0), decide._usual(300)).tolist() == [0]


def broken(path: Path) -> Path:
    film(path, Recipe(2, "twos", 48, SMALL, grain=2), codec="libx264", crf="28")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 900] = bytes(900)
    path.write_bytes(data)
    return path


def test_a_damaged_film_is_measured_as_far_as_it_goes(tmp_path, capsys):
    assert cli.main(["measure", str(broken(tmp_path / "a.mkv"))]) == 0
    said = capsys.readouterr()
    assert "could be read" in said.err or "could not be decoded" in said.err
    assert "pictures at 24" in said.out


def test_a_film_of_one_picture_is_one_exposure(tmp_path):
    film(tmp_path / "a.mkv", Recipe(2, frames=1, size=SMALL))
    found = measure.measure(tmp_path / "a.mkv")
    assert found.starts.tolist() == [0]
    assert found.content is None


def sound_only(path: Path) -> None:
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream("pcm_s16le", rate=8000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 8000), np.int16), format="s16", layout="mono")
        frame.sample_rate = 8000
        container.mux(stream.encode(frame))
        container.mux(stream.encode())


@pytest.mark.parametrize(
    ("content", "words"),
    [(None, "missing"), (b"", "read"), (b"not a film" * 99, "read"), ("sound", "no moving picture")],
)
def test_what_is_no_film_is_told(content, words, tmp_path):
    path = tmp_path / "a.wav"
    if content == "sound":
        sound_only(path)
    elif content is not None:
        path.write_bytes(content)
    with pytest.raises(PastepotError, match=words):
        measure.measure(path)


def test_the_command_writes_a_feel_and_a_sheet(tmp_path, capsys):
    made = film(tmp_path / "pond.mkv", Recipe(8, "mixed", 96, SMALL, 3, weave=0.5, grain=2))
    out, sheet = tmp_path / "pond.feel.toml", tmp_path / "pond.csv"
    words = ["measure", str(tmp_path / "pond.mkv"), "-o", str(out), "--sheet", str(sheet)]
    assert cli.main([*words, "--json"]) == 0
    told_ = json.loads(capsys.readouterr().out)
    assert told_["pictures"] == 96
    written = feel.load(out)
    assert written.weave_mm == pytest.approx(0.5, rel=0.2)  # 320 mm across 320 pixels
    starts = [cell.start - 1 for cell in sheet_files.load(sheet).column(told.COLUMN).cells]
    assert starts == told_["shots"][0]["starts"]
    assert len(set(starts) & set(made.truth.starts.tolist())) >= 0.95 * len(starts)
    assert cli.main(words) == 2
    assert "exists already" in capsys.readouterr().err


def test_the_command_never_writes_over_the_film(tmp_path, capsys):
    film(tmp_path / "a.feel.toml.mkv", Recipe(8, frames=2, size=SMALL))
    path = (tmp_path / "a.feel.toml.mkv").rename(tmp_path / "a.feel.toml")
    before = path.read_bytes()
    assert cli.main(["measure", str(path), "-o", str(path), "--overwrite"]) == 2
    assert "the film itself" in capsys.readouterr().err
    assert path.read_bytes() == before
