"""Panel: every picture once."""

from __future__ import annotations

import bpy

from .. import ids
from .panel import StepPanel


class PASTEPOT_PT_render(StepPanel, bpy.types.Panel):
    """The frames, each picture rendered once"""

    bl_idname = "PASTEPOT_PT_render"
    bl_label = "4  Frames"
    bl_order = 4

    def draw(self, context: bpy.types.Context) -> None:
        settings = context.scene.pastepot_render
        self.main_button(ids.RENDER, "Render the Frames", "RENDER_ANIMATION")
        self.progress("render")
        column = self.layout.column()
        column.prop(settings, "folder", text="Into")
        column.prop(settings, "every_frame")


PANEL = PASTEPOT_PT_render
