"""Exposure sheets as OpenTimelineIO, read back by the library itself."""

from __future__ import annotations

import json
from fractions import Fraction

import opentimelineio as otio
import pytest
from pastepot.errors import PastepotError
from pastepot.film import Shot
from pastepot.timing import sheet_otio
from pastepot.timing.sheet import Cell, Column, Sheet

COLUMNS = (
    Column("dialogue", "dialogue", (Cell(1, 8, ""), Cell(9, 10, "No hurry."), Cell(19, 6, ""))),
    Column("heron-wing", "part", (Cell(1, 4, "1", True), Cell(5, 8, "2"), Cell(13, 12, "3", True)), "heron"),
    Column("heron-eye", "set", (Cell(1, 12, "open"), Cell(13, 2, ""), Cell(15, 10, "open")), "heron"),
)


def sheet(fps: str = "12") -> Sheet:
    return Sheet("Waiting", Fraction(fps), 1, 24, COLUMNS)


def back(text: str) -> otio.schema.Timeline:
    made = otio.adapters.read_from_string(text, "otio_json")
    assert otio.adapters.write_to_string(made, "otio_json").strip() == text.strip()
    return made


@pytest.mark.parametrize("fps", ["12", "24", "25", "24000/1001", "30000/1001"])
def test_rates_are_exact(fps):
    timeline = back(sheet_otio.to_otio(sheet(fps)))
    clip = timeline.tracks[0][0]
    assert clip.source_range.duration.rate == float(Fraction(fps))
    assert Fraction(clip.source_range.duration.rate).limit_denominator(1001) == Fraction(fps)
    assert Fraction(timeline.metadata["pastepot"]["fps"]) == Fraction(fps)
    assert timeline.duration().to_seconds() == pytest.approx(float(24 / Fraction(fps)), rel=1e-12)


def test_a_clip_for_each_shot_and_gaps_between_them():
    shots = [Shot("b", 15, 40), Shot("a", 3, 10), Shot("later", 50, 60)]
    timeline = back(sheet_otio.to_otio(sheet(), shots))
    track = timeline.tracks[0]
    assert [(type(c).__name__, c.name, int(c.duration().value)) for c in track] == [
        ("Gap", "", 2), ("Clip", "a", 8), ("Gap", "", 4), ("Clip", "b", 10),
    ]  # fmt: skip
    assert timeline.duration().value == 24
    assert int(track[1].source_range.start_time.value) == 3
    starts = [int(c.range_in_parent().start_time.value) + 1 for c in track]
    assert starts == [1, 3, 11, 15]
    assert all(int(c.source_range.start_time.value) == s for c, s in zip(track, starts, strict=True))


def test_without_shots_it_is_one_clip():
    (clip,) = back(sheet_otio.to_otio(sheet())).tracks[0]
    assert (clip.name, clip.duration().value) == ("Waiting", 24)
    assert isinstance(clip.media_reference, otio.schema.MissingReference)


def test_a_marker_for_each_exposure_says_what_changes():
    (clip,) = back(sheet_otio.to_otio(sheet())).tracks[0]
    exposures = [m for m in clip.markers if "shows" in m.metadata["pastepot"]]
    ranges = [(int(m.marked_range.start_time.value), int(m.marked_range.duration.value)) for m in exposures]
    assert ranges == [(1, 4), (5, 8), (13, 2), (15, 10)]
    assert dict(exposures[0].metadata["pastepot"]["shows"]) == {"heron-wing": "1*", "heron-eye": "open"}
    assert dict(exposures[2].metadata["pastepot"]["shows"]) == {"heron-wing": "3*", "heron-eye": ""}
    (line,) = [m for m in clip.markers if "dialogue" in m.metadata["pastepot"]]
    assert (line.name, line.marked_range.start_time.value, line.marked_range.duration.value) == ("No hurry.", 9, 10)


def test_rendered_frames_are_found_by_the_library(tmp_path):
    listed = {"fps": "12", "first": 1, "last": 24, "frames": {str(f): f"frame_{f:04d}.png" for f in range(1, 25)}}
    (tmp_path / "frames.json").write_text(json.dumps(listed))
    shown = sheet_otio.pictures(tmp_path, Fraction(12))
    clip = back(sheet_otio.to_otio(sheet(), [Shot("b", 15, 20)], shown)).tracks[0][1]
    reference = clip.media_reference
    assert reference.end_frame() == 24
    first = int(clip.source_range.start_time.value)
    name = reference.target_url_for_image_number(first - reference.start_frame)
    assert name == (tmp_path / "frame_0015.png").resolve().as_uri()
    assert reference.frame_for_time(clip.source_range.start_time) == 15


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"fps": "24"}, "at 24 frames a second"),
        ({"last": 26}, "leave out frame 25 and 1 more"),
        ({"fps": "1/0"}, "makes no sense"),
        ({"frames": None}, "makes no sense"),
    ],
)
def test_frames_that_do_not_fit_are_refused(change, said, tmp_path):
    listed = {"fps": "12", "first": 1, "last": 24, "frames": {str(f): f"frame_{f:04d}.png" for f in range(1, 25)}}
    (tmp_path / "frames.json").write_text(json.dumps(listed | change))
    with pytest.raises(PastepotError, match=said):
        sheet_otio.pictures(tmp_path, Fraction(12))


def test_a_folder_without_a_render_is_refused(tmp_path):
    with pytest.raises(PastepotError, match="Render first"):
        sheet_otio.pictures(tmp_path, Fraction(12))
