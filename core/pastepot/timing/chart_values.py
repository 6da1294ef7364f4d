"""Drawings as plain values: lines, rings and words on a page, in millimetres from its top-left corner, y down.

Exposure sheets and charts are drawn into these; chart_svg, chart_png and sheet_pdf write them out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pastepot.library.contact_values import Words

Ink = Literal["paper", "ink", "grey", "rule", "shade", "hand", "extreme"]

INKS: dict[Ink, tuple[int, int, int]] = {
    "paper": (255, 255, 255),
    "ink": (32, 32, 34),
    "grey": (120, 120, 124),
    "rule": (190, 190, 194),
    "shade": (240, 240, 241),
    "hand": (0, 114, 178),
    "extreme": (213, 94, 0),
}
"""Colours. 'hand' and 'extreme' are the blue and vermilion of Okabe & Ito, "Color Universal Design" (2002, from
memory), which people with any colour vision tell apart; no meaning hangs on colour alone."""

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Stroke:
    """A line through points (n, 2), `width` mm wide."""

    points: Points
    width: float
    ink: Ink = "ink"


@dataclass(frozen=True)
class Ring:
    """A circle; filled with `fill`, '' for none."""

    x: float
    y: float
    radius: float
    width: float
    ink: Ink = "ink"
    fill: Ink | Literal[""] = ""


@dataclass(frozen=True)
class Block:
    """A filled rectangle."""

    x: float
    y: float
    w: float
    h: float
    ink: Ink


Shape = Stroke | Ring | Block


@dataclass
class Drawing:
    """One page, mm: shapes in the order in which they are painted, and words on top of them."""

    width: float
    height: float
    shapes: list[Shape] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float, ink: Ink = "ink") -> None:
        """A straight line."""
        self.shapes.append(Stroke(np.array([[x1, y1], [x2, y2]], np.float64), width, ink))

    def write(self, words: Words) -> None:
        """A line of text; an empty one is left out."""
        if words.text:
            self.words.append(words)
