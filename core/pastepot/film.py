"""A film folder: the settings in film.toml and the places of everything else."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal

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
