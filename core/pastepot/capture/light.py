"""What a photograph of the empty mat says about set-up and light, before anyone shoots ninety pieces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.capture.extra import load_opencv
from pastepot.capture.geometry import View, find_corners, fit
from pastepot.capture.mat import FIDUCIAL_MM
from pastepot.capture.tint import Tint, judge
from pastepot.errors import Problem
from pastepot.srgb import LINEAR, linear

Floats = NDArray[np.float64]

SOFT_PX = 3.8
"""An edge that takes longer than this from 10 to 90 % is soft: measured on made photographs, where a lens blur of
1.1 pixels gives 3.4 and one of 1.5 gives 4.3."""
UNEVEN = 0.5
"""The darkest place's light as a share of the brightest's: below this, flattening costs too much."""
TILTED_DEG = 15.0
STRETCHED = 1.3
"""Pixels of the photograph per pixel of the film that leave room for a photograph's own softness (our judgement)."""

_GRID = (6, 8)
_REACH_MM, _PER_PX = 1.2, 4


@dataclass(frozen=True)
class Look:
    """What was seen.

    px_per_mm, finest and coarsest over the frame; edge_px: how many pixels a sharp edge takes from 10 to 90 %;
    even: the darkest place's light as a share of the brightest's; backdrop: linear, as a share of the sheet's white
    """

    view: View
    px_per_mm: tuple[float, float]
    edge_px: float
    even: float
    backdrop: Floats
    problems: tuple[Problem, ...]


def look(picture: NDArray[np.uint8], papers: dict[str, Tint], film_px_per_mm: float = 0.0) -> Look:
    """Look at a photograph of the empty mat, (H, W, 3) of 8-bit sRGB. PastepotError where no mat is found.

    papers: the film's papers by name, in sRGB; film_px_per_mm: how many pixels the film gives a millimetre, 0 unknown
    """
    cv2 = load_opencv()
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    view = fit(find_corners(grey), (picture.shape[1], picture.shape[0]))
    grid = _grid_mm(view)
    scales = view.px_per_mm(grid)
    finest, coarsest = float(scales.max()), float(scales.min())
    edge = _edge_px(LINEAR[grey], view)
    light, backdrop, clipped = _frame(picture, view, view.to_px(grid), int(3 * scales.mean()))
    even = float(light.min() / light.max())
    problems = [*_set_up(view, edge, coarsest, film_px_per_mm), *_light(even, clipped), *judge(backdrop, papers)]
    return Look(view, (finest, coarsest), edge, even, backdrop, tuple(problems))


def _warning(what: str, fix: str) -> Problem:
    return Problem(what, fix, severity="warning")


def _set_up(view: View, edge: float, scale: float, film_scale: float) -> list[Problem]:
    found = []
    if view.tilt_deg > TILTED_DEG:
        what = f"The camera is tilted by {view.tilt_deg:.0f} degrees."
        found.append(_warning(what, "Hang it straight above the mat: the far side gets less sharp than the near one."))
    if edge > SOFT_PX:
        what = f"The picture is soft: a sharp edge takes {edge:.1f} pixels, more than {SOFT_PX}."
        found.append(_warning(what, "Focus on the mat, use a tripod and a timer, and a middle aperture."))
    if film_scale and scale < STRETCHED * film_scale:
        what = f"The photograph has {scale:.1f} pixels a mm, {scale / film_scale:.2f} for each of the film's."
        found.append(_warning(what, "Go nearer or use a smaller mat, at least for what is seen close."))
    return found


def _light(even: float, clipped: float) -> list[Problem]:
    found = []
    if even < UNEVEN:
        what = f"The darkest place of the backdrop gets {100 * even:.0f} % of the brightest's light."
        found.append(_warning(what, "Light it from two sides, from further away."))
    if clipped > 0.001:
        what = f"{100 * clipped:.1f} % of the backdrop is over-exposed: its colour is lost there."
        found.append(_warning(what, "Expose less, until nothing of it is burnt out."))
    return found


