"""The words of the dialogue along the bottom of the timeline and the dope sheet, where they are spoken."""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import bpy
from pastepot.film import Film
from pastepot.track.reading import Reading

from .. import ids
from .handmade import rate

CLASSES: tuple[type, ...] = ()

# Of the strip, of the scroll bar below it, of the letters, of the frames' numbers: pixels of a plain screen.
_HEIGHT, _ABOVE, _TEXT, _RULER = 18, 20, 11, 24
_PAPER, _EDGE, _INK = (0.93, 0.89, 0.80, 0.92), (0.35, 0.25, 0.2, 1.0), (0.15, 0.1, 0.1, 1.0)

Words = list[tuple[float, float, str]]
_handles: list[Any] = []
_parsed: tuple[tuple[str, Fraction] | None, Words] = (None, [])


def keep(scene: bpy.types.Scene, film: Film, read: Sequence[Reading]) -> None:
    """Write the words into the scene, in seconds from the film's first frame, so that another rate moves none."""
    found = [
        (round(at + start, 3), round(at + end, 3), text)
        for r in read
        for at in (float((r.first - film.first_frame) / r.fps),)
        for start, end, text in r.spoken()
    ]
    scene[ids.SPOKEN] = json.dumps([film.first_frame, sorted(found)])


def on_frames(scene: bpy.types.Scene) -> Words:
    """The words that are kept in the scene, with the frames, and parts of frames, on which each begins and ends."""
    global _parsed
    stored = scene.get(ids.SPOKEN, "")
    if not stored:
        return []
    key = stored, rate(scene)
    if _parsed[0] != key:
        first, words = json.loads(stored)
        fps = float(key[1])
        _parsed = (key, [(first + a * fps, first + b * fps, text) for a, b, text in words])
    return _parsed[1]


def draw() -> None:
    """Called by Blender after it has drawn the editor: a slip of paper for each word that is in sight."""
    context = bpy.context
    words = on_frames(context.scene)
    if not words:
        return
    scale = context.preferences.system.ui_scale
    bottom, top = _ABOVE * scale, (_ABOVE + _HEIGHT) * scale
    region = context.region
    if region.height < top + _RULER * scale:
        return  # it would cover the frames' numbers
    for start, end, text in words:
        left, right = (region.view2d.view_to_region(frame, 0, clip=False)[0] for frame in (start, end))
        if right > 0 and left < region.width and right - left > 1:
            _slip(left, right, bottom, top, text, scale)


def _slip(left: float, right: float, bottom: float, top: float, text: str, scale: float) -> None:
    """A slip of paper with as much of the word on it as has room."""
    import blf
    import gpu
    from gpu_extras.batch import batch_for_shader

    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    gpu.state.blend_set("ALPHA")
    for colour, x0, x1 in ((_EDGE, left, right), (_PAPER, left + 1, right)):
        corners = ((x0, bottom), (x1, bottom), (x1, top), (x0, top))
        shader.uniform_float("color", colour)
        batch_for_shader(shader, "TRIS", {"pos": corners}, indices=((0, 1, 2), (0, 2, 3))).draw(shader)
    gpu.state.blend_set("NONE")
    blf.size(0, _TEXT * scale)
    blf.color(0, *_INK)
    blf.enable(0, blf.CLIPPING)
    blf.clipping(0, left + 2, bottom, right - 1, top)
    blf.position(0, left + 3 * scale, bottom + 5 * scale, 0)
    blf.draw(0, text)
    blf.disable(0, blf.CLIPPING)


def register() -> None:
    """Have the words drawn."""
    _handles.append(bpy.types.SpaceDopeSheetEditor.draw_handler_add(draw, (), "WINDOW", "POST_PIXEL"))


def unregister() -> None:
    """Undo register()."""
    while _handles:
        bpy.types.SpaceDopeSheetEditor.draw_handler_remove(_handles.pop(), "WINDOW")
