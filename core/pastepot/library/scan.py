"""Drafting entries of parts.toml for pictures that no part uses yet, from their file names."""

from __future__ import annotations

import os
import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pastepot import naming
from pastepot.errors import Problem
from pastepot.library import filenames, manifest, png
from pastepot.library.manifest import Reading
from pastepot.library.parts import Part
from pastepot.naming import printable

FOLDER = "parts"

DEFAULT_PX_PER_MM = 11.811
"""300 dots per inch, for pictures that do not say."""

NOTES = {"pivot_mm": "drafted: the middle of the image; put it where the part turns"}

_OTHER_PICTURES = {".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp", ".gif"}
_RENAME = f"Rename it {filenames.PATTERN}; `pastepot scan --help` says more."


@dataclass(frozen=True)
class Draft:
    """Parts to add, in the order of their files, and the files that need a look: errors have no part here."""

    parts: tuple[Part, ...]
    problems: tuple[Problem, ...]


def scan(folder: Path) -> Draft:
    """Draft a part for each PNG in parts/ that no part uses. Nothing is written.

    PastepotError if parts.toml cannot be read. Scale comes from pHYs, or is 300 dpi with a warning; the pivot is the
    middle of the image; the layer goes by type.
    """
    reading = manifest.read(folder)
    parts: list[Part] = []
    problems: list[Problem] = []
    files = list(_unused(folder, reading))
    if not (folder / FOLDER).is_dir():
        problems.append(Problem("There is no folder parts/.", "Make it, and put the cut-out pictures there.", FOLDER))
    taken = Counter(naming.same_name(e.part.name) for e in reading.entries)
    stems = Counter(naming.same_name(Path(f).stem) for f in files)
    for path in files:
        found = _draft(folder, path, taken, stems)
        problems += [p for p in found if isinstance(p, Problem)]
        parts += [p for p in found if isinstance(p, Part)]
    return Draft(tuple(parts), tuple(problems))


def add(folder: Path, draft: Draft) -> None:
    """Write the drafted parts after those that are there, which stay exactly as they are."""
    manifest.add_parts(folder, draft.parts, NOTES)


def _unused(folder: Path, reading: Reading) -> Iterator[str]:
    """Film-relative paths of pictures below parts/ that no part uses, in order; hidden files are passed over."""
    images = {e.part.image for e in reading.entries if "image" in e.good and not naming.path_fault(e.part.image)}
    used = {identity for image in images if (identity := _identity(folder / image))}
    for place, folders, files in os.walk(folder / FOLDER):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        for name in sorted(files):
            path = Path(place, name)
            is_picture = path.suffix.lower() in {".png", *_OTHER_PICTURES}
            if is_picture and not name.startswith(".") and _identity(path) not in used:
                yield path.relative_to(folder).as_posix()


def _identity(path: Path) -> tuple[int, int] | None:
    """The same for two names of one file."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


def _draft(folder: Path, path: str, taken: Counter[str], stems: Counter[str]) -> list[Part | Problem]:
    """A file's part, with a warning if something was guessed; or why it has none."""
    shown = printable(path)
    stem = Path(path).stem
    name = unicodedata.normalize("NFC", stem)
    fault = naming.path_fault(path) or naming.name_fault(name)
    if fault:
        return [Problem(f"The file name {fault}.", _RENAME, shown)]
    if Path(path).suffix.lower() != ".png":
        return [Problem("The picture is not a PNG.", "Save it as PNG with transparency.", shown)]
    said = filenames.read(name)
    if said is None:
        near = filenames.nearest(name)
        fix = f"Rename it {near}.png." if near else _RENAME
        return [Problem("The file name does not say what part it is.", fix, shown)]
    key = naming.same_name(name)
    if taken[key]:
        fix = "Rename the picture, or give that part this picture as its 'image'."
        return [Problem(f"There is a part '{name}' already, with another picture.", fix, shown)]
    if stems[key] > 1:
        return [Problem(f"Two new pictures are called '{name}'.", "Rename one of them.", shown)]
    if naming.leads_out(folder, path):
        fix = "Put the picture itself into the film folder."
        return [Problem("The file is a link that leads out of the film folder.", fix, shown)]
    try:
        info = png.verify(folder / path)
    except png.PngError as error:
        return [error.problem(shown)]
    return _part(name, path, said, info)


def _part(name: str, path: str, said: filenames.Reading, info: png.Info) -> list[Part | Problem]:
    scale = info.px_per_mm or DEFAULT_PX_PER_MM
    part = Part(
        name=name,
        character=said.character,
        type=said.type,
        view=said.view,
        image=path,
        px_per_mm=scale,
        pivot_mm=(round(info.width / scale / 2, 2), round(info.height / scale / 2, 2)),
        layer=filenames.TYPES[said.type],
        replaces=said.set_name,
    )
    if info.px_per_mm:
        return [part]
    what = f"The picture does not say its scale; {DEFAULT_PX_PER_MM} pixels per millimetre (300 dpi) is taken."
    fix = "Correct 'px_per_mm' if it was scanned at another resolution."
    return [part, Problem(what, fix, printable(path), part=name, field="px_per_mm", severity="warning")]
