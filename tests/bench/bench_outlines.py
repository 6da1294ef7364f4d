"""Outline meshes: the first import of large parts, and what Cycles saves on them."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import bpy
import numpy as np
from blender_side import load
from many_parts import draw
from PIL import Image
from rows import Row

PARTS, SIZE_PX, PX_PER_MM = 90, 800, 10.0
HALF_SIDE = SIZE_PX / PX_PER_MM / 2 * 0.01  # in Blender's units


def run() -> list[Row]:
    """Both figures."""
    load()
    return [_import(), *_cycles()]


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _import() -> Row:
    """The whole build of 2k parts less the time that only loading and decoding their images takes."""
    from pastepot_blender.steps.build import build

    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder)
        draw(film, PARTS, 2048, 10.0)
        bpy.ops.wm.read_factory_settings(use_empty=True)
        only_loading = _timed(lambda: [bpy.data.images.load(str(p)).pixels[0] for p in (film / "parts").iterdir()])
        bpy.ops.wm.read_factory_settings(use_empty=True)
        beyond = _timed(lambda: build(bpy.context.scene, film, lambda *_: None)) - only_loading
        bpy.ops.wm.read_factory_settings(use_empty=True)
    ratio = beyond / only_loading
    name = f"first import of {PARTS} parts at 2k, beyond loading"
    return Row(name, beyond, "loading the images", ratio, "<= 1", ratio <= 1)


def _cycles() -> list[Row]:
    """One picture of 90 parts piled up, as outlines and as full rectangles, and how many pixels differ."""
    from pastepot_blender.steps.build import build

    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder)
        draw(film, PARTS, SIZE_PX, PX_PER_MM)
        bpy.ops.wm.read_factory_settings(use_empty=True)
        scene = bpy.context.scene
        build(scene, film, lambda *_: None)
        scene.cycles.samples, scene.cycles.transparent_max_bounces = 4, 1024
        scene.render.use_persistent_data = True
        objects = [o for o in scene.objects if o.type == "MESH"]
        shapes = {"outlines": [o.data for o in objects], "rectangles": [_rectangle(o) for o in objects]}
        seconds: dict[str, list[float]] = {name: [] for name in shapes}
        pictures = {}
        for _ in range(2):
            for name, meshes in shapes.items():
                for obj, mesh in zip(objects, meshes, strict=True):
                    obj.data = mesh
                scene.render.filepath = str(film / f"{name}.png")
                bpy.ops.render.render()  # what is loaded once stays loaded
                seconds[name].append(_timed(lambda: bpy.ops.render.render(write_still=True)))
                pictures[name] = np.asarray(Image.open(film / f"{name}.png"))
        bpy.ops.wm.read_factory_settings(use_empty=True)
    ours, full = min(seconds["outlines"]), min(seconds["rectangles"])
    differ = int((pictures["outlines"] != pictures["rectangles"]).any(axis=-1).sum())
    name = f"Cycles, {PARTS} overlapping parts as outlines"
    return [
        Row(name, ours, "full rectangles, bounces without limit", ours / full, "<= 0.65", ours <= 0.65 * full),
        Row("pixels that differ from full rectangles", ours, "of 518,400", differ, "0", differ == 0),
    ]


def _rectangle(obj: bpy.types.Object) -> bpy.types.Mesh:
    """The whole image as one face; every picture of `draw` is square, with its pivot in the middle."""
    mesh = bpy.data.meshes.new("rectangle")
    corners = [(HALF_SIDE * x, 0, HALF_SIDE * z) for x, z in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    mesh.from_pydata(corners, [], [(0, 1, 2, 3)])
    mesh.uv_layers.new(name="Paper").data.foreach_set("uv", (0, 0, 1, 0, 1, 1, 0, 1))
    mesh.materials.append(obj.data.materials[0])
    return mesh
