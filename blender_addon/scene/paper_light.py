"""Nodes in the paper's group through which its light flickers and its surface boils; there only while they do."""

from __future__ import annotations

import bpy

from . import paper

# How much lighter or darker than the paper itself its grain is at most, and how many grains lie on a millimetre: what
# reads as rough drawing paper under a lamp. A wish, not a measurement.
GRAIN_SHARE = 0.04
GRAINS_PER_MM = 1.5

_OURS = "Pastepot "  # how the names of all our nodes begin


def follow(empty: bpy.types.Object, light: str, surface: tuple[str, ...], mm_per_unit: float) -> bool:
    """Let the paper follow values of the empty; False where it should and the file has no paper of ours.

    light: the path of its stops, '' for steady light; surface: those of its shift right and up in mm, () for none
    """
    if not light and not surface:
        return True
    tree = bpy.data.node_groups.get(paper.GROUP)
    given = next((n for n in tree.nodes if n.bl_idname == "NodeGroupInput"), None) if tree else None
    if tree is None or tree.library is not None or given is None:
        return False
    leave(empty)
    uses = [link.to_socket for link in tree.links if link.from_socket == given.outputs["Color"]]
    factor = None
    if light:
        factor = _gain(tree, empty, light)
    if surface:
        grain = _grain(tree, empty, surface, mm_per_unit)
        factor = _math(tree, "both", "MULTIPLY", factor, grain) if factor else grain
    scaled = _node(tree, "ShaderNodeVectorMath", "colour")
    scaled.operation = "SCALE"
    tree.links.new(given.outputs["Color"], scaled.inputs[0])
    tree.links.new(factor, scaled.inputs["Scale"])
    for use in uses:
        tree.links.new(scaled.outputs[0], use)
    return True


def leave(empty: bpy.types.Object) -> None:
    """Take our nodes and drivers out again, if they follow this empty: the group is then what it was."""
    tree = bpy.data.node_groups.get(paper.GROUP)
    if tree is None or tree.library is not None:
        return
    scaled = tree.nodes.get(_OURS + "colour")
    if scaled is None:
        return
    source = scaled.inputs[0].links[0].from_socket if scaled.inputs[0].is_linked else None
    for use in [link.to_socket for link in scaled.outputs[0].links]:
        if source is not None:
            tree.links.new(source, use)
    for node in [n for n in tree.nodes if n.name.startswith(_OURS)]:
        for curve in [d for d in tree.animation_data.drivers if f'"{node.name}"' in d.data_path]:
            tree.animation_data.drivers.remove(curve)
        tree.nodes.remove(node)


def _gain(tree: bpy.types.NodeTree, empty: bpy.types.Object, path: str) -> bpy.types.NodeSocket:
    """2 ** stops, which multiplies linear light."""
    power = _node(tree, "ShaderNodeMath", "gain")
    power.operation = "POWER"
    power.inputs[0].default_value = 2.0
    tree.links.new(_driven(tree, "light", empty, path), power.inputs[1])
    return power.outputs[0]


def _grain(
    tree: bpy.types.NodeTree, empty: bpy.types.Object, paths: tuple[str, ...], mm_per_unit: float
) -> bpy.types.NodeSocket:
    """A number around 1 for each point of the paper, from a fine noise that lies on the piece and is shifted on it."""
    where = _node(tree, "ShaderNodeTexCoord", "place")
    in_mm = _node(tree, "ShaderNodeVectorMath", "millimetres")
    in_mm.operation = "SCALE"
    in_mm.inputs["Scale"].default_value = mm_per_unit
    shift = _node(tree, "ShaderNodeCombineXYZ", "shift")
    moved = _node(tree, "ShaderNodeVectorMath", "surface")
    moved.operation = "SUBTRACT"
    noise = _node(tree, "ShaderNodeTexNoise", "grain")
    noise.inputs["Scale"].default_value = GRAINS_PER_MM
    noise.inputs["Detail"].default_value = 1.0
    tree.links.new(where.outputs["Object"], in_mm.inputs[0])
    tree.links.new(_driven(tree, "right", empty, paths[0]), shift.inputs[0])
    tree.links.new(_driven(tree, "up", empty, paths[1]), shift.inputs[2])
    tree.links.new(in_mm.outputs[0], moved.inputs[0])
    tree.links.new(shift.outputs[0], moved.inputs[1])
    tree.links.new(moved.outputs[0], noise.inputs["Vector"])
    ranged = _node(tree, "ShaderNodeMapRange", "share")
    ranged.inputs["To Min"].default_value = 1 - GRAIN_SHARE
    ranged.inputs["To Max"].default_value = 1 + GRAIN_SHARE
    tree.links.new(noise.outputs[0], ranged.inputs["Value"])
    return ranged.outputs[0]


def _math(
    tree: bpy.types.NodeTree, name: str, operation: str, a: bpy.types.NodeSocket, b: bpy.types.NodeSocket
) -> bpy.types.NodeSocket:
    node = _node(tree, "ShaderNodeMath", name)
    node.operation = operation
    tree.links.new(a, node.inputs[0])
    tree.links.new(b, node.inputs[1])
    return node.outputs[0]


def _driven(tree: bpy.types.NodeTree, name: str, empty: bpy.types.Object, path: str) -> bpy.types.NodeSocket:
    """A value that is always the empty's: a driver without Python, which runs in every Blender."""
    node = _node(tree, "ShaderNodeValue", name)
    driver = node.outputs[0].driver_add("default_value").driver
    driver.type = "AVERAGE"
    target = driver.variables.new().targets[0]
    target.id, target.data_path = empty, path
    return node.outputs[0]


def _node(tree: bpy.types.NodeTree, kind: str, name: str) -> bpy.types.Node:
    node = tree.nodes.new(kind)
    node.name = node.label = _OURS + name
    node.location = (-1400 + 160 * (len(tree.nodes) % 6), -300 - 160 * (len(tree.nodes) // 6))
    return node
