"""Lines of dialogue out of SRT, WebVTT and plain text, and what is said about files that make no sense."""

from __future__ import annotations

import pytest
from pastepot.errors import PastepotError
from pastepot.track import lines

pytest.importorskip("webvtt", reason="SRT AND WEBVTT LINES ARE NOT TESTED: webvtt-py is not installed")

SRT = """\
1
00:00:02,333 --> 00:00:03,114
SNAIL: No hurry.

2
00:00:03,000 --> 00:00:05,158
<i>HERON: It comes</i>
when it (sighs) boils.

3
00:00:06,000 --> 00:00:07,000
- SNAIL: Now?
- HERON: Now.
"""
VTT = """\
WEBVTT

00:02.333 --> 00:03.114
<v Snail>No hurry.

01:00:03.000 --> 01:00:05.158 align:left
<v.loud Heron>It comes when it boils.</v>
"""


def read(tmp_path, name: str, text: str | bytes):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return lines.read(path)


def said(found) -> list[tuple[object, ...]]:
    return [(x.id, x.speaker, x.text, x.start, x.end) for x in found]


def test_srt(tmp_path):
    found = read(tmp_path, "waiting.srt", SRT)
    assert said(found) == [
        ("waiting-1", "SNAIL", "No hurry.", 2.333, 3.114),
        ("waiting-2", "HERON", "It comes when it boils.", 3.0, 5.158),  # it overlaps, and lost its stage direction
        ("waiting-3", "SNAIL", "Now?", 6.0, 7.0),
        ("waiting-4", "HERON", "Now.", 6.0, 7.0),
    ]
    assert [x.row for x in found] == [1, 5, 10, 10]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_srt_as_windows_writes_it(tmp_path, encoding):
    found = read(tmp_path, "a.srt", SRT.replace("\n", "\r\n").encode(encoding))
    assert [x.speaker for x in found] == ["SNAIL", "HERON", "SNAIL", "HERON"]


def test_webvtt(tmp_path):
    assert said(read(tmp_path, "a.vtt", VTT)) == [
        ("a-1", "Snail", "No hurry.", 2.333, 3.114),
        ("a-2", "Heron", "It comes when it boils.", 3603.0, 3605.158),
    ]


def test_plain_text_goes_on_with_the_speaker_before(tmp_path):
    found = read(tmp_path, "a.txt", "SNAIL: No hurry.\n\nIt comes when it boils.\nOld Heron: At 4:30?\n")
    assert said(found) == [
        ("a-1", "SNAIL", "No hurry.", None, None),
        ("a-2", "SNAIL", "It comes when it boils.", None, None),
        ("a-3", "Old Heron", "At 4:30?", None, None),
    ]


@pytest.mark.parametrize(
    ("name", "text", "row", "what"),
    [
        (
            "a.srt",
            "1\n00:00:01,000 --> 00:00:02,000\nS: a\n\n2\n00:00:xx --> 00:00:03,000\nS: b\n",
            5,
            "not an SRT line",
        ),
        ("a.srt", "1\n00:00:03,000 --> 00:00:02,000\nS: a\n", 1, "not after its start at 3.000 s"),
        ("a.srt", "S: a\n", 1, "not an SRT line"),
        ("a.srt", "", 0, "There is no line in it."),
        ("a.srt", "1\n00:00:01,000 --> 00:00:02,000\nwho says that?\n", 1, "Nobody speaks the line 'who says that?'"),
        ("a.vtt", "00:02.333 --> 00:03.114\nS: a\n", 1, "not WebVTT"),
        ("a.vtt", "WEBVTT\n\n00:02.333 --> never\nS: a\n", 3, "Of 1 lines only 0 can be read."),
        ("a.vtt", "WEBVTT\n\n00:03.000 --> 00:02.000\nS: a\n", 3, "not after its start"),
        ("a.txt", b"S: \xff\xfea\n", 1, "not UTF-8 text"),
        ("a.txt", "♪ ... ♪\n", 0, "There is no line in it."),
    ],
)
def test_what_makes_no_sense_is_said_with_its_row(tmp_path, name, text, row, what):
    with pytest.raises(PastepotError) as caught:
        read(tmp_path, name, text)
    problem = caught.value.problems[0]
    assert what in problem.what
    assert (problem.file, problem.row) == (name, row)
    assert problem.fix


def test_every_wrong_line_is_told_at_once(tmp_path):
    with pytest.raises(PastepotError) as caught:
        read(tmp_path, "a.srt", "1\nx --> y\nS: a\n\n2\n00:00:02,000 --> 00:00:01,000\nS: b\n")
    assert [p.row for p in caught.value.problems] == [1, 5]
