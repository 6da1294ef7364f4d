"""Replacement sets in a scene: which member is shown on every frame, read and keyed."""

from __future__ import annotations

import bpy
import numpy as np
from pastepot.track.mouths import MouthSet

from .. import host, ids
from . import actions
from .curves import sample_action
from .targets import smooth_action

PATHS = ("hide_render", "hide_viewport")


def members(scene: bpy.types.Scene, mouths: MouthSet) -> list[bpy.types.Object] | None:
    """The objects that show the set's mouths, in its order; None where one is not in the scene."""
    found = {obj[ids.PART]: obj for obj in reversed(scene.objects) if ids.PART in obj and obj.library is None}
    objects = [found.get(part.name) for part in mouths.mouths]
    return None if None in objects else objects


def visible(obj: bpy.types.Object, first: int, last: int) -> np.ndarray:
    """(N,) whether a render shows the object on each frame, as the animator keyed it."""
    keyed = smooth_action(obj)
    if keyed is not None:
        action, slot = keyed
        handle = next((h for h, identifier in host.slots(action) if identifier == slot), 0)
        row = sample_action(action, first, last).get((handle, "hide_render", 0))
        if row is not None:
            return row < 0.5
    return np.full(last - first + 1, not obj.hide_render)


def is_handmade(obj: bpy.types.Object) -> bool:
    """Whether the object's handmade action is the one in use."""
    data = obj.animation_data
    return data is not None and data.action is not None and data.action == obj.get(ids.HANDMADE_ACTION)


def show(obj: bpy.types.Object, shown: np.ndarray, first: int) -> int:
    """Key in the animator's own action when the object is shown; keys outside those frames stay. Returns the keys.

    Whichever of the two actions was in use stays in use.
    """
    was_handmade = is_handmade(obj)
    actions.switch(obj, False)
    at = np.flatnonzero(np.diff(shown.astype(int), prepend=-1))
    pairs = np.column_stack([at + first, ~shown[at]]).astype(np.float32)
    for path in PATHS:
        curve = host.ensure_fcurve(obj, path, 0, "Mouth")
        _replace(curve, pairs, first, first + len(shown) - 1)
    if was_handmade:
        actions.switch(obj, True)
    return 2 * len(pairs)


def _replace(curve: bpy.types.FCurve, pairs: np.ndarray, first: int, last: int) -> None:
    points = curve.keyframe_points
    old = np.empty(2 * len(points), np.float32)
    points.foreach_get("co", old)
    old = old.reshape(-1, 2)
    outside = old[(old[:, 0] < first) | (old[:, 0] > last)]
    everything = np.concatenate([outside[outside[:, 0] < first], pairs, outside[outside[:, 0] > last]])
    points.clear()
    for modifier in list(curve.modifiers):
        curve.modifiers.remove(modifier)
    points.add(len(everything))
    points.foreach_set("co", everything.ravel())
    points.foreach_set("interpolation", np.full(len(everything), host.INTERPOLATION["CONSTANT"], np.uint8))
    curve.update()
