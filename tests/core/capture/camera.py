"""A camera of the tests' own: photographs of a flat, printed sheet, by going back from every pixel to the paper.

Written apart from the code under test: it traces rays to the sheet's plane, where that projects the sheet's points.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import Image

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """tilt about an axis at `axis_deg` in the sheet, seen from so far above the point `over_mm`; k1 in ray units."""

    size: tuple[int, int] = (2000, 1460)
    px_per_mm: float = 6.0
    tilt_deg: float = 0.0
    axis_deg: float = 30.0
    roll_deg: float = 2.0
    k1: float = 0.0
    focal: float = 1.1  # of the longer side
    over_mm: tuple[float, float] = (148.0, 104.0)

    @property
    def _turn(self) -> Floats:
        tilt, roll = np.radians(self.tilt_deg), np.radians(self.roll_deg)
        axis = np.array([np.cos(np.radians(self.axis_deg)), np.sin(np.radians(self.axis_deg)), 0.0])
        return cv2.Rodrigues(axis * tilt)[0] @ cv2.Rodrigues(np.array([0, 0, roll]))[0]

    @property
    def _length(self) -> float:
        return self.focal * max(self.size)

    @property
    def _eye(self) -> Floats:
        """Where the camera stands, in mm: the sheet is z = 0 and the camera looks along +z from negative z."""
        ahead = self._turn.T @ np.array([0, 0, 1.0])
        return np.array([*self.over_mm, 0.0]) - ahead * self._length / self.px_per_mm

    def onto_sheet(self, pixels: Floats) -> Floats:
        """(N, 2) pixels -> (N, 2) mm."""
        bent = (pixels - (np.array(self.size) - 1) / 2) / self._length
        ray = bent.copy()
        for _ in range(12 if self.k1 else 0):  # at these distortions the rest is below 1e-9
            ray = bent / (1 + self.k1 * (ray**2).sum(1, keepdims=True))
        world = np.column_stack([ray, np.ones(len(ray))]) @ self._turn
        return (self._eye - world * (self._eye[2] / world[:, 2])[:, None])[:, :2]

    def from_sheet(self, mm: Floats) -> Floats:
        """(N, 2) mm -> (N, 2) pixels, by OpenCV's own projection."""
        shift = -self._turn @ self._eye
        lens = np.array(
            [[self._length, 0, (self.size[0] - 1) / 2], [0, self._length, (self.size[1] - 1) / 2], [0, 0, 1]]
        )
        flat = np.column_stack([mm, np.zeros(len(mm))])
        turn = cv2.Rodrigues(self._turn)[0]
        return cv2.projectPoints(flat, turn, shift, lens, np.array([self.k1, 0, 0, 0, 0.0]))[0][:, 0]


def printed(pdf: Path, px_per_mm: float = 20.0) -> Floats:
    """The page by an independent renderer (PDFium), linear light, (H, W, 3)."""
    with pypdfium2.PdfDocument(pdf) as document:
        picture = document[0].render(scale=px_per_mm * 25.4 / 72).to_numpy()[..., :3][..., ::-1]
    v = picture / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


def sheet_at(page: Floats, px_per_mm: float, outside: float = 0.02) -> Callable[[Floats], Floats]:
    """What a printed page shows to a pixel at points in mm; the table beside it is dark."""
    page = cv2.blur(page, (3, 3))  # a pixel sees the area it covers, about three of the page's a side

    def shows(mm: Floats) -> Floats:
        x, y = (mm * px_per_mm - 0.5).astype(np.float32).T
        rows = [
            cv2.remap(page, a[None], b[None], cv2.INTER_LINEAR, borderValue=(outside,) * 3)[0]
            for a, b in zip(np.array_split(x, 1 + len(x) // 30000), np.array_split(y, 1 + len(x) // 30000), strict=True)
        ]
        return np.concatenate(rows)

    return shows


def photograph(
    camera: Camera,
    shows: Callable[[Floats], Floats],
    *,
    blur_px: float = 0.8,
    falloff: float = 0.2,
    ramp: float = 0.0,
    exposure: float = 0.8,
    noise: float = 0.003,
    quality: int = 93,
    seed: int = 1,
) -> NDArray[np.uint8]:
    """(H, W, 3) of 8-bit sRGB, as a JPEG of this quality gives it back.

    falloff: the share of light lost in the corners; ramp: at the right edge
    """
    width, height = camera.size
    y, x = np.mgrid[:height, :width].astype(np.float64)
    light = shows(camera.onto_sheet(np.column_stack([x.ravel(), y.ravel()]))).reshape(height, width, 3)
    away = ((x / width - 0.5) ** 2 + (y / height - 0.5) ** 2) / 0.5
    light = light * (exposure * (1 - falloff * away) * (1 - ramp * x / width))[..., None]
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    light = light + np.random.default_rng(seed).normal(0, noise, light.shape)
    light = light.clip(0, 1)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    kept = io.BytesIO()
    Image.fromarray(np.rint(coded * 255).astype(np.uint8)).save(kept, "JPEG", quality=quality)
    return np.asarray(Image.open(kept))
