"""Sampling smooth curves: in the core, and inside Blender."""

from __future__ import annotations

import time
from collections.abc import Callable

import bpy
import numpy as np
from blender_side import load
from rows import Row

CURVES, FRAMES = 90 * 4, 2470


def run() -> list[Row]:
    """The core's seconds and growth; Blender's own sampling against a loop over evaluate."""
    load()
    return [*_core(), _sampling()]


def _timed(work: Callable[[], object]) -> float:
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def _core() -> list[Row]:
    from pastepot.timing.curve import Curve, evaluate_many

    random = np.random.default_rng(1)

    def film(curves: int, frames: int) -> float:
        keys = np.arange(1, frames + 24, 24, dtype=float)
        arm = np.column_stack([np.full(len(keys), 8.0), np.zeros(len(keys))])
        some = []
        for _ in range(curves):
            co = np.column_stack([keys, random.normal(0, 1, len(keys))])
            some.append(Curve.of(co, co - arm, co + arm))
        return _timed(lambda: evaluate_many(some, np.arange(1, frames + 1)))

    once, ten = film(CURVES, FRAMES), film(CURVES, 10 * FRAMES)
    return [
        Row("core: curves of a film, 90 x 4 x 2,470", once, "1 s", once, "<= 1.0", once <= 1.0),
        Row("core: curves of ten films", ten, "ten times one film", ten / (10 * once), "<= 1.3", ten <= 13 * once),
    ]


def _sampling() -> Row:
    from pastepot_blender import host
    from pastepot_blender.scene.curves import sample_action

    bpy.ops.wm.read_factory_settings(use_empty=True)
    obj = bpy.data.objects.new("part", None)
    action = obj.animation_data_create().action = bpy.data.actions.new("film")
    times = np.arange(1, FRAMES + 24, 24, dtype=np.float32)
    for number in range(CURVES):
        curve = host.ensure_fcurve(obj, f'["p{number}"]')
        curve.keyframe_points.add(len(times))
        pairs = np.column_stack([times, np.sin(times + number)]).astype(np.float32)
        curve.keyframe_points.foreach_set("co", pairs.ravel())
        curve.update()
    curves = list(host.fcurves(action))
    ours = _timed(lambda: sample_action(action, 1, FRAMES))
    loop = _timed(lambda: [[c.evaluate(f) for f in range(1, FRAMES + 1)] for c in curves])
    sampled = sample_action(action, 1, FRAMES)
    exact = all(
        sampled[key][::97].tolist() == [c.evaluate(f) for f in range(1, FRAMES + 1, 97)]
        for key, c in zip(sampled, curves, strict=True)
    )
    bpy.ops.wm.read_factory_settings(use_empty=True)
    name = "sampling a film's curves in Blender" + ("" if exact else " (NOT EXACT)")
    return Row(name, ours, "a loop over fcurve.evaluate", loop / ours, ">= 5 x", exact and loop >= 5 * ours)
