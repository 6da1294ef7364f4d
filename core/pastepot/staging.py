"""Where each part of the library goes in the scene, as plain numbers; the Blender side only applies them.

Scene axes: x right, z up, y away from the camera, so a layer nearer the camera has the smaller y. A part hangs from its
parent (a root from its character's controller) at `offset`; its own location then is zero at rest, so that an
animator's keys stay right when a joint, pivot or layer changes in the library.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pastepot.film import Film
from pastepot.library.parts import VIEWS, Library, Part

# Parts of one layer still need depths of their own, or they would flicker through each other: the gap to the next
# layer is shared out among them.
_SAME_LAYER_SLOTS = 64

SPACE_BETWEEN_CHARACTERS_MM = 20.0

Vector = tuple[float, float, float]
PixelSize = Callable[[Part], tuple[int, int]]


@dataclass(frozen=True)
class Stand:
    """One part in the scene, in Blender units.

    corners: x and z of the image's corners about the pivot, bottom-left first and anticlockwise
    offset:  where the pivot is pinned, from the parent's (or controller's) origin
    shown:   whether it is seen before the animator decides: one view, and one of each replacement set
    """

    part: Part
    corners: tuple[tuple[float, float], ...]
    offset: Vector
    shown: bool


@dataclass(frozen=True)
class Stage:
    """All parts, parents before their children, and where each character's controller first stands."""

    stands: tuple[Stand, ...]
    controllers: dict[str, Vector]


def stage(film: Film, library: Library, pixel_size: PixelSize) -> Stage:
    """Lay the whole library out. `pixel_size` tells the width and height of a part's image in pixels."""
    unit = film.units_per_mm
    depth = _depths(library, film.layer_gap_mm * unit)
    shown = _first_shown(library)
    stands = tuple(
        Stand(part, _corners(part, pixel_size(part), unit), _offset(part, library, depth, unit), shown[part.name])
        for part in _parents_first(library)
    )
    return Stage(stands, _controllers(stands, SPACE_BETWEEN_CHARACTERS_MM * unit))


def _corners(part: Part, size: tuple[int, int], unit: float) -> tuple[tuple[float, float], ...]:
    left, right = (np.array([0, size[0]]) / part.px_per_mm - part.pivot_mm[0]) * unit
    top, bottom = (part.pivot_mm[1] - np.array([0, size[1]]) / part.px_per_mm) * unit
    return tuple((float(x), float(z)) for x, z in ((left, bottom), (right, bottom), (right, top), (left, top)))


def _offset(part: Part, library: Library, depth: dict[str, float], unit: float) -> Vector:
    if not part.parent:
        return (0.0, depth[part.name], 0.0)
    parent = library[part.parent]
    joint = part.joint_mm or parent.pivot_mm
    x, z = (joint[0] - parent.pivot_mm[0]) * unit, (parent.pivot_mm[1] - joint[1]) * unit
    return (x, depth[part.name] - depth[parent.name], z)


def _depths(library: Library, gap: float) -> dict[str, float]:
    """A depth of its own for every part: by layer, and within a layer later parts in front."""
    ranks: dict[int, list[str]] = {}
    for part in library:
        ranks.setdefault(part.layer, []).append(part.name)
    depth = {}
    for layer, names in ranks.items():
        step = gap / max(_SAME_LAYER_SLOTS, len(names) + 1)
        for rank, name in enumerate(names):
            depth[name] = -(layer * gap + rank * step)
    return depth


def _first_shown(library: Library) -> dict[str, bool]:
    """One view of each character (front, else the first there is) and the first of each set within that view."""
    views: dict[str, set[str]] = {}
    for part in library:
        views.setdefault(part.character, set()).add(part.view)
    chosen = {c: next((v for v in VIEWS if v in found), "") for c, found in views.items()}
    shown, taken = {}, set()
    for part in library:
        key = (part.character, part.replaces)
        in_view = part.view in ("", chosen[part.character])
        shown[part.name] = in_view and not (part.replaces and key in taken)
        if part.replaces and in_view:
            taken.add(key)
    return shown


def _parents_first(library: Library) -> list[Part]:
    """The library's parts ordered so that every parent comes before its children. Expects no cycles (see check)."""
    ordered: dict[str, Part] = {}
    for part in library:
        chain = []
        while part.name not in ordered:
            chain.append(part)
            if not part.parent:
                break
            part = library[part.parent]
        for link in reversed(chain):
            ordered[link.name] = link
    return list(ordered.values())


def _controllers(stands: tuple[Stand, ...], space: float) -> dict[str, Vector]:
    """Side by side along x, each character as wide as what is shown of it, the row centred on the origin."""
    origin: dict[str, tuple[float, float]] = {}
    extent: dict[str, list[float]] = {}
    for stand in stands:
        x, _, z = stand.offset
        px, pz = origin[stand.part.parent] if stand.part.parent else (0.0, 0.0)
        origin[stand.part.name] = (px + x, pz + z)
        reach = extent.setdefault(stand.part.character, [0.0, 0.0])
        if stand.shown:
            xs = [px + x + corner[0] for corner in stand.corners]
            reach[:] = [min(reach[0], *xs), max(reach[1], *xs)]
    row = sum(right - left for left, right in extent.values()) + space * max(0, len(extent) - 1)
    at, places = -row / 2, {}
    for character, (left, right) in extent.items():
        places[character] = (at - left, 0.0, 0.0)
        at += right - left + space
    return places
