"""Key the shot "waiting" into a scene built from the parts: extremes only, with Blender's own smooth curves.

    python animate.py kettle-pond/scenes/waiting.blend

This is the animator's part of the job, done by a script so that the example can be made again. Nothing here knows of
exposures or of hands that miss; that comes after, from the smooth keys.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from pathlib import Path

import bpy
from stage import FIRST_FRAME, LAST_FRAME, Acting, CameraExtreme, Extreme, acting

UNITS_PER_MM = 0.01


def main(path: str) -> None:
    """Key the whole shot and save the scene."""
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    scene.frame_start, scene.frame_end = FIRST_FRAME, LAST_FRAME
    perform(scene, acting())
    bpy.ops.wm.save_mainfile(compress=True)


def perform(scene: bpy.types.Scene, shot: Acting) -> None:
    """Put everyone in place and key the extremes, the choices, the camera and the sound."""
    parts = {obj["pastepot_part"]: obj for obj in scene.objects if "pastepot_part" in obj}
    for obj in scene.objects:
        if "pastepot_character" in obj:
            obj.location = (0.0, 0.0, 0.0)  # the stage measures from the middle of the frame
    for name, (x_mm, z_mm) in shot.stands.items():
        parts[name].location = _at(x_mm, z_mm)
    for name, obj in parts.items():
        show(obj, name not in shot.hidden)
    for name, extremes in shot.extremes.items():
        key_extremes(parts[name], shot.stands.get(name, (0.0, 0.0)), extremes)
    sets: dict[str, list[str]] = {}
    for name in parts:
        if name not in shot.hidden:
            sets.setdefault(replacement_set(name, shot), []).append(name)
    for chosen, members in sets.items():
        if chosen:
            key_choices(parts, members, [(FIRST_FRAME, shot.shown[chosen]), *shot.choices.get(chosen, [])])
    key_camera(scene.camera, shot.camera)
    for file, frame in shot.sound:
        add_sound(scene, file, frame)


def replacement_set(part: str, shot: Acting) -> str:
    """The set of the shot that the part belongs to: the one whose name, less its view, its own name begins with."""
    for name in shot.shown:
        stem, view = name.rsplit("-", 1)
        if part.startswith(f"{stem}-") and part.endswith(f"-{view}"):
            return name
    return ""


def _at(x_mm: float, z_mm: float) -> tuple[float, float, float]:
    return (x_mm * UNITS_PER_MM, 0.0, z_mm * UNITS_PER_MM)


def key_extremes(obj: bpy.types.Object, rest: tuple[float, float], extremes: Iterable[Extreme]) -> None:
    """One key per extreme, in the channels that the part uses at all."""
    extremes = list(extremes)
    moves = any(e.x_mm or e.z_mm for e in extremes)
    turns = any(e.turn_deg for e in extremes)
    grows = any(e.scale != 1.0 for e in extremes)
    for e in extremes:
        if moves:
            obj.location = _at(rest[0] + e.x_mm, rest[1] + e.z_mm)
            obj.keyframe_insert("location", index=0, frame=e.frame)
            obj.keyframe_insert("location", index=2, frame=e.frame)
        if turns:
            obj.rotation_euler[1] = -math.radians(e.turn_deg)  # a positive turn about y is clockwise to the camera
            obj.keyframe_insert("rotation_euler", index=1, frame=e.frame)
        if grows:
            obj.scale = (e.scale, 1.0, e.scale)
            obj.keyframe_insert("scale", frame=e.frame)


def show(obj: bpy.types.Object, shown: bool) -> None:
    """Show or hide a part, in the view and in the render."""
    obj.hide_render = obj.hide_viewport = not shown


def key_choices(parts: dict[str, bpy.types.Object], members: list[str], choices: list[tuple[int, str]]) -> None:
    """Key which part of a set is the one shown, each part only where that changes for it."""
    for name in members:
        before = None
        for frame, chosen in choices:
            shown = chosen == name
            if shown != before:
                show(parts[name], shown)
                if len(choices) > 1:
                    parts[name].keyframe_insert("hide_render", frame=frame)
                    parts[name].keyframe_insert("hide_viewport", frame=frame)
            before = shown


def key_camera(camera: bpy.types.Object, extremes: Iterable[CameraExtreme]) -> None:
    """A slow move of the camera over the stage."""
    for e in extremes:
        camera.location[0], camera.location[2] = e.x_mm * UNITS_PER_MM, e.z_mm * UNITS_PER_MM
        camera.data.ortho_scale = e.width_mm * UNITS_PER_MM
        for index in (0, 2):
            camera.keyframe_insert("location", index=index, frame=e.frame)
        camera.data.keyframe_insert("ortho_scale", frame=e.frame)


def add_sound(scene: bpy.types.Scene, file: str, frame: int) -> None:
    """Lay the dialogue in the sequencer, where Blender plays it along (its 4.2 package has no sound)."""
    path = Path(bpy.data.filepath).parents[1] / file
    if not path.exists() or not bpy.app.build_options.audaspace:
        return
    editor = scene.sequence_editor or scene.sequence_editor_create()
    strips = editor.strips if "strips" in editor.bl_rna.properties else editor.sequences
    strips.new_sound(name="waiting", filepath=bpy.path.relpath(str(path)), channel=1, frame_start=frame)


if __name__ == "__main__":
    main(sys.argv[1])
