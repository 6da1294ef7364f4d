"""Panel: the film folder, and the cast from it."""

from __future__ import annotations

import bpy

from .. import ids
from ..steps.build import folder_name
from .panel import StepPanel


class PASTEPOT_PT_build(StepPanel, bpy.types.Panel):
    """The film folder, and the cast from it"""

    bl_idname = "PASTEPOT_PT_build"
    bl_label = "1  Cast"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        text = folder_name(context.scene) or "Choose Film Folder"
        self.layout.operator(ids.CHOOSE, text=text, icon="FILE_FOLDER")
        self.main_button(ids.BUILD, "Build the Cast", "OUTLINER_COLLECTION")
        self.layout.operator(ids.PICK, icon="RESTRICT_SELECT_OFF")


PANEL = PASTEPOT_PT_build
