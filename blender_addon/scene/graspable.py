"""The parts in a scene as flat sheets of paper that can be picked, where they stand now."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import bpy
import numpy as np
from pastepot.picking import Sheets

from .. import ids
from . import outlines, paper

_masks: dict[str, np.ndarray] = {}  # by the image's digest; a film's masks are small beside its images


def sheets(view_layer: bpy.types.ViewLayer, film_folder: Path) -> tuple[list[bpy.types.Object], Sheets]:
    """Every part seen in the view layer, and the same as sheets in the same order.

    A part whose mesh the animator bent is taken as if it were flat; one that was never built with an outline is not
    there.
    """
    pictures = {i[ids.PART]: i for i in bpy.data.images if ids.PART in i and ids.BUILT in i}
    objects, corners, steps, masks = [], [], [], []
    for obj in view_layer.objects:
        picture = pictures.get(obj.get(ids.PART, ""))
        if picture is None or obj.type != "MESH" or not obj.visible_get(view_layer=view_layer):
            continue
        edges = _edges(obj.data.get(ids.BUILT, ""))
        if edges is None:
            continue
        left, bottom, right, top = edges
        mask = _mask(picture, film_folder)
        objects.append(obj)
        corners.append((left, top))
        steps.append(((right - left) / mask.shape[1], (bottom - top) / mask.shape[0]))
        masks.append(mask)
    world = np.array([value for obj in objects for row in obj.matrix_world for value in row]).reshape(-1, 4, 4)
    return objects, Sheets(world, np.array(corners), np.array(steps), masks)


@lru_cache(maxsize=4096)
def _edges(notes: str) -> tuple[float, float, float, float] | None:
    """Left, bottom, right and top of a part's picture about its pivot, by the notes on its mesh; None without any."""
    cut_from = json.loads(notes or "{}").get("cut_from")
    if cut_from is None:
        return None
    _, left, bottom, right, _, _, top, *_ = cut_from
    return left, bottom, right, top


def _mask(picture: bpy.types.Image, film_folder: Path) -> np.ndarray:
    digest = picture[ids.BUILT]
    if digest not in _masks:
        kept = outlines.paper(digest, outlines.folder(film_folder), lambda: paper.alpha(paper.pixels(picture)))
        _masks[digest] = kept.opaque
    return _masks[digest]
