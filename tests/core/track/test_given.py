"""Alignments made elsewhere: Praat's TextGrid in both spellings, and CTM."""

from __future__ import annotations

import pytest
from pastepot.errors import PastepotError
from pastepot.track import given

LONG = '''\
File type = "ooTextFile"
Object class = "TextGrid"

xmin = 0
xmax = 1.5
tiers? <exists>
size = 2
item []:
    item [1]:
        class = "IntervalTier"
        name = "words"
        xmin = 0
        xmax = 1.5
        intervals: size = 1
        intervals [1]:
            xmin = 0
            xmax = 1.5
            text = "my ""own"""
    item [2]:
        class = "IntervalTier"
        name = "snail - phones"
        xmin = 0
        xmax = 1.5
        intervals: size = 4
        intervals [1]:
            xmin = 0
            xmax = 0.25
            text = ""
        intervals [2]:
            xmin = 0.25
            xmax = 0.5
            text = "M"
        intervals [3]:
            xmin = 0.5
            xmax = 1.25
            text = "AY1"
        intervals [4]:
            xmin = 1.25
            xmax = 1.5
            text = "sil"
'''
SHORT = """\
File type = "ooTextFile"
Object class = "TextGrid"

0
1.5
<exists>
1
"IntervalTier"
"phones"
0
1.5
2
0.25
0.5
"m"
0.5
1.25
"aɪ"
"""
CTM = ";; made elsewhere\nwaiting 1 0.25 0.25 M\nwaiting 1 0.50 0.75 AY1_E 0.98\nwaiting 1 1.25 0.25 SIL\n"
EXPECTED = [("M", 0.25, 0.5), ("AY", 0.5, 1.25)]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.TextGrid", LONG.encode()),
        ("a.TextGrid", SHORT.encode()),
        ("a.TextGrid", LONG.encode("utf-16")),
        ("a.TextGrid", LONG.replace("\n", "\r\n").encode("utf-8-sig")),
        ("a.ctm", CTM.encode()),
    ],
)
def test_the_sounds_are_read(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    assert [(s.name, s.start, s.end) for s in given.read(tmp_path / name)] == EXPECTED


@pytest.mark.parametrize(
    ("name", "text", "what", "row"),
    [
        ("a.TextGrid", LONG[:420], "cut off", 0),
        ("a.TextGrid", "no grid", "not a TextGrid", 0),
        ("a.TextGrid", LONG.replace('"AY1"', '"77"'), "The sound '77' (number 3", 0),
        ("a.TextGrid", LONG.replace("snail - phones", "gestures"), "no sounds", 0),
        ("a.ctm", CTM + "waiting 1 x 0.2 M\n", "not CTM", 5),
        ("a.ctm", CTM.replace("AY1_E", "77"), "The sound '77'", 3),
        ("a.ctm", "", "no sounds", 0),
    ],
)
def test_what_makes_no_sense_is_told(tmp_path, name, text, what, row):
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(PastepotError) as caught:
        given.read(tmp_path / name)
    assert what in caught.value.problems[0].what
    assert caught.value.problems[0].row == row
