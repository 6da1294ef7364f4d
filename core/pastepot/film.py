"""A film folder: the settings in film.toml and the places of everything else."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import tomlkit

from pastepot import film_rules, schema, tomlfile
from pastepot.errors import Misuse, PastepotError, Problem, raise_if_any
from pastepot.output import replacing
from pastepot.tomlfile import TomlFile

FILM_TOML = "film.toml"
PARTS_TOML = "parts.toml"
FOLDERS = ("photos", "parts", "track", "reference", "scenes", "renders", "review")
"""What a film folder holds beside its two files."""

Look = Literal["flat", "lit"]


@dataclass(frozen=True)
class Shot:
    """A run of frames, first and last included."""

    name: str
    start: int
    end: int


@dataclass(frozen=True)
class Film:
    """What film.toml says. Lengths in paper millimetres, frames as integers, the rate exact.

    seed:         of every random number in the film
    units_per_mm: Blender units for one millimetre of paper
    look:         'flat' shows the paper's own colours, 'lit' adds a lamp and shadows
    layer_gap_mm: distance between two layers toward the camera
    frame_width_mm: paper millimetres across the picture when the camera is first made
    feel:         film-relative path of a *.feel.toml, '' for plain timing
    """

    folder: Path
    title: str
    fps: Fraction
    size: tuple[int, int]
    seed: int = 1
    first_frame: int = 1
    units_per_mm: float = 0.01
    look: Look = "flat"
    layer_gap_mm: float = 1.0
    frame_width_mm: float = 320.0
    feel: str = ""
    reference: str = ""
    shots: tuple[Shot, ...] = ()


def load(folder: Path) -> Film:
    """The film in a folder. PastepotError, with every problem found, if film.toml does not make sense."""
    film, problems = _read(_source(folder), folder)
    raise_if_any(problems)
    assert film is not None  # it is None only with problems
    return film


def check_film(folder: Path) -> list[Problem]:
    """Everything that needs attention in film.toml, the files it names included. Raises nothing."""
    try:
        source = _source(folder)
        film, problems = _read(source, folder)
    except PastepotError as error:
        return list(error.problems)
    return sorted([*problems, *(film_rules.missing_files(film, source) if film else ())], key=lambda p: p.row)


def _source(folder: Path) -> TomlFile:
    return tomlfile.read(folder / FILM_TOML, FILM_TOML, f"Start a film folder with: pastepot new {folder}")


def _read(source: TomlFile, folder: Path) -> tuple[Film | None, list[Problem]]:
    """The film as far as it makes sense (None where a field breaks the schema), and all problems."""
    reading = schema.read("film", source)
    if reading.problems:
        return None, list(reading.problems)
    film = _film(reading.values, folder)
    return film, list(film_rules.problems(film, source))


def _film(values: Mapping[str, Any], folder: Path) -> Film:
    """Values that keep to the schema, as a Film."""
    given = {k: v for k, v in values.items() if k not in ("schema", "shot")}
    width, height = given.pop("size")
    for name in ("seed", "first_frame"):
        if name in given:
            given[name] = int(given[name])
    for name in ("units_per_mm", "layer_gap_mm", "frame_width_mm"):
        if name in given:
            given[name] = float(given[name])
    return Film(
        folder=folder,
        fps=Fraction(given.pop("fps")),
        size=(int(width), int(height)),
        shots=tuple(Shot(s["name"], int(s["start"]), int(s["end"])) for s in values.get("shot", ())),
        **given,
    )


_FILM_TEXT = """\
# The settings of this film. Every field is explained in docs/reference/film-toml.md.
schema = 1
title = {title}
fps = {fps}
size = [{width}, {height}]        # pixels of the picture

seed = 1                  # another seed places every piece a little differently
first_frame = 1
units_per_mm = 0.01       # Blender units for one millimetre of paper
look = "flat"             # flat: the paper's own colours; lit: a lamp and shadows
layer_gap_mm = 1.0        # from one layer to the next
frame_width_mm = 320.0    # paper across the picture when the camera is first made
# feel = "reference/pond.feel.toml"
# reference = "reference/pond.mp4"

# One table for each shot, first and last frame included:
# [[shot]]
# name = "heron-arrives"
# start = 1
# end = 48
"""

_PARTS_TEXT = """\
# The parts of this film. `pastepot scan` drafts an entry for every new picture in parts/;
# what you change here stays as you wrote it. Every field is explained in docs/reference/parts-toml.md.
schema = 1

# [[part]]
# name = "heron-head-front"               # keep it: scenes and keys hang on it
# character = "heron"
# type = "head"
# view = "front"
# image = "parts/heron-head-front.png"
# px_per_mm = 11.811                      # 300 dpi
# pivot_mm = [12.0, 40.5]                 # from the image's top-left corner, right and down
# parent = "heron-body-front"
# joint_mm = [30.0, 8.0]                  # where on the parent's image the pivot is pinned
# layer = 50                              # higher is nearer the camera
"""


def create(folder: Path, title: str, fps: Fraction | int | str, size: tuple[int, int]) -> Film:
    """Start a film folder: its folders, a commented film.toml and a parts.toml without parts.

    Misuse, with nothing written, if the settings make no sense or something that is there would be touched: a film.toml
    or parts.toml, or a file where a folder has to be. Folders that are there already are kept with what is in them.
    """
    text = _FILM_TEXT.format(title=tomlkit.string(title).as_string(), fps=_fps_text(fps), width=size[0], height=size[1])
    source = TomlFile(folder / FILM_TOML, FILM_TOML, b"", text)
    film, problems = _read(source, folder)
    settings = [replace(p, file="", row=0) for p in problems]  # nothing has been written that a row could be in
    problems = [*settings, *_in_the_way(folder)]
    if problems or film is None:
        raise Misuse(*problems)
    _make(folder, {PARTS_TOML: _PARTS_TEXT, FILM_TOML: text})
    return film


def _fps_text(fps: Fraction | int | str) -> str:
    text = str(fps)
    return text if text.isdecimal() else tomlkit.string(text).as_string()


def _in_the_way(folder: Path) -> list[Problem]:
    """What is in the folder already and would be touched."""
    if os.path.lexists(folder) and not folder.is_dir():
        return [Problem(f"{folder} is not a folder.", "Give another place for the film.")]
    files = [n for n in (FILM_TOML, PARTS_TOML) if os.path.lexists(folder / n)]
    blocked = [n for n in FOLDERS if os.path.lexists(folder / n) and not (folder / n).is_dir()]
    return [
        *(Problem(f"There is a {n} in {folder} already.", "Give another place for the film.", n) for n in files),
        *(Problem(f"A folder {n}/ is needed, and a file is in its place.", "Rename that file.", n) for n in blocked),
    ]


def _make(folder: Path, texts: Mapping[str, str]) -> None:
    """Make the folders and files; if that fails half-way, take away again what was made here."""
    made: list[Path] = []
    try:
        for place in (*reversed(folder.parents), folder, *(folder / n for n in FOLDERS)):
            if not place.exists():
                place.mkdir()
                made.append(place)
        for name, text in texts.items():
            with replacing(folder / name, overwrite=False) as draft:
                draft.write_bytes(text.encode())
            made.append(folder / name)
    except OSError as error:
        for place in reversed(made):
            with suppress(OSError):
                place.rmdir() if place.is_dir() else place.unlink()
        raise PastepotError(
            Problem(f"The film folder cannot be made ({error.strerror or error}).", "Give another place for it.")
        ) from None
