"""Step: pick parts in the viewport by the paper that is really under the pointer."""

from __future__ import annotations

from typing import Any

import blf
import bpy
import numpy as np
from bpy_extras import view3d_utils
from pastepot.picking import next_down

from .. import ids
from ..scene.graspable import sheets
from .build import film_folder

_FAR = 10_000.0
_BESIDE_PX = (18, 10)


def stack(
    context: bpy.types.Context, region: bpy.types.Region, view: bpy.types.RegionView3D, at: tuple[int, int]
) -> list[bpy.types.Object]:
    """The parts under a point of the 3D view's region, nearest first."""
    folder = film_folder(context.scene)
    if folder is None:
        return []
    origin = view3d_utils.region_2d_to_origin_3d(region, view, at)
    direction = view3d_utils.region_2d_to_vector_3d(region, view, at)
    if not view.is_perspective:  # then Blender's origin may lie beyond the paper
        origin = origin - direction * _FAR
    objects, standing = sheets(context.view_layer, folder)
    return [objects[n] for n in standing.under(np.array(origin, float), np.array(direction, float))]


def label(obj: bpy.types.Object) -> str:
    """The part's name and whose it is."""
    controller = obj
    while controller.parent is not None and ids.CHARACTER not in controller:
        controller = controller.parent
    return f"{obj[ids.PART]}  ({controller[ids.CHARACTER]})" if ids.CHARACTER in controller else str(obj[ids.PART])


class PASTEPOT_OT_pick(bpy.types.Operator):
    """Pick parts by the paper under the pointer: a click takes the topmost, clicking again the one below it"""

    bl_idname = ids.PICK
    bl_label = "Pick Parts"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.area is None or context.area.type != "VIEW_3D" or context.mode != "OBJECT":
            cls.poll_message_set("Works in the 3D view, in Object Mode")
            return False
        if not context.scene.get(ids.FILM):
            cls.poll_message_set("Build the cast first")
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        self._area = context.area
        self._region = next(r for r in context.area.regions if r.type == "WINDOW")
        self._at, self._text, self._last, self._chosen = (0, 0), "", [], ""
        self._drawing = bpy.types.SpaceView3D.draw_handler_add(self._draw, (), "WINDOW", "POST_PIXEL")
        context.workspace.status_text_set(
            "Click: take the topmost part, again: the one below    Shift: add    Esc: end"
        )
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type == "ESC" and event.value == "PRESS":
            self.cancel(context)
            return {"FINISHED"}
        if not self._over_view(context, event):
            return {"PASS_THROUGH"}
        at = (event.mouse_x - self._region.x, event.mouse_y - self._region.y)
        if event.type == "MOUSEMOVE":
            found = self._under(context, at)
            self._at, self._text = at, label(found[0]) if found else ""
            self._area.tag_redraw()
        elif event.type == "LEFTMOUSE" and event.value == "PRESS" and not (event.alt or event.ctrl):
            self._take(context, self._under(context, at), event.shift)
            return {"RUNNING_MODAL"}
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        bpy.types.SpaceView3D.draw_handler_remove(self._drawing, "WINDOW")
        context.workspace.status_text_set(None)
        self._area.tag_redraw()

    def _take(self, context: bpy.types.Context, found: list[bpy.types.Object], add: bool) -> None:
        names = [obj.name for obj in found]
        self._chosen, self._last = next_down(names, self._last, self._chosen), names
        if not add:
            bpy.ops.object.select_all(action="DESELECT")
        if self._chosen:
            chosen = found[names.index(self._chosen)]
            chosen.select_set(True)
            context.view_layer.objects.active = chosen
            self._text = label(chosen)
        bpy.ops.ed.undo_push(message="Pick Part")

    def _under(self, context: bpy.types.Context, at: tuple[int, int]) -> list[bpy.types.Object]:
        return stack(context, self._region, self._area.spaces.active.region_3d, at)

    def _over_view(self, context: bpy.types.Context, event: bpy.types.Event) -> bool:
        there = any(area == self._area for area in context.screen.areas) and self._area.type == "VIEW_3D"
        if not there or context.mode != "OBJECT":
            return False

        def inside(region: bpy.types.Region) -> bool:
            x, y = event.mouse_x - region.x, event.mouse_y - region.y
            return region.width > 1 and 0 <= x < region.width and 0 <= y < region.height

        others = (r for r in self._area.regions if r.type != "WINDOW")
        return inside(self._region) and not any(inside(region) for region in others)

    def _draw(self, *_: Any) -> None:
        if not self._text or bpy.context.area != self._area:
            return
        blf.size(0, 13.0 * bpy.context.preferences.system.ui_scale)
        blf.enable(0, blf.SHADOW)
        blf.shadow(0, 5, 0.0, 0.0, 0.0, 1.0)
        blf.color(0, 1.0, 1.0, 1.0, 1.0)
        blf.position(0, self._at[0] + _BESIDE_PX[0], self._at[1] + _BESIDE_PX[1], 0)
        blf.draw(0, self._text)
        blf.disable(0, blf.SHADOW)


CLASSES = (PASTEPOT_OT_pick,)
