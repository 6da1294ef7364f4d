"""Where on the paper a photograph's pixels lie: scale, tilt and lens distortion from the mat's fiducials.

The camera is a pinhole with square pixels, its axis through the picture's middle, and one radial term of distortion
(r' = r (1 + k r^2), the first of the Brown-Conrady model); the paper is flat. All of it is fitted at once to the
fiducials' corners by least squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.capture.extra import load, load_opencv
from pastepot.capture.mat import Mat, mat_of
from pastepot.errors import PastepotError, Problem
from pastepot.srgb import LINEAR

Floats = NDArray[np.float64]

_WINDOW_PX = 4
# How sure we are before looking: a lens between wide and long, a distortion of a few per cent at the corner, in pixels
# of the fit's residual. Seen straight on, a plane says nothing of the focal length, and these keep it within reason.
_FOCAL_GUESS, _FOCAL_SPREAD, _BEND_SPREAD = 1.2, 0.7, 0.05
_PRIOR_PX = 0.05


@dataclass(frozen=True)
class Corners:
    """The fiducials found: for each corner its place on the sheet, which side it is on, its place in the picture.

    sheet_mm: (N, 2), on_right: (N,), pixels: (N, 2) x right and y down from the centre of the top-left pixel
    """

    mat: Mat
    sheet_mm: Floats
    on_right: NDArray[np.bool_]
    pixels: Floats


@dataclass(frozen=True)
class View:
    """A photograph's geometry.

    size: width and height in pixels; rms_px: how well the fiducials fit; right_strip: (x mm, y mm, radians) by which
    the right strip lies off its printed place, zeros for a whole mat
    """

    mat: Mat
    size: tuple[int, int]
    rms_px: float
    right_strip: tuple[float, float, float]
    _camera: Floats

    def to_px(self, mm: Floats) -> Floats:
        """Pixels of points on the paper, (N, 2) -> (N, 2)."""
        return _project(self._camera, np.asarray(mm, np.float64), self.size)

    def to_mm(self, pixels: Floats) -> Floats:
        """Points on the paper of pixels, (N, 2) -> (N, 2)."""
        return _back_project(self._camera, np.asarray(pixels, np.float64), self.size)

    def px_per_mm(self, mm: Floats) -> Floats:
        """The scale at points on the paper, (N, 2) -> (N,): the square root of how areas grow."""
        at = np.asarray(mm, np.float64)
        half_right, half_down = np.array([0.5, 0]), np.array([0, 0.5])
        right = self.to_px(at + half_right) - self.to_px(at - half_right)
        down = self.to_px(at + half_down) - self.to_px(at - half_down)
        return np.asarray(np.sqrt(np.abs(right[:, 0] * down[:, 1] - right[:, 1] * down[:, 0])))

    @property
    def tilt_deg(self) -> float:
        """The angle between the camera's axis and the paper's normal."""
        return math.degrees(math.acos(min(1.0, abs(float(_rotation(self._camera[:3])[2, 2])))))

    @property
    def distortion(self) -> float:
        """How far the lens moves the picture's corners, as a share of their distance from the middle."""
        focal = math.exp(self._camera[6]) * max(self.size)
        return float(self._camera[7] * (math.hypot(*self.size) / 2 / focal) ** 2)


def find_corners(grey: NDArray[np.uint8]) -> Corners:
    """The mat's fiducials in a picture, (H, W) of 8 bits. PastepotError where there are too few, or of two mats."""
    known = _detect(grey)
    mats = {m.fiducials[0].number: m for n in known if (m := mat_of(n)) is not None}
    if len(mats) > 1:
        raise PastepotError(
            Problem("Fiducials of two different mats are in the picture.", "Take one of them away, and shoot again.")
        )
    mat = next(iter(mats.values()), None)
    seen = [f for f in (mat.fiducials if mat else ()) if f.number in known]
    sides = [sum(f.side == side for f in seen) for side in ("left", "right")]
    if mat is None or min(sides) < 2:
        raise PastepotError(
            Problem(
                f"Only {len(seen)} of the mat's fiducials were found in the picture.",
                "At least two on either side have to be seen, whole, sharp and without glare.",
            )
        )
    return Corners(
        mat,
        np.concatenate([f.corners_mm for f in seen]),
        np.repeat([f.side == "right" for f in seen], 4),
        np.concatenate([known[f.number] for f in seen]),
    )


