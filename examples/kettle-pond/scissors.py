"""Scissors and pens as geometry: what a hand cuts and draws when it follows a shape. Millimetres, x right, y down.

Scissors cut in short straight snips that meet at a slight angle, shorter where the shape turns, and now and then they
slip. A pen wobbles, and its line swells and thins with the pressure.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicHermiteSpline
from scipy.ndimage import gaussian_filter1d

Rng = np.random.Generator
STEP = 0.25
"""Spacing of the points on a shape, mm."""


@dataclass(frozen=True)
class Outline:
    """A closed shape: points (n, 2), and which of them are sharp corners (n,)."""

    xy: np.ndarray
    corners: np.ndarray

    def moved(self, dx: float, dy: float) -> "Outline":
        return Outline(shifted(self.xy, dx, dy), self.corners)

    def turned(self, degrees: float, about: tuple[float, float]) -> "Outline":
        """Turned clockwise as seen on the table."""
        return Outline(turn(self.xy, degrees, about), self.corners)

    def mirrored(self, x: float = 0.0) -> "Outline":
        """The other way round, about the upright line at x."""
        return Outline((self.xy * (-1, 1) + (2 * x, 0))[::-1], self.corners[::-1])


def shifted(points: np.ndarray, dx: float, dy: float) -> np.ndarray:
    """A point or points, moved."""
    return points + np.array([dx, dy])


def turn(xy: np.ndarray, degrees: float, about: tuple[float, float]) -> np.ndarray:
    """Points turned clockwise (y is down) about a point."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return (xy - about) @ np.array([[c, s], [-s, c]]) + about


def _spline(points: np.ndarray, closed: bool) -> np.ndarray:
    """A calm curve through the points (centripetal Catmull-Rom), about STEP apart, without the last point."""
    if len(points) == 2:
        count = max(2, int(np.linalg.norm(points[1] - points[0]) / STEP))
        return np.linspace(points[0], points[1], count, endpoint=False)
    looped = np.concatenate([points[-1:], points, points[:2]]) if closed else points
    gaps = np.maximum(np.linalg.norm(np.diff(looped, axis=0), axis=1), 1e-6) ** 0.5
    when = np.concatenate([[0], np.cumsum(gaps)])
    slope = np.diff(looped, axis=0) / gaps[:, None]
    inner = (slope[:-1] * gaps[1:, None] + slope[1:] * gaps[:-1, None]) / (gaps[:-1] + gaps[1:])[:, None]
    tangents = np.concatenate([[1.5 * slope[0] - 0.5 * inner[0]], inner, [1.5 * slope[-1] - 0.5 * inner[-1]]])
    first, last = (when[1], when[-2]) if closed else (when[0], when[-1])
    length = float(np.linalg.norm(np.diff(looped, axis=0), axis=1).sum())
    samples = np.linspace(first, last, max(8, int(length / STEP)), endpoint=False)
    return CubicHermiteSpline(when, looped, tangents)(samples)


def shape(*points: tuple[float, ...]) -> Outline:
    """A closed shape through points (x, y); a third number makes that point a sharp corner."""
    xy = np.array([p[:2] for p in points], dtype=float)
    sharp = [i for i, p in enumerate(points) if len(p) > 2]
    if not sharp:
        line = _spline(xy, closed=True)
        return Outline(line, np.zeros(len(line), bool))
    runs, flags = [], []
    for here, there in zip(sharp, [*sharp[1:], sharp[0] + len(points)], strict=True):
        run = _spline(xy[np.arange(here, there + 1) % len(points)], closed=False)
        runs.append(run)
        flags.append(np.arange(len(run)) == 0)
    return Outline(np.concatenate(runs), np.concatenate(flags))


def oval(x: float, y: float, rx: float, ry: float | None = None, lean: float = 0.0) -> Outline:
    ry = rx if ry is None else ry
    count = max(24, int(np.pi * (rx + ry) / STEP))
    a = np.linspace(0, 2 * np.pi, count, endpoint=False)
    line = np.stack([x + rx * np.cos(a), y + ry * np.sin(a)], axis=1)
    return Outline(turn(line, lean, (x, y)), np.zeros(count, bool))


def curve(*points: tuple[float, float]) -> np.ndarray:
    """An open curve through the points, for pens and ribbons."""
    xy = np.array(points, dtype=float)
    return np.concatenate([_spline(xy, closed=False), xy[-1:]])


