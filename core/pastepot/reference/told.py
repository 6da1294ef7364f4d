"""What was measured, as plain values and as an exposure sheet that a person can correct."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from pastepot.film import Shot as FilmShot
from pastepot.reference import decide
from pastepot.reference.frame import Figure
from pastepot.reference.measure import Measured
from pastepot.timing.sheet import Column, Sheet, cells_from

COLUMN = "reference"
"""The sheet's column of the film's exposures."""


def as_dict(measured: Measured) -> dict[str, Any]:
    """Plain values for --json: pictures count from 0, times are seconds, weave is in pictures' widths."""
    seen = measured.look
    wide = seen.box.width / seen.factor
    return {
        "size": list(seen.size),
        "rate": str(seen.rate),
        "pictures": len(measured.times),
        "seconds": float(measured.times[-1]),
        "picture": list(seen.box),
        "one_field": seen.field,
        "content_rate": None if measured.content is None else str(measured.content[0]),
        "damaged": measured.damaged,
        "shots": [
            {
                "first": shot.first,
                "last": shot.last,
                "unlike": round(shot.unlike, 3),
                "starts": shot.starts.tolist(),
                "probabilities": np.round(shot.new[shot.starts - shot.first], 4).tolist(),
                "sure": round(shot.sure, 4),
                "doubtful": (shot.first + np.flatnonzero(np.maximum(shot.new, 1 - shot.new) < decide.SURE)).tolist(),
                "weave_widths": _figure(shot.wander.weave, 1 / wide),
                "weave_deg": _figure(shot.wander.turn, float(np.degrees(1))),
                "flicker_stops": _figure(shot.wander.flicker, 1.0),
            }
            for shot in measured.shots
        ],
    }


def _figure(figure: Figure, scale: float) -> dict[str, float | bool | None]:
    if not np.isfinite(figure.value):
        return {"value": None, "floor": None, "tells": False}
    return {"value": figure.value * scale, "floor": figure.floor * scale, "tells": figure.tells}


def sheet(measured: Measured, title: str) -> tuple[Sheet, list[FilmShot]]:
    """The exposures as a sheet of one column, and the shots. Frame 1 is the film's first picture.

    A label is the exposure's number, with a question mark where it is not sure.
    """
    starts = measured.starts
    sure = np.concatenate([shot.new[shot.starts - shot.first] for shot in measured.shots]) >= decide.SURE
    labels = [f"{n}" if certain else f"{n}?" for n, certain in enumerate(sure.tolist(), 1)]
    last = len(measured.times)
    cells = cells_from((starts + 1).tolist(), labels, last, [False] * len(labels))
    made = Sheet(title, Fraction(measured.look.rate), 1, last, (Column(COLUMN, "set", cells),))
    return made, [FilmShot(f"shot-{n}", s.first + 1, s.last + 1) for n, s in enumerate(measured.shots, 1)]