def _detect(grey: NDArray[np.uint8]) -> dict[int, Floats]:
    """Number -> corners, (4, 2), of every fiducial in the picture.

    The corners are refined in linear light: in coded values the middle of a soft edge lies half a pixel inside the
    black.
    """
    cv2 = load_opencv()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    found, numbers, _ = cv2.aruco.ArucoDetector(dictionary, cv2.aruco.DetectorParameters()).detectMarkers(grey)
    if numbers is None:
        return {}
    corners = np.concatenate([f[0] for f in found]).astype(np.float32)
    light = LINEAR[grey]
    ends = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-3)
    cv2.cornerSubPix(light, corners, (_WINDOW_PX, _WINDOW_PX), (-1, -1), ends)
    return {int(n): at for n, at in zip(numbers.ravel(), corners.reshape(-1, 4, 2).astype(np.float64), strict=True)}


def fit(corners: Corners, size: tuple[int, int]) -> View:
    """The view of a picture of this width and height in which the corners lie there. PastepotError where none fits."""
    strips = corners.mat.kind == "strips"
    optimize = load("scipy.optimize", "scipy")
    start = _start(corners, size, strips)

    def residuals(values: Floats) -> Floats:
        at = _laid(corners, values[8:]) if strips else corners.sheet_mm
        off = (_project(values[:8], at, size) - corners.pixels).ravel()
        prior = [(values[6] - math.log(_FOCAL_GUESS)) / _FOCAL_SPREAD, values[7] / _BEND_SPREAD]
        return np.concatenate([off, _PRIOR_PX * np.array(prior)])

    values = optimize.least_squares(residuals, start, method="lm", x_scale="jac").x
    rms = float(np.sqrt(np.mean(residuals(values)[:-2] ** 2) * 2))
    if not rms < max(size) / 500:
        raise PastepotError(
            Problem("The fiducials do not lie as on a flat sheet.", "Lay the mat flat, strips too, and shoot again.")
        )
    x, y, turn = (float(v) for v in values[8:]) if strips else (0.0, 0.0, 0.0)
    return View(corners.mat, size, rms, (x, y, turn), values[:8])


def _start(corners: Corners, size: tuple[int, int], strips: bool) -> Floats:
    """Near enough to the solution: the pose from a usual lens, and for strips where that puts the right one."""
    cv2 = load_opencv()
    focal = _FOCAL_GUESS * max(size)
    lens = np.array([[focal, 0, (size[0] - 1) / 2], [0, focal, (size[1] - 1) / 2], [0, 0, 1]])
    used = ~corners.on_right if strips else np.ones(len(corners.on_right), bool)
    flat = np.column_stack([corners.sheet_mm[used], np.zeros(used.sum())])
    _, turn, shift = cv2.solvePnP(flat, corners.pixels[used], lens, None, flags=cv2.SOLVEPNP_IPPE)
    camera = np.concatenate([turn.ravel(), shift.ravel(), [math.log(_FOCAL_GUESS), 0.0]])
    if not strips:
        return np.asarray(camera)
    printed = corners.sheet_mm[corners.on_right]
    lies = _back_project(camera, corners.pixels[corners.on_right], size)
    a, b = (p - p.mean(0) for p in (printed, lies))
    angle = math.atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
    off = lies.mean(0) - printed.mean(0)
    return np.concatenate([camera, off, [angle]])


def _laid(corners: Corners, strip: Floats) -> Floats:
    """The corners' places once the right strip is shifted, and turned about its own middle."""
    out = corners.sheet_mm.copy()
    right = out[corners.on_right]
    middle = right.mean(0)
    c, s = math.cos(strip[2]), math.sin(strip[2])
    out[corners.on_right] = (right - middle) @ np.array([[c, s], [-s, c]]) + middle + strip[:2]
    return out


def _rotation(turn: Floats) -> Floats:
    """Rodrigues' formula: (3,) axis times angle -> (3, 3)."""
    angle = float(np.linalg.norm(turn))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = turn / angle
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k)


def _project(camera: Floats, mm: Floats, size: tuple[int, int]) -> Floats:
    """camera: turn (3), shift (3), log of focal length over the picture's longer side, distortion."""
    turned = mm @ _rotation(camera[:3])[:, :2].T + camera[3:6]
    ray = turned[:, :2] / turned[:, 2:]
    ray = ray * (1 + camera[7] * np.sum(ray**2, axis=1, keepdims=True))
    return np.asarray(ray * (math.exp(camera[6]) * max(size)) + (np.array(size) - 1) / 2)


def _back_project(camera: Floats, pixels: Floats, size: tuple[int, int]) -> Floats:
    bent = (pixels - (np.array(size) - 1) / 2) / (math.exp(camera[6]) * max(size))
    ray = bent
    for _ in range(20):  # the inverse of the distortion has no closed form; this converges within 3 % or so
        ray = bent / (1 + camera[7] * np.sum(ray**2, axis=1, keepdims=True))
    rotation = _rotation(camera[:3])
    onto = np.column_stack([rotation[:, :2], camera[3:6]])
    flat = np.column_stack([ray, np.ones(len(ray))]) @ np.linalg.inv(onto).T
    return np.asarray(flat[:, :2] / flat[:, 2:])
