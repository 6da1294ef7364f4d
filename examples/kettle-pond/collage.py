"""Gluing cut papers together and drawing on them, then making the picture of it.

A Collage only remembers what was glued and drawn, in millimetres. picture() makes pixels at any density: coverage is
drawn four times finer in both directions and averaged, and everything is mixed as light, so edges are right.
"""

import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import paper
import scissors
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo
from scipy.ndimage import distance_transform_edt, gaussian_filter
from scissors import Outline

FINER = 4
MARGIN_PX = 12
"""Empty rim round every cut-out; the edge colour is carried on under it."""


@dataclass(frozen=True)
class _Glue:
    """A paper: its cut polygon, sheet, where on the sheet it was cut, and how it sits."""

    polygon: np.ndarray
    sheet: str
    corner: tuple[float, float, int]
    shade: float
    inside: bool
    lift: float


@dataclass(frozen=True)
class _Draw:
    """Pen or crayon marks, all of one colour. dry: how much of the paper's tooth stays bare, 0..1."""

    polygons: tuple[np.ndarray, ...]
    sheet: str
    strength: float
    dry: float
    soft: float


class Collage:
    """One part on the gluing table. The name decides its chance, so no part disturbs another."""

    def __init__(self, name: str, seed: int) -> None:
        self.name, self.seed = name, seed
        self.rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
        self._steps: list[_Glue | _Draw] = []

    def glue(
        self,
        sheet: str,
        outline: Outline,
        *,
        inside: bool = False,
        lift: float = 1.0,
        snip: float | None = None,
        shade: float = 0.0,
    ) -> "Collage":
        """Cut a shape out of a sheet and glue it on. inside: trimmed to what is there already. lift: its shadow."""
        polygon = scissors.snip(self.rng, outline, snip)
        u, v = self.rng.random(2)
        tone = shade + self.rng.normal(0, 0.012)
        self._steps.append(_Glue(polygon, sheet, (u, v, int(self.rng.integers(2))), tone, inside, lift))
        return self

    def pen(self, *paths: np.ndarray, width: float = 0.5, sheet: str = "ink", strength: float = 0.88) -> "Collage":
        """Ink lines along the paths, only where there is paper."""
        wobble = float(np.clip(width * 0.2, 0.03, 0.14))
        lines = tuple(scissors.stroke(self.rng, p, width * self.rng.uniform(0.85, 1.15), wobble) for p in paths)
        self._steps.append(_Draw(lines, sheet, strength, 0.15, 0.0))
        return self

    def spots(self, sheet: str, *outlines: Outline, strength: float = 0.9, dry: float = 0.1) -> "Collage":
        """Filled marks: an ink pupil, a stamped dot."""
        cut = tuple(scissors.snip(self.rng, o, slips=0) for o in outlines)
        self._steps.append(_Draw(cut, sheet, strength, dry, 0.0))
        return self

    def crayon(
        self, sheet: str, *paths: np.ndarray, width: float = 2.0, strength: float = 0.6, dry: float = 0.5
    ) -> "Collage":
        """Dry crayon that leaves the hollows of the paper bare."""
        lines = tuple(scissors.stroke(self.rng, p, width, width * 0.08, taper=0.4) for p in paths)
        self._steps.append(_Draw(lines, sheet, strength, dry, width * 0.16))
        return self

    def rub(
        self, sheet: str, *outlines: Outline, strength: float = 0.4, dry: float = 0.6, soft: float = 1.0
    ) -> "Collage":
        """Crayon rubbed over a whole area with a soft rim: a blush, a shaded belly."""
        self._steps.append(_Draw(tuple(o.xy for o in outlines), sheet, strength, dry, soft))
        return self

    def bounds(self) -> tuple[np.ndarray, np.ndarray]:
        """Upper left and lower right of all the paper, mm."""
        papers = [s.polygon for s in self._steps if isinstance(s, _Glue) and not s.inside]
        return np.min([p.min(0) for p in papers], axis=0), np.max([p.max(0) for p in papers], axis=0)

    def picture(self, px_per_m: int) -> "Picture":
        """The finished part at a density, in whole pixels per metre as PNG stores it."""
        table = _Table(*self.bounds(), px_per_m, self.seed)
        for step in self._steps:
            table.glue(step) if isinstance(step, _Glue) else table.draw(step)
        return Picture(table.straight(), px_per_m, tuple(table.origin))


@dataclass(frozen=True)
class Picture:
    """Straight-alpha sRGB pixels (rows, columns, 4), and where the upper left corner lies in the drawing, mm."""

    rgba: np.ndarray
    px_per_m: int
    origin: tuple[float, float]

    def write(self, path: Path) -> None:
        """As PNG with its true size (pHYs in pixels per metre) and marked as sRGB."""
        info = PngInfo()
        info.add(b"sRGB", b"\x00")
        dpi = self.px_per_m * 0.0254
        Image.fromarray(self.rgba).save(path, "PNG", pnginfo=info, dpi=(dpi, dpi), compress_level=6)


