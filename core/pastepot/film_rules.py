"""What film.toml may not say although its schema allows it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from pastepot import naming
from pastepot.errors import Problem
from pastepot.tomlfile import TomlFile

if TYPE_CHECKING:
    from pastepot.film import Film, Shot

FPS_MIN, FPS_MAX = 1, 240


def problems(film: Film, source: TomlFile) -> Iterator[Problem]:
    """What in the file itself needs attention."""
    yield from _rate_problems(film, source)
    yield from _title_problems(film, source)
    yield from _path_problems(film, source)
    yield from _shot_problems(film, source)
    yield from _overlaps(film, source)


def _rate_problems(film: Film, source: TomlFile) -> Iterator[Problem]:
    if not FPS_MIN <= film.fps <= FPS_MAX:
        yield Problem(
            f"'fps' is {float(film.fps):.4g} frames per second.",
            f"Give a rate from {FPS_MIN} to {FPS_MAX}.",
            source.name,
            source.row(("fps",)),
            field="fps",
        )


def _title_problems(film: Film, source: TomlFile) -> Iterator[Problem]:
    if not film.title.strip() or not film.title.isprintable():
        yield Problem(
            "'title' holds a character that cannot be seen." if film.title.strip() else "'title' is empty.",
            "Give the film's title, on one line.",
            source.name,
            source.row(("title",)),
            field="title",
        )


def _path_problems(film: Film, source: TomlFile) -> Iterator[Problem]:
    for field in ("feel", "reference"):
        path = getattr(film, field)
        row = source.row((field,))
        problem = naming.path_problem(path, field, file=source.name, row=row) if path else None
        if problem:
            yield problem
        elif path and naming.leads_out(film.folder, path):
            yield Problem(
                f"'{path}' is a link that leads out of the film folder.",
                "Put the file itself into the film folder.",
                source.name,
                row,
                field=field,
            )


def _shot_problems(film: Film, source: TomlFile) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    for i, shot in enumerate(film.shots):
        row = source.row(("shot", i))

        def problem(what: str, fix: str, field: str, row: int = row) -> Problem:
            return Problem(what, fix, source.name, row, field=f"shot.{field}")

        fault = naming.name_fault(shot.name)
        if fault:
            yield problem(f"The shot name '{naming.printable(shot.name)}' {fault}.", "Give it another name.", "name")
        same = naming.same_name(shot.name)
        if same in seen:
            yield problem(f"Shot '{shot.name}' has the name of the shot in row {seen[same]}.", "Rename one.", "name")
        seen.setdefault(same, row)
        if shot.end < shot.start:
            yield problem(
                f"Shot '{shot.name}' ends on frame {shot.end}, before it starts on frame {shot.start}.",
                "Exchange or correct 'start' and 'end'.",
                "end",
            )
        if shot.start < film.first_frame:
            yield problem(
                f"Shot '{shot.name}' starts on frame {shot.start}, before the film's first frame, {film.first_frame}.",
                "Correct 'start' here, or 'first_frame' at the top of the file.",
                "start",
            )


def _overlaps(film: Film, source: TomlFile) -> Iterator[Problem]:
    """Each shot that begins before an earlier one has ended, the one that lasts longest."""
    longest: Shot | None = None
    for shot, index in sorted(((s, i) for i, s in enumerate(film.shots) if s.start <= s.end), key=lambda e: e[0].start):
        if longest and shot.start <= longest.end:
            yield Problem(
                f"Shots '{longest.name}' and '{shot.name}' share frames: one ends on {longest.end}, "
                f"the other starts on {shot.start}.",
                "Correct one of them if a frame should belong to one shot only.",
                source.name,
                source.row(("shot", index)),
                field="shot.start",
                severity="warning",
            )
        if longest is None or shot.end > longest.end:
            longest = shot


def missing_files(film: Film, source: TomlFile) -> Iterator[Problem]:
    """The files that film.toml names and that are not there."""
    for field in ("feel", "reference"):
        path = getattr(film, field)
        if path and not naming.path_fault(path) and not (film.folder / path).is_file():
            yield Problem(
                f"There is no file '{path}'.",
                f"Put it there, or correct '{field}'.",
                source.name,
                source.row((field,)),
                field=field,
                # The reference is looked at, nothing is made from it.
                severity="error" if field == "feel" else "warning",
            )
