"""The Blender side: writing a film's keys, and building a scene that is already built."""

from __future__ import annotations

import math
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import bpy
import numpy as np
from blender_side import load
from rows import Row

PARTS, FRAMES, CHANNELS = 90, 2470, 4
INSERTED = 5  # objects measured with keyframe_insert; the rest is extrapolated


def run() -> list[Row]:
    """Both figures."""
    load()
    return [*_keys(), *_second_build()]


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _keys() -> list[Row]:
    """90 objects that move on every frame, four channels, held on twos; against Blender's own two ways to key them."""
    from pastepot.timing.exposures import plan
    from pastepot.timing.feel import Feel
    from pastepot.timing.handmade import Table, expose
    from pastepot_blender.scene import actions
    from pastepot_blender.scene.targets import targets

    scene = _moving_film()
    found = targets(scene)
    rows, channels = actions.read(found, 1, FRAMES, may_miss=True)
    starts = plan(1, FRAMES, (2,))
    exposed = expose(rows, starts, Feel(), Table(Fraction(24), 1, 7, 0.01))
    ours = _timed(lambda: actions.write(channels, exposed, rows.owner))

    # Blender's own ways know no exposures: they key every frame
    for target in found:
        actions.switch(target.block, False)
        target.block.select_set(True)
    bpy.context.view_layer.objects.active = found[0].block
    bake = _timed(
        lambda: bpy.ops.nla.bake(
            frame_start=1, frame_end=FRAMES, only_selected=True, visual_keying=False, bake_types={"OBJECT"}
        )
    )
    insert = _timed(lambda: _insert(found[:INSERTED])) * PARTS / INSERTED
    bpy.ops.wm.read_factory_settings(use_empty=True)
    return [
        Row(
            "keys of a film on twos into Blender",
            ours,
            "nla.bake of every frame",
            bake / ours,
            ">= 40 x",
            bake >= 40 * ours,
        ),
        Row(
            "keys of a film on twos into Blender",
            ours,
            f"keyframe_insert on every frame ({INSERTED} of {PARTS} objects, extrapolated)",
            insert / ours,
            ">= 500 x",
            insert >= 500 * ours,
        ),
    ]


def _moving_film() -> bpy.types.Scene:
    from pastepot_blender import host, ids

    bpy.ops.wm.read_factory_settings(use_empty=True)
    scene = bpy.context.scene
    scene.frame_end = FRAMES
    film = bpy.data.collections.new("film")
    film[ids.PLACE] = "film"
    scene.collection.children.link(film)
    for number in range(PARTS):
        obj = bpy.data.objects.new(f"part {number}", None)
        film.objects.link(obj)
        for path, index in (("location", 0), ("location", 2), ("rotation_euler", 1), ("scale", 0))[:CHANNELS]:
            points = host.ensure_fcurve(obj, path, index).keyframe_points
            times = np.arange(1, FRAMES + 24, 24, dtype=np.float32)
            points.add(len(times))
            points.foreach_set(
                "co", np.column_stack([times, np.sin(times + number + index)]).astype(np.float32).ravel()
            )
            host.ensure_fcurve(obj, path, index).update()
    return scene


def _insert(found: list) -> None:
    for target in found:
        obj = target.block
        obj.animation_data_clear()
        for frame in range(1, FRAMES + 1):
            value = math.sin(frame)
            obj.location[0] = obj.location[2] = obj.rotation_euler[1] = obj.scale[0] = value
            for path, index in (("location", 0), ("location", 2), ("rotation_euler", 1), ("scale", 0)):
                obj.keyframe_insert(path, index=index, frame=frame)


def _second_build() -> list[Row]:
    """90 parts of a thousand pixels a side."""
    from pastepot_blender.steps.build import build

    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder)
        _draw(film)
        bpy.ops.wm.read_factory_settings(use_empty=True)
        scene = bpy.context.scene
        first = _timed(lambda: build(scene, film, lambda *_: None))
        second = _timed(lambda: build(scene, film, lambda *_: None))
        bpy.ops.wm.read_factory_settings(use_empty=True)
    return [
        Row(
            f"second build of {PARTS} parts", second, "the first build", second / first, "<= 0.1", second <= 0.1 * first
        )
    ]


def _draw(film: Path) -> None:
    from PIL import Image

    (film / "parts").mkdir()
    size = 1000
    y, x = np.mgrid[:size, :size] - size / 2
    random = np.random.default_rng(1)
    text = ["schema = 1\n"]
    for number in range(PARTS):
        pixels = np.full((size, size, 4), random.integers(60, 200, 4), np.uint8)
        pixels[..., :3] += random.integers(0, 20, (size, size, 3), dtype=np.uint8)  # paper is never one flat colour
        pixels[..., 3] = np.where(np.hypot(x, y) < size / 2.1, 255, 0)
        Image.fromarray(pixels).save(film / "parts" / f"part-{number}.png", dpi=(254, 254), compress_level=1)
        text.append(
            f'[[part]]\nname = "part-{number}"\ncharacter = "c{number % 8}"\ntype = "arm"\nlayer = {number}\n'
            f'image = "parts/part-{number}.png"\npx_per_mm = 10.0\npivot_mm = [50, 50]\n'
        )
    (film / "parts.toml").write_text("\n".join(text), encoding="utf-8")
    (film / "film.toml").write_text('schema = 1\ntitle = "B"\nfps = 12\nsize = [3840, 2160]\n', encoding="utf-8")
