"""Parts as meshes of their paper's outline: the picture of full rectangles, brought up to date in place."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from pastepot_blender import ids
from pastepot_blender.scene.ownership import Ours
from pastepot_blender.steps.build import build
from PIL import Image


def built(folder: Path):
    return build(bpy.context.scene, folder, lambda *_: None)


def obj(part: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == part)


def ring(path: Path, size: int = 200, hole: float = 0.2) -> None:
    """A soft ring of paper."""
    y, x = np.mgrid[:size, :size] + 0.5 - size / 2
    distance = np.hypot(x, y) / size
    pixels = np.empty((size, size, 4), np.uint8)
    pixels[..., :3] = (200, 120, 60)
    pixels[..., 3] = 255 * np.clip(np.minimum(0.4 - distance, distance - hole) * size / 3, 0, 1)
    Image.fromarray(pixels).save(path, dpi=(254, 254))


def area(mesh: bpy.types.Mesh) -> float:
    return sum(polygon.area for polygon in mesh.polygons)


def as_rectangle(mesh: bpy.types.Mesh) -> None:
    """The image's whole rectangle instead of the outline."""
    uv = np.array([loop.uv for loop in mesh.uv_layers["Paper"].data])
    points = np.array([mesh.vertices[loop.vertex_index].co for loop in mesh.loops])
    (slope_x, at_x), (slope_z, at_z) = (np.polyfit(uv[:, n], points[:, 2 * n], 1) for n in (0, 1))
    corners = [(at_x + slope_x * u, 0, at_z + slope_z * v) for u, v in ((0, 0), (1, 0), (1, 1), (0, 1))]
    mesh.clear_geometry()
    mesh.from_pydata(corners, [], [(0, 1, 2, 3)])
    layer = mesh.uv_layers.new(name="Paper")
    layer.data.foreach_set("uv", (0, 0, 1, 0, 1, 1, 0, 1))


def rendered(tmp_path: Path, name: str) -> np.ndarray:
    scene = bpy.context.scene
    scene.cycles.samples, scene.render.filepath = 4, str(tmp_path / f"{name}.png")
    bpy.ops.render.render(write_still=True)
    return np.asarray(Image.open(tmp_path / f"{name}.png").convert("RGB")).astype(int)


@pytest.fixture
def rings(pond: Path) -> Path:
    for part, size in (("body", 200), ("wing", 160), ("eye-open", 90)):
        ring(pond / "parts" / f"{part}.png", size)
    return pond


def test_the_mesh_leaves_out_corners_and_holes(rings: Path) -> None:
    built(rings)
    mesh, side = obj("body").data, 0.2
    paper = np.pi * (0.4**2 - 0.2**2) * side**2
    assert paper < area(mesh) < 1.35 * paper
    # Blender's own ray: through the hole, onto the paper
    hits = [obj("body").ray_cast((x, -1, 0.01), (0, 1, 0))[0] for x in (0.07, 0.13)]
    assert hits == [False, True]


def test_pictures_are_those_of_full_rectangles(rings: Path, tmp_path: Path) -> None:
    built(rings)
    bpy.context.scene.camera.data.ortho_scale = 0.6
    bpy.context.scene.cycles.transparent_max_bounces = 1024
    cut = rendered(tmp_path, "cut")
    for mesh in bpy.data.meshes:
        as_rectangle(mesh)
    full = rendered(tmp_path, "full")
    assert len(np.unique(full.reshape(-1, 3), axis=0)) > 20
    assert np.array_equal(cut, full)


def test_a_scene_of_rectangles_gets_outlines_and_keeps_its_keys(rings: Path) -> None:
    """Files made before parts had outlines."""
    built(rings)
    body, mesh = obj("body"), obj("body").data
    as_rectangle(mesh)
    mesh[ids.BUILT] = ""
    ours = Ours(mesh)
    ours.remember("corners", [list(v.co) for v in mesh.vertices])
    ours.save()
    body.keyframe_insert("location", frame=3)
    report = built(rings)
    assert report.updated == ["body"]
    assert (body.data, len(mesh.materials), len(mesh.vertices) > 20) == (mesh, 1, True)
    assert body.animation_data.action is not None
    assert not built(rings).changed


def test_a_reshot_part_gets_its_new_outline_in_place(rings: Path) -> None:
    built(rings)
    mesh, before = obj("body").data, area(obj("body").data)
    ring(rings / "parts" / "body.png", 200, hole=0.1)
    assert built(rings).updated == ["body"]
    assert obj("body").data is mesh
    assert area(mesh) > 1.1 * before
    assert len(mesh.uv_layers["Paper"].data) == len(mesh.loops)


def test_a_mesh_the_animator_reshaped_is_kept_and_told(rings: Path) -> None:
    built(rings)
    mesh = obj("body").data
    mesh.vertices[0].co.x += 0.01
    moved = mesh.vertices[0].co.copy()
    ring(rings / "parts" / "body.png", 200, hole=0.1)
    report = built(rings)
    assert mesh.vertices[0].co == moved
    assert [p.part for p in report.warnings if "outline was not taken up" in p.what] == ["body"]


def test_weights_are_never_lost(rings: Path) -> None:
    built(rings)
    body = obj("body")
    body.vertex_groups.new(name="spine").add([0, 1], 1.0, "ADD")
    ring(rings / "parts" / "body.png", 200, hole=0.1)
    built(rings)
    assert [len(v.groups) for v in list(body.data.vertices)[:3]] == [1, 1, 0]


def test_outlines_are_kept_by_content_and_a_damaged_one_is_made_again(rings: Path) -> None:
    built(rings)
    kept = sorted((rings / "scenes" / "outlines").iterdir())
    assert len(kept) == 5
    before = [tuple(v.co) for v in obj("body").data.vertices]
    for path in kept:
        path.write_bytes(b"torn")
    bpy.ops.wm.read_factory_settings(use_empty=True)
    built(rings)
    assert [tuple(v.co) for v in obj("body").data.vertices] == before
    assert all(path.stat().st_size > 100 for path in kept)
