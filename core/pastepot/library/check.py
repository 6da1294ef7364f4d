"""Everything in a film folder's library that needs attention, at once."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from pastepot import naming
from pastepot.errors import PastepotError, Problem, Severity
from pastepot.film import check_film
from pastepot.library import manifest, png, rules
from pastepot.library.rules import Entry
from pastepot.naming import printable
from pastepot.tomlfile import TomlFile
from pastepot.unchanged import once_per_content

SCALE_TOLERANCE = 0.01
"""How far px_per_mm may be from what the PNG says about itself, as a share."""


@dataclass(frozen=True)
class _Picture:
    """One image file, looked at once however many parts use it.

    fault: why it cannot be used, None if it can; identity: the same for two paths to one file
    """

    info: png.Info | None = None
    fault: png.PngError | None = None
    identity: tuple[int, int] | None = None


@dataclass(frozen=True)
class _Sheet:
    """The library on the way through the checks: its file, its parts, and the images by film-relative path."""

    file: TomlFile
    entries: Sequence[Entry]
    pictures: Mapping[str, _Picture]

    def problem(self, entry: Entry, field: str, what: str, fix: str, severity: Severity = "error") -> Problem:
        return rules.problem(self.file, entry, field, what, fix, severity)

    def info(self, entry: Entry) -> png.Info | None:
        """What the part's image says; None if it cannot be used."""
        return self.pictures[entry.part.image].info if entry.part.image in self.pictures else None


def check(folder: Path) -> list[Problem]:
    """All problems of film.toml, then all of parts.toml and its images by row. Raises nothing for a bad library.

    Every image is read whole, so that a picture cut off by a full disc is found here and not in the render; once, as
    long as it stays the same.
    """
    found = check_film(folder)
    try:
        reading = manifest.read(folder)
    except PastepotError as error:
        return [*found, *error.problems]
    sheet = _Sheet(reading.source, reading.entries, _look_at(folder, reading.entries))
    library = [
        *reading.problems,
        *_image_problems(sheet, folder),
        *_shared_images(sheet),
        *_scale_problems(sheet),
        *_points_off_their_images(sheet),
    ]
    return [*found, *sorted(library, key=lambda p: p.row)]


def _look_at(folder: Path, entries: Sequence[Entry]) -> dict[str, _Picture]:
    """Every image that a part names properly, by its path as written."""
    paths = dict.fromkeys(e.part.image for e in entries if "image" in e.good and not naming.path_fault(e.part.image))

    def look(path: str) -> _Picture:
        if naming.leads_out(folder, path):
            what = f"'{printable(path)}' is a link that leads out of the film folder."
            return _Picture(fault=png.PngError(what, "Put the picture itself into the film folder."))
        try:
            info = _verified(folder / path)
            status = (folder / path).stat()
        except png.PngError as error:
            return _Picture(fault=error)
        except OSError:  # gone between the two looks
            return _Picture(fault=png.PngError("The file is missing.", "Put it in its place, or correct the path."))
        return _Picture(info, identity=(status.st_dev, status.st_ino))

    with ThreadPoolExecutor(max_workers=min(8, os.cpu_count() or 1)) as pool:  # inflating leaves Python free to go on
        return dict(zip(paths, pool.map(look, paths), strict=True))


@once_per_content
def _verified(path: Path) -> png.Info:
    return png.verify(path)


def _image_problems(sheet: _Sheet, folder: Path) -> Iterator[Problem]:
    """Images that are missing, broken, without transparency, or spelt in another case than on the disc."""
    listings: dict[Path, dict[str, str]] = {}
    for entry in sheet.entries:
        path = entry.part.image
        picture = sheet.pictures.get(path)
        if picture is None:
            continue
        spelt = _spelt_on_disc(folder / path, listings)
        if spelt not in ("", Path(path).name):
            what = f"'{printable(path)}' is called '{printable(spelt)}' on the disc; some computers tell these apart."
            yield sheet.problem(entry, "image", what, "Write it as it is on the disc.", _severity(picture))
        elif picture.fault:
            what = f"The image '{printable(path)}' cannot be used. {picture.fault.what}"
            yield sheet.problem(entry, "image", what, picture.fault.fix)
        if picture.info and not picture.info.has_alpha:
            what = f"The image '{printable(path)}' has no transparency, so the part shows as a whole rectangle."
            yield sheet.problem(entry, "image", what, "Cut it out and save it with an alpha channel.", "warning")


