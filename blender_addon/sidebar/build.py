"""Panel: the film folder, and the cast from it."""

from __future__ import annotations

import bpy

from .. import ids
from .panel import StepPanel


class PASTEPOT_PT_build(StepPanel, bpy.types.Panel):
    """The film folder, and the cast from it"""

    bl_idname = "PASTEPOT_PT_build"
    bl_label = "1  Cast"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        folder = context.scene.get(ids.FILM, "")
        self.layout.operator(ids.CHOOSE, text=folder or "Choose Film Folder", icon="FILE_FOLDER")
        self.main_button(ids.BUILD, "Build the Cast", "OUTLINER_COLLECTION")


PANEL = PASTEPOT_PT_build
