"""Handbook timings, told as warnings and never more than that. Figures from memory; see pastepot.timing.advice."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from pastepot.timing.advice import Timing, advice


@pytest.mark.parametrize(
    ("fps", "step", "fine"),
    [
        (24, 12, True),  # natural; R. Williams, The Animator's Survival Kit, from memory
        (24, 8, True),  # a cartoon walk
        (24, 16, True),  # a stroll
        (24, 24, True),  # slow
        (24, 6, True),  # a run
        (24, 4, False),
        (24, 30, False),
        (12, 6, True),
        (12, 3, True),
        (12, 2, False),
        (Fraction(24000, 1001), 12, True),
        (25, 25, True),
    ],
)
def test_steps(fps, step, fine) -> None:
    found = advice(Timing(Fraction(fps), contacts={"heron": [1, 1 + step, 1 + 2 * step]}))
    assert len(found) == (0 if fine else 2)
    if not fine:
        assert found[0].part == "heron"
        assert f"1-{1 + step}" in found[0].what


@pytest.mark.parametrize(
    ("fps", "frames", "fine"),
    [
        # 100 to 400 ms; 1 to 5 drawings at 12 a second; from memory
        (12, 1, True),
        (12, 2, True),
        (12, 4, True),
        (12, 5, True),
        (12, 6, False),
        (12, 12, False),
        (12, 13, True),  # asleep, not blinking
        (24, 1, False),
        (24, 2, True),
        (24, 10, True),
        (24, 11, False),
    ],
)
def test_blinks(fps, frames, fine) -> None:
    shut = np.zeros(100, bool)
    shut[10 : 10 + frames] = True
    found = advice(Timing(Fraction(fps), first=101, shut={"snail": shut}))
    assert (found == []) is fine
    if not fine:
        assert "frame 111" in found[0].what


def test_a_blink_that_is_cut_off_is_no_blink() -> None:
    shut = np.zeros(50, bool)
    shut[:6] = shut[-6:] = True
    assert advice(Timing(Fraction(12), shut={"snail": shut})) == []


@pytest.mark.parametrize(("seconds", "fine"), [(8.0, True), (7.0, True), (6.0, False), (2.0, False)])
@pytest.mark.parametrize(("fps", "lasts"), [(12, 1), (24, 2), (24, 1)])
def test_pans(seconds, fine, fps, lasts) -> None:
    """7 s for a picture's width: at 12 a second 3840 px / 84 = 45.7 px a drawing. Camera handbooks, from memory."""
    frames = np.arange(240)
    camera = 400 / (seconds * fps) * frames
    found = advice(Timing(Fraction(fps), camera_mm=camera, starts=np.arange(1, 241, lasts), frame_width_mm=400.0))
    assert (found == []) is fine
    if not fine:
        assert f"{seconds:.1f} s" in found[0].what


def test_nothing_to_look_at_is_nothing_to_say() -> None:
    assert advice(Timing(Fraction(12))) == []


def test_advice_is_only_ever_a_warning() -> None:
    camera = np.column_stack([np.arange(20) * 100.0, np.zeros(20)])
    timing = Timing(
        Fraction(12), 1, {"heron": [1, 2]}, {"snail": [0, 1, 1, 1, 1, 1, 1, 0]}, camera, np.arange(1, 21), 100.0
    )
    found = advice(timing)
    assert len(found) == 3
    assert {p.severity for p in found} == {"warning"}
    assert all("from memory" in p.fix for p in found)
