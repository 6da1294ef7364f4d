"""SMPTE ST 12-1 timecode and lengths against other people's answers.

Sources: SMPTE ST 12-1 (drop frame: labels 00 and 01 of each minute are left out save every tenth minute), whose
boundary rows below three independent computations agree on; the packages timecode and OpenTimelineIO, run here.
"""

from fractions import Fraction

import pytest
from pastepot import units

NTSC, NTSC_60 = Fraction(30000, 1001), Fraction(60000, 1001)

# frame from 0, label at 29.97 drop frame
DROP_FRAME = [
    (0, "00:00:00;00"),
    (1799, "00:00:59;29"),
    (1800, "00:01:00;02"),
    (3597, "00:01:59;29"),
    (3598, "00:02:00;02"),
    (17981, "00:09:59;29"),
    (17982, "00:10:00;00"),
    (107892, "01:00:00;00"),
    (2589407, "23:59:59;29"),
]


@pytest.mark.parametrize(("frame", "label"), DROP_FRAME)
def test_drop_frame_boundaries(frame, label):
    assert units.timecode(frame, NTSC, drop=True) == label
    assert units.frame_of_timecode(label, NTSC) == frame


@pytest.mark.parametrize(
    ("frames", "fps", "length", "label"),
    [
        (2470, Fraction(12), Fraction(1235, 6), "00:03:25:10"),
        (4940, Fraction(24), Fraction(1235, 6), "00:03:25:20"),
        (4940, Fraction(24000, 1001), Fraction(247247, 1200), "00:03:25:20"),
        (2470, Fraction(24), Fraction(1235, 12), "00:01:42:22"),
        (2470, Fraction(25), Fraction(494, 5), "00:01:38:20"),
    ],
)
def test_lengths(frames, fps, length, label):
    assert units.seconds(frames, fps) == length
    assert units.timecode(frames, fps) == label


SOME_FRAMES = sorted({*range(0, 200_000, 617), *range(1790, 1810), *range(17975, 17990), 1_234_567})


@pytest.mark.parametrize(
    ("name", "fps", "drop"),
    [("24", Fraction(24), False), ("25", Fraction(25), False), ("29.97", NTSC, True), ("59.94", NTSC_60, True)],
)
def test_against_the_package_timecode(name, fps, drop):
    reference = pytest.importorskip("timecode")
    for frame in SOME_FRAMES:
        theirs = str(reference.Timecode(name, frames=frame + 1))  # it counts from 1
        assert units.timecode(frame, fps, drop) == theirs
        assert units.frame_of_timecode(theirs, fps) == frame


@pytest.mark.parametrize(
    ("fps", "drop"), [(Fraction(24), False), (Fraction(24000, 1001), False), (NTSC, True), (NTSC_60, True)]
)
def test_against_opentimelineio(fps, drop):
    otio = pytest.importorskip("opentimelineio.opentime")
    rate = float(fps)
    for frame in SOME_FRAMES:
        theirs = otio.to_timecode(otio.RationalTime(frame, rate), rate, drop)
        assert units.timecode(frame, fps, drop) == theirs
        assert otio.from_timecode(units.timecode(frame, fps, drop), rate).value == frame


def test_opentimelineio_agrees_on_12_to_30():
    """OpenTimelineIO refuses timecode at 12 frames a second, but rescales time: 1 frame is 2.5 frames of 30."""
    otio = pytest.importorskip("opentimelineio.opentime")
    for frame in range(200):
        theirs = otio.RationalTime(frame, 12).rescaled_to(30).value
        assert units.convert_frames(frame, Fraction(12), Fraction(30), first_frame=0) == int(theirs)


# ISO 216 A4 and ISO/IEC 7810 ID-1 (a bank card) at 300 dots per inch; sizes from memory, pixels by arithmetic.
@pytest.mark.parametrize(("mm", "px"), [(210, 2480.3), (297, 3507.9), (85.60, 1011.02), (53.98, 637.56)])
def test_paper_sizes_at_300_dpi(mm, px):
    assert units.mm_to_px(mm, units.dpi_to_px_per_mm(300)) == pytest.approx(px, abs=0.05)
