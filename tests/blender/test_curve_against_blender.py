"""The core's curve evaluation against Blender's own FCurve.evaluate, on thousands of seeded random curves."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from pastepot.errors import PastepotError
from pastepot.timing import curve as core
from pastepot_blender import host
from pastepot_blender.scene import curves

KINDS = [kind.name for kind in core.Interpolation]
HANDLES = ["FREE", "ALIGNED", "VECTOR", "AUTO", "AUTO_CLAMPED"]
FRAMES = np.arange(-40.0, 160.0, 0.73)


@pytest.fixture
def obj() -> bpy.types.Object:
    made = bpy.data.objects.new("part", None)
    made.animation_data_create().action = bpy.data.actions.new("a")
    return made


def fresh(obj: bpy.types.Object, path: str = "location", index: int = 0) -> bpy.types.FCurve:
    host.remove_fcurve(obj, path, index)
    return host.ensure_fcurve(obj, path, index)


def random_curve(fcurve: bpy.types.FCurve, random: np.random.Generator, kinds: list[str]) -> None:
    """Up to nine keys at whole and odd frames with every choice an artist has."""
    count = int(random.integers(1, 10))
    frames = np.unique(np.round(random.uniform(0, 120, count), random.integers(0, 3)))
    fcurve.keyframe_points.add(len(frames))
    for key, frame in zip(fcurve.keyframe_points, frames, strict=True):
        height = float(random.choice([0.0, 1.0, random.normal(0, 10)]))
        key.co = (frame, height)
        key.interpolation = str(random.choice(kinds))
        key.easing = str(random.choice([easing.name for easing in core.Easing]))
        key.back, key.amplitude = random.uniform(0, 4), random.uniform(0, 12)
        key.period = random.uniform(1, 12)  # shorter ones drown in the rounding of Blender's own float32
        key.handle_left_type, key.handle_right_type = map(str, random.choice(HANDLES, 2))
        reach = random.choice([3.0, 30.0, 90.0])  # longer than the segment, too
        key.handle_left = (frame - random.uniform(0, reach), height + random.normal(0, 8))
        key.handle_right = (frame + random.uniform(0, reach), height + random.normal(0, 8))
    fcurve.extrapolation = str(random.choice(["CONSTANT", "LINEAR"]))
    fcurve.update()


def assert_equal(fcurve: bpy.types.FCurve, frames: np.ndarray, where: str) -> None:
    ours = core.evaluate(curves.read(fcurve), frames.astype(np.float32))
    theirs = np.array([fcurve.evaluate(float(f)) for f in frames])
    span = max(1.0, float(np.ptp(theirs)), float(abs(theirs).max()))
    worst = int(np.argmax(abs(ours - theirs)))
    assert abs(ours - theirs).max() <= 1e-5 * span, f"{where}: at {frames[worst]} {ours[worst]} != {theirs[worst]}"


@pytest.mark.parametrize("kind", KINDS)
def test_each_interpolation_with_every_easing_and_handle(obj, kind: str) -> None:
    random = np.random.default_rng(KINDS.index(kind))
    for number in range(80):
        fcurve = fresh(obj)
        random_curve(fcurve, random, [kind])
        assert_equal(fcurve, FRAMES, f"{kind} curve {number}")


@pytest.mark.parametrize("seed", range(4))
def test_curves_of_all_kinds_mixed(obj, seed: int) -> None:
    random = np.random.default_rng(100 + seed)
    for number in range(150):
        fcurve = fresh(obj)
        random_curve(fcurve, random, KINDS)
        assert_equal(fcurve, FRAMES, f"seed {seed}, curve {number}")


@pytest.mark.parametrize("before", [mode.name for mode in core.CycleMode])
@pytest.mark.parametrize("after", [mode.name for mode in core.CycleMode])
def test_cycles(obj, before: str, after: str) -> None:
    random = np.random.default_rng(7)
    for number in range(25):
        fcurve = fresh(obj)
        random_curve(fcurve, random, KINDS)
        modifier = fcurve.modifiers.new("CYCLES")
        modifier.mode_before, modifier.mode_after = before, after
        modifier.cycles_before, modifier.cycles_after = random.integers(0, 4, 2)
        assert_equal(fcurve, np.arange(-200.0, 320.0, 1.0), f"curve {number}")


@pytest.mark.parametrize(("step", "offset"), [(2.0, 0.0), (2.0, 1.0), (3.0, 0.5), (2.5, 1.0)])
def test_steps(obj, step: float, offset: float) -> None:
    random = np.random.default_rng(8)
    for number in range(25):
        fcurve = fresh(obj)
        random_curve(fcurve, random, KINDS)
        modifier = fcurve.modifiers.new("STEPPED")
        modifier.frame_step, modifier.frame_offset = step, offset
        modifier.use_frame_end, modifier.frame_end = True, 80.0
        assert_equal(fcurve, np.arange(0.0, 130.0, 1.0), f"curve {number}")


def test_visibility_is_held_and_whole_numbers_are_whole(obj) -> None:
    fcurve = fresh(obj, "hide_render")
    random_curve(fcurve, np.random.default_rng(9), ["BEZIER"])
    assert_equal(fcurve, FRAMES, "hide_render")


def test_a_modifier_that_only_blender_knows_is_refused_by_name(obj) -> None:
    fcurve = fresh(obj)
    random_curve(fcurve, np.random.default_rng(10), KINDS)
    fcurve.modifiers.new("NOISE")
    with pytest.raises(PastepotError, match="NOISE"):
        curves.read(fcurve)


def test_sampling_is_blenders_to_the_bit_with_all_modifiers(obj) -> None:
    random = np.random.default_rng(11)
    for index in range(3):
        fcurve = host.ensure_fcurve(obj, "location", index)
        random_curve(fcurve, random, KINDS)
        fcurve.modifiers.new(["NOISE", "CYCLES", "STEPPED"][index])
    action, count = obj.animation_data.action, len(bpy.data.actions)
    sampled = curves.sample_action(action, 1, 120)
    assert len(bpy.data.actions) == count
    for fcurve in host.fcurves(action):
        (row,) = [v for k, v in sampled.items() if k[1:] == (fcurve.data_path, fcurve.array_index)]
        assert row.tolist() == [fcurve.evaluate(frame) for frame in range(1, 121)]