def _severity(picture: _Picture) -> Severity:
    return "error" if picture.fault else "warning"


def _spelt_on_disc(path: Path, listings: dict[Path, dict[str, str]]) -> str:
    """The name of the file in its folder, '' if none there has it in any case."""
    names = listings.get(path.parent)
    if names is None:
        try:
            found = [p.name for p in path.parent.iterdir()]
        except OSError:
            found = []
        # Exact names last, so that they win where two names differ only in case.
        names = {**{naming.same_name(n): n for n in found}, **{n: n for n in found}}
        listings[path.parent] = names
    return names.get(path.name) or names.get(naming.same_name(path.name), "")


def _shared_images(sheet: _Sheet) -> Iterator[Problem]:
    first_of: dict[tuple[int, int], Entry] = {}
    for entry in sheet.entries:
        picture = sheet.pictures.get(entry.part.image)
        if picture is None or picture.identity is None or "character" not in entry.good:
            continue
        first = first_of.setdefault(picture.identity, entry)
        if first.part.character != entry.part.character:
            what = (
                f"The image '{printable(entry.part.image)}' of '{printable(entry.part.character)}' also belongs to "
                f"'{printable(first.part.name)}' of '{printable(first.part.character)}'."
            )
            yield sheet.problem(entry, "image", what, "Give each character a picture of its own.")


def _scale_problems(sheet: _Sheet) -> Iterator[Problem]:
    for entry in sheet.entries:
        info = sheet.info(entry)
        if info is None or info.px_per_m is None or "px_per_mm" not in entry.good:
            continue
        x, y = (n / 1000 for n in info.px_per_m)
        if abs(x / y - 1) > SCALE_TOLERANCE:
            what = f"The image says that its pixels are not square ({x:.4g} × {y:.4g} px per mm)."
            yield sheet.problem(entry, "image", what, "Scan or save it with one resolution both ways.", "warning")
        elif abs(entry.part.px_per_mm / x - 1) > SCALE_TOLERANCE:
            what = f"'px_per_mm' is {entry.part.px_per_mm:.5g}, and the image says {x:.5g} of itself."
            yield sheet.problem(entry, "px_per_mm", what, "Correct the one that is wrong.", "warning")


def _points_off_their_images(sheet: _Sheet) -> Iterator[Problem]:
    by_name: dict[str, Entry] = {}
    for entry in sheet.entries:
        if "name" in entry.good:
            by_name.setdefault(entry.part.name, entry)
    for entry in sheet.entries:
        if "pivot_mm" in entry.good:
            yield from _point_off(sheet, entry, "pivot_mm", entry.part.pivot_mm, entry, "its image")
        parent = by_name.get(entry.part.parent)
        if entry.part.joint_mm is not None and parent is not None:
            whose = f"the image of its parent '{printable(parent.part.name)}'"
            yield from _point_off(sheet, entry, "joint_mm", entry.part.joint_mm, parent, whose)


def _point_off(
    sheet: _Sheet, entry: Entry, field: str, point: tuple[float, float], on: Entry, whose: str
) -> Iterator[Problem]:
    """The Problem with a point of `entry` that is not on the image of `on`, half a pixel of rounding allowed."""
    info = sheet.info(on)
    if info is None or "px_per_mm" not in on.good:
        return
    width, height = (n / on.part.px_per_mm for n in info.size)
    slack = 0.5 / on.part.px_per_mm
    if not (-slack <= point[0] <= width + slack and -slack <= point[1] <= height + slack):
        what = f"'{field}' is ({point[0]:g}, {point[1]:g}), off {whose}, which is {width:.4g} × {height:.4g} mm."
        fix = "Measure it from the image's top-left corner, right and down, in millimetres."
        yield sheet.problem(entry, field, what, fix)
