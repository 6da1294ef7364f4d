"""What all our panels share: their place, and one main button."""

from __future__ import annotations

import bpy


class StepPanel:
    """A panel in the 3D view's sidebar."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Pastepot"

    def main_button(self, operator: str, text: str, icon: str) -> bpy.types.OperatorProperties:
        """The step's one obvious button."""
        row = self.layout.row()
        row.scale_y = 1.4
        return row.operator(operator, text=text, icon=icon)
