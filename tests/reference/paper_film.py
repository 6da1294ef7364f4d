"""Films of paper pieces whose truth is known, and what copying does to them. Invented data, for tests and benches.

A film is a sheet of textured paper with textured pieces on it; at every exposure at least one piece has moved by a
pixel.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Frame = NDArray[np.float32]
PATTERNS: dict[str, tuple[int, ...]] = {"ones": (1,), "twos": (2,), "threes": (3,), "mixed": (2, 3), "random": ()}


@dataclass
class Truth:
    """starts: frames at 24 a second; poses: (E, P, 3) right, down px and radians; smooth: the same without the hand."""

    starts: NDArray[np.int64]
    poses: NDArray[np.float64]
    smooth: NDArray[np.float64]
    weave: NDArray[np.float64]
    stops: NDArray[np.float64]


@dataclass(frozen=True)
class Recipe:
    """How a film is made; lengths in pixels."""

    seed: int
    pattern: str = "twos"
    frames: int = 96
    size: tuple[int, int] = (640, 480)
    pieces: int = 5
    miss: float = 0.6
    weave: float = 0.0
    stops: float = 0.0
    grain: float = 0.0
    starts: tuple[int, ...] = ()  # instead of the pattern's


def starts_of(pattern: str, frames: int, random: np.random.Generator) -> NDArray[np.int64]:
    lengths = PATTERNS[pattern] or tuple(random.integers(1, 5, frames).tolist())
    starts, at, k = [], 0, 0
    while at < frames:
        starts.append(at)
        at, k = at + lengths[k % len(lengths)], k + 1
    return np.array(starts)


def paper(random: np.random.Generator, height: int, width: int, level: float) -> Frame:
    """A sheet with fibres, blotches and a few printed marks."""
    fine = random.normal(0, 4, (height, width))
    coarse = np.kron(random.normal(0, 9, (height // 16 + 1, width // 16 + 1)), np.ones((16, 16)))[:height, :width]
    sheet = level + blurred(coarse, 9) + blurred(fine, 3) * 2
    for _ in range(max(2, height * width // 20000)):
        y, x = random.integers(0, height), random.integers(0, width)
        sheet[y : y + random.integers(3, 12), x : x + random.integers(8, 40)] -= random.uniform(15, 50)
    return sheet.astype(np.float32)


def blurred(x: NDArray[np.floating], width: int) -> NDArray[np.floating]:
    for axis in (0, 1):
        pad = [(width // 2, width - width // 2) if a == axis else (0, 0) for a in (0, 1)]
        total = np.cumsum(np.pad(x, pad, mode="edge"), axis=axis)
        n = x.shape[axis]
        x = (np.take(total, np.arange(width, width + n), axis=axis) - np.take(total, np.arange(n), axis=axis)) / width
    return x


class PaperFilm:
    """Frames on demand, and their truth."""

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        random = np.random.default_rng([recipe.seed, sum(map(ord, recipe.pattern))])
        width, height = recipe.size
        self.back = paper(random, height, width, random.uniform(150, 200))
        self.pieces = [_piece(random) for _ in range(recipe.pieces)]
        starts = np.array(recipe.starts) if recipe.starts else starts_of(recipe.pattern, recipe.frames, random)
        smooth, poses = _poses(random, len(starts), recipe)
        self.truth = Truth(
            starts,
            poses,
            smooth,
            random.normal(0, 1, (recipe.frames, 2)) * recipe.weave,
            random.normal(0, 1, recipe.frames) * recipe.stops,
        )
        self.random = random

    def frames(self) -> Iterator[Frame]:
        at = -1
        still = self.back
        for n in range(self.recipe.frames):
            if at + 1 < len(self.truth.starts) and n == self.truth.starts[at + 1]:
                at += 1
                still = self._laid(self.truth.poses[at])
            frame = still
            if self.recipe.weave:
                frame = moved(frame, *self.truth.weave[n])
            if self.recipe.stops:
                frame = frame * np.float32(2 ** (self.truth.stops[n] / 2.2))
            if self.recipe.grain:
                frame = frame + self.random.normal(0, self.recipe.grain, frame.shape).astype(np.float32)
            yield np.clip(frame, 0, 255)

    def _laid(self, poses: NDArray[np.float64]) -> Frame:
        out = self.back.copy()
        for (picture, alpha), pose in zip(self.pieces, poses, strict=True):
            _paste(out, picture, alpha, *pose)
        return out


def _piece(random: np.random.Generator) -> tuple[Frame, Frame]:
    side = int(random.integers(70, 130))
    y, x = np.mgrid[:side, :side] / side - 0.5
    angle = np.arctan2(y, x)
    edge = 0.33 + 0.1 * np.sin(angle * random.integers(2, 5) + random.uniform(0, 6))
    alpha = np.clip((edge - np.hypot(x, y)) * side, 0, 1)
    return paper(random, side, side, random.uniform(60, 235)), alpha.astype(np.float32)


def _poses(random: np.random.Generator, count: int, recipe: Recipe) -> tuple[NDArray, NDArray]:
    width, height = recipe.size
    smooth = np.zeros((count, recipe.pieces, 3))
    poses = smooth.copy()
    for p in range(recipe.pieces):
        at = np.array([random.uniform(80, width - 80), random.uniform(80, height - 80), 0.0])
        e, hand = 0, np.zeros(3)
        while e < count:
            run = int(random.integers(5, 14))
            rest = random.random() < 0.45 and p > 0  # one piece moves all the time
            goal = at.copy()
            if not rest:
                far = random.uniform(2.5, 6) * run
                way = random.uniform(0, 2 * np.pi)
                goal[:2] = np.clip(at[:2] + far * np.array([np.cos(way), np.sin(way)]), 70, [width - 70, height - 70])
                goal[2] = at[2] + random.uniform(-0.03, 0.03) * run
            for k in range(min(run, count - e)):
                if not rest:
                    hand = random.normal(0, 1, 3) * [recipe.miss, recipe.miss, recipe.miss * 0.012]
                u = (k + 1) / run
                smooth[e] = smooth[e]
                smooth[e, p] = at + (goal - at) * (0.5 - 0.5 * np.cos(np.pi * u) if run > 6 else u)
                poses[e, p] = smooth[e, p] + hand
                e += 1
            at = goal
    for e in range(1, count):  # a picture that nobody can tell from the one before is no exposure
        if np.abs(poses[e] - poses[e - 1])[:, :2].max() < 1.0:
            poses[e:, 0, 0] += 1.2
            smooth[e:, 0, 0] += 1.2
    return smooth, poses


def _paste(out: Frame, picture: Frame, alpha: Frame, x: float, y: float, turn: float) -> None:
    side = len(picture)
    reach = int(side * 0.75)
    left, top = int(x) - reach, int(y) - reach
    rows = np.arange(max(top, 0), min(top + 2 * reach, out.shape[0]))
    columns = np.arange(max(left, 0), min(left + 2 * reach, out.shape[1]))
    dy, dx = rows[:, None] - y, columns[None] - x
    c, s = np.cos(turn), np.sin(turn)
    u, v = c * dx + s * dy + side / 2, -s * dx + c * dy + side / 2
    inside = (u >= 0) & (u < side - 1) & (v >= 0) & (v < side - 1)
    iu, iv = np.clip(u, 0, side - 2).astype(int), np.clip(v, 0, side - 2).astype(int)
    fu, fv = (u - iu).astype(np.float32), (v - iv).astype(np.float32)

    def at(im: Frame) -> Frame:
        upper = im[iv, iu] * (1 - fu) + im[iv, iu + 1] * fu
        return upper * (1 - fv) + (im[iv + 1, iu] * (1 - fu) + im[iv + 1, iu + 1] * fu) * fv

    cover = at(alpha) * inside
    part = out[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    part += cover * (at(picture) - part)


def moved(frame: Frame, right: float, down: float) -> Frame:
    """The frame shifted by a fraction of a pixel (bilinear; edges repeated)."""
    for axis, by in ((0, -down), (1, -right)):
        whole = int(np.floor(by))
        part = np.float32(by - whole)
        at = np.arange(frame.shape[axis]) + whole
        near, far = (np.take(frame, np.clip(at + k, 0, len(at) - 1), axis=axis) for k in (0, 1))
        frame = near + part * (far - near)
    return frame


# ---- what copying does ----
def resampled(frames: Sequence[Frame], rate: int, blend: bool) -> list[Frame]:
    """24 a second to `rate`: the picture shown at each time, or the mixture of the two around it."""
    out = []
    for n in range(len(frames) * rate // 24):
        x = n * 24 / rate
        i = int(x + 1e-9)
        a = np.float32(x - i) if blend else np.float32(0)
        j = min(i + 1, len(frames) - 1)
        out.append(frames[i] if a < 1e-6 else (1 - a) * frames[i] + a * frames[j])
    return out


def pulldown(frames: Sequence[Frame], mode: str) -> list[Frame]:
    """3:2 to 30 a second; `comb` weaves the fields, `blend` mixes neighbouring lines, `bob` shows the upper field."""
    out = []
    for n in range(len(frames) * 30 // 24):
        group, k = divmod(n, 5)
        upper, lower = ((0, 0), (1, 1), (1, 2), (2, 3), (3, 3))[k]
        a, b = (frames[min(group * 4 + i, len(frames) - 1)] for i in (upper, lower))
        if mode == "bob":
            rows = a[::2]
            out.append(np.repeat(rows, 2, axis=0)[: len(a)])
            continue
        woven = a.copy()
        woven[1::2] = b[1::2]
        if mode == "blend":
            padded = np.pad(woven, ((1, 1), (0, 0)), mode="edge")
            woven = (padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4
        out.append(woven)
    return out


def tape(frames: Sequence[Frame], random: np.random.Generator) -> list[Frame]:
    """Like a worn tape: soft across, each line a little out of place, noise in streaks, level wandering."""
    out = []
    for frame in frames:
        soft = frame
        total = np.cumsum(np.pad(soft, ((0, 0), (3, 3)), mode="edge"), axis=1)
        soft = (total[:, 5:] - np.pad(total, ((0, 0), (1, 0)))[:, :-6]) / 5
        soft = soft[:, : frame.shape[1]] if soft.shape[1] >= frame.shape[1] else np.pad(soft, ((0, 0), (0, 1)), "edge")
        jitter = blurred(random.normal(0, 1.2, (len(frame), 1)), 9)[:, 0]
        x = np.clip(np.arange(frame.shape[1])[None] + jitter[:, None], 0, frame.shape[1] - 1.001)
        i = x.astype(int)
        f = (x - i).astype(np.float32)
        rows = np.arange(len(frame))[:, None]
        soft = soft[rows, i] * (1 - f) + soft[rows, i + 1] * f
        noise = random.normal(0, 11, frame.shape)
        noise = (noise + np.roll(noise, 1, 1) + np.roll(noise, 2, 1)) / 1.7
        level = np.float32(1 + random.normal(0, 0.006))
        out.append(np.clip(soft * level + noise, 0, 255).astype(np.float32))
    return out


def halfway(starts: NDArray[np.int64], count: int, change: Callable[[list[Frame]], list[Frame]]) -> NDArray[np.int64]:
    """Where exposures begin after `change`: the first picture of each that is half of it or more."""
    number = np.searchsorted(starts, np.arange(count), side="right") - 1
    shown = change([np.full((64, 8), n, np.float32) for n in number])
    seen = np.array([float(frame.mean()) for frame in shown])
    return np.unique(np.searchsorted(np.maximum.accumulate(seen), np.arange(len(starts)) - 0.51))


def write(path: Path, frames: Sequence[Frame], rate: Fraction, codec: str = "ffv1", **options: str) -> Path:
    """A film of grey pictures; options are the encoder's. bit_rate is one of them."""
    import av

    height, width = frames[0].shape
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        if "bit_rate" in options:
            stream.bit_rate = int(options.pop("bit_rate"))
        if "gop" in options:
            stream.codec_context.gop_size = int(options.pop("gop"))
        stream.options = options
        for frame in frames:
            grey = np.clip(np.rint(frame), 0, 255).astype(np.uint8)
            shot = av.VideoFrame.from_ndarray(grey, format="gray").reformat(format="yuv420p")
            container.mux(stream.encode(shot))
        container.mux(stream.encode())
    return path
