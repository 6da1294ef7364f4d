"""Drawings as SVG 1.1, for print and the web: text stays text, and measures are the page's millimetres."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from pastepot.library.contact_values import Words
from pastepot.timing.chart_values import INKS, Block, Drawing, Ink, Points, Ring, Shape

_ANCHORS = {"left": "start", "centre": "middle", "right": "end"}


def to_svg(drawing: Drawing, title: str) -> str:
    """The drawing as the text of an .svg file; title: what screen readers call it."""
    size = f'width="{_n(drawing.width)}mm" height="{_n(drawing.height)}mm"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="100%" height="100%" fill="{_colour("paper")}"/>',
        '<g stroke-linecap="round" stroke-linejoin="round">',
        *(_shape(shape) for shape in drawing.shapes),
        "</g>",
        "<g font-family=\"'Liberation Sans', Arial, Helvetica, sans-serif\">",
        *_texts(drawing),
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _shape(shape: Shape) -> str:
    match shape:
        case Block():
            box = f'x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.w)}" height="{_n(shape.h)}"'
            return f'<rect {box} fill="{_colour(shape.ink)}"/>'
        case Ring():
            fill = _colour(shape.fill) if shape.fill else "none"
            stroke = f'stroke="{_colour(shape.ink)}" stroke-width="{_n(shape.width)}"'
            return f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}" fill="{fill}" {stroke}/>'
    stroke = f'fill="none" stroke="{_colour(shape.ink)}" stroke-width="{_n(shape.width)}"'
    return f'<path d="{_path(shape.points)}" {stroke}/>'


def _path(points: Points) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in np.asarray(points).tolist())


def _texts(drawing: Drawing) -> Iterator[str]:
    for words in drawing.words:
        yield _text(words)


def _text(words: Words) -> str:
    at = f'x="{_n(words.x)}" y="{_n(words.baseline)}" font-size="{_n(words.size)}"'
    ink: Ink = "extreme" if words.tone == "accent" else words.tone
    text = f'<text {at} text-anchor="{_ANCHORS[words.anchor]}" fill={quoteattr(_colour(ink))}'
    return f"{text}>{escape(words.text)}</text>"


def _colour(ink: Ink) -> str:
    return "#{:02x}{:02x}{:02x}".format(*INKS[ink])


def _n(value: float) -> str:
    """A number with at most three decimals: a thousandth of a millimetre."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
