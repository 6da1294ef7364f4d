"""Panel: the mouths of the dialogue."""

from __future__ import annotations

import bpy

from .. import ids
from .panel import StepPanel


class PASTEPOT_PT_read(StepPanel, bpy.types.Panel):
    """The mouths of the dialogue, exposure by exposure"""

    bl_idname = "PASTEPOT_PT_read"
    bl_label = "3  Mouths"
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        self.main_button(ids.LAY_MOUTHS, "Lay the Mouths", "OUTLINER_OB_SPEAKER")
        self.layout.operator(ids.CHANGE_MOUTH, text="Change This Exposure…", icon="IMAGE_DATA")


PANEL = PASTEPOT_PT_read
