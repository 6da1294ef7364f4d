"""Seeing the timing: the path of the selected pieces with a tick for each exposure, and ghosts of the two beside it.

What is drawn is prepared when the selection, the frame or a key changes. Drawing only brings it to the window's pixels.
"""

from __future__ import annotations

from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from .. import ids
from ..scene.path_marks import Marks, marks

MOST = 12  # pieces: more paths than that nobody can tell apart

_LIGHT, _DARK = (1.0, 0.97, 0.88, 1.0), (0.1, 0.09, 0.12, 0.75)
_TICK_PX, _RING_PX = 5.0, 4.5
_shown: list[Marks] = []
_handle: Any = None


def is_on() -> bool:
    """Whether paths are being drawn."""
    return _handle is not None


def turn(on: bool) -> None:
    """Begin or end drawing; ended, nothing of it is left in Blender."""
    global _handle
    if on == is_on():
        return
    if on:
        _handle = bpy.types.SpaceView3D.draw_handler_add(_draw, (), "WINDOW", "POST_PIXEL")
        _prepare(bpy.context.scene)
    else:
        bpy.types.SpaceView3D.draw_handler_remove(_handle, "WINDOW")
        _handle = None
        _shown.clear()
    for handlers in (bpy.app.handlers.depsgraph_update_post, bpy.app.handlers.frame_change_post):
        if on:
            handlers.append(_changed)
        elif _changed in handlers:
            handlers.remove(_changed)
    _redraw()


@bpy.app.handlers.persistent
def _changed(scene: bpy.types.Scene, *_: object) -> None:
    if not bpy.app.is_job_running("RENDER"):
        _prepare(scene)


def _prepare(scene: bpy.types.Scene) -> None:
    chosen = [o for o in scene.objects if o.select_get()][:MOST] if scene.view_layers else []
    made = [marks(obj, scene.frame_current, scene.frame_start, scene.frame_end) for obj in chosen]
    _shown[:] = [each for each in made if each is not None]


def _redraw() -> None:
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


# ── drawing ────────────────────────────────────────────────────────────────────────────────────────────────────────


def _draw() -> None:
    region, view = bpy.context.region, bpy.context.region_data
    if not _shown or view is None or not bpy.context.space_data.overlay.show_overlays:
        return
    matrix, size = np.array(view.perspective_matrix), (region.width, region.height)
    gpu.state.blend_set("ALPHA")
    for each in _shown:
        _draw_one(each, matrix, size)
    gpu.state.blend_set("NONE")


def _draw_one(each: Marks, matrix: np.ndarray, size: tuple[int, int]) -> None:
    before, after = _seen(each.before, matrix, size), _seen(each.after, matrix, size)
    points = _seen(each.points, matrix, size)
    path = np.stack([points[:-1], points[1:]], axis=1)
    marked = np.concatenate([_ticks(points), *(_ring(points[n]) for n in np.flatnonzero(each.extreme))])
    for lines, width in (
        (_dashed(before), 1.5),
        (after, 1.5),
        (path, 1.0),
        (marked, 1.5),
        (_ring(points[each.now], 0.6), 4.0),
    ):
        _lines(lines, width + 2.0, _DARK, size)
        _lines(lines, width, _LIGHT, size)


def _seen(points: np.ndarray, matrix: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """(..., 2) pixels of (..., 3) places."""
    clip = points @ matrix[:, :3].T + matrix[:, 3]
    return (clip[..., :2] / np.maximum(clip[..., 3:], 1e-6) + 1) / 2 * size


def _ticks(points: np.ndarray) -> np.ndarray:
    """(E, 2, 2) a short line across the path at each point; the closer they are, the slower it goes."""
    along = np.gradient(points, axis=0)
    length = np.hypot(*along.T)[:, None]
    along = np.where(length > 1e-3, along / np.maximum(length, 1e-3), (1.0, 0.0))
    across = along[:, ::-1] * (-1, 1) * _TICK_PX
    return np.stack([points - across, points + across], axis=1)


def _ring(middle: np.ndarray, scale: float = 1.0) -> np.ndarray:
    angles = np.linspace(0, 2 * np.pi, 17)
    around = middle + _RING_PX * scale * np.column_stack([np.cos(angles), np.sin(angles)])
    return np.stack([around[:-1], around[1:]], axis=1)


def _dashed(lines: np.ndarray) -> np.ndarray:
    """Every line in dashes of about eight pixels, so that before and after differ by more than a colour."""
    out = []
    for a, b in lines:
        count = max(1, int(np.hypot(*(b - a)) // 8))
        at = np.linspace(0, 1, count + 1)[:, None]
        cut = a + (b - a) * at
        out.append(np.stack([cut[:-1], (cut[:-1] + cut[1:]) / 2], axis=1))
    return np.concatenate(out) if out else lines


def _lines(lines: np.ndarray, width: float, colour: tuple[float, ...], size: tuple[int, int]) -> None:
    if not len(lines):
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    flat = np.zeros((2 * len(lines), 3), np.float32)
    flat[:, :2] = lines.reshape(-1, 2)
    batch = batch_for_shader(shader, "LINES", {"pos": flat})
    shader.bind()
    shader.uniform_float("viewportSize", size)
    shader.uniform_float("lineWidth", width)
    shader.uniform_float("color", colour)
    batch.draw(shader)


# ── the button ─────────────────────────────────────────────────────────────────────────────────────────────────────


class PASTEPOT_OT_show_path(bpy.types.Operator):
    """Show where the selected pieces go: a tick for each exposure, a ring on extremes, outlines before and after"""

    bl_idname = ids.SHOW_PATH
    bl_label = "Show Exposures"
    bl_options = {"INTERNAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        turn(not is_on())
        return {"FINISHED"}


CLASSES = (PASTEPOT_OT_show_path,)


def unregister() -> None:
    """Stop drawing."""
    turn(False)
