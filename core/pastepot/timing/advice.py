"""Timings that handbooks give, as warnings: never an error, for a rule of thumb is not a rule.

The figures are common practice. Where a book is named, it is from memory: the page was not looked up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from pastepot.errors import Problem
from pastepot.timing.exposures import Frames

WALK_FRAMES_24 = (6, 24)
"""Frames at 24 a second from one foot's contact to the other's: 6 is a run, 8 a cartoon walk, 12 natural, 16 a stroll,
24 slow. Source: R. Williams, The Animator's Survival Kit, 2001; from memory."""

BLINK_SECONDS = (Fraction(1, 10), Fraction(4, 10))
"""How long a blink's eyes are shut: 100 to 400 ms. Source: common practice and textbooks on the eye; from memory."""
ASLEEP = Fraction(1)  # eyes that are shut for longer are no blink

PAN_SECONDS = 7
"""The picture's width in a pan takes 7 seconds at least, or it strobes. Source: camera handbooks; from memory."""


@dataclass(frozen=True)
class Timing:
    """What there is to look at; anything may be left out. All frames are the film's own, ascending.

    contacts: character -> frames on which one foot or the other comes down
    shut:     character -> (N,) whether the eyes are shut, from `first` on
    camera_mm: (N, 2) or (N,) where the camera looks, from `first` on; with the plan's starts and the picture's width
    """

    fps: Fraction
    first: int = 1
    contacts: Mapping[str, Iterable[int]] = field(default_factory=dict)
    shut: Mapping[str, ArrayLike] = field(default_factory=dict)
    camera_mm: ArrayLike | None = None
    starts: Frames | None = None
    frame_width_mm: float = 0.0


def advice(timing: Timing) -> list[Problem]:
    """All warnings, in the order of the film within each kind."""
    found = []
    for name, frames in timing.contacts.items():
        found += _walk(name, frames, timing.fps)
    for name, shut in timing.shut.items():
        found += _blinks(name, shut, timing)
    return found + _pan(timing)


def _walk(name: str, contacts: Iterable[int], fps: Fraction) -> list[Problem]:
    at = sorted(contacts)
    found = []
    for begin, end in pairwise(at):
        at_24 = float((end - begin) * 24 / fps)
        if not WALK_FRAMES_24[0] - 0.5 <= at_24 <= WALK_FRAMES_24[1] + 0.5:
            way = "faster than a run" if at_24 < WALK_FRAMES_24[0] else "slower than a slow walk"
            what = f"The step at frames {begin}-{end} takes {end - begin} frames ({at_24:g} at 24 a second): {way}."
            fix = "Steps of 6 (a run), 8, 12 (natural), 16 or 24 (slow) frames at 24 read well (Williams, from memory)."
            found.append(_warning(what, fix, name))
    return found


def _blinks(name: str, shut: ArrayLike, timing: Timing) -> list[Problem]:
    flags = np.concatenate([[False], np.asarray(shut, bool), [False]]).astype(np.int8)
    edges = np.flatnonzero(np.diff(flags)).reshape(-1, 2)
    half = 1 / (2 * timing.fps)  # as near as whole frames come to it
    found = []
    for begin, end in edges.tolist():
        lasts = (end - begin) / timing.fps
        cut_off = begin == 0 or end == len(flags) - 2
        if cut_off or lasts > ASLEEP or BLINK_SECONDS[0] - half <= lasts <= BLINK_SECONDS[1] + half:
            continue
        what = f"The blink at frame {begin + timing.first} lasts {float(lasts) * 1000:.0f} ms."
        found.append(_warning(what, "Eyes are shut for 100 to 400 ms (common practice, from memory).", name))
    return found


def _pan(timing: Timing) -> list[Problem]:
    if timing.camera_mm is None or timing.starts is None or len(timing.starts) < 2 or timing.frame_width_mm <= 0:
        return []
    at = np.asarray(timing.camera_mm, float).reshape(len(np.asarray(timing.camera_mm)), -1)
    step = np.sqrt(np.square(np.diff(at[timing.starts - timing.first], axis=0)).sum(axis=1))
    seconds = np.diff(timing.starts) / float(timing.fps)
    fast = step > timing.frame_width_mm / PAN_SECONDS * seconds * (1 + 1e-9)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fast, [False]]).astype(np.int8))).reshape(-1, 2)
    found = []
    for begin, end in edges.tolist():
        worst = float((timing.frame_width_mm * seconds[begin:end] / step[begin:end]).min())
        what = (
            f"The pan at frames {timing.starts[begin]}-{timing.starts[end]} crosses the picture in {worst:.1f} s and "
            "may strobe."
        )
        fix = f"Take {PAN_SECONDS} s for a picture's width, or move the camera on ones (camera handbooks, from memory)."
        found.append(_warning(what, fix))
    return found


def _warning(what: str, fix: str, part: str = "") -> Problem:
    return Problem(what, fix, part=part, severity="warning")
