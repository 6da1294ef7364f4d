"""Curves out of Blender: as the core's plain arrays, or as Blender's own values on every frame."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from pastepot.errors import PastepotError, Problem
from pastepot.timing import curve as core

from .. import host

_PROBES = np.array([0.0, 0.29, 0.47, 0.71])  # shares of the way to the next key, none of them a round one
_TELLING = 1e-3


def sample_action(action: bpy.types.Action, start: int, end: int) -> dict[tuple[int, str, int], np.ndarray]:
    """Every curve's value on each whole frame from start to end, both included, bit for bit what Blender has there.

    Keys are (slot handle, data path, array index), values float32 arrays (end - start + 1,); all modifiers are in.
    Blender samples a copy of the action, which is gone when this returns or raises. Raises ValueError if end is
    before start.
    """
    if end < start:
        raise ValueError(f"The frames to sample end at {end}, before they start at {start}.")
    with _copied(action) as copy:
        return {
            (handle, curve.data_path, curve.array_index): _sample(curve, start, end)
            for handle, _ in host.slots(copy)
            for curve in host.fcurves(copy, handle)
        }


@contextlib.contextmanager
def _copied(action: bpy.types.Action) -> Iterator[bpy.types.Action]:
    copy = action.copy()
    try:
        yield copy
    finally:
        bpy.data.actions.remove(copy)


def _sample(curve: bpy.types.FCurve, start: int, end: int) -> np.ndarray:
    """The curve's values; turns its keys into samples."""
    if not len(curve.keyframe_points):  # modifiers alone, or samples already: Blender will not sample these again
        return np.array([curve.evaluate(frame) for frame in range(start, end + 1)], np.float32)
    curve.convert_to_samples(start, end + 1)
    points = np.empty(2 * (end - start + 1), np.float32)
    curve.sampled_points.foreach_get("co", points)
    return points[1::2].copy()


def read(curve: bpy.types.FCurve) -> core.Curve:
    """The curve as the core's arrays: keys (or samples), handles, easing, extrapolation, modifiers, kind of numbers.

    Raises PastepotError naming the modifier, or the setting of one, that the core does not know (`sample_action`
    honours them all), and ValueError where Blender left the keys unsorted.
    """
    modifiers = tuple(_modifier(curve, m) for i, m in enumerate(curve.modifiers) if _works(m, first=i == 0))
    points = curve.keyframe_points
    if not len(points):
        samples = _floats(curve.sampled_points, "co", 2)
        sampled = core.Curve.of(samples, interpolation=core.Interpolation.LINEAR, modifiers=modifiers)
        return _with_its_numbers(curve, sampled) if len(samples) else sampled
    keyed = core.Curve(
        *(_floats(points, name, 2) for name in ("co", "handle_left", "handle_right")),
        *(_choices(points, name) for name in ("interpolation", "easing")),
        *(_floats(points, name) for name in ("back", "amplitude", "period")),
        extrapolation=core.Extrapolation[curve.extrapolation],
        modifiers=modifiers,
    )
    return _with_its_numbers(curve, keyed)


def frames_and(curve: bpy.types.FCurve, name: str) -> tuple[np.ndarray, np.ndarray]:
    """The frames of a curve's keys, and what each has for 'interpolation', 'type' and the like, as numbers."""
    return _floats(curve.keyframe_points, "co", 2)[:, 0], _choices(curve.keyframe_points, name)


def _floats(points: Any, name: str, width: int = 1) -> np.ndarray:
    values = np.empty(len(points) * width, np.float32)
    points.foreach_get(name, values)
    return (values.reshape(-1, width) if width > 1 else values).astype(np.float64)


def _choices(points: Any, name: str) -> np.ndarray:
    values = np.empty(len(points), np.int32)
    points.foreach_get(name, values)
    return values.astype(np.int64)


def _works(modifier: bpy.types.FModifier, first: bool) -> bool:
    return modifier.is_valid and not modifier.mute and (first or modifier.type != "CYCLES")


def _modifier(curve: bpy.types.FCurve, modifier: bpy.types.FModifier) -> core.Modifier:
    if modifier.use_restricted_range:
        raise _unknown(curve, modifier, "is restricted to a range of frames")
    if modifier.use_influence and modifier.influence != 1:
        raise _unknown(curve, modifier, f"has an influence of {modifier.influence:g}")
    if modifier.type == "CYCLES":
        return core.Cycles(
            core.CycleMode[modifier.mode_before],
            core.CycleMode[modifier.mode_after],
            modifier.cycles_before,
            modifier.cycles_after,
        )
    if modifier.type == "STEPPED":
        if modifier.frame_step == 0:
            raise _unknown(curve, modifier, "has steps of 0 frames")
        return core.Stepped(
            abs(modifier.frame_step),
            modifier.frame_offset,
            modifier.frame_start if modifier.use_frame_start else -np.inf,
            modifier.frame_end if modifier.use_frame_end else np.inf,
        )
    raise _unknown(curve, modifier, "is of a kind that only Blender can evaluate")


def _unknown(curve: bpy.types.FCurve, modifier: bpy.types.FModifier, why: str) -> PastepotError:
    return PastepotError(
        Problem(
            what=f"The {modifier.type} modifier '{modifier.name}' {why}.",
            fix="Sample the curve in Blender, or mute the modifier.",
            field=f"{curve.data_path}[{curve.array_index}]",
        )
    )


def _with_its_numbers(curve: bpy.types.FCurve, read_as_any: core.Curve) -> core.Curve:
    """Blender keeps to itself that a curve takes whole numbers only; ask for its values where that would show."""
    frames = _probe_frames(read_as_any)
    ways = [replace(read_as_any, numbers=numbers) for numbers in core.Numbers]
    values = np.stack([core.evaluate(way, frames) for way in ways])
    gaps = [abs(a - b) for a, b in itertools.combinations(values, 2)]
    telling = [int(np.argmax(gap)) for gap in gaps if gap.max() > _TELLING]
    seen = [curve.evaluate(frames[i]) for i in telling]
    wrong = abs(values[:, telling] - seen).sum(axis=1)
    return ways[int(np.argmin(wrong))]


def _probe_frames(curve: core.Curve) -> np.ndarray:
    keys = curve.co[:, 0]
    between = keys[:-1, None] + np.diff(keys)[:, None] * _PROBES
    outside = [keys[0] - 5.3, keys[0] - 1.7, keys[-1], keys[-1] + 1.7, keys[-1] + 5.3]
    return np.concatenate([between.ravel(), outside])
