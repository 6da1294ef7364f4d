"""Walking the opened file: every datablock that may have to do with a picture, and what animates it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy

from .. import host

# Collections of the file that never reach a picture, or are reached through what uses them.
_NEVER_SEEN = frozenset(
    {
        "actions", "all_ids", "annotations", "brushes", "libraries", "paint_curves", "palettes", "screens", "sounds",
        "speakers", "texts", "window_managers", "workspaces",
    }
)  # fmt: skip


def all_of_them() -> dict[bpy.types.ID, str]:
    """Every datablock in use in the file with the name a person knows it by, linked ones and node trees included.

    More than one scene can need: taking too many costs a picture rendered twice, taking too few a wrong film.
    """
    found: dict[bpy.types.ID, str] = {}
    for prop in bpy.data.bl_rna.properties:
        if prop.type != "COLLECTION" or prop.identifier in _NEVER_SEEN:
            continue
        for block in getattr(bpy.data, prop.identifier):
            if isinstance(block, bpy.types.ID) and _used(block):
                for each in (block, *_embedded(block)):
                    found.setdefault(each, block.name_full)
    return found


def _used(block: bpy.types.ID) -> bool:
    return isinstance(block, bpy.types.Scene) or block.users > int(block.use_fake_user)


def _embedded(block: bpy.types.ID) -> Iterator[bpy.types.ID]:
    """Datablocks that live inside this one."""
    if isinstance(block, bpy.types.Scene):
        yield block.collection
        tree = host.compositor(block)
    else:
        tree = getattr(block, "node_tree", None)
    if tree is not None:
        yield tree


def animation(block: bpy.types.ID) -> bpy.types.AnimData | None:
    """What animates the datablock, None where nothing does or can."""
    return getattr(block, "animation_data", None)


def animated_paths(block: bpy.types.ID) -> set[str]:
    """The paths of everything keyed or driven on this datablock."""
    data = animation(block)
    if data is None:
        return set()
    paths = {curve.data_path for curve in data.drivers if not curve.mute}
    if data.action is not None:
        paths |= {c.data_path for c in host.fcurves(data.action, host.slot_handle(data)) if not c.mute}
    return paths


def scenes_of(scene: bpy.types.Scene) -> list[bpy.types.Scene]:
    """The scene and every other that is seen in it: its set, and what its compositor takes in."""
    found: dict[str, bpy.types.Scene] = {}
    todo = [scene]
    while todo:
        each = todo.pop()
        if each.name_full in found:
            continue
        found[each.name_full] = each
        if each.background_set is not None:
            todo.append(each.background_set)
        tree = host.compositor(each)
        todo += [node.scene for node in (tree.nodes if tree else ()) if _takes_in_scene(node)]
    return list(found.values())


def _takes_in_scene(node: Any) -> bool:
    return node.bl_idname == "CompositorNodeRLayers" and node.scene is not None
