"""Where a piece goes from exposure to exposure, read off its keys and its parents'; no frame is visited."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Euler, Matrix, Quaternion, Vector

from .. import host
from .curves import frames_and

AROUND = 8
"""Exposures before and after the present one that are shown: enough for the passage one works on, cheap on any film."""

_Curves = dict[tuple[str, int], bpy.types.FCurve]


@dataclass(frozen=True)
class Marks:
    """One piece around the present frame, in the scene's space.

    points:  (E, 3) its far end, the corner of its paper farthest from the pivot, at each exposure
    extreme: (E,) exposures on which the animator keyed it
    now:     the one on show
    before, after: (L, 2, 3) lines of its outline at the exposure before and after; (0, 2, 3) where there is none
    """

    points: np.ndarray
    extreme: np.ndarray
    now: int
    before: np.ndarray
    after: np.ndarray


def marks(obj: bpy.types.Object, frame: int, first: int, last: int) -> Marks | None:
    """The piece around `frame`; None where it never moves. Constraints and delta transforms are not followed."""
    chain = list(_chain(obj))
    curves = [_curves(each) for each in chain]
    starts = _starts(curves, first, last)
    if len(starts) < 2:
        return None
    now = max(int(np.searchsorted(starts, frame, side="right")) - 1, 0)
    begin = max(now - AROUND, 0)
    shown = starts[begin : now + AROUND + 1]
    now -= begin
    places = [_world(chain, curves, int(at)) for at in shown]
    far = _far_end(obj)
    points = np.array([place @ far for place in places])
    if np.ptp(points, axis=0).max() < 1e-7:
        return None
    keyed = _extremes(curves[0])
    outline = _outline(obj)
    return Marks(
        points,
        np.isin(shown, keyed),
        now,
        _moved(outline, places[now - 1]) if now > 0 else outline[:0],
        _moved(outline, places[now + 1]) if now + 1 < len(places) else outline[:0],
    )


def _chain(obj: bpy.types.Object | None) -> Iterator[bpy.types.Object]:
    while obj is not None:
        yield obj
        obj = obj.parent


def _curves(obj: bpy.types.Object) -> _Curves:
    data = obj.animation_data
    if data is None or data.action is None:
        return {}
    paths = ("location", "rotation_euler", "rotation_quaternion", "scale")
    found = host.fcurves(data.action, host.slot_handle(data))
    return {(c.data_path, c.array_index): c for c in found if c.data_path in paths and not c.mute}


def _starts(curves: list[_Curves], first: int, last: int) -> np.ndarray:
    """Where anything in the chain is set anew: its held keys, or each frame where keys are not held."""
    times = [np.array([first])]
    for curve in (c for some in curves for c in some.values()):
        frames, kinds = frames_and(curve, "interpolation")
        if len(frames) > 1 and (kinds != host.INTERPOLATION["CONSTANT"]).any():
            return np.arange(first, last + 1)
        times.append(np.ceil(frames).astype(int))
    starts = np.unique(np.concatenate(times))
    return starts[(starts >= first) & (starts <= last)]


def _extremes(curves: _Curves) -> np.ndarray:
    """Frames with a key that is marked as an extreme; of smooth curves all keys are the animator's."""
    found = [np.empty(0)]
    for curve in curves.values():
        frames, kinds = frames_and(curve, "type")
        found.append(frames[kinds != host.KEY_TYPE["JITTER"]])
    return np.concatenate(found)


def _world(chain: list[bpy.types.Object], curves: list[_Curves], frame: int) -> Matrix:
    out = Matrix.Identity(4)
    for obj, own in zip(chain, curves, strict=True):
        out = obj.matrix_parent_inverse @ _local(obj, own, frame) @ out
    return out


def _local(obj: bpy.types.Object, curves: _Curves, frame: int) -> Matrix:
    def at(path: str) -> list[float]:
        return [curves[path, n].evaluate(frame) if (path, n) in curves else v for n, v in enumerate(getattr(obj, path))]

    if obj.rotation_mode == "QUATERNION":
        turn = Quaternion(at("rotation_quaternion")).normalized()
    elif obj.rotation_mode == "AXIS_ANGLE":
        turn = obj.matrix_basis.to_quaternion()
    else:
        turn = Euler(at("rotation_euler"), obj.rotation_mode)
    return Matrix.LocRotScale(Vector(at("location")), turn, Vector(at("scale")))


def _far_end(obj: bpy.types.Object) -> Vector:
    if obj.type != "MESH":
        return Vector()
    return max((Vector(corner) for corner in obj.bound_box), key=lambda corner: corner.length)


def _outline(obj: bpy.types.Object) -> np.ndarray:
    """(L, 2, 3) the edges of its paper, in its own space."""
    if obj.type != "MESH" or not len(obj.data.edges):
        return np.empty((0, 2, 3), np.float32)
    points, ends = np.empty(3 * len(obj.data.vertices), np.float32), np.empty(2 * len(obj.data.edges), np.int32)
    obj.data.vertices.foreach_get("co", points)
    obj.data.edges.foreach_get("vertices", ends)
    return points.reshape(-1, 3)[ends.reshape(-1, 2)]


def _moved(lines: np.ndarray, place: Matrix) -> np.ndarray:
    by = np.array(place)
    return lines @ by[:3, :3].T + by[:3, 3]
