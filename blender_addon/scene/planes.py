"""Parts as planes: a mesh of the paper's outline about the pivot, hung from its parent."""

from __future__ import annotations

from collections.abc import Callable

import bpy
import numpy as np
from mathutils import Matrix
from pastepot.staging import Stand

from .. import ids
from .outlines import Paper, shape_digest
from .ownership import Ours, same

_UV = "Paper"


def mesh(stand: Stand, digest: str, paper: Callable[[], Paper]) -> tuple[bpy.types.Mesh, bool, bool]:
    """The part's mesh, made or brought to the image's present outline and pivot; whether it was; whether it was kept.

    A mesh that the animator reshaped is kept as it is. digest: of the image file; paper: gives the image's outline,
    asked for only if the mesh has to change.
    """
    name = stand.part.name
    wanted = [digest, *(value for corner in stand.corners for value in corner)]
    found = next((m for m in bpy.data.meshes if m.get(ids.PART) == name and m.library is None), None)
    if found is None:
        found = bpy.data.meshes.new(name)
        found[ids.PART] = name
    elif "cut_from" in (ours := Ours(found)) and same(ours["cut_from"], wanted):
        return found, False, False
    elif not _is_ours(found, ours):
        return found, False, True
    ours = Ours(found)
    ours.remember("cut_from", wanted)
    ours.remember("cut", _cut(found, stand, paper()))
    ours.forget("corners")
    ours.save()
    return found, True, False


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


def _is_ours(shape: bpy.types.Mesh, ours: Ours) -> bool:
    """Whether the mesh is still as we made it, and carries nothing that would be lost with its points."""
    if shape.shape_keys is not None or any(vertex.groups for vertex in shape.vertices):
        return False
    if "cut" in ours:
        return ours["cut"] == shape_digest(*_content(shape))
    # made before parts had outlines: the image's rectangle
    return "corners" in ours and same(ours["corners"], [tuple(v.co) for v in shape.vertices])


def _content(shape: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    points = np.empty(3 * len(shape.vertices), np.float32)
    corners = np.empty(len(shape.loops), np.int32)
    shape.vertices.foreach_get("co", points)
    shape.loops.foreach_get("vertex_index", corners)
    return points, corners


def _cut(shape: bpy.types.Mesh, stand: Stand, paper: Paper) -> str:
    """Give the mesh the paper's outline, in place; returns the digest of what it now holds."""
    height, width = paper.opaque.shape
    (left, bottom), (right, _), (_, top) = stand.corners[:3]
    share = paper.points / (width, height)
    points = np.zeros((len(share), 3), np.float32)
    points[:, 0] = left + share[:, 0] * (right - left)
    points[:, 2] = top + share[:, 1] * (bottom - top)
    corners = paper.triangles.ravel()
    if not np.array_equal(_content(shape)[1], corners):
        shape.clear_geometry()
        shape.from_pydata(points.tolist(), [], paper.triangles.tolist())
    shape.vertices.foreach_set("co", points.ravel())
    layer = shape.uv_layers.get(_UV) or shape.uv_layers.new(name=_UV)
    uv = np.column_stack([share[:, 0], 1.0 - share[:, 1]])[corners]
    layer.data.foreach_set("uv", uv.astype(np.float32).ravel())
    shape.update()
    return shape_digest(*_content(shape))
