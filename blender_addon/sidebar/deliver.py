"""Panel: the film file."""

from __future__ import annotations

import bpy

from .. import ids
from .panel import StepPanel


class PASTEPOT_PT_deliver(StepPanel, bpy.types.Panel):
    """The frames and the sound as a film"""

    bl_idname = "PASTEPOT_PT_deliver"
    bl_label = "5  Film"
    bl_order = 5

    def draw(self, context: bpy.types.Context) -> None:
        self.main_button(ids.DELIVER, "Make the Film", "FILE_MOVIE")
        self.progress("deliver")


PANEL = PASTEPOT_PT_deliver
