"""Lay the parts on the stage as a flat picture, without Blender: a quick look while drawing or posing.

    python preview.py FILM_FOLDER 1 30 60 --out FOLDER [--width 1280]

It places pivots, joints, layers and the pose on a frame, and fakes the lamp with a soft shadow under every part.
Between extremes it eases in its own way, so that in-betweens are near to Blender's but not the same.
"""

import argparse
import math
import sys
import tomllib
from bisect import bisect_right
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import stage
from PIL import Image, ImageFilter

FINER = 2


class Place(NamedTuple):
    """Where a part's pivot lies on the stage (x right, y down, mm), how far it is turned, and its size."""

    x: float
    y: float
    clockwise_deg: float
    scale: float


def eased(poses: Sequence[Sequence[float]], frame: float) -> list[float]:
    """The values between two extremes on a frame: slow out of one and into the next."""
    frames = [p[0] for p in poses]
    k = bisect_right(frames, frame)
    if k == 0 or k == len(poses):
        return list(poses[max(k - 1, 0)][1:])
    a, b = poses[k - 1], poses[k]
    t = (frame - a[0]) / (b[0] - a[0])
    share = t * t * (3 - 2 * t)
    return [v + (w - v) * share for v, w in zip(a[1:], b[1:], strict=True)]


def shown(acting: stage.Acting, parts: dict[str, dict[str, Any]], frame: int) -> list[str]:
    """The names of the parts that are seen on a frame, lowest layer first."""
    choice = dict(acting.shown)
    for name, changes in acting.choices.items():
        choice[name] = next((part for at, part in reversed(changes) if at <= frame), choice[name])
    hidden = set(acting.hidden)
    seen = [n for n, p in parts.items() if n not in hidden and choice.get(p.get("replaces", ""), n) == n]
    return sorted(seen, key=lambda n: parts[n]["layer"])


def place(name: str, acting: stage.Acting, parts: dict[str, dict[str, Any]], frame: int) -> Place:
    """A part's place on a frame: its own pose on top of everything it hangs on."""
    part = parts[name]
    x, z, turn, scale = eased(acting.extremes.get(name, [stage.Extreme(1)]), frame)
    if not part.get("parent"):
        stands = acting.stands[name]
        return Place(stands[0] + x, -(stands[1] + z), -turn, scale)
    on = place(part["parent"], acting, parts, frame)
    pivot = parts[part["parent"]]["pivot_mm"]
    joint = part.get("joint_mm", pivot)
    right, down = (joint[0] - pivot[0] + x) * on.scale, (joint[1] - pivot[1] - z) * on.scale
    c, s = math.cos(math.radians(on.clockwise_deg)), math.sin(math.radians(on.clockwise_deg))
    return Place(on.x + c * right - s * down, on.y + s * right + c * down, on.clockwise_deg - turn, on.scale * scale)


def _laid(
    canvas: Image.Image, picture: Image.Image, part: dict[str, Any], at: Place, view: tuple[float, float, float]
) -> None:
    """Paste one part and the shadow it throws. view: left, top (mm) and pixels per mm of the canvas."""
    left, top, px = view
    k = part["px_per_mm"] / (px * at.scale)
    c, s = math.cos(math.radians(at.clockwise_deg)) * k, math.sin(math.radians(at.clockwise_deg)) * k
    x, y = (at.x - left) * px, (at.y - top) * px
    pivot = [v * part["px_per_mm"] for v in part["pivot_mm"]]
    inverse = (c, s, pivot[0] - c * x - s * y, -s, c, pivot[1] + s * x - c * y)
    small = picture.reduce(max(1, int(k))) if k > 1.99 else picture
    ratio = small.width / picture.width
    moved = small.transform(canvas.size, Image.Transform.AFFINE, [v * ratio for v in inverse], Image.Resampling.BICUBIC)
    box = moved.getbbox(alpha_only=True)
    if not box:
        return
    pad = int(3 * px)
    box = (
        max(box[0] - pad, 0),
        max(box[1] - pad, 0),
        min(box[2] + pad, canvas.width),
        min(box[3] + pad, canvas.height),
    )
    moved = moved.crop(box)
    shade = Image.new("RGBA", moved.size, (58, 42, 50, 0))
    alpha = moved.getchannel("A").point(lambda v: int(v * 0.34)).filter(ImageFilter.GaussianBlur(0.8 * px))
    shade.putalpha(alpha)
    canvas.alpha_composite(shade, (box[0] + int(0.6 * px), box[1] + int(0.8 * px)))
    canvas.alpha_composite(moved, box[:2])


class Table:
    """The parts of a film, ready to be laid out."""

    def __init__(self, film: Path) -> None:
        listed = tomllib.loads((film / "parts.toml").read_text(encoding="utf-8"))["part"]
        self.parts = {p["name"]: p for p in listed}
        self.acting = stage.acting()
        self._film = film
        self._opened: dict[str, Image.Image] = {}

    def _picture(self, name: str) -> Image.Image:
        if name not in self._opened:
            self._opened[name] = Image.open(self._film / self.parts[name]["image"]).convert("RGBA")
        return self._opened[name]

    def frame(self, frame: int, width_px: int) -> Image.Image:
        """The picture on a frame, 16 to 9."""
        x, z, width_mm = eased(self.acting.camera, frame)
        size = (width_px * FINER, width_px * FINER * 9 // 16)
        px = size[0] / width_mm
        canvas = Image.new("RGBA", size, (90, 84, 80, 255))
        view = (x - width_mm / 2, -z - size[1] / px / 2, px)
        for name in shown(self.acting, self.parts, frame):
            _laid(canvas, self._picture(name), self.parts[name], place(name, self.acting, self.parts, frame), view)
        return canvas.convert("RGB").reduce(FINER)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Flat pictures of the demo shot.")
    parser.add_argument("film", type=Path)
    parser.add_argument("frames", type=int, nargs="+")
    parser.add_argument("--out", type=Path, required=True, help="folder for the pictures")
    parser.add_argument("--width", type=int, default=1280)
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    table = Table(asked.film)
    for frame in asked.frames:
        table.frame(frame, asked.width).save(asked.out / f"{frame:04d}.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
