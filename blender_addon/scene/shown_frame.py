"""The whole frame, its light and its paper in a scene: one empty holds every value, as constant keys.

Its place and turn are what the camera is off by, put behind the camera's own movement by a constraint; its further
values are read by plain drivers in the paper's node group. So the animator's keys and their actions are never touched,
everything can be seen and edited in one action, and with the empty all of it goes.
"""

from __future__ import annotations

from collections.abc import Iterator

import bpy
import numpy as np
from pastepot.errors import Problem
from pastepot.timing.frame import FrameEffects

from .. import host, ids
from . import actions, paper_light

_NAME = "Pastepot frame"
_STOPS, _GRAIN = "light_stops", ("paper_right_mm", "paper_up_mm")
_Curves = dict[tuple[str, int], np.ndarray]


def apply(scene: bpy.types.Scene, effects: FrameEffects, units_per_mm: float) -> list[Problem]:
    """Write the effects into the scene in place of any before; where all are off nothing of them is left.

    Returns what the person should know: the values' own warnings, and an earlier action kept because it was retouched.
    """
    problems = list(effects.problems)
    if (kept := _retire(scene)) is not None:
        what = "You had retouched how the whole frame moves or flickers."
        fix = f"It is kept as the action '{kept}'; assign it to '{_NAME}' to go back to it."
        problems.append(Problem(what, fix, severity="warning"))
    curves = _curves(effects, units_per_mm)
    if not curves:
        return problems
    empty = _new_empty(scene)
    action = bpy.data.actions.new(_NAME)
    empty.animation_data_create().action = action
    written = {}
    for (path, index), values in curves.items():
        curve = host.ensure_fcurve(empty, path, index, "Handmade")
        at = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
        pairs = np.column_stack([effects.starts[at], values[at]]).astype(np.float32)
        actions.write_keys(curve, pairs, np.zeros(len(at), bool))
        written[path, index] = pairs
    action[ids.BUILT] = actions.digest(action, written)
    action[ids.UNITS_PER_MM] = units_per_mm
    scene[ids.FRAME_ACTION] = action
    return problems + _attach(scene, empty, action)


def switch(scene: bpy.types.Scene, handmade: bool) -> None:
    """Show the effects that were made last, or take them out of the scene: then only their action waits."""
    _detach(scene)
    action = scene.get(ids.FRAME_ACTION)
    if handmade and action is not None:
        empty = _new_empty(scene)
        host.assign(empty, action)
        _attach(scene, empty, action)


def _curves(effects: FrameEffects, units_per_mm: float) -> _Curves:
    """The rows of values that are not zero throughout, by where they belong."""
    # The camera goes the other way than the picture: the inverse of "turn about the middle, then slide".
    turn = -np.radians(effects.turn_deg)
    x, y = -effects.x_mm * units_per_mm, -effects.y_mm * units_per_mm
    rows = {
        ("location", 0): np.cos(turn) * x - np.sin(turn) * y,
        ("location", 1): np.sin(turn) * x + np.cos(turn) * y,
        ("rotation_euler", 2): turn,
        (f'["{_STOPS}"]', 0): effects.stops,
        (f'["{_GRAIN[0]}"]', 0): effects.boil_x_mm,
        (f'["{_GRAIN[1]}"]', 0): effects.boil_y_mm,
    }
    # adding 0 makes -0 a plain 0, which the planner of renders would take for another picture
    return {place: row.astype(np.float32) + np.float32(0) for place, row in rows.items() if row.any()}


def _retire(scene: bpy.types.Scene) -> str | None:
    """Take everything out; the last action is removed, or kept under another name if the animator retouched it."""
    _detach(scene)
    old = scene.get(ids.FRAME_ACTION)
    if old is None:
        return None
    del scene[ids.FRAME_ACTION]
    return actions.retire(old, _NAME)


def _new_empty(scene: bpy.types.Scene) -> bpy.types.Object:
    empty = bpy.data.objects.new(_NAME, None)
    empty[ids.PLACE] = "frame"
    empty.empty_display_size = 0.1
    for name in (_STOPS, *_GRAIN):
        empty[name] = 0.0
    scene.collection.objects.link(empty)
    return empty


def _attach(scene: bpy.types.Scene, empty: bpy.types.Object, action: bpy.types.Action) -> list[Problem]:
    """Let the cameras and the paper follow the empty, as far as its action says anything of them."""
    paths = {curve.data_path for curve in host.fcurves(action)}
    problems = []
    if paths & {"location", "rotation_euler"}:
        for camera in _cameras(scene):
            if camera.library is not None:
                what = "This camera is linked from another file, so the frame does not weave through it."
                problems.append(Problem(what, "Make it local.", part=camera.name, severity="warning"))
                continue
            follow = camera.constraints.new("COPY_TRANSFORMS")
            follow.name = _NAME
            follow.target = empty
            follow.mix_mode = "AFTER_FULL"  # in the camera's own right and up, whichever way it looks
    grain = tuple(f'["{name}"]' for name in _GRAIN)
    light = f'["{_STOPS}"]' if f'["{_STOPS}"]' in paths else ""
    surface = grain if paths & set(grain) else ()
    if not paper_light.follow(empty, light, surface, 1 / action[ids.UNITS_PER_MM]):
        what = "The film's paper is not in this file, so its light and its surface do not change."
        problems.append(Problem(what, "Build the cast in this file.", severity="warning"))
    return problems


def _detach(scene: bpy.types.Scene) -> None:
    for empty in [o for o in scene.objects if o.get(ids.PLACE) == "frame" and o.library is None]:
        paper_light.leave(empty)
        for camera in _cameras(scene):
            for constraint in [c for c in camera.constraints if getattr(c, "target", None) == empty]:
                camera.constraints.remove(constraint)
        bpy.data.objects.remove(empty)


def _cameras(scene: bpy.types.Scene) -> Iterator[bpy.types.Object]:
    return (obj for obj in scene.objects if obj.type == "CAMERA")
