"""Lengths, frame rates and ticks."""

from fractions import Fraction

import numpy as np
import pytest
from pastepot import units

FILM = Fraction(24000, 1001)


def test_mm_and_px_are_each_others_inverse():
    mm = np.array([[0.0, 1.0], [12.5, -297.0]])
    px = units.mm_to_px(mm, 11.811)
    assert px.shape == mm.shape
    assert px[1, 0] == pytest.approx(147.6375)
    np.testing.assert_allclose(units.px_to_mm(px, 11.811), mm, rtol=1e-15)


@pytest.mark.parametrize("bad", [0, -1.0, float("nan"), float("inf")])
@pytest.mark.parametrize("convert", [units.mm_to_px, units.px_to_mm])
def test_a_scale_must_be_above_nought(convert, bad):
    with pytest.raises(ValueError, match=r"px_per_mm is .* above 0"):
        convert([1.0], bad)


@pytest.mark.parametrize("dpi", [72, 300, 1200])
def test_dpi_there_and_back(dpi):
    assert units.px_per_mm_to_dpi(units.dpi_to_px_per_mm(dpi)) == pytest.approx(dpi, rel=1e-15)


@pytest.mark.parametrize(
    ("fps", "rate"), [(Fraction(12), 12), (FILM, 24), (Fraction(30000, 1001), 30), (Fraction(60000, 1001), 60)]
)
def test_nominal_rate(fps, rate):
    assert units.nominal(fps) == rate


@pytest.mark.parametrize("fps", [Fraction(0), Fraction(-24), Fraction(1, 3)])
def test_rates_below_one_are_refused(fps):
    with pytest.raises(ValueError, match="too slow"):
        units.nominal(fps)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (12, 24, [1, 3, 5, 7, 9]),
        (24, 12, [1, 1, 2, 2, 3]),
        (12, 30, [1, 3, 6, 8, 11]),
        (24, 30, [1, 2, 3, 4, 6]),
        (24, FILM, [1, 1, 2, 3, 4]),
    ],
)
def test_frames_at_another_rate(old, new, expected):
    assert units.convert_frames([1, 2, 3, 4, 5], Fraction(old), Fraction(new)).tolist() == expected


@pytest.mark.parametrize("factor", [1, 2, 5])
def test_going_up_by_a_whole_factor_and_back_loses_nothing(factor):
    frames = np.arange(-30, 3000)
    up = units.convert_frames(frames, Fraction(12), Fraction(12 * factor), first_frame=101)
    assert (units.convert_frames(up, Fraction(12 * factor), Fraction(12), first_frame=101) == frames).all()


def test_conversion_is_exact_where_floats_would_not_be():
    day = 24 * 3600 * 24
    assert units.convert_frames(day, Fraction(24), FILM, first_frame=0) == Fraction(day) * FILM / 24 // 1


def test_tick_of_a_drawing_is_the_same_at_12_and_24_and_23_976():
    drawing = np.arange(-5, 2471)
    at_12 = units.tick(drawing, Fraction(12))
    assert (at_12 == 50 * (drawing - 1)).all()
    assert (units.tick(2 * drawing - 1, Fraction(24)) == at_12).all()
    assert (units.tick(2 * drawing - 1, FILM) == at_12).all()


@pytest.mark.parametrize("fps", [12, 15, 16, 18, 24, 25, 30, 48, 50, 60, 119, 600])
def test_every_frame_has_its_own_tick(fps):
    ticks = units.tick(np.arange(-600, 3000), Fraction(fps))
    assert (np.diff(ticks) > 0).all()


def test_ticks_count_from_the_films_first_frame():
    assert units.tick(1001, Fraction(24), first_frame=1001) == 0
    assert units.tick(1000, Fraction(24), first_frame=1001) == -25


def test_ticks_refuse_half_frames_and_absurd_rates():
    with pytest.raises(ValueError, match=r"whole numbers .* not float64"):
        units.tick([1.5], Fraction(12))
    with pytest.raises(ValueError, match="too fast"):
        units.tick([1], Fraction(601))


def test_no_frames_are_no_ticks():
    assert units.tick([], Fraction(12)).shape == (0,)
