"""The mat on paper: a PDF of exact size, all of it drawn as areas and lines."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pastepot.capture.extra import load_opencv
from pastepot.capture.mat import FIDUCIAL_MM, MODULES, RULER_MM, STRIP_MM, Mat
from pastepot.capture.tint import Tint
from pastepot.errors import MissingExtra, Misuse, Problem, raise_if_any
from pastepot.output import output_problems, replacing

if TYPE_CHECKING:
    from fpdf import FPDF

_ADVICE = {
    "whole": "Lay the pieces inside the frame, 4 mm apart or more, none of them over the edge.",
    "strips": "Cut along the dashed lines. Lay the strips left and right on strongly coloured card.",
}


def print_mat(mat: Mat, out: Path, *, tint: Tint | None = None, overwrite: bool = False) -> None:
    """Write the mat as a one-page PDF. tint: sRGB to fill the frame with; None leaves it the paper's own.

    Raises MissingExtra without fpdf2 or OpenCV, Misuse for another suffix, PastepotError where `out` can't be written.
    """
    try:
        from fpdf import FPDF
        from fpdf.prefs import ViewerPreferences
    except ImportError as error:
        raise MissingExtra("print", "fpdf2", "A printed mat") from error
    if out.suffix.lower() != ".pdf":
        raise Misuse(Problem(f"A mat can't be written as '{out.name}'.", "End its name with .pdf."))
    raise_if_any(output_problems(out, overwrite))
    pdf = FPDF(orientation="portrait", unit="mm", format=mat.size_mm)
    pdf.set_margin(0)
    pdf.set_auto_page_break(False)
    pdf.viewer_preferences = ViewerPreferences(print_scaling="None")
    pdf.set_title(f"Mat, {mat.paper}")
    pdf.add_page()
    _draw(pdf, mat, tint)
    with replacing(out, overwrite=overwrite) as draft:
        pdf.output(str(draft))


def modules(number: int) -> NDArray[np.bool_]:
    """(6, 6): which squares of this fiducial are white."""
    cv2 = load_opencv()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    picture = cv2.aruco.generateImageMarker(dictionary, number, MODULES, borderBits=1)
    return np.asarray(picture > 127, bool)


def _draw(pdf: FPDF, mat: Mat, tint: Tint | None) -> None:
    if tint is not None:
        pdf.set_fill_color(*tint)
        pdf.rect(*mat.frame_mm, style="F")
    pdf.set_draw_color(120)
    pdf.set_line_width(0.2)
    pdf.rect(*mat.frame_mm)
    for fiducial in mat.fiducials:
        _draw_fiducial(pdf, fiducial.number, *fiducial.corners_mm[0])
    for patch in mat.patches:
        pdf.set_fill_color(patch.grey)
        pdf.rect(*patch.box_mm, style="F")
    if mat.kind == "strips":
        pdf.set_dash_pattern(dash=2, gap=2)
        for x in (STRIP_MM - 1, mat.size_mm[0] - STRIP_MM + 1):
            pdf.line(x, 0, x, mat.size_mm[1])
        pdf.set_dash_pattern()
    _draw_ruler(pdf, mat)


def _draw_fiducial(pdf: FPDF, number: int, left: float, top: float) -> None:
    """One black square, then its white modules on it: no hairlines between black neighbours."""
    module = FIDUCIAL_MM / MODULES
    pdf.set_fill_color(0)
    pdf.rect(left, top, FIDUCIAL_MM, FIDUCIAL_MM, style="F")
    pdf.set_fill_color(255)
    for row, column in np.argwhere(modules(number)):
        pdf.rect(left + column * module, top + row * module, module, module, style="F")


def _draw_ruler(pdf: FPDF, mat: Mat) -> None:
    left, y = mat.ruler_mm
    pdf.set_draw_color(0)
    pdf.set_line_width(0.2)
    pdf.line(left, y, left + RULER_MM, y)
    for mm in range(0, int(RULER_MM) + 1):
        pdf.line(left + mm, y, left + mm, y - (4 if mm % 10 == 0 else 3 if mm % 5 == 0 else 1.5))
    pdf.set_text_color(0)
    pdf.set_font("Helvetica", size=8)
    pdf.text(left, y - 5.5, f"{mat.paper} mat. Print at 100 %, never fitted to the page.")
    pdf.text(
        left, y + 4, f"This bar is {RULER_MM:.0f} mm long. Measure it: if it is not, the scale of every part is off."
    )
    pdf.text(left, y + 8, _ADVICE[mat.kind])
