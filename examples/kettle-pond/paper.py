"""Paper as a material: the colours of the sheets in the drawer, and the surface that each kind of sheet has.

A surface is a tile of numbers that wraps round: cloudy mottling at several scales, single fibres pressed into it, and
the small relief they make under a lamp from the upper left. Every piece cut from a sheet takes its own corner of it.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw
from scipy import fft

LAMP = (-0.6, -0.8)
"""Where the light comes from, as x right and y down: the upper left."""


@dataclass(frozen=True)
class Kind:
    """What a sort of paper looks like close up. Amounts are shares of the paper's own brightness.

    mottle: cloudiness, relief: bumps under the lamp, fibres: strength of single fibres,
    fibre_mm: their mean length, per_mm2: how many there are, pale: share of them lighter than the sheet
    """

    mottle: float
    relief: float
    fibres: float
    fibre_mm: float
    per_mm2: float
    pale: float


KINDS = {
    "sugar": Kind(mottle=0.044, relief=0.030, fibres=0.062, fibre_mm=2.6, per_mm2=0.8, pale=0.55),
    "wove": Kind(mottle=0.020, relief=0.020, fibres=0.030, fibre_mm=2.2, per_mm2=0.6, pale=0.3),
    "kraft": Kind(mottle=0.044, relief=0.030, fibres=0.095, fibre_mm=3.6, per_mm2=0.7, pale=0.45),
}
"""sugar: soft coloured sheets; wove: smooth white and pale ones; kraft: brown wrapping paper with flecks."""


@dataclass(frozen=True)
class Sheet:
    """One sheet in the drawer: its sRGB colour and its kind of surface."""

    rgb: tuple[int, int, int]
    kind: str = "sugar"


# The whole film is cut from this drawer: warm evening papers for sky and land, cool ones for water and heron,
# and one loud red kept for the bus. Nothing is pure black or pure white.
DRAWER = {
    "milk": Sheet((242, 238, 228), "wove"),
    "cream": Sheet((241, 226, 193), "wove"),
    "straw": Sheet((236, 205, 143)),
    "apricot": Sheet((238, 184, 134)),
    "blush": Sheet((221, 141, 118)),
    "mustard": Sheet((219, 165, 62)),
    "tomato": Sheet((198, 78, 56)),
    "brick": Sheet((158, 62, 52)),
    "plum": Sheet((92, 56, 68)),
    "kraft": Sheet((197, 160, 115), "kraft"),
    "bark": Sheet((126, 88, 62), "kraft"),
    "sage": Sheet((176, 182, 138)),
    "moss": Sheet((124, 140, 78)),
    "fern": Sheet((66, 98, 78)),
    "lagoon": Sheet((154, 190, 178)),
    "pond": Sheet((94, 147, 146)),
    "deep": Sheet((43, 88, 97)),
    "mist": Sheet((188, 200, 200)),
    "slate": Sheet((108, 131, 149)),
    "night": Sheet((53, 65, 84)),
    "ink": Sheet((46, 43, 52), "wove"),
}


def to_linear(srgb: np.ndarray) -> np.ndarray:
    """SRGB values 0..1 to light (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4).astype(np.float32)


