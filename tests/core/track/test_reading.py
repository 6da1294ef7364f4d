"""A reading as JSON and CSV, and what a person changed in it."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

import pytest
from pastepot.errors import PastepotError
from pastepot.track import reading
from pastepot.track.align import Rough, Spoken
from pastepot.track.choose import Timed
from pastepot.track.reading import LineReading, Reading

LINE = LineReading(
    "waiting-1",
    "SNAIL",
    "No “hurry”.",
    1.0,
    2.5,
    "text",
    "snail",
    (Spoken("No", 1.0, 1.3, -3.5, False), Spoken("hurry", 1.3, 2.0, -99.0, True)),
    (Timed("N", 1.0, 1.1, -3.0), Timed("OW", 1.1, 1.3, 0.0)),
    (Rough(1.3, 0.04, (0.0, 0.5, 1.0)),),
    ("These words are not what is spoken: hurry.",),
    {"snail-mouth": {13: "pea", 17: "rest"}},
    {"snail-mouth": {14: "gape"}},
)
READING = Reading(
    "track/waiting.wav", 10.0, Fraction(24000, 1001), 1, (LINE, LineReading("waiting-2", "X", "", 3.0, 4.0, "silent"))
)


def test_there_and_back():
    assert reading.loads(reading.dumps(READING)) == READING


def test_a_file_there_and_back(tmp_path):
    path = reading.path_of(tmp_path / "waiting.wav")
    assert path.name == "waiting.reading.json"
    assert reading.load(path) is None
    reading.save(READING, path)
    assert reading.load(path) == READING
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_what_was_changed_by_hand_is_kept_through_a_new_reading():
    changed = READING.changed("waiting-1", "snail-mouth", 20, "bite")
    fresh = replace(READING, lines=tuple(replace(x, by_hand={}) for x in READING.lines))
    kept = fresh.keeping(changed).lines[0].by_hand
    assert kept == {"snail-mouth": {14: "gape", 20: "bite"}}
    assert READING.changed("waiting-1", "snail-mouth", 14, "").lines[0].by_hand == {"snail-mouth": {}}


def test_the_table():
    rows = reading.as_csv([READING]).splitlines()
    assert rows[0] == "sound,line,speaker,set,frame,seconds,mouth,by hand"
    assert [row.split(",")[4:] for row in rows[1:]] == [
        ["13", "0.5", "pea", ""],
        ["14", "0.542", "gape", "yes"],
        ["17", "0.667", "rest", ""],
    ]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"lines": None}, "'lines' is"),
        ({"schema": 2}, "newer Pastepot"),
        ({"fps": "fast"}, "'fps' is"),
        ({"more": 1}, "'more' is not a field"),
        ({"lines": [{"id": "a-1"}]}, "'speaker' is missing"),
        ({"lines": [{**json.loads(reading.dumps(READING))["lines"][1], "sounds": [["QQ", 0, 1, 0]]}]}, "does not fit"),
    ],
)
def test_a_file_that_makes_no_sense_is_told(change, what):
    values = {**json.loads(reading.dumps(READING)), **change}
    with pytest.raises(PastepotError) as caught:
        reading.loads(json.dumps(values), "waiting.reading.json")
    assert any(what in p.what or what in str(p) for p in caught.value.problems), caught.value
    assert {p.file for p in caught.value.problems} == {"waiting.reading.json"}


@pytest.mark.parametrize("text", ["", "{", "[]", "[" * 100_000])
def test_a_file_that_is_no_reading_is_told(text):
    with pytest.raises(PastepotError):
        reading.loads(text, "a.reading.json")


def test_words_stand_on_the_frames_on_which_they_are_spoken():
    words = (
        Spoken("No", 0.0, 0.25),
        Spoken("hurry", 0.25, 0.5),
        Spoken("so", 0.26, 0.4),
        Spoken("it", 1.0, 1.1, doubted=True),
    )
    lines = (
        LineReading("a-1", "SNAIL", "No hurry so it", 0.0, 1.1, "text", words=words),
        LineReading("a-2", "SNAIL", "It boils.", 2.0, 3.0, "sound"),
    )
    read = Reading("track/a.wav", 4.0, Fraction(12), 1, lines)
    assert read.on_frames(Fraction(12), 5) == [
        (5, 7, "No"),
        (8, 10, "hurry so"),
        (17, 18, "it?"),
        (29, 40, "It boils. ?"),
    ]
