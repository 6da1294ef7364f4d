"""Drawings as pictures, with Pillow."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot import extras
from pastepot.timing.chart_values import INKS, Block, Drawing, Ring, Shape

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from pastepot.library.contact_paint import Letters

DENSITY = 8.0
"""Pixels per mm of a page: about 200 dpi."""
_FINE = 4  # shapes are painted this much larger and averaged down, which makes smooth edges


def require_pillow(what: str) -> None:
    """Raise MissingExtra without Pillow."""
    extras.load("PIL.Image", "photo", what, "Pillow")


def letters(font: Path | None = None, density: float = DENSITY) -> Letters:
    """Measures and sets the text. Raises MissingExtra without Pillow, Misuse if `font` is no font."""
    require_pillow("A chart as a picture")
    from pastepot.library.contact_paint import Letters

    return Letters(density, font)


def paint(drawing: Drawing, by: Letters, density: float = DENSITY) -> Image.Image:
    """The drawing as an RGB image."""
    from PIL import Image, ImageDraw

    fine = density * _FINE
    size = (round(drawing.width * density) * _FINE, round(drawing.height * density) * _FINE)
    big = Image.new("RGB", size, INKS["paper"])
    brush = ImageDraw.Draw(big)
    for shape in drawing.shapes:
        _shape(brush, shape, fine)
    image = big.reduce(_FINE)
    draw = ImageDraw.Draw(image)
    for words in drawing.words:
        by.draw(draw, replace(words, spaced=False))
    return image


def _shape(brush: ImageDraw.ImageDraw, shape: Shape, fine: float) -> None:
    if isinstance(shape, Block):
        corners = (shape.x, shape.y, shape.x + shape.w, shape.y + shape.h)
        left, top, right, bottom = (v * fine for v in corners)
        brush.rectangle((left, top, max(left, right - 1), max(top, bottom - 1)), fill=INKS[shape.ink])
    elif isinstance(shape, Ring):
        reach = shape.radius + shape.width / 2
        box = [v * fine for v in (shape.x - reach, shape.y - reach, shape.x + reach, shape.y + reach)]
        fill = INKS[shape.fill] if shape.fill else None
        brush.ellipse(box, fill=fill, outline=INKS[shape.ink], width=max(1, round(shape.width * fine)))
    else:
        points = [(x * fine, y * fine) for x, y in shape.points.tolist()]
        width = max(1, round(shape.width * fine))
        brush.line(points, fill=INKS[shape.ink], width=width, joint="curve")
        for x, y in (points[0], points[-1]):  # round ends
            half = width / 2
            brush.ellipse((x - half, y - half, x + half, y + half), fill=INKS[shape.ink])
