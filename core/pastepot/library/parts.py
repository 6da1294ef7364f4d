"""The parts of a film as values. Reading and writing them is manifest.py's work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

Lips = Literal["closed", "touching-teeth", "apart"]

VIEWS = ("front", "side", "back")


@dataclass(frozen=True)
class MouthShape:
    """What a drawn mouth looks like. open: 0 shut to 1 widest; round: 0 spread to 1 pursed."""

    lips: Lips = "closed"
    open: float = 0.0
    round: float = 0.0
    tongue: bool = False


@dataclass(frozen=True)
class Part:
    """One cut-out piece. Lengths are paper millimetres, x right and y down from an image's top-left corner.

    pivot_mm:  the point this part turns about, on its own image
    joint_mm:  the point on the parent's image where that pivot is pinned (None: on the parent's pivot)
    layer:     stacking order, higher is nearer the camera
    replaces:  the replacement set this part belongs to, '' for none
    row:       1-based line of this part in parts.toml, 0 if it did not come from a file
    """

    name: str
    character: str
    type: str
    image: str
    px_per_mm: float
    pivot_mm: tuple[float, float]
    view: str = ""
    parent: str = ""
    joint_mm: tuple[float, float] | None = None
    layer: int = 0
    replaces: str = ""
    mouth: MouthShape | None = None
    row: int = 0


@dataclass(frozen=True)
class Library:
    """All parts of a film, in the order of the file."""

    parts: tuple[Part, ...]

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts)

    def __len__(self) -> int:
        return len(self.parts)

    def __getitem__(self, name: str) -> Part:
        """The part of that name; KeyError if there is none."""
        return self._by_name[name]

    def __contains__(self, name: object) -> bool:
        return name in self._by_name

    @cached_property
    def _by_name(self) -> dict[str, Part]:
        return {p.name: p for p in self.parts}

    def replacement_sets(self) -> dict[str, tuple[Part, ...]]:
        """Set name -> its parts, in the order of the file."""
        sets: dict[str, list[Part]] = {}
        for p in self.parts:
            if p.replaces:
                sets.setdefault(p.replaces, []).append(p)
        return {name: tuple(members) for name, members in sets.items()}
