"""Photographs of the mat by a camera of the tests' own: scale, tilt, lens, sharpness, light and backdrop."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from camera import Camera, photograph, printed, sheet_at
from pastepot.capture.geometry import find_corners, fit
from pastepot.capture.light import SOFT_PX, look
from pastepot.capture.mat import mat
from pastepot.capture.mat_pdf import print_mat
from pastepot.errors import PastepotError
from pastepot.srgb import linear

TINT = (204, 61, 133)
DENSITY = 16.0
GRID = np.stack(np.meshgrid(np.linspace(30, 245, 9), np.linspace(12, 165, 7)), -1).reshape(-1, 2)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    path = tmp_path_factory.mktemp("mat") / "mat.pdf"
    print_mat(mat("A4"), path, tint=TINT)
    return printed(path, DENSITY)


def view_of(picture: np.ndarray):
    return fit(find_corners(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)), (picture.shape[1], picture.shape[0]))


def scale_errors(view, camera: Camera) -> np.ndarray:
    """Of 20 mm segments all over the frame, along and across, as a share."""
    start = view.to_mm(camera.from_sheet(GRID))
    ends = [view.to_mm(camera.from_sheet(GRID + np.array(step))) for step in ([20.0, 0], [0, 20.0])]
    return np.concatenate([np.linalg.norm(end - start, axis=1) / 20 - 1 for end in ends])


# The camera's distortion moves the corners by 1 to 4 per cent.
@pytest.mark.parametrize(
    ("camera", "most"),
    [
        (Camera(), 0.0005),
        (Camera(tilt_deg=1, k1=-0.05, focal=2.0), 0.0005),
        (Camera(tilt_deg=3, k1=0.09), 0.0005),
        (Camera(tilt_deg=3, k1=-0.09), 0.0005),
        (Camera(tilt_deg=15, px_per_mm=5.5), 0.003),
        (Camera(tilt_deg=15, px_per_mm=5.5, k1=0.09), 0.003),
    ],
    ids=["straight", "long lens", "3 degrees, pincushion", "3 degrees, barrel", "15 degrees", "15 degrees, pincushion"],
)
def test_scale_is_right_all_over_the_frame(page: np.ndarray, camera: Camera, most: float) -> None:
    view = view_of(photograph(camera, sheet_at(page, DENSITY)))
    errors = scale_errors(view, camera)
    assert np.abs(errors).mean() < most / 2
    assert np.abs(errors).max() < most
    assert view.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.6)
    assert view.to_px(view.to_mm(np.array([[10.0, 20], [900, 700]]))) == pytest.approx(
        np.array([[10.0, 20], [900, 700]]), abs=1e-6
    )


def test_strips_are_found_wherever_they_lie(tmp_path: Path) -> None:
    print_mat(mat("A4", "strips"), tmp_path / "mat.pdf")
    page = sheet_at(printed(tmp_path / "mat.pdf", DENSITY), DENSITY, outside=1.0)
    off, turn = np.array([31.0, 6.0]), np.radians(1.5)
    pivot = np.array([297 - 16.5, 105.0])
    back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    card = linear(TINT)

    def shows(mm: np.ndarray) -> np.ndarray:
        on_right = (mm - pivot - off) @ back + pivot
        left, right = mm[:, 0] < 26, on_right[:, 0] > 297 - 26
        out = np.tile(card, (len(mm), 1))
        out[left], out[right] = page(mm[left]), page(on_right[right])
        return out

    camera = Camera(tilt_deg=3, px_per_mm=5.4, over_mm=(163.0, 108.0))
    view = view_of(photograph(camera, shows))
    assert view.right_strip == pytest.approx((31.0, 6.0, turn), abs=0.4)
    assert np.abs(scale_errors(view, camera)).max() < 0.002


def test_a_good_set_up_has_no_warnings(page: np.ndarray) -> None:
    seen = look(photograph(Camera(tilt_deg=1), sheet_at(page, DENSITY)), {"reed": (70, 140, 70)})
    assert seen.problems == ()
    assert seen.backdrop == pytest.approx(linear(TINT), abs=0.04)
    assert seen.px_per_mm == pytest.approx((6.0, 6.0), rel=0.02)


@pytest.mark.parametrize(
    ("camera", "shot", "words"),
    [
        (Camera(), {"blur_px": 1.4}, "soft"),
        (Camera(), {"ramp": 0.8}, "brightest's light"),
        (Camera(), {"exposure": 2.2}, "over-exposed"),
        (Camera(tilt_deg=18, px_per_mm=5.2), {}, "tilted by 18 degrees"),
    ],
    ids=["soft", "uneven", "burnt out", "tilted"],
)
def test_what_is_wrong_is_told(page: np.ndarray, camera: Camera, shot: dict[str, float], words: str) -> None:
    seen = look(photograph(camera, sheet_at(page, DENSITY), **shot), {})
    assert [p.severity for p in seen.problems if words in p.what] == ["warning"]


def test_edges_are_as_wide_as_the_blur_makes_them(page: np.ndarray) -> None:
    """An edge blurred by a Gaussian rises from 10 to 90 % in 2.563 of its standard deviations: the normal quantiles.

    The pixels' own width and the paper's drawing add a little to the blur.
    """
    sharp, soft = (look(photograph(Camera(), sheet_at(page, DENSITY), blur_px=b), {}).edge_px for b in (0.8, 1.5))
    assert 2.563 * 0.8 < sharp < 2.563 * 0.8 + 0.7
    assert 2.563 * 1.5 < soft < 2.563 * 1.5 + 0.7
    assert sharp < SOFT_PX < soft


def test_too_coarse_for_the_film(page: np.ndarray) -> None:
    seen = look(photograph(Camera(), sheet_at(page, DENSITY)), {}, film_px_per_mm=12.8)
    assert ["for each of the film's" in p.what for p in seen.problems] == [True]


def test_no_mat_in_the_picture() -> None:
    with pytest.raises(PastepotError, match=r"Only 0 of the mat's fiducials.*At least two on either side"):
        look(np.full((600, 800, 3), 128, np.uint8), {})
