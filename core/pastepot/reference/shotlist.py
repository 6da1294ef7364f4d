"""The shots of a film as a list that a person can correct: a table, and a timeline for editing programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.film import Shot as FilmShot
from pastepot.output import output_problems, replacing
from pastepot.reference import footage
from pastepot.reference.cuts import LATE, Cuts
from pastepot.reference.footage import Read
from pastepot.reference.measure import Progress
from pastepot.timing.sheet import Column, Sheet, cells_from

COLUMNS = ("name", "first", "pictures", "seconds", "unlike")


@dataclass(frozen=True)
class Found:
    """Shots of a film: the first picture of each (0 first), how unlike its neighbours are there, and the film's own."""

    firsts: tuple[int, ...]
    unlike: tuple[float, ...]
    pictures: int
    rate: Fraction
    damaged: int

    @property
    def lengths(self) -> list[int]:
        """Pictures in each shot."""
        ends = [*self.firsts[1:], self.pictures]
        return [end - first for first, end in zip(self.firsts, ends, strict=True)]


def find(path: Path, progress: Progress | None = None) -> Found:
    """The shots of a film, without measuring anything else. PastepotError where it can't be read."""
    seen, read, finder = footage.look(path, one_field=False), Read(), Cuts()
    firsts, unlike = [0], [0.0]
    for picture in footage.pictures(path, seen, read):
        cut = finder.feed(picture.light)
        if cut is not None:
            firsts.append(picture.number - LATE)
            unlike.append(cut)
        if progress is not None and picture.number % 24 == 0:
            progress(picture.number, max(seen.expected, picture.number + 1), "looking at picture")
    if progress is not None:
        progress(read.pictures, read.pictures, "looking at picture")
    return Found(tuple(firsts), tuple(unlike), read.pictures, seen.rate, read.damaged)


def table(found: Found) -> str:
    """The list as CSV. Take out the line of a shot that is none, or add one; `first` counts from 0."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for n, (first, length, unlike) in enumerate(zip(found.firsts, found.lengths, found.unlike, strict=True), 1):
        writer.writerow([f"shot-{n}", first, length, f"{float(first / found.rate):.3f}", f"{unlike:.2f}"])
    return text.getvalue()


def sheet(found: Found, title: str) -> tuple[Sheet, list[FilmShot]]:
    """The list as an exposure sheet with one cell for each shot; frame 1 is the film's first picture."""
    starts = [first + 1 for first in found.firsts]
    names = [f"shot-{n}" for n in range(1, len(starts) + 1)]
    cells = cells_from(starts, names, found.pictures, [False] * len(names))
    made = Sheet(title, found.rate, 1, found.pictures, (Column("shots", "set", cells),))
    return made, [FilmShot(cell.label, cell.start, cell.last) for cell in cells]


def write(found: Found, csv_path: Path, otio_path: Path | None, title: str, overwrite: bool) -> None:
    """Write the table, and the timeline where one is wanted; a list that exists may hold a person's corrections."""
    paths = [csv_path] if otio_path is None else [csv_path, otio_path]
    raise_if_any([problem for path in paths for problem in output_problems(path, overwrite)])
    if otio_path is not None:
        from pastepot.timing import sheet_otio

        made, shots = sheet(found, title)
        sheet_otio.write(made, otio_path, shots, overwrite=overwrite)
    with replacing(csv_path, overwrite=overwrite) as draft:
        draft.write_text(table(found), encoding="utf-8", newline="\n")


def firsts(path: Path) -> list[int]:
    """First pictures of the shots in a list, as a person left it. PastepotError with every line that is wrong."""
    try:
        rows: Sequence[dict[str, str]] = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        what = f"The list of shots can't be read ({getattr(error, 'strerror', '') or error})."
        raise PastepotError(Problem(what, "Correct its path.", path.name)) from None
    problems, out = [], []
    for number, row in enumerate(rows, 2):
        text = (row.get("first") or "").strip()
        if text.isascii() and text.isdigit():
            out.append(int(text))
        else:
            what = f"'first' is '{text}'."
            problems.append(Problem(what, "Give the shot's first picture, counted from 0.", path.name, number))
    if not rows:
        problems.append(Problem("There are no shots in the list.", "Begin it with: name,first", path.name))
    raise_if_any(problems)
    return sorted(set(out))
