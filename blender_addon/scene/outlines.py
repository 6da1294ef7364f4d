"""What of a part's image is paper: a triangulated outline for its mesh and a mask for picking, kept by content."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from mathutils.geometry import delaunay_2d_cdt
from pastepot.errors import PastepotError
from pastepot.library.outline import Outline, outline, rectangle
from pastepot.output import replacing

# Part of each kept file's name: raise it when the way of tracing changes.
_VERSION = 1
_OPAQUE = 0.5
_EPSILON_PX = 1e-3


@dataclass(frozen=True)
class Paper:
    """points: (N, 2) pixels, y down; triangles: (M, 3), anticlockwise as seen; opaque: (H, W), top row first."""

    points: np.ndarray
    triangles: np.ndarray
    opaque: np.ndarray


def folder(film_folder: Path) -> Path:
    """Where a film's outlines are kept."""
    return film_folder / "scenes" / "outlines"


def paper(digest: str, folder: Path, alpha: Callable[[], np.ndarray]) -> Paper:
    """The paper of the image file with that digest, from `folder` where it was kept, else worked out and kept there.

    alpha: gives the image's (H, W) alpha, 0..1, top row first; called only if nothing was kept.
    """
    path = folder / f"{digest[:32]}-{_VERSION}.npz"
    found = _kept(path)
    if found is None:
        found = _traced(alpha())
        _keep(path, found)
    return found


def shape_digest(points: np.ndarray, corners: np.ndarray) -> str:
    """One short word for a mesh: (N, 3) points, and which of them each corner of each triangle is."""
    flat = np.ascontiguousarray(points, np.float32).tobytes() + np.ascontiguousarray(corners, np.int32).tobytes()
    return hashlib.sha256(flat).hexdigest()[:16]


def _traced(alpha: np.ndarray) -> Paper:
    found = outline(alpha > 0)
    points, triangles = _triangulated(found)
    if not len(triangles):  # a blank picture still is something to take hold of
        points, triangles = _triangulated(Outline((rectangle(found.size),), found.size))
    return Paper(points, triangles, alpha >= _OPAQUE)


def _triangulated(found: Outline) -> tuple[np.ndarray, np.ndarray]:
    """Triangles of the outline, cut off at the image's edges."""
    loops = (rectangle(found.size), *found.loops)
    starts = np.cumsum([0, *map(len, loops)])
    edges = [
        (int(first + n), int(first + (n + 1) % len(loop)))
        for first, loop in zip(starts, loops, strict=False)
        for n in range(len(loop))
    ]
    vertices, _, faces, *_ = delaunay_2d_cdt(np.concatenate(loops).tolist(), edges, [], 0, _EPSILON_PX, False)
    points = np.clip(np.array(vertices, np.float64), 0, found.size)
    triangles = np.array(faces, np.int32).reshape(-1, 3)
    triangles = triangles[found.holds(points[triangles].mean(axis=1))]
    used, renumbered = np.unique(triangles, return_inverse=True)
    return points[used], _anticlockwise(points[used], renumbered.reshape(-1, 3).astype(np.int32))


def _anticlockwise(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Turned round where needed, so that all face the camera; those without any area dropped."""
    a, b, c = (points[triangles[:, n]] for n in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    turned = np.where((area > 0)[:, None], triangles[:, ::-1], triangles)  # y runs down
    return turned[np.abs(area) > _EPSILON_PX**2]


def _kept(path: Path) -> Paper | None:
    """What was kept; None if nothing was, or the file is damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            size = tuple(stored["size"])
            opaque = np.unpackbits(stored["opaque"], count=size[0] * size[1]).astype(bool).reshape(size)
            return Paper(stored["points"], stored["triangles"], opaque)
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def _keep(path: Path, found: Paper) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacing(path, overwrite=True) as draft:
            np.savez_compressed(
                draft,
                size=np.array(found.opaque.shape),
                opaque=np.packbits(found.opaque),
                points=found.points,
                triangles=found.triangles,
            )
    except (OSError, PastepotError):
        return  # only time is lost: it is worked out again
