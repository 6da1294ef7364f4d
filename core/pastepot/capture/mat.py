"""The mat: a printed sheet to lay pieces on, which tells a photograph its scale, its tilt and its light.

Fiducials stand down the left and the right edge, grey patches between them, and the frame in the middle is for the
pieces. A mat is used whole, or cut into its two edge strips, which are laid on a sheet of coloured card: the two then
lie wherever the hand put them, so each kind and size has marker numbers of its own, and a photograph says which it is.

Positions are millimetres from the sheet's top-left corner, x right, y down; a sheet lies on its long side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import Misuse, Problem

Kind = Literal["whole", "strips"]
Side = Literal["left", "right"]
Box = tuple[float, float, float, float]

PAPERS_MM = {"A4": (297.0, 210.0), "A3": (420.0, 297.0), "Letter": (279.4, 215.9)}
"""Width and height of each paper: ISO 216 for A4 and A3, ANSI/ASME Y14.1 size A (11 x 8.5 inches) for Letter."""

FIDUCIAL_MM = 15.0
MODULES = 6
"""Squares along a fiducial's side, its black border included."""

STRIP_MM = 27.0
"""How wide the printed edge on either side is."""

RULER_MM = 100.0
GREYS = (60, 95, 135, 180)
"""The patches' sRGB values. A printer does not hold them; that they are neutral is what counts."""

_MARGIN_MM = 9.0  # most printers leave some 5 mm at the edge unprinted (common practice, no source)
_FOOT_MM = 22.0
_PER_SIDE = {"A4": 3, "A3": 4, "Letter": 3}
_FIRST_ID: dict[tuple[Kind, str], int] = {
    ("whole", "A4"): 0,
    ("whole", "A3"): 8,
    ("whole", "Letter"): 16,
    ("strips", "A4"): 24,
    ("strips", "A3"): 32,
    ("strips", "Letter"): 40,
}


@dataclass(frozen=True)
class Fiducial:
    """A square marker: its number in OpenCV's dictionary DICT_4X4_50, its side of the sheet, its centre."""

    number: int
    side: Side
    x_mm: float
    y_mm: float

    @property
    def corners_mm(self) -> NDArray[np.float64]:
        """(4, 2): top-left, top-right, bottom-right, bottom-left, in OpenCV's order."""
        half = FIDUCIAL_MM / 2
        around = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], np.float64)
        return np.asarray(np.array([self.x_mm, self.y_mm]) + half * around)


@dataclass(frozen=True)
class Patch:
    """A grey patch: its sRGB value, and its box as x, y, width, height."""

    grey: int
    box_mm: Box


@dataclass(frozen=True)
class Mat:
    """One sheet. `frame_mm` is where pieces are laid, `ruler_mm` the left end of the control ruler."""

    paper: str
    kind: Kind
    size_mm: tuple[float, float]
    fiducials: tuple[Fiducial, ...]
    patches: tuple[Patch, ...]
    frame_mm: Box
    ruler_mm: tuple[float, float]


def mat(paper: str, kind: Kind = "whole") -> Mat:
    """The mat on this paper. Misuse for a paper it does not come in."""
    if paper not in PAPERS_MM:
        raise Misuse(Problem(f"There is no mat for paper '{paper}'.", f"Choose one of {', '.join(PAPERS_MM)}."))
    width, height = PAPERS_MM[paper]
    ys = np.linspace(_MARGIN_MM + FIDUCIAL_MM / 2, height - _MARGIN_MM - FIDUCIAL_MM / 2, _PER_SIDE[paper])
    xs: dict[Side, float] = {"left": _MARGIN_MM + FIDUCIAL_MM / 2, "right": width - _MARGIN_MM - FIDUCIAL_MM / 2}
    places = [(side, x, float(y)) for side, x in xs.items() for y in ys]
    fiducials = tuple(Fiducial(number, *place) for number, place in enumerate(places, _FIRST_ID[kind, paper]))
    frame = (STRIP_MM, _MARGIN_MM, width - 2 * STRIP_MM, height - _MARGIN_MM - _FOOT_MM)
    return Mat(paper, kind, (width, height), fiducials, _patches(xs, ys), frame, (STRIP_MM, height - _FOOT_MM + 8.0))


def _patches(xs: dict[Side, float], ys: NDArray[np.float64]) -> tuple[Patch, ...]:
    """All greys down the first gap between fiducials on either side."""
    gap = float(ys[1] - ys[0]) - FIDUCIAL_MM - 6.0
    side = min(9.0, gap / len(GREYS))
    top = float(ys[0] + ys[1]) / 2 - side * len(GREYS) / 2
    return tuple(
        Patch(grey, (x - side / 2, top + n * side, side, side)) for x in xs.values() for n, grey in enumerate(GREYS)
    )


def mat_of(number: int) -> Mat | None:
    """The mat that a fiducial of this number is printed on; None if on none of ours."""
    for kind, paper in _FIRST_ID:
        found = mat(paper, kind)
        if any(f.number == number for f in found.fiducials):
            return found
    return None
