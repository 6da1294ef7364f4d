"""What all our panels share: their place, one main button, and how far a running step is."""

from __future__ import annotations

import bpy

from .. import ids
from ..steps.background import watch


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

    def progress(self, job: str) -> None:
        """A bar and a button to stop, while this job is running."""
        if watch.running is not None and watch.job == job:
            row = self.layout.row(align=True)
            row.progress(factor=watch.share(), text=watch.text())
            row.operator(ids.STOP, text="", icon="X")
