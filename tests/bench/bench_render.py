"""Rendering each picture once: how long deciding takes, and what it saves in Cycles."""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from blender_side import load
from rows import Row

PARTS, FRAMES = 90, 2470
VISITED = 60  # frames that the baseline really goes to; the rest is extrapolated
SHOT = 24  # frames rendered


def run() -> list[Row]:
    """Both figures."""
    load()
    return [_deciding(), _rendering()]


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    start = time.perf_counter()
    answer = work()
    return time.perf_counter() - start, answer


def _cards(count: int, frames: int) -> bpy.types.Scene:
    """Cards of paper that turn and slide on twos, each with an action of its own."""
    from pastepot_blender import host

    bpy.ops.wm.read_factory_settings(use_empty=True)
    scene = bpy.context.scene
    chance = np.random.default_rng(1)
    mesh = bpy.data.meshes.new("card")
    mesh.from_pydata([(-1, 0, -1), (1, 0, -1), (1, 0, 1), (-1, 0, 1)], [], [(0, 1, 2, 3)])
    starts = np.arange(1, frames + 1, 2, dtype=np.float32)
    for number in range(count):
        card = bpy.data.objects.new(f"card {number}", mesh)
        card.location.y = 0.01 * number
        scene.collection.objects.link(card)
        for path, index in (("location", 0), ("location", 2), ("rotation_euler", 1), ("scale", 0)):
            curve = host.ensure_fcurve(card, path, index)
            curve.keyframe_points.add(len(starts))
            keys = np.stack([starts, chance.uniform(0.5, 3, len(starts)).astype(np.float32)], axis=1)
            curve.keyframe_points.foreach_set("co", keys.ravel())
            constant = np.full(len(starts), host.INTERPOLATION["CONSTANT"], np.int32)
            curve.keyframe_points.foreach_set("interpolation", constant)
            curve.update()
    scene.frame_start, scene.frame_end = 1, frames
    return scene


def _deciding() -> Row:
    from pastepot_blender.scene import held

    scene = _cards(PARTS, FRAMES)
    held.plan(scene, 1, FRAMES)
    seconds, plan = min((_timed(lambda: held.plan(scene, 1, FRAMES)) for _ in range(3)), key=lambda each: each[0])
    visiting = _timed(lambda: [_look(scene, frame) for frame in range(1, VISITED + 1)])[0] * FRAMES / VISITED
    return Row(
        f"decide which of {FRAMES} frames are held, {PARTS} parts",
        seconds,
        f"going to every frame and reading matrices: {visiting:.1f} s (extrapolated from {VISITED} frames)",
        seconds / visiting,
        "≤ 0.5 s",
        seconds <= 0.5 and len(plan.pictures) == FRAMES // 2,
    )


def _look(scene: bpy.types.Scene, frame: int) -> bytes:
    scene.frame_set(frame)
    graph = bpy.context.evaluated_depsgraph_get()
    return b"".join(np.array(each.evaluated_get(graph).matrix_world).tobytes() for each in scene.objects)


def _rendering() -> Row:
    from pastepot_blender.steps import render

    scene = _cards(30, SHOT)
    _stage(scene)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        bpy.ops.wm.save_as_mainfile(filepath=str(folder / "shot.blend"))

        def into(name: str, **order: Any) -> tuple[float, dict[str, Any]]:
            start = time.process_time()  # of all threads: what else the computer does hardly counts
            answer = render.render(scene, render.Order(folder / name, **order), _Mute())
            return time.process_time() - start, answer

        with _quiet():
            into("warm", last=1)
            held, answer = into("held")
            whole, _ = into("every", every_frame=True)
        same = all(
            np.array_equal(_pixels(folder / "held" / name), _pixels(folder / "every" / name))
            for name in (f"frame_{frame:04d}.png" for frame in range(1, SHOT + 1))
        )
    bpy.ops.wm.read_factory_settings(use_empty=True)
    return Row(
        f"render {SHOT} frames on twos in Cycles (processor time)",
        held,
        f"rendering every frame: {whole:.1f} s; pixels {'identical' if same else 'DIFFERENT'}",
        held / whole,
        "≤ 0.6, pixels identical",
        held / whole <= 0.6 and same and answer["rendered"] == SHOT // 2,
    )


def _stage(scene: bpy.types.Scene) -> None:
    """A camera, a lamp, and the settings of a small Cycles render."""
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    camera.location, camera.rotation_euler = (1.5, -8, 1.5), (np.pi / 2, 0, 0)
    sun = bpy.data.objects.new("sun", bpy.data.lights.new("sun", "SUN"))
    sun.rotation_euler, sun.data.energy = (0.9, 0, 0), 3
    for each in (camera, sun):
        scene.collection.objects.link(each)
    scene.camera = camera
    scene.render.engine, scene.cycles.samples = "CYCLES", 8
    scene.cycles.use_denoising = False
    scene.render.resolution_x, scene.render.resolution_y = 320, 180


def _pixels(path: Path) -> np.ndarray:
    image = bpy.data.images.load(str(path))
    values = np.empty(len(image.pixels), np.float32)
    image.pixels.foreach_get(values)
    bpy.data.images.remove(image)
    return values


class _Mute:
    """A job's voice that nobody hears."""

    def progress(self, done: int, total: int, text: str) -> None:
        pass

    def problem(self, problem: object) -> None:
        raise AssertionError(problem)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep Blender's own chatter out of the table."""
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


if __name__ == "__main__":
    for row in run():
        print(row)
