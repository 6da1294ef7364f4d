"""SMPTE ST 12-1 labels: the rules, and the refusals."""

from fractions import Fraction

import pytest
from pastepot import units

NTSC, NTSC_60 = Fraction(30000, 1001), Fraction(60000, 1001)


@pytest.mark.parametrize(("fps", "frames_a_day"), [(NTSC, 2_589_408), (NTSC_60, 5_178_816)])
def test_every_drop_frame_of_a_day_has_its_own_label_and_finds_back(fps, frames_a_day):
    some = [*range(40_000), *range(frames_a_day - 40_000, frames_a_day), *range(0, frames_a_day, 997)]
    for frame in some:
        assert units.frame_of_timecode(units.timecode(frame, fps, drop=True), fps) == frame
    assert units.timecode(frames_a_day - 1, fps, drop=True).startswith("23:59:59;")
    with pytest.raises(ValueError, match="has no timecode"):
        units.timecode(frames_a_day, fps, drop=True)


@pytest.mark.parametrize("fps", [Fraction(12), Fraction(24000, 1001), Fraction(25), NTSC, Fraction(50), Fraction(60)])
def test_labels_without_drop_find_back(fps):
    rate = units.nominal(fps)
    for frame in [*range(0, 3 * 60 * rate), 24 * 3600 * rate - 1]:
        assert units.frame_of_timecode(units.timecode(frame, fps), fps) == frame


@pytest.mark.parametrize("minute", [m for m in range(60) if m % 10])
@pytest.mark.parametrize(("fps", "left_out"), [(NTSC, 2), (NTSC_60, 4)])
def test_labels_that_drop_frame_leaves_out_are_refused(fps, left_out, minute):
    for ff in range(left_out):
        with pytest.raises(ValueError, match=f"does not exist.*first frame is 05:{minute:02}:00;{left_out:02}"):
            units.frame_of_timecode(f"05:{minute:02}:00;{ff:02}", fps)
    units.frame_of_timecode(f"05:{minute:02}:00;{left_out:02}", fps)


@pytest.mark.parametrize(
    ("label", "fps", "message"),
    [
        ("1:2:3:4", 24, "is not timecode; write HH:MM:SS:FF"),
        ("00:00:00:00:00", 24, "is not timecode"),
        ("-1:00:00:00", 24, "is not timecode"),
        ("٠٠:٠٠:٠٠:٠٠", 24, "is not timecode"),
        ("24:00:00:00", 24, "24 hours; 23 is the most"),
        ("00:60:00:00", 24, "60 minutes; 59"),
        ("00:00:61:00", 24, "61 seconds; 59"),
        ("00:00:00:24", 24, "24 frames; 23"),
        ("00:00:00:12", 12, "12 frames; 11"),
        ("00:00:00;00", 24, "Drop frame exists at 30000/1001"),
        ("00:00:00;00", 30, "Drop frame exists at 30000/1001"),
        ("00:00:00:00", 120, "no SMPTE ST 12-1 timecode"),
    ],
)
def test_bad_labels_are_refused_and_say_why(label, fps, message):
    with pytest.raises(ValueError, match=message):
        units.frame_of_timecode(label, Fraction(fps))


@pytest.mark.parametrize("frame", [-1, 24 * 3600 * 24])
def test_frames_outside_a_day_are_refused(frame):
    with pytest.raises(ValueError, match="cover 0 to 2073599"):
        units.timecode(frame, Fraction(24))


def test_space_around_a_label_is_forgiven():
    assert units.frame_of_timecode(" 00:00:01:00\n", Fraction(12)) == 12