def to_srgb(light: np.ndarray) -> np.ndarray:
    """Light 0..1 to sRGB values (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


def colour(sheet: str) -> np.ndarray:
    """The colour of a sheet of the drawer as light, shape (3,)."""
    return to_linear(np.array(DRAWER[sheet].rgb) / 255)


def clouds(rng: np.random.Generator, side: int, px_per_mm: float, scales_mm: dict[float, float]) -> np.ndarray:
    """Smooth noise that wraps round: a sum of blurred noises {blur in mm: weight}, mean 0 and spread 1."""
    spectrum = fft.rfft2(rng.standard_normal((side, side), dtype=np.float32))
    freq = np.hypot(fft.fftfreq(side)[:, None], fft.rfftfreq(side)[None, :]) * px_per_mm  # cycles per mm
    gain = np.zeros_like(freq)
    for blur, weight in scales_mm.items():
        band = np.exp(-2 * (np.pi * blur * freq) ** 2)
        band[0, 0] = 0
        gain += (weight * band) ** 2 / max(float((band**2).sum()), 1e-9)
    noise = fft.irfft2(spectrum * np.sqrt(gain), s=(side, side))
    return (noise / noise.std()).astype(np.float32)


def _fibres(rng: np.random.Generator, side: int, px_per_mm: float, kind: Kind, share: float) -> np.ndarray:
    """Single bent fibres, 0..1, wrapping round."""
    over = 2
    count = int(share * kind.per_mm2 * (side / px_per_mm) ** 2)
    length = kind.fibre_mm * rng.lognormal(0, 0.5, count)[:, None]
    angle = rng.uniform(0, np.pi, count)[:, None] + np.cumsum(rng.normal(0, 0.22, (count, 7)), axis=1)
    steps = np.stack([np.cos(angle), np.sin(angle)], axis=-1) * length[..., None] / 7
    paths = rng.uniform(0, side / px_per_mm, (count, 1, 2)) + np.cumsum(steps, axis=1)
    pad = int(kind.fibre_mm * 4 * px_per_mm)
    canvas = Image.new("L", ((side + pad) * over, (side + pad) * over))
    pen = ImageDraw.Draw(canvas)
    thick = np.clip(np.round(rng.uniform(0.10, 0.24, count) * px_per_mm * over), 1, None).astype(int)
    tone = rng.integers(70, 256, count)
    for path, width, value in zip(paths * px_per_mm * over, thick, tone, strict=True):
        pen.line([tuple(p) for p in path.tolist()], fill=int(value), width=int(width))
    wide = np.asarray(canvas.reduce(over), dtype=np.float32) / 255
    tile = wide[:side, :side].copy()
    edge = min(pad, side)
    tile[:edge] += wide[side : side + edge, :side]
    tile[:, :edge] += wide[:side, side : side + edge]
    return np.minimum(tile, 1.0)


def _relief(height: np.ndarray, px_per_mm: float) -> np.ndarray:
    """How much a bumpy surface faces the lamp, spread 1."""
    dy = np.roll(height, -1, 0) - np.roll(height, 1, 0)
    dx = np.roll(height, -1, 1) - np.roll(height, 1, 1)
    facing = dx * LAMP[0] + dy * LAMP[1]
    return -facing / max(float(facing.std()), 1e-9)


@lru_cache(maxsize=16)
def surface(kind_name: str, px_per_m: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Brightness factor (about 1) and warmth (about 0) of a kind of paper: two square tiles that wrap round."""
    kind, px_per_mm = KINDS[kind_name], px_per_m / 1000
    side = fft.next_fast_len(int(1_400_000 / max(px_per_m, 5906) * px_per_mm), real=True)
    rng = np.random.default_rng([seed, sorted(KINDS).index(kind_name), 71])
    mottle = clouds(rng, side, px_per_mm, {0.5: 0.7, 1.6: 1.0, 6.0: 0.8, 18.0: 0.5})
    pale = _fibres(rng, side, px_per_mm, kind, kind.pale)
    dark = _fibres(rng, side, px_per_mm, kind, 1 - kind.pale)
    bumps = clouds(rng, side, px_per_mm, {0.12: 1.0, 0.3: 0.8}) * 0.25 + pale + dark
    light = 1 + kind.mottle * mottle * 0.6 + kind.relief * _relief(bumps, px_per_mm) * 0.7
    light += kind.fibres * (pale * 1.15 - dark)
    warmth = 0.012 * clouds(rng, side, px_per_mm, {2.0: 1.0, 10.0: 1.0})
    return np.clip(light, 0.6, 1.35).astype(np.float32), warmth.astype(np.float32)


@lru_cache(maxsize=4)
def tooth(px_per_m: int, seed: int) -> np.ndarray:
    """The bite of paper under a dry crayon, ranks 0..1 evenly spread, wrapping round."""
    px_per_mm = px_per_m / 1000
    side = fft.next_fast_len(int(90_000 / max(px_per_m, 5906) * 7 * px_per_mm), real=True)
    grain = clouds(np.random.default_rng([seed, 72]), side, px_per_mm, {0.09: 1.0, 0.22: 1.0})
    order = np.argsort(np.argsort(grain, axis=None)).reshape(grain.shape)
    return (order / order.size).astype(np.float32)


def corner(tile: np.ndarray, at: tuple[int, int], size: tuple[int, int]) -> np.ndarray:
    """A piece of a wrapping tile: rows and columns from `at` on, `size` (rows, columns)."""
    rows = (at[0] + np.arange(size[0])) % tile.shape[0]
    columns = (at[1] + np.arange(size[1])) % tile.shape[1]
    return tile[np.ix_(rows, columns)]
