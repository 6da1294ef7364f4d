"""The printed mat: exact sizes, fiducials that OpenCV knows, and what cannot be printed."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from camera import printed
from pastepot.capture.mat import PAPERS_MM, RULER_MM, mat, mat_of
from pastepot.capture.mat_pdf import print_mat
from pastepot.errors import Misuse, PastepotError
from pypdf import PdfReader

KINDS = [(paper, kind) for paper in PAPERS_MM for kind in ("whole", "strips")]


@pytest.mark.parametrize(("paper", "kind"), KINDS)
def test_nothing_lies_over_anything(paper: str, kind: str) -> None:
    sheet = mat(paper, kind)
    half = 7.5
    boxes = [(f.x_mm - half, f.y_mm - half, 2 * half, 2 * half) for f in sheet.fiducials]
    boxes += [p.box_mm for p in sheet.patches] + [sheet.frame_mm]
    for n, (x, y, w, h) in enumerate(boxes):
        assert min(x, y) > 5
        assert x + w < sheet.size_mm[0] - 5
        assert y + h < sheet.size_mm[1] - 5
        for x2, y2, w2, h2 in boxes[:n]:
            assert (
                x >= x2 + w2 - 1e-9 or x2 >= x + w - 1e-9 or y >= y2 + h2 - 1e-9 or y2 >= y + h - 1e-9 or w == w2 == 9
            )


def test_every_fiducial_tells_its_mat() -> None:
    numbers = [f.number for paper, kind in KINDS for f in mat(paper, kind).fiducials]
    assert len(set(numbers)) == len(numbers)
    assert all(mat_of(f.number) == mat(p, k) for p, k in KINDS for f in mat(p, k).fiducials)
    assert mat_of(49) is None


@pytest.mark.parametrize(("paper", "kind"), KINDS)
def test_the_page_has_its_papers_size_and_is_not_to_be_scaled(paper: str, kind: str, tmp_path: Path) -> None:
    """ISO 216: A4 210 x 297 mm, A3 297 x 420 mm; ANSI/ASME Y14.1: size A 11 x 8.5 inches. ISO 32000-1, 12.2."""
    print_mat(mat(paper, kind), tmp_path / "mat.pdf")
    document = PdfReader(tmp_path / "mat.pdf")
    size = [float(v) / 72 * 25.4 for v in document.pages[0].mediabox[2:]]
    stated = {"A4": (297, 210), "A3": (420, 297), "Letter": (11 * 25.4, 8.5 * 25.4)}[paper]
    assert size == pytest.approx(stated, abs=0.01)
    assert document.root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_opencv_finds_the_printed_fiducials_where_they_should_be(tmp_path: Path) -> None:
    """Drawn by PDFium, found by OpenCV's ArUco detector: neither is ours."""
    sheet, density = mat("A4"), 12.0
    print_mat(sheet, tmp_path / "mat.pdf", tint=(204, 61, 133))
    page = np.rint(printed(tmp_path / "mat.pdf", density).mean(2) * 255).astype(np.uint8)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, numbers, _ = detector.detectMarkers(page)
    found = {int(n): c[0] for n, c in zip(numbers.ravel(), corners, strict=True)}
    assert set(found) == {f.number for f in sheet.fiducials}
    for fiducial in sheet.fiducials:
        assert found[fiducial.number] == pytest.approx(fiducial.corners_mm * density - 0.5, abs=1.0)


def test_the_control_bar_is_as_long_as_it_says(tmp_path: Path) -> None:
    sheet, density = mat("A4"), 20.0
    print_mat(sheet, tmp_path / "mat.pdf")
    left, y = sheet.ruler_mm
    row = printed(tmp_path / "mat.pdf", density)[round(y * density)].mean(1)
    dark = np.flatnonzero(row[round((left - 2) * density) : round((left + 120) * density)] < 0.3)
    assert (dark.max() - dark.min()) / density == pytest.approx(RULER_MM, abs=0.3)


def test_refusals(tmp_path: Path) -> None:
    with pytest.raises(Misuse, match=r"no mat for paper 'A9'.*A4, A3, Letter"):
        mat("A9")
    with pytest.raises(Misuse, match=r"'mat.png'.*\.pdf"):
        print_mat(mat("A4"), tmp_path / "mat.png")
    (tmp_path / "mat.pdf").write_text("mine")
    with pytest.raises(PastepotError, match="exists already"):
        print_mat(mat("A4"), tmp_path / "mat.pdf")
    assert (tmp_path / "mat.pdf").read_text() == "mine"