def _grid_mm(view: View) -> Floats:
    """The middles of the cells of the frame, (N, 2), carried along where strips lie further apart."""
    x, y, width, height = view.mat.frame_mm
    rows, columns = _GRID
    along = x + (np.arange(columns) + 0.5) / columns * (width + view.right_strip[0])
    down = y + (np.arange(rows) + 0.5) / rows * height
    return np.asarray(np.stack(np.meshgrid(along, down), axis=-1).reshape(-1, 2))


def _frame(picture: NDArray[np.uint8], view: View, cells: Floats, reach: int) -> tuple[Floats, Floats, float]:
    """Each cell's brightness, the backdrop's colour as a share of white under the same light, the share clipped.

    cells: (N, 2) their middles in pixels; reach: pixels to either side that are looked at
    """
    half = max(2, reach)
    seen, burnt = [], []
    for x, y in np.rint(cells).astype(int):
        patch = picture[max(0, y - half) : y + half + 1, max(0, x - half) : x + half + 1].reshape(-1, 3)
        if len(patch):
            seen.append(np.median(linear(patch), axis=0))
            burnt.append((patch.max(1) >= 254).mean())
    colours = np.array(seen)
    light = colours.mean(1)
    white = _white(picture, view)
    return light, np.median(colours, axis=0) / white, float(np.mean(burnt))


def _white(picture: NDArray[np.uint8], view: View) -> float:
    """The sheet's white: the brightest of the white beside each fiducial, linear, of the brightest channel."""
    off = FIDUCIAL_MM / 2 + 1.2
    beside = [(f.x_mm, f.y_mm + s * off) for f in view.mat.fiducials if f.side == "left" for s in (-1, 1)]
    at = np.rint(view.to_px(np.array(beside))).astype(int)
    inside = (at >= 1).all(1) & (at < np.array(view.size) - 1).all(1)
    return max(float(linear(picture[y - 1 : y + 2, x - 1 : x + 2]).mean((0, 1)).max()) for x, y in at[inside])


def _edge_px(light: NDArray[np.float32], view: View) -> float:
    """The 10 to 90 % rise across the fiducials' left and top edges, in pixels; the median over the edges."""
    cv2 = load_opencv()
    along = np.linspace(-0.8, 0.8, 33) * FIDUCIAL_MM / 2
    rises = []
    for fiducial in view.mat.fiducials:
        if fiducial.side == "right" and view.mat.kind == "strips":
            continue
        middle = np.array([fiducial.x_mm, fiducial.y_mm])
        scale = float(view.px_per_mm(middle[None])[0])
        across = np.arange(-_REACH_MM, _REACH_MM, 1 / (scale * _PER_PX)) - FIDUCIAL_MM / 2
        for axis in (0, 1):
            at = np.empty((len(along), len(across), 2))
            at[..., axis] = middle[axis] + across
            at[..., 1 - axis] = middle[1 - axis] + along[:, None]
            pixels = view.to_px(at.reshape(-1, 2)).reshape(at.shape).astype(np.float32)
            if (
                (pixels.min() < 1)
                or (pixels[..., 0].max() > view.size[0] - 2)
                or (pixels[..., 1].max() > view.size[1] - 2)
            ):
                continue
            lines = cv2.remap(light, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR)
            rises.append(float(np.median([_rise(line) for line in lines])) / _PER_PX)
    return float(np.median(rises))


def _rise(line: Floats) -> float:
    """Samples from the last at 90 % to the first at 10 % of a fall from white to black, to a fraction of one."""
    low, high = line[-len(line) // 4 :].mean(), line[: len(line) // 4].mean()
    level = (line - low) / max(high - low, 1e-6)
    start = len(level) - 1 - int(np.argmax(level[::-1] >= 0.9))
    end = start + int(np.argmax(level[start:] <= 0.1))
    first = start + (level[start] - 0.9) / max(level[start] - level[min(start + 1, len(level) - 1)], 1e-6)
    last = end - (0.1 - level[end]) / max(level[end - 1] - level[end], 1e-6)
    return float(last - first)
