"""A feel from what was measured: how long exposures last, and what the frame and its light did."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pastepot.errors import Problem
from pastepot.reference.frame import UNKNOWN, Figure
from pastepot.reference.measure import Measured
from pastepot.timing.feel import PATTERN_FPS, Feel
from pastepot.timing.light import SAFE_FLICKER_STOPS

_LONGEST = 48  # longer holds are a picture left standing, no habit of the hand
_LEAST = 8  # exposures
_REGULAR = 0.9  # so many exposures of one length make a pattern


@dataclass(frozen=True)
class Frame:
    """The whole film's figures, shots weighted by their pictures: mm of paper, degrees, stops."""

    weave_mm: Figure
    weave_deg: Figure
    flicker_stops: Figure


def frame(measured: Measured, width_mm: float) -> Frame:
    """The frame's figures for a picture `width_mm` of paper across."""
    wide = measured.look.box.width / measured.look.factor
    scales = {"weave": width_mm / wide, "turn": float(np.degrees(1)), "flicker": 1.0}
    return Frame(*(_pooled(measured, name, scale) for name, scale in scales.items()))


def _pooled(measured: Measured, name: str, scale: float) -> Figure:
    known = [(getattr(shot.wander, name), len(shot.new)) for shot in measured.shots]
    known = [(figure, count) for figure, count in known if np.isfinite(figure.value)]
    if not known:
        return UNKNOWN
    counts = np.array([count for _, count in known], float)
    values, floors = (np.array([getattr(f, part) for f, _ in known]) for part in ("value", "floor"))
    value, floor = (float(np.sqrt((counts * v**2).sum() / counts.sum())) * scale for v in (values, floors))
    return Figure(value, floor)


def odds(measured: Measured) -> tuple[float, ...]:
    """How often an exposure lasts 1, 2, 3 ... frames at PATTERN_FPS a second; () with too few to tell."""
    lengths = np.maximum(np.rint(measured.hold_seconds() * PATTERN_FPS), 1).astype(int)
    lengths = lengths[lengths <= _LONGEST]
    if len(lengths) < _LEAST:
        return ()
    return tuple(float(n) for n in np.bincount(lengths)[1:])


def feel_of(measured: Measured, base: Feel, width_mm: float) -> tuple[Feel, list[Problem]]:
    """`base` with what could be measured put in its place, and warnings about what could not."""
    warnings = []
    changes: dict[str, object] = {}
    counted = odds(measured)
    if not counted:
        warnings.append(_cannot("exposures", f"fewer than {_LEAST} of them begin and end within a shot"))
    elif max(counted) >= _REGULAR * sum(counted):
        changes |= {"pattern": (int(np.argmax(counted)) + 1,), "odds": ()}
    else:
        changes |= {"odds": counted}
    if counted and float((measured.hold_seconds() < 0.75 / PATTERN_FPS).mean()) > 0.1:
        what = f"Some exposures are shorter than 1/{PATTERN_FPS} s, the shortest that a feel has."
        warnings.append(Problem(what, "Take over the exposures themselves, from the sheet.", severity="warning"))
    figures = frame(measured, width_mm)
    for name in ("weave_mm", "weave_deg", "flicker_stops"):
        figure: Figure = getattr(figures, name)
        if figure.tells:
            changes[name] = round(figure.value, 4)
        else:
            warnings.append(_cannot(name, f"it is not above what this copy shows by itself ({figure.floor:.2g})"))
    stops = changes.get("flicker_stops", 0.0)
    if isinstance(stops, float) and stops > SAFE_FLICKER_STOPS:
        changes["flicker_stops"] = SAFE_FLICKER_STOPS
        what = f"The film flickers by {stops:g} stops, more than is safe to show; the feel has {SAFE_FLICKER_STOPS:g}."
        warnings.append(
            Problem(what, "Leave it so, or see 'unsafe_flicker'.", field="flicker_stops", severity="warning")
        )
    return replace(base, **changes), warnings  # type: ignore[arg-type]


def _cannot(name: str, why: str) -> Problem:
    return Problem(f"This can't be told: {why}.", "It stays as it was in the feel.", field=name, severity="warning")
