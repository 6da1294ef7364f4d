"""Step: the same film at another frame rate, with every picture where it was in time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import bpy
import numpy as np
from pastepot.errors import PastepotError, Problem

from .. import host, ids
from ..scene import actions
from ..scene.curves import frames_and
from .background import tell
from .handmade import rate

RATES = (12, 24, 25, 30)


def retime(scene: bpy.types.Scene, fps: int) -> str:
    """Move every key, marker and strip so that it stays at its time when the rate becomes `fps`.

    Frame 1 stays frame 1. On ones at 12 becomes on twos at 24, and back. PastepotError, with nothing changed, where an
    exposure would begin between two frames.
    """
    factor = Fraction(fps) / round(rate(scene))
    if factor == 1:
        return f"The film is at {fps} frames a second already."
    curves = list(_curves())
    _refuse_uneven(curves, factor)
    untouched = [a for a in bpy.data.actions if actions.is_untouched(a)]
    for _, curve in curves:
        _stretch(curve, factor)
    for action in untouched:  # moving our keys is no retouching
        action[ids.BUILT] = actions.digest(action)
    for marker in scene.timeline_markers:
        marker.frame = round(_moved(marker.frame, factor))
    if scene.sequence_editor is not None:
        for strip in host.strips(scene.sequence_editor):
            host.move_strip(strip, float(_moved(Fraction(host.strip_begins(strip)), factor)))
    count = (scene.frame_end - scene.frame_start + 1) * factor
    scene.frame_start = round(_moved(scene.frame_start, factor))
    scene.frame_end = scene.frame_start + max(1, -(-count.numerator // count.denominator)) - 1
    scene.frame_current = round(_moved(scene.frame_current, factor))
    # 12 and 24 stay exact; a rate of 24000/1001 keeps its slowness
    scene.render.fps = fps
    return f"Now {fps} frames a second, {scene.frame_start}-{scene.frame_end}; every picture is where it was in time."


def _moved(frame: int | Fraction, factor: Fraction) -> Fraction:
    return (frame - 1) * factor + 1


def _curves() -> Iterator[tuple[bpy.types.Action, bpy.types.FCurve]]:
    for action in bpy.data.actions:
        if action.library is None:
            for curve in host.fcurves(action):
                yield action, curve


def _stretch(curve: bpy.types.FCurve, factor: Fraction) -> None:
    points = curve.keyframe_points
    for name in ("co", "handle_left", "handle_right"):
        pairs = np.empty(2 * len(points), np.float32)
        points.foreach_get(name, pairs)
        pairs[0::2] = (pairs[0::2] - 1.0) * float(factor) + 1.0
        points.foreach_set(name, pairs)
    curve.update()


def _refuse_uneven(curves: list[tuple[bpy.types.Action, bpy.types.FCurve]], factor: Fraction) -> None:
    """Held exposures must begin on whole frames; smooth keys may lie anywhere."""
    constant = host.INTERPOLATION["CONSTANT"]
    uneven: dict[str, int] = {}
    for action, curve in curves:
        frames, kinds = frames_and(curve, "interpolation")
        moved = (frames - 1.0) * float(factor)
        if bad := int(np.count_nonzero((kinds == constant) & (np.abs(moved - np.rint(moved)) > 1e-3))):
            uneven[action.name] = uneven.get(action.name, 0) + bad
    if uneven:
        raise PastepotError(
            *(
                Problem(
                    f"{count} held keys would fall between two frames.",
                    "Make the film handmade again with exposures that divide evenly, or choose another rate.",
                    part=name,
                )
                for name, count in uneven.items()
            )
        )


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot retime`: change the opened scene's rate and save it."""
    text = retime(bpy.context.scene, params["fps"])
    bpy.ops.wm.save_as_mainfile(filepath=params["output"], compress=True)
    return {"text": text, "fps": params["fps"]}


class PASTEPOT_OT_change_rate(bpy.types.Operator):
    """Change the frame rate and keep every picture where it is in time: on ones at 12 becomes on twos at 24"""

    bl_idname = ids.RETIME
    bl_label = "Change Frame Rate"
    bl_options = {"REGISTER", "UNDO"}

    fps: bpy.props.EnumProperty(
        name="Frame rate",
        description="Frames a second to change to",
        items=[(str(n), str(n), f"{n} frames a second") for n in RATES],
        default="24",
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            self.report({"INFO"}, retime(context.scene, int(self.fps)))
        except PastepotError as error:
            return tell(self, error.problems)
        return {"FINISHED"}


CLASSES = (PASTEPOT_OT_change_rate,)
