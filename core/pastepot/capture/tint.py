"""The backdrop's tint: what makes paper stand out from it, shadows included.

A shadow darkens a backdrop and keeps its hue, so hue tells paper from shadow, if the backdrop has one: it should be
strong, no paper's own, and no linear channel so dark that noise drowns it.
"""

from __future__ import annotations

import colorsys
from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pastepot.errors import Problem
from pastepot.srgb import linear

Floats = NDArray[np.float64]
Tint = tuple[int, int, int]

DARKEST = 0.02
"""No linear channel of a photographed backdrop should be below this share of white: measured on made photographs."""

ALIKE = 0.4
"""Papers with less contrast of hue than this are likely to be cut wrongly."""

_FLOOR = 0.05  # of the backdrop's own channel: what keeps dark papers' ratios finite
_DARKEST_PRINTED = 0.035  # a print comes out darker in places: keep a margin above DARKEST
# Papers as they are sold in packs of all colours (common practice, no source), for a film that has none yet.
_USUAL: tuple[Tint, ...] = (
    (190, 40, 40),
    (230, 120, 40),
    (240, 200, 60),
    (70, 140, 70),
    (30, 120, 120),
    (40, 90, 160),
    (110, 70, 140),
    (120, 80, 50),
    (235, 160, 170),
    (150, 195, 220),
)
_GREYS = ((0.02, 0.02, 0.02), (0.2, 0.2, 0.2), (0.85, 0.85, 0.85))  # there is hardly a film without black and white


def hue_contrast(papers: ArrayLike, backdrop: ArrayLike) -> Floats:
    """How far each paper is from any shadow on the backdrop, by hue alone; (N, 3) and (3,) linear -> (N,).

    The length of the log ratio of the two colours once what all channels share, its brightness, is taken out.
    """
    ratio = np.log((np.asarray(papers, np.float64) / np.asarray(backdrop, np.float64) + _FLOOR) / (1 + _FLOOR))
    return np.asarray(np.linalg.norm(ratio - ratio.mean(-1, keepdims=True), axis=-1))


def propose(papers: Iterable[Tint] = ()) -> Tint:
    """The sRGB tint from which the least distinct of these papers (sRGB) still differs most in hue.

    Greys are always among the papers; without any, the usual colours are.
    """
    palette = np.array([*_GREYS, *(linear(p) for p in tuple(papers) or _USUAL)])
    return max(_candidates(), key=lambda tint: float(hue_contrast(palette, linear(tint)).min()))


def _candidates() -> list[Tint]:
    found = []
    for hue in np.arange(0, 360, 7.5):
        for saturation in (0.5, 0.6, 0.7, 0.8):
            rgb = colorsys.hsv_to_rgb(hue / 360, saturation, 0.8)
            tint = (round(255 * rgb[0]), round(255 * rgb[1]), round(255 * rgb[2]))
            if linear(tint).min() >= _DARKEST_PRINTED:
                found.append(tint)
    return found


def judge(backdrop: ArrayLike, papers: dict[str, Tint]) -> list[Problem]:
    """What speaks against this backdrop (linear, as a share of white), for these papers (sRGB, by name). Warnings."""
    seen = np.asarray(backdrop, np.float64)
    problems = []
    if seen.min() < DARKEST:
        channel = ("red", "green", "blue")[int(seen.argmin())]
        problems.append(
            Problem(
                f"The backdrop's {channel} is {100 * seen.min():.1f} % of white: in its shadows the hue is lost.",
                f"Take a lighter tint, with at least {100 * DARKEST:.0f} % in every channel.",
                severity="warning",
            )
        )
    if float(hue_contrast(np.array([_GREYS[1]]), seen)[0]) < ALIKE:
        what = "The backdrop has hardly any hue: grey papers and shadows can't be told apart on it."
        problems.append(Problem(what, "Take a strong tint that no paper has.", severity="warning"))
    for name, paper in papers.items():
        contrast = float(hue_contrast(linear(paper)[None], seen)[0])
        if contrast < ALIKE:
            what = "This paper has nearly the hue of the backdrop; its edge may be cut wrongly."
            problems.append(Problem(what, "Photograph it on another tint.", part=name, severity="warning"))
    return problems
