"""The contact sheet: every part of a film on one picture or on A4 pages, by character and type."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot import extras
from pastepot.errors import Misuse, Problem, raise_if_any
from pastepot.film import Film
from pastepot.library.contact_layout import lay_out
from pastepot.library.contact_values import A4_MM, Head, Page, Picture, Sheet
from pastepot.library.parts import Library, Part
from pastepot.output import output_problems, replacing

if TYPE_CHECKING:
    from pastepot.library.contact_paint import Letters, Locate, Painter

PDF_DENSITY = 35 / 3
"""Pixels per mm of a page: just under 300 dpi, and an A4 page is a whole number of them, 2450 x 3465."""
PNG_DENSITIES = (35 / 4, 35 / 6, 35 / 8)
"""Pixels per mm of a picture: the first that keeps it below PNG_PIXELS, else the last."""
PNG_PIXELS = 60_000_000

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Made:
    """What was written. Warnings: pictures that could not be shown, characters the typeface lacks."""

    pages: int
    parts: int
    pixels_per_mm: float
    warnings: tuple[Problem, ...]


def make(
    film: Film,
    library: Library,
    out: Path,
    *,
    date: str = "",
    font: Path | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> Made:
    """Write the contact sheet of `library` to `out`, a .png (one tall picture) or a .pdf (A4 pages).

    date: printed as given, so that the same call gives the same file. font: a font file for names that Pillow's own
    typeface can't set. Raises MissingExtra without Pillow, Misuse for another suffix or a bad font, PastepotError where
    `out` can't be written or is one of the film's own pictures.
    """
    extras.load("PIL.Image", "photo", "The contact sheet", "Pillow")
    suffix = out.suffix.lower()
    if suffix not in (".png", ".pdf"):
        raise Misuse(Problem(f"A contact sheet can't be written as '{out.name}'.", "End its name with .png or .pdf."))
    locate = _locator(film.folder)
    raise_if_any(output_problems(out, overwrite) or _film_would_suffer(film, library, out))
    pictures = [_picture(part, locate) for part in library]
    work = _Work(Head(film.title, date, len(library)), pictures, locate, font, progress)
    return work.write_pdf(out, overwrite) if suffix == ".pdf" else work.write_png(out, overwrite)


class _Work:
    """One sheet on its way from pictures to a file."""

    def __init__(
        self, head: Head, pictures: list[Picture], locate: Locate, font: Path | None, progress: Progress | None
    ) -> None:
        self._head, self._pictures, self._locate, self._font = head, pictures, locate, font
        self._progress = progress or (lambda done, total, text: None)
        self._painted = 0

    def write_png(self, out: Path, overwrite: bool) -> Made:
        density, letters, pages = self._fitting_png()
        painter = self._painter(density, letters)
        with replacing(out, overwrite=overwrite) as draft:
            dots = density * 25.4
            painter.paint(pages[0], self._step).save(draft, "PNG", dpi=(dots, dots))
        return self._made(pages, density, letters, painter)

    def write_pdf(self, out: Path, overwrite: bool) -> Made:
        letters, pages = self._laid_out(A4_MM[1], PDF_DENSITY)
        painter = self._painter(PDF_DENSITY, letters)
        with replacing(out, overwrite=overwrite) as draft:
            for number, page in enumerate(pages):
                # One page at a time, so that only one is in memory. Dates are left out: the clock is not ours to print.
                facts = (
                    {"append": True} if number else {"title": self._head.title, "creationDate": None, "modDate": None}
                )
                painter.paint(page, self._step).save(
                    draft, "PDF", resolution=PDF_DENSITY * 25.4, quality=92, subsampling=0, **facts
                )
        return self._made(pages, PDF_DENSITY, letters, painter)

    def _fitting_png(self) -> tuple[float, Letters, list[Page]]:
        for density in PNG_DENSITIES:
            letters, pages = self._laid_out(None, density)
            if pages[0].width * pages[0].height * density**2 <= PNG_PIXELS:
                break
        return density, letters, pages

    def _laid_out(self, height_mm: float | None, density: float) -> tuple[Letters, list[Page]]:
        from pastepot.library.contact_paint import Letters

        letters = Letters(density, self._font)
        return letters, lay_out(self._head, self._pictures, Sheet(height_mm, density), letters.measure)

    def _painter(self, density: float, letters: Letters) -> Painter:
        from pastepot.library.contact_paint import Painter

        return Painter(density, letters, self._locate)

    def _step(self) -> None:
        self._painted += 1
        self._progress(self._painted, len(self._pictures), "Contact sheet")

    def _made(self, pages: list[Page], density: float, letters: Letters, painter: Painter) -> Made:
        warnings = list(painter.warnings)
        if letters.lacking:
            lacking = " ".join(sorted(letters.lacking)[:20])
            warnings.append(
                Problem(
                    f"The sheet's typeface lacks: {lacking}",
                    "Name a font that has them with --font.",
                    severity="warning",
                )
            )
        return Made(len(pages), len(self._pictures), density, tuple(warnings))


def _locator(folder: Path) -> Locate:
    """How a part's image path becomes a file: inside the film folder, and nowhere else."""
    from pastepot.library.thumbnail import UnreadableError

    root = folder.resolve()

    def locate(image: str) -> Path:
        if not image:
            raise UnreadableError("No picture is named.")
        try:
            path = (root / image).resolve()
        except (OSError, ValueError, RuntimeError) as error:
            raise UnreadableError("The picture's path can't be used.") from error
        if not path.is_relative_to(root):
            raise UnreadableError("The picture lies outside the film folder.")
        return path

    return locate


def _picture(part: Part, locate: Locate) -> Picture:
    from pastepot.library.thumbnail import UnreadableError, pixel_size

    try:
        size = pixel_size(locate(part.image))
    except UnreadableError as reason:
        return Picture(part, None, str(reason))
    if not (math.isfinite(part.px_per_mm) and part.px_per_mm > 0):
        return Picture(part, None, "Its px/mm is no scale.")
    return Picture(part, size)


def _film_would_suffer(film: Film, library: Library, out: Path) -> list[Problem]:
    """Even with --overwrite a sheet never takes the place of a part's picture or of a photograph."""
    place, root = out.resolve(), film.folder.resolve()
    if place.is_relative_to(root / "photos"):
        return [Problem(f"{out} would lie among the camera originals.", "Write the contact sheet somewhere else.")]
    owner = next((p for p in library if p.image and (root / p.image).resolve() == place), None)
    if owner is not None:
        return [Problem(f"{out} is the picture of a part.", "Write the contact sheet somewhere else.", part=owner.name)]
    return []
