"""Measured, applied to another film, that film measured again: the same exposures, weave and flicker."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import paper_film
import pytest
from paper_film import PaperFilm, Recipe
from pastepot.reference import feeling, measure
from pastepot.timing import planning
from pastepot.timing.exposures import Frames
from pastepot.timing.feel import Feel
from pastepot.timing.frame import frame_effects
from pastepot.timing.rows import Table

FRAMES, SIZE = 144, (320, 240)  # a pixel is a mm of paper where the picture is 320 mm across
TABLE = Table(Fraction(24), 0, 7, 0.01)


def rendered(path: Path, seed: int, starts: Frames, feel: Feel) -> Path:
    """A new film of paper pieces with the feel's exposures, weave and flicker."""
    film = PaperFilm(Recipe(seed, frames=FRAMES, size=SIZE, pieces=3, grain=2, starts=tuple(starts.tolist())))
    effects = frame_effects(starts, feel, TABLE, FRAMES - 1)
    exposure = np.searchsorted(starts, np.arange(FRAMES), side="right") - 1
    film.recipe = replace(film.recipe, weave=1.0, stops=1.0)  # switched on; how far is the feel's
    film.truth.weave[:] = np.column_stack([effects.x_mm, -effects.y_mm])[exposure]
    film.truth.stops[:] = effects.stops[exposure]
    return paper_film.write(path, list(film.frames()), Fraction(24))


def agreed(true: Frames, found: Frames) -> float:
    """F1 to the frame."""
    return 2 * len(np.intersect1d(true, found)) / (len(true) + len(found))


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "pattern"), [(51, "twos"), (52, "mixed"), (53, "random")])
def test_a_measured_film_gives_its_feel_to_another(seed, pattern, tmp_path):
    shape = Recipe(seed, pattern, FRAMES, SIZE, 3, weave=0.4, stops=0.015, grain=2)
    first = paper_film.write(tmp_path / "a.mkv", list(PaperFilm(shape).frames()), Fraction(24))
    measured = measure.measure(first)
    feel, _ = feeling.feel_of(measured, Feel(), 320)
    starts = planning.measured(0, FRAMES - 1, measured.starts)
    again = measure.measure(rendered(tmp_path / "b.mkv", seed + 100, starts, feel))
    second, _ = feeling.feel_of(again, Feel(), 320)
    assert agreed(measured.starts, again.starts) >= 0.97
    # The second film's random numbers have their own spread, which is what is to be found again.
    effects = frame_effects(starts, feel, TABLE, FRAMES - 1)
    drawn = np.sqrt((np.var(effects.x_mm) + np.var(effects.y_mm)) / 2)
    assert second.weave_mm == pytest.approx(drawn, rel=0.15)
    assert second.flicker_stops == pytest.approx(np.std(effects.stops), rel=0.15)


@pytest.mark.slow
def test_the_statistics_carry_over_as_well_as_the_very_frames(tmp_path):
    shape = Recipe(61, "random", FRAMES, SIZE, 3, grain=2)
    first = paper_film.write(tmp_path / "a.mkv", list(PaperFilm(shape).frames()), Fraction(24))
    feel, _ = feeling.feel_of(measure.measure(first), Feel(), 320)
    assert feel.odds
    starts = planning.drawn(0, FRAMES - 1, feel.odds, TABLE)
    again = measure.measure(rendered(tmp_path / "b.mkv", 161, starts, replace(feel, weave_mm=0.0)))
    assert agreed(starts, again.starts) >= 0.97
