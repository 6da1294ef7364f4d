"""Paper in Blender: a part's image and its material."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import bpy
import numpy as np
from pastepot.bleed import bled, needs_bleed

from .. import host, ids

GROUP = "Pastepot paper"
IMAGE_NODE = "Paper"
LAMP_NODE = "Lamp"


def image(
    part: str, source: Path, digest: str, working_copies: Path
) -> tuple[bpy.types.Image, bool, Callable[[], np.ndarray]]:
    """The image of a part, loaded or brought up to date, whether anything changed, and what gives its alpha.

    digest: of the source file; an image whose digest is unchanged is not touched. Where a foreign PNG hides another
    colour under its transparent edge, a working copy with the paper's colour there is made and shown instead.
    """
    found = next((i for i in bpy.data.images if i.get(ids.PART) == part and i.library is None), None)
    if found is not None and found.get(ids.BUILT) == digest:
        return found, False, lambda: alpha(pixels(found))
    loaded = bpy.data.images.load(str(source))
    read = pixels(loaded)
    path = source
    if needs_bleed(read):
        path = _write_copy(bled(read), working_copies / f"{part}.png")
    if found is None:
        found = loaded if path == source else bpy.data.images.load(str(path))
        found.name = part
        found[ids.PART] = part
    else:
        found.filepath = str(path)
        found.reload()
    if found is not loaded:
        bpy.data.images.remove(loaded)
    found.filepath = _relative(path)
    found.alpha_mode = "STRAIGHT"
    found[ids.BUILT] = digest
    return found, True, lambda: alpha(read)


def material(part: str, picture: bpy.types.Image) -> tuple[bpy.types.Material, bool]:
    """The part's material. One that exists is the animator's to edit: only its image node follows the part."""
    found = next((m for m in bpy.data.materials if m.get(ids.PART) == part and m.library is None), None)
    if found is None:
        return _new_material(part, picture), True
    node = found.node_tree.nodes.get(IMAGE_NODE) if found.node_tree else None
    if node is None or node.bl_idname != "ShaderNodeTexImage" or node.image == picture:
        return found, False
    node.image = picture
    return found, True


def light_share(share: float | None = None) -> float:
    """How much of the light on the paper comes from the lamp (0: the flat look); sets it when given."""
    socket = _group().nodes[LAMP_NODE].outputs[0]
    if share is not None and abs(socket.default_value - share) > 1e-6:
        socket.default_value = share
    return socket.default_value


def alpha(pixels: np.ndarray) -> np.ndarray:
    """(H, W) alpha 0..1 of (H, W, 4) pixels as Blender has them, bottom row first; top row first."""
    return np.ascontiguousarray(pixels[::-1, :, 3])


def pixels(picture: bpy.types.Image) -> np.ndarray:
    """(H, W, 4) encoded values 0..1, straight alpha, bottom row first."""
    width, height = picture.size
    found = np.empty(width * height * 4, np.float32)
    picture.pixels.foreach_get(found)
    return found.reshape(height, width, 4)


def _write_copy(pixels: np.ndarray, path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    height, width = pixels.shape[:2]
    copy = bpy.data.images.new("pastepot working copy", width, height, alpha=True)
    copy.alpha_mode = "STRAIGHT"
    copy.pixels.foreach_set(pixels.ravel())
    copy.file_format = "PNG"
    unfinished = path.with_suffix(".tmp.png")
    copy.save(filepath=str(unfinished))
    unfinished.replace(path)
    bpy.data.images.remove(copy)
    return path


def _relative(path: Path) -> str:
    """Relative to the .blend once it has a place, so that a film folder can be moved as a whole."""
    return bpy.path.relpath(str(path)).replace("\\", "/") if bpy.data.filepath else str(path)


def _new_material(part: str, picture: bpy.types.Image) -> bpy.types.Material:
    made = bpy.data.materials.new(part)
    made[ids.PART] = part
    host.use_nodes(made)
    made.surface_render_method = "BLENDED"
    made.cycles.emission_sampling = "NONE"  # paper shows its colour, it does not light its neighbours
    nodes, links = made.node_tree.nodes, made.node_tree.links
    nodes.clear()
    texture = nodes.new("ShaderNodeTexImage")
    texture.name = texture.label = IMAGE_NODE
    texture.image, texture.extension = picture, "EXTEND"
    texture.location = (-500, 0)
    paper = nodes.new("ShaderNodeGroup")
    paper.node_tree = _group()
    paper.location = (-180, 0)
    output = nodes.new("ShaderNodeOutputMaterial")
    links.new(texture.outputs["Color"], paper.inputs["Color"])
    links.new(texture.outputs["Alpha"], paper.inputs["Alpha"])
    links.new(paper.outputs["Shader"], output.inputs["Surface"])
    return made


def _group() -> bpy.types.NodeTree:
    """One node group for all paper, so that one value switches the whole film between the flat and the lit look."""
    found = bpy.data.node_groups.get(GROUP)
    if found is not None:
        return found
    tree = bpy.data.node_groups.new(GROUP, "ShaderNodeTree")
    tree.interface.new_socket("Color", in_out="INPUT", socket_type="NodeSocketColor")
    tree.interface.new_socket("Alpha", in_out="INPUT", socket_type="NodeSocketFloat")
    tree.interface.new_socket("Shader", in_out="OUTPUT", socket_type="NodeSocketShader")
    nodes, links = tree.nodes, tree.links

    def new(kind: str, x: int, y: int) -> bpy.types.Node:
        node = nodes.new(kind)
        node.location = (x, y)
        return node

    given, result = new("NodeGroupInput", -600, 0), new("NodeGroupOutput", 500, 0)
    lamp = new("ShaderNodeValue", -600, 200)
    lamp.name = lamp.label = LAMP_NODE
    lamp.outputs[0].default_value = 0.0
    own, lit = new("ShaderNodeEmission", -300, 0), new("ShaderNodeBsdfDiffuse", -300, -150)
    clear = new("ShaderNodeBsdfTransparent", 0, 150)
    surface, cut = new("ShaderNodeMixShader", 0, 0), new("ShaderNodeMixShader", 250, 0)
    for shader in (own, lit):
        links.new(given.outputs["Color"], shader.inputs["Color"])
    for node, factor, first, second in (
        (surface, lamp.outputs[0], own.outputs[0], lit.outputs[0]),
        (cut, given.outputs["Alpha"], clear.outputs[0], surface.outputs[0]),
    ):
        for socket, source in zip(node.inputs, (factor, first, second), strict=True):
            links.new(source, socket)
    links.new(cut.outputs[0], result.inputs["Shader"])
    return tree
