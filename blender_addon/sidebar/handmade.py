"""Panel: from smooth keys to exposures, and back."""

from __future__ import annotations

import bpy

from .. import ids
from ..steps import show_path
from .panel import StepPanel


class PASTEPOT_PT_handmade(StepPanel, bpy.types.Panel):
    """From smooth keys to exposures, and back"""

    bl_idname = "PASTEPOT_PT_handmade"
    bl_label = "2  Timing"
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        self.main_button(ids.HANDMADE, "Make It Handmade", "KEYFRAME_HLT")
        row, timing = self.layout.row(align=True), context.scene.get(ids.TIMING)
        row.operator(ids.SMOOTH, text="Smooth", icon="IPO_BEZIER", depress=timing == "smooth")
        row.operator(ids.USE_HANDMADE, text="Handmade", icon="IPO_CONSTANT", depress=timing == "handmade")
        self.layout.operator(ids.SHOW_PATH, icon="ONIONSKIN_ON", depress=show_path.is_on())
        row = self.layout.row()
        render = context.scene.render
        row.label(text=f"{render.fps / render.fps_base:.5g} frames a second")
        row.operator(ids.RETIME, text="Change…")


PANEL = PASTEPOT_PT_handmade