def _normals(path: np.ndarray) -> np.ndarray:
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def ribbon(path: np.ndarray, *widths: float, round_ends: tuple[bool, bool] = (True, True)) -> Outline:
    """A strip along a path; its width runs through the given values. Round ends are centred on the path's ends."""
    where = np.linspace(0, 1, len(path))
    half = np.interp(where, np.linspace(0, 1, len(widths)), widths)[:, None] / 2
    normal = _normals(path)
    left, right = path + normal * half, (path - normal * half)[::-1]
    start = _cap(path[0], -normal[0], half[0, 0]) if round_ends[0] else np.empty((0, 2))
    end = _cap(path[-1], normal[-1], half[-1, 0]) if round_ends[1] else np.empty((0, 2))
    xy = np.concatenate([left, end, right, start])
    corners = np.zeros(len(xy), bool)
    if not round_ends[0]:
        corners[[0, len(xy) - 1]] = True
    if not round_ends[1]:
        corners[[len(left) - 1, len(left)]] = True
    return Outline(xy, corners)


def _cap(centre: np.ndarray, side: np.ndarray, radius: float) -> np.ndarray:
    """A half circle that starts at centre + side and runs forward round to the other side."""
    a = np.linspace(0, np.pi, max(6, int(radius * 12)))[1:-1, None]
    ahead = np.array([side[1], -side[0]])
    return centre + radius * (np.cos(a) * side + np.sin(a) * ahead)


def perimeter(xy: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(np.concatenate([xy, xy[:1]]), axis=0), axis=1).sum())


def _snip_ends(rng: Rng, outline: Outline, length: float) -> list[int]:
    """Where one snip ends and the next begins: after a blade's length, after a bend of some 25 degrees, at corners."""
    edge = np.diff(np.concatenate([outline.xy, outline.xy[:1]]), axis=0)
    run = np.linalg.norm(edge, axis=1)
    bend = np.abs(np.angle(np.exp(1j * np.diff(np.arctan2(edge[:, 1], edge[:, 0]), prepend=0.0))))
    ends, far, bent = [0], 0.0, 0.0
    reach, limit = length * rng.uniform(0.6, 1.5), rng.uniform(18, 34)
    for i in range(1, len(run)):
        far += run[i - 1]
        bent += np.degrees(bend[i]) * (not outline.corners[i])
        if outline.corners[i] or far >= reach or (bent >= limit and far > 0.22 * length):
            ends.append(i)
            far, bent = 0.0, 0.0
            reach, limit = length * rng.uniform(0.6, 1.5), rng.uniform(18, 34)
    return ends


def snip(rng: Rng, outline: Outline, length: float | None = None, slips: float = 0.06) -> np.ndarray:
    """The polygon that scissors make of a shape. length: of a usual snip, mm (default: from the shape's size)."""
    length = length or float(np.clip(perimeter(outline.xy) / 42, 0.55, 6.0))
    normal = -_normals(outline.xy)
    cut = []
    for i in _snip_ends(rng, outline, length):
        sharp = outline.corners[i]
        miss = rng.normal(0, 0.022 * length + 0.015) * (0.4 if sharp else 1.0)
        spot = outline.xy[i] + normal[i] * miss
        if not sharp and length > 1.2 and rng.random() < slips:
            along = np.array([normal[i][1], -normal[i][0]])
            step = rng.uniform(0.08, 0.16) * min(length, 3.0) * rng.choice([-1, 1])
            cut.append(spot - along * 0.12 * length)
            spot = spot + normal[i] * step
        cut.append(spot)
    return _fuzz(rng, np.array(cut))


def _fuzz(rng: Rng, corners: np.ndarray) -> np.ndarray:
    """Straight edges with the tiny unevenness of torn fibres."""
    ahead = np.roll(corners, -1, axis=0) - corners
    counts = np.maximum(1, (np.hypot(*ahead.T) / 0.35).astype(int))
    edge = np.repeat(np.arange(len(corners)), counts)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    line = corners[edge] + ahead[edge] * (step / counts[edge])[:, None]
    return line + rng.normal(0, 0.016, line.shape) * (step > 0)[:, None]


def stroke(rng: Rng, path: np.ndarray, width: float, wobble: float = 0.10, taper: float = 0.55) -> np.ndarray:
    """The polygon of a pen line: it wobbles sideways by about `wobble` mm and thins toward its ends."""
    count = len(path)
    if count < 3:
        path = np.linspace(path[0], path[-1], 8)
        count = 8
    smooth = max(2.0, 1.6 / STEP)
    noise = gaussian_filter1d(rng.standard_normal((count, 2)), smooth, axis=0, mode="nearest") * np.sqrt(smooth) * 1.9
    press = gaussian_filter1d(rng.standard_normal(count), smooth * 1.5, mode="nearest") * np.sqrt(smooth) * 0.35
    where = np.linspace(0, 1, count)
    swell = 1 - taper + taper * np.sin(np.pi * where**0.8) ** 0.6
    half = np.clip(width / 2 * swell * (1 + press), width * 0.16, width * 0.85)[:, None]
    line = path + noise * wobble
    normal = _normals(line)
    return np.concatenate([line + normal * half, (line - normal * half)[::-1]])