class _Table:
    """Light times coverage, and coverage, while a part is being put together."""

    def __init__(self, low: np.ndarray, high: np.ndarray, px_per_m: int, seed: int) -> None:
        self.density, self.px, self.seed = px_per_m, px_per_m / 1000, seed
        size = np.ceil((high - low) * self.px).astype(int) + 2 * MARGIN_PX
        self.origin = low - MARGIN_PX / self.px
        self.light = np.zeros((size[1], size[0], 3), np.float32)
        self.alpha = np.zeros((size[1], size[0]), np.float32)

    def _box(self, polygons: tuple[np.ndarray, ...], pad_mm: float) -> tuple[slice, slice]:
        low = np.min([p.min(0) for p in polygons], axis=0) - pad_mm
        high = np.max([p.max(0) for p in polygons], axis=0) + pad_mm
        top_left = np.maximum(np.floor((low - self.origin) * self.px).astype(int), 0)
        shape = np.array(self.alpha.shape[::-1])
        bottom_right = np.minimum(np.ceil((high - self.origin) * self.px).astype(int) + 1, shape)
        bottom_right = np.maximum(bottom_right, top_left)
        return slice(top_left[1], bottom_right[1]), slice(top_left[0], bottom_right[0])

    def _coverage(self, polygons: tuple[np.ndarray, ...], box: tuple[slice, slice]) -> np.ndarray:
        rows, columns = box[0].stop - box[0].start, box[1].stop - box[1].start
        fine = Image.new("L", (columns * FINER, rows * FINER))
        pencil = ImageDraw.Draw(fine)
        shift = np.array([box[1].start, box[0].start])
        for polygon in polygons:
            spots = ((polygon - self.origin) * self.px - shift) * FINER
            pencil.polygon([tuple(p) for p in spots.tolist()], fill=255)
        return np.asarray(fine.reduce(FINER), dtype=np.float32) / 255

    def glue(self, step: _Glue) -> None:
        box = self._box((step.polygon,), 2.5)
        if self.alpha[box].size == 0:
            return
        cover = self._coverage((step.polygon,), box)
        if step.lift and self.alpha[box].any():
            self.light[box] *= 1 - self._shadow(cover, step.lift)[..., None]
        self._put(box, cover, self._lit_paper(step, cover), atop=step.inside)

    def _shadow(self, cover: np.ndarray, lift: float) -> np.ndarray:
        """Contact shadow, dark close to the edge and soft beyond, toward the lower right."""
        near = gaussian_filter(cover, 0.16 * self.px)
        drop = np.roll(cover, np.round(np.array([0.42, 0.32]) * lift * self.px).astype(int), (0, 1))
        far = gaussian_filter(drop, 0.38 * lift * self.px)
        return np.clip(0.22 * near + 0.40 * far, 0, 0.6) * min(lift, 1.0)

    def _lit_paper(self, step: _Glue, cover: np.ndarray) -> np.ndarray:
        """The paper's light: its colour, surface, slight curl, and its cut edge under the lamp."""
        sheet = paper.DRAWER[step.sheet]
        light, warmth = paper.surface(sheet.kind, self.density, self.seed)
        u, v, turned = step.corner
        at = (int(u * light.shape[0]), int(v * light.shape[1]))
        light, warmth = (paper.corner(t.T if turned else t, at, cover.shape) for t in (light, warmth))
        curl = self._facing(cover, min(2.4, 0.12 * np.sqrt(cover.sum()) / self.px + 0.1)) * 0.075
        edge = self._facing(cover, 0.13)
        factor = light * (1 + step.shade + curl) * (1 - 0.34 * np.clip(-edge, 0, 1))
        rgb = (
            paper.colour(step.sheet) * factor[..., None] * (1 + warmth[..., None] * np.array([1, 0, -1.2], np.float32))
        )
        core = np.clip(edge, 0, 1)[..., None] * 0.30
        return rgb * (1 - core) + paper.colour("milk") * core

    def _facing(self, cover: np.ndarray, blur_mm: float) -> np.ndarray:
        """+1 on edges toward the lamp, -1 on edges away from it, 0 on the flat."""
        sigma = max(blur_mm * self.px, 0.7)
        dy, dx = np.gradient(gaussian_filter(cover, sigma))
        return -(dx * paper.LAMP[0] + dy * paper.LAMP[1]) * sigma * 2.4

    def draw(self, step: _Draw) -> None:
        box = self._box(step.polygons, 0.5 + 2 * step.soft)
        if self.alpha[box].size == 0:
            return
        cover = self._coverage(step.polygons, box)
        if step.soft:
            cover = gaussian_filter(cover, step.soft * self.px)
        tooth = paper.corner(paper.tooth(self.density, self.seed), (box[0].start, box[1].start), cover.shape)
        reach = cover * (1.12 - 0.72 * step.dry)  # the crayon's pressure: tooth that stands lower stays bare
        bite = np.clip((reach - tooth) / 0.22 + 0.5, 0, 1) if step.dry else 1.0
        self._put(box, cover**0.5 * bite * step.strength, paper.colour(step.sheet)[None, None], atop=True)

    def _put(self, box: tuple[slice, slice], cover: np.ndarray, light: np.ndarray, *, atop: bool) -> None:
        """Lay light over the table; atop keeps to the paper that is there."""
        top = cover * self.alpha[box] if atop else cover
        self.light[box] = light * top[..., None] + self.light[box] * (1 - cover)[..., None]
        if not atop:
            self.alpha[box] = cover + self.alpha[box] * (1 - cover)

    def straight(self) -> np.ndarray:
        """8-bit straight alpha, with the nearest edge colour everywhere under alpha 0."""
        alpha = np.round(self.alpha * 255).astype(np.uint8)
        light = self.light / np.maximum(self.alpha, 1e-6)[..., None]
        faint = self.alpha < 0.25
        row, column = distance_transform_edt(faint, return_distances=False, return_indices=True)
        light = light[row, column]
        rgb = np.round(paper.to_srgb(light) * 255).astype(np.uint8)
        return np.dstack([rgb, alpha])
