"""What handbooks say of the camera's moves, told of the scene's own camera."""

from __future__ import annotations

import bpy
import numpy as np
from pastepot.errors import Problem
from pastepot.timing.advice import Timing, advice
from pastepot.timing.handmade import Exposed, Role, Rows, Table

from .targets import Target


def pans(
    scene: bpy.types.Scene, found: list[Target], rows: Rows, exposed: Exposed, table: Table, width_mm: float
) -> list[Problem]:
    """Warnings about pans that may strobe, on the exposures as they are made."""
    numbers = [n for n, target in enumerate(found) if target.block == scene.camera]
    if not numbers:
        return []
    sides = [np.flatnonzero((rows.owner == numbers[0]) & (rows.role == role)) for role in (Role.SLIDE_X, Role.SLIDE_Z)]
    if not any(len(side) for side in sides):
        return []
    shows = np.repeat(np.arange(len(exposed.starts)), np.diff(exposed.starts, append=rows.last + 1))
    at = [exposed.values[side[0]] if len(side) else np.zeros(len(exposed.starts)) for side in sides]
    camera_mm = np.column_stack(at)[shows] / table.units_per_mm
    lens = scene.camera.data
    seen_mm = lens.ortho_scale / table.units_per_mm if lens.type == "ORTHO" else width_mm
    return advice(Timing(table.fps, rows.first, camera_mm=camera_mm, starts=exposed.starts, frame_width_mm=seen_mm))
