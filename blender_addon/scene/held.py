"""Which frames of a scene show the same picture, read off its curves without going to a single frame.

Everything that changes a picture is keyed or driven, or refusals.py has found it. So all curves in use, sampled by
Blender itself, and the few things that switch by frame without a curve (cameras bound to markers, drawings) make a
table with a row for each frame: where two rows are the same bit for bit, so are the pictures.
"""

from __future__ import annotations

from collections.abc import Iterable

import bpy
import numpy as np
from pastepot.render.plan import Plan, every_frame, same_pictures

from .. import host
from . import blocks, refusals
from .curves import sample_action

Column = np.ndarray  # (F,) of any four-byte kind: only its bits count


def plan(scene: bpy.types.Scene, first: int, last: int) -> Plan:
    """What is to be rendered of the frames from first to last; the reasons with it where every frame is."""
    seen = blocks.all_of_them()
    reasons = refusals.find(scene, first, seen)
    if reasons:
        return every_frame(first, last, reasons)
    columns = [*_sampled(seen, first, last), *_cameras(scene, first, last), *_drawings(first, last)]
    values = np.empty((last - first + 1, len(columns)), np.uint32)
    for place, column in enumerate(columns):
        values[:, place] = column.view(np.uint32)
    return same_pictures(first, values)


def _sampled(seen: Iterable[bpy.types.ID], first: int, last: int) -> list[Column]:
    """Every curve that animates something in the file."""
    slots: dict[bpy.types.Action, set[int]] = {}
    for block in seen:
        data = blocks.animation(block)
        if data is not None and data.action is not None:
            slots.setdefault(data.action, set()).add(host.slot_handle(data))
    columns: list[Column] = []
    for action, used in slots.items():
        heard = {(h, c.data_path, c.array_index) for h in used for c in host.fcurves(action, h) if not c.mute}
        if heard:
            samples = sample_action(action, first, last)
            columns += [np.asarray(samples[key], np.float32) for key in heard]
    return columns


def _cameras(scene: bpy.types.Scene, first: int, last: int) -> list[Column]:
    """How many markers with a camera have gone by: that and the cameras' own keys decide which one is looking."""
    frames = np.arange(first, last + 1)
    found = []
    for each in blocks.scenes_of(scene):
        bound = sorted(marker.frame for marker in each.timeline_markers if marker.camera is not None)
        if bound:
            found.append(_count(bound, frames))
    return found


def _drawings(first: int, last: int) -> list[Column]:
    """For each grease pencil layer, which of its drawings is up."""
    frames = np.arange(first, last + 1)
    found = []
    for block in bpy.data.objects:
        layers = getattr(block.data, "layers", ()) if block.type in ("GPENCIL", "GREASEPENCIL") else ()
        for layer in layers:
            starts = sorted(drawing.frame_number for drawing in layer.frames)
            if starts:
                found.append(_count(starts, frames))
    return found


def _count(starts: list[int], frames: np.ndarray) -> Column:
    """How many of the starts are at or before each frame."""
    return np.searchsorted(np.asarray(starts), frames, side="right").astype(np.uint32)
