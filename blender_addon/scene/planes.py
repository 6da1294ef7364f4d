"""Parts as planes: a mesh of the image's size about the pivot, hung from its parent."""

from __future__ import annotations

import bpy
from mathutils import Matrix
from pastepot.staging import Stand

from .. import ids
from .ownership import Ours, same


def mesh(stand: Stand) -> tuple[bpy.types.Mesh, bool]:
    """The part's mesh, made or brought to the image's present size and pivot, unless the animator reshaped it."""
    name = stand.part.name
    found = next((m for m in bpy.data.meshes if m.get(ids.PART) == name and m.library is None), None)
    corners = [(x, 0.0, z) for x, z in stand.corners]
    if found is None:
        return _new_mesh(name, corners), True
    ours = Ours(found)
    ours.settle("corners", corners, [tuple(v.co) for v in found.vertices], lambda wanted: _move(found, wanted))
    ours.save()
    return found, ours.changed


def plane(stand: Stand, shape: bpy.types.Mesh, material: bpy.types.Material) -> bpy.types.Object:
    """A new object for the part, tagged with its name; not yet hung or put in a collection."""
    if not shape.materials:
        shape.materials.append(material)
    made = bpy.data.objects.new(stand.part.name, shape)
    made[ids.PART] = stand.part.name
    made.hide_render = made.hide_viewport = not stand.shown
    return made


def controller(character: str, at: tuple[float, float, float], size: float) -> bpy.types.Object:
    """An empty that moves a whole character."""
    made = bpy.data.objects.new(character, None)
    made[ids.CHARACTER] = character
    made.empty_display_type = "CIRCLE"
    made.empty_display_size = size
    made.location = at
    return made


def hang(obj: bpy.types.Object, parent: bpy.types.Object, offset: tuple[float, float, float]) -> Ours:
    """Pin the part's pivot to its place on the parent; what the animator re-hung stays as they left it."""
    ours = Ours(obj)
    ours.settle("parent", _tag(parent), _tag(obj.parent), lambda _: setattr(obj, "parent", parent))
    if obj.parent == parent:
        # The rest pose lives here, so the object's own location stays the animator's and is zero at rest.
        ours.settle("offset", list(offset), list(obj.matrix_parent_inverse.translation), lambda at: _pin(obj, at))
    ours.save()
    return ours


def _tag(obj: bpy.types.Object | None) -> str:
    if obj is None:
        return ""
    return str(obj.get(ids.PART) or obj.get(ids.CHARACTER) or obj.name)


def _pin(obj: bpy.types.Object, at: tuple[float, float, float]) -> None:
    obj.matrix_parent_inverse = Matrix.Translation(at)


def _new_mesh(name: str, corners: list[tuple[float, float, float]]) -> bpy.types.Mesh:
    made = bpy.data.meshes.new(name)
    made[ids.PART] = name
    made.from_pydata(corners, [], [(0, 1, 2, 3)])
    for loop, uv in zip(made.uv_layers.new(name="Paper").data, ((0, 0), (1, 0), (1, 1), (0, 1)), strict=True):
        loop.uv = uv
    ours = Ours(made)
    ours.remember("corners", corners)
    ours.save()
    return made


def _move(shape: bpy.types.Mesh, corners: list[tuple[float, float, float]]) -> None:
    for vertex, at in zip(shape.vertices, corners, strict=True):
        if not same(vertex.co, at):
            vertex.co = at
    shape.update()
