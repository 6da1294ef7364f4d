"""The contact sheet as plain values: what a page holds, in millimetres of the page, and text cut to fit its place.

All boxes have their corner at top left, x right and y down.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from pastepot.library.parts import Part

Measure = Callable[[str, float], float]
"""Width in mm of a text set at a size in mm."""
Tone = Literal["ink", "grey", "accent"]
Anchor = Literal["left", "centre", "right"]

A4_MM = (210.0, 297.0)
"""ISO 216."""

PLATE_PAD_MM = 2.5
LINE_MM = 3.1
"""From baseline to baseline of small text."""

TITLE, CHARACTER, NAME, SMALL, CAPS = 7.2, 5.0, 2.5, 2.15, 2.0
"""Letter sizes in mm."""


@dataclass(frozen=True)
class Picture:
    """A part and its image's size in pixels, or why that is not known."""

    part: Part
    size_px: tuple[int, int] | None
    trouble: str = ""

    @property
    def size_mm(self) -> tuple[float, float] | None:
        """Width and height of the paper."""
        if self.size_px is None:
            return None
        return (self.size_px[0] / self.part.px_per_mm, self.size_px[1] / self.part.px_per_mm)


@dataclass(frozen=True)
class Head:
    """What stands at the top of the sheet. `date` is printed as it is given; '' leaves it out."""

    title: str
    date: str
    parts: int


@dataclass(frozen=True)
class Sheet:
    """The paper to lay out on. `height_mm` None: one page, as tall as needed. `density`: its pixels per mm."""

    height_mm: float | None
    density: float


@dataclass(frozen=True)
class Box:
    """A rectangle, mm."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True)
class Words:
    """A line of text: the point it is anchored at on its baseline, letter size in mm, capitals spaced or not."""

    x: float
    baseline: float
    text: str
    size: float
    tone: Tone = "ink"
    anchor: Anchor = "left"
    spaced: bool = False


@dataclass(frozen=True)
class Bar:
    """A scale bar from (x, y), `length` mm long on the page."""

    x: float
    y: float
    length: float


@dataclass(frozen=True)
class Cell:
    """One part. picture and pivot are None where there is nothing to show; `trouble` says why."""

    part: Part
    box: Box
    plate: Box
    picture: Box | None
    pivot: tuple[float, float] | None
    scale: Fraction | None
    words: tuple[Words, ...]
    trouble: str = ""


@dataclass
class Page:
    """One page, mm. `marks` are pivot marks that stand alone (the legend), `rules` horizontal hairlines."""

    width: float
    height: float
    words: list[Words] = field(default_factory=list)
    rules: list[Box] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    marks: list[tuple[float, float]] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)


def shorten(text: str, width: float, size: float, measure: Measure) -> str:
    """The text if it is no wider than `width` mm, else with as little as possible of its middle replaced by '…'."""
    if measure(text, size) <= width:
        return text
    low, high = 0, len(text) - 1
    while low < high:
        keep = (low + high + 1) // 2
        low, high = (keep, high) if measure(_without_middle(text, keep), size) <= width else (low, keep - 1)
    return _without_middle(text, low)


def _without_middle(text: str, keep: int) -> str:
    tail = keep // 2
    return text[: keep - tail].rstrip() + "…" + text[len(text) - tail :].lstrip()


def wrapped(text: str, plate: Box, measure: Measure) -> tuple[Words, ...]:
    """The reason for an empty plate, broken into at most four centred lines."""
    width = plate.w - 2 * PLATE_PAD_MM
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and measure(longer, SMALL) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > 4:
        lines[3:] = [" ".join(lines[3:])]
    first = plate.y + plate.h / 2 - LINE_MM * len(lines) / 2
    return tuple(
        Words(
            plate.x + plate.w / 2,
            first + LINE_MM * (n + 0.75),
            shorten(t, width, SMALL, measure),
            SMALL,
            "grey",
            "centre",
        )
        for n, t in enumerate(lines)
    )
