"""Every difference between the Blender versions we run in (4.2 to 5.x), and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy

# 4.4 gave actions layers and slots; before, an action is one flat list of curves. hasattr() on the type sees no RNA.
FLAT_ACTIONS = "layers" not in bpy.types.Action.bl_rna.properties

EEVEE = "BLENDER_EEVEE" if bpy.app.version >= (5, 0, 0) else "BLENDER_EEVEE_NEXT"

# The package of 4.2 comes without sound.
HAS_SOUND = bool(bpy.app.build_options.audaspace)

# From 4.5 on a path setting has to say that it takes // for the folder of the .blend.
RELATIVE_PATH = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set()

_KEY = bpy.types.Keyframe.bl_rna.properties
INTERPOLATION = {item.identifier: item.value for item in _KEY["interpolation"].enum_items}
EASING = {item.identifier: item.value for item in _KEY["easing"].enum_items}
KEY_TYPE = {item.identifier: item.value for item in _KEY["type"].enum_items}


# ── actions ────────────────────────────────────────────────────────────────────────────────────────────────────────


def slots(action: bpy.types.Action) -> list[tuple[int, str]]:
    """The action's slots as (handle, identifier); a flat action has one, (0, '')."""
    if FLAT_ACTIONS:
        return [(0, "")]
    return [(slot.handle, slot.identifier) for slot in action.slots]


def fcurves(action: bpy.types.Action, slot_handle: int | None = None) -> Iterator[bpy.types.FCurve]:
    """All curves of the action, or of one of its slots."""
    if FLAT_ACTIONS:
        yield from action.fcurves
        return
    for layer in action.layers:
        for strip in layer.strips:
            for bag in strip.channelbags:
                if slot_handle is None or bag.slot_handle == slot_handle:
                    yield from bag.fcurves


def slot_handle(data: Any) -> int:
    """The handle of the slot that animates this datablock; 0 in a flat action or where there is none."""
    return 0 if FLAT_ACTIONS else data.action_slot_handle


def slot_identifier(data: Any) -> str:
    """The identifier of the slot in use, '' where there is none. `data` is an AnimData."""
    return "" if FLAT_ACTIONS or data.action_slot is None else data.action_slot.identifier


def assign(block: bpy.types.ID, action: bpy.types.Action, slot: str = "") -> None:
    """Let the action animate the datablock, through the slot of that identifier (else one that fits)."""
    data = block.animation_data or block.animation_data_create()
    data.action = action
    if FLAT_ACTIONS:
        return
    wanted = next((s for s in action.slots if s.identifier == slot), None)
    if wanted is None and data.action_slot is None:
        wanted = next(iter(data.action_suitable_slots), None)
    if wanted is not None:
        data.action_slot = wanted


def copy_action(action: bpy.types.Action, slot: str, name: str) -> bpy.types.Action:
    """A copy of the action that keeps only the slot of that identifier."""
    copy = action.copy()
    copy.name = name
    if not FLAT_ACTIONS:
        for other in [s for s in copy.slots if s.identifier != slot]:
            copy.slots.remove(other)
    return copy


def ensure_fcurve(block: bpy.types.ID, path: str, index: int = 0, group: str = "") -> bpy.types.FCurve:
    """The curve that animates block.path[index] in the datablock's current action; makes what is missing."""
    channels = _channels(block)
    curve = channels.fcurves.find(path, index=index)
    if curve is None:
        curve = channels.fcurves.new(path, index=index)
        if group:
            curve.group = channels.groups.get(group) or channels.groups.new(group)
    return curve


def remove_fcurve(block: bpy.types.ID, path: str, index: int = 0) -> None:
    """Take the curve of block.path[index] out of the datablock's current action, if it is there."""
    channels = _channels(block)
    curve = channels.fcurves.find(path, index=index)
    if curve is not None:
        channels.fcurves.remove(curve)


def _channels(block: bpy.types.ID) -> Any:
    """What holds .fcurves and .groups for this datablock: the flat action, or its slot's channel bag."""
    data = block.animation_data or block.animation_data_create()
    if data.action is None:
        data.action = bpy.data.actions.new(f"{block.name}Action")
    action = data.action
    if FLAT_ACTIONS:
        return action
    if data.action_slot is None:
        data.action_slot = next(iter(data.action_suitable_slots), None) or action.slots.new(block.id_type, block.name)
    for layer in action.layers:
        for strip in layer.strips:
            if (bag := strip.channelbag(data.action_slot)) is not None:
                return bag
    layer = action.layers[0] if len(action.layers) else action.layers.new("Layer")
    strip = layer.strips[0] if len(layer.strips) else layer.strips.new(type="KEYFRAME")
    return strip.channelbag(data.action_slot, ensure=True)


# ── sequencer, compositor ──────────────────────────────────────────────────────────────────────────────────────────


def strips(editor: bpy.types.SequenceEditor) -> Any:
    """The sequencer's collection of strips (4.2: .sequences)."""
    return editor.strips if "strips" in editor.bl_rna.properties else editor.sequences


def strip_begins(strip: bpy.types.Strip) -> float:
    """The frame on which the strip's content begins, whatever is cut off (before 5.2: .frame_start)."""
    return strip.content_start if "content_start" in strip.bl_rna.properties else strip.frame_start


def move_strip(strip: bpy.types.Strip, begin: float) -> None:
    """Let the strip's content begin on another frame."""
    setattr(strip, "content_start" if "content_start" in strip.bl_rna.properties else "frame_start", begin)


def strip_frames(strip: bpy.types.Strip) -> tuple[int, int]:
    """The first and the last frame on which the strip is heard or seen (before 5.2: .frame_final_…)."""
    if "left_handle" in strip.bl_rna.properties:
        return strip.left_handle, strip.right_handle - 1
    return strip.frame_final_start, strip.frame_final_end - 1


def compositor(scene: bpy.types.Scene) -> bpy.types.NodeTree | None:
    """The scene's compositing nodes, None where there are none."""
    if "compositing_node_group" in scene.bl_rna.properties:
        return scene.compositing_node_group
    return scene.node_tree if scene.use_nodes else None


def use_png(settings: bpy.types.ImageFormatSettings) -> None:
    """Set image output to PNG (5.0 first wants to know that it is an image, not a film)."""
    if "media_type" in settings.bl_rna.properties:
        settings.media_type = "IMAGE"
    settings.file_format = "PNG"


def image_format(settings: bpy.types.ImageFormatSettings) -> dict[str, Any]:
    """What image output is set to, in an order in which it can be set again."""
    names = ("media_type", "file_format", "color_mode", "color_depth", "compression")
    return {name: getattr(settings, name) for name in names if name in settings.bl_rna.properties}


def use_nodes(block: Any) -> None:
    """Give a material or world its node tree (from 5.0 on it always has one)."""
    if block.node_tree is None:
        block.use_nodes = True
