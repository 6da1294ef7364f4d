"""The core's curve evaluation against Blender's own FCurve.evaluate, on thousands of seeded random curves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import bpy
import numpy as np
import pytest
from pastepot.errors import PastepotError
from pastepot.timing import curve as core
from pastepot_blender import host
from pastepot_blender.scene import curves

KINDS = [kind.name for kind in core.Interpolation]
HANDLES = ["FREE", "ALIGNED", "VECTOR", "AUTO", "AUTO_CLAMPED"]
SINGLE = float(np.finfo(np.float32).eps)


@pytest.fixture
def obj() -> bpy.types.Object:
    made = bpy.data.objects.new("part", None)
    made.animation_data_create().action = bpy.data.actions.new("a")
    return made


def fresh(obj: bpy.types.Object, path: str = "location", index: int = 0) -> bpy.types.FCurve:
    host.remove_fcurve(obj, path, index)
    return host.ensure_fcurve(obj, path, index)


@dataclass
class Wish:
    """What the random curves have in common."""

    kinds: list[str]
    begin: float = 0.0  # the first key's frame, or the one before
    handles: str = "any"  # one of HANDLES for all keys; "raw": set at random and not tidied by Blender
    whole: bool = False  # keys on whole frames only
    straight: bool | None = None  # extrapolation; None: either


def random_curve(fcurve: bpy.types.FCurve, random: np.random.Generator, wish: Wish) -> None:
    """Up to nine keys, values of thousandths to thousands about some other height, with every choice an artist has."""
    count = int(random.integers(1, 10))
    gaps = random.integers(1, 30, count) + (0 if wish.whole else random.choice([0, 0.5, random.random()], count))
    scale = 10 ** random.uniform(-3, 3)
    frames = wish.begin + np.cumsum(gaps)
    heights = random.choice([0.0, random.normal(0, scale)]) + random.choice([0, 1, random.normal()], count) * scale
    fcurve.keyframe_points.add(count)
    for key, frame, height in zip(fcurve.keyframe_points, frames, heights, strict=True):
        key.co = (frame, height)
        key.interpolation = str(random.choice(wish.kinds))
        key.easing = str(random.choice([easing.name for easing in core.Easing]))
        key.back, key.amplitude = random.uniform(0, 4), random.choice([0.0, 0.5, 1.0, 3.0]) * scale
        key.period = random.choice([0.0, random.uniform(1, 12)])  # shorter ones drown in Blender's own rounding
        key.handle_left_type, key.handle_right_type = _handle_types(random, wish.handles)
        low, high = (-5, 60) if wish.handles == "raw" else (0, random.choice([3.0, 30.0, 90.0]))
        key.handle_left = (frame - random.uniform(low, high), height + random.normal(0, scale))
        key.handle_right = (frame + random.uniform(low, high), height + random.normal(0, scale))
    straight = random.random() < 0.5 if wish.straight is None else wish.straight
    fcurve.extrapolation = "LINEAR" if straight else "CONSTANT"
    if wish.handles != "raw":
        fcurve.update()


def _handle_types(random: np.random.Generator, handles: str) -> list[str]:
    if handles == "raw":
        return ["FREE", "FREE"]
    return list(map(str, random.choice(HANDLES, 2))) if handles == "any" else [handles] * 2


def frames_of(fcurve: bpy.types.FCurve, random: np.random.Generator, beyond: float = 30) -> np.ndarray:
    """Whole frames, the keys' own, and some between, from well before the keys to well after."""
    first, last = fcurve.range()
    low, high = first - beyond, last + beyond
    keys = [key.co[0] for key in fcurve.keyframe_points]
    return np.concatenate([np.arange(np.floor(low), high), random.uniform(low, high, 30), keys]).astype(np.float32)


def assert_equal(fcurve: bpy.types.FCurve, frames: np.ndarray, where: str) -> None:
    """To 1e-5 of the curve's range, or where the values are far larger than it, to four roundings in float32."""
    curve = curves.read(fcurve)
    ours = core.evaluate(curve, frames)
    theirs = np.array([fcurve.evaluate(float(f)) for f in frames])
    largest = max(abs(theirs).max(), abs(curve.co[:, 1]).max())
    allowed = 1e-5 * np.ptp(theirs) + 4 * SINGLE * largest
    worst = int(np.argmax(abs(ours - theirs)))
    assert abs(ours - theirs)[worst] <= allowed, f"{where}: at {frames[worst]} {ours[worst]} != {theirs[worst]}"


def assert_all_equal(
    obj: bpy.types.Object,
    wish: Wish,
    number: int,
    seed: int,
    change: Callable[[bpy.types.FCurve, np.random.Generator], None] | None = None,
    beyond: float = 30,
) -> None:
    random = np.random.default_rng(seed)
    for i in range(number):
        fcurve = fresh(obj)
        random_curve(fcurve, random, wish)
        if change:
            change(fcurve, random)
        assert_equal(fcurve, frames_of(fcurve, random, beyond), f"{wish}, curve {i}")


@pytest.mark.parametrize("kind", KINDS)
def test_each_interpolation_with_every_easing_and_extrapolation(obj, kind: str) -> None:
    assert_all_equal(obj, Wish([kind]), 80, seed=KINDS.index(kind))


@pytest.mark.parametrize("begin", [-100.0, 0.0, 2400.0])
@pytest.mark.parametrize("handles", [*HANDLES, "raw"])
def test_each_handle_near_frame_nought_and_far_from_it(obj, handles: str, begin: float) -> None:
    """Far from nought Blender's float32 shows; raw handles are longer than their segment or point backwards."""
    assert_all_equal(obj, Wish(["BEZIER"], begin, handles), 60, seed=50)


@pytest.mark.parametrize("seed", range(4))
def test_curves_of_all_kinds_mixed(obj, seed: int) -> None:
    assert_all_equal(obj, Wish(KINDS, begin=300.0 * seed), 150, seed=100 + seed)


@pytest.mark.parametrize("before", [mode.name for mode in core.CycleMode])
@pytest.mark.parametrize("after", [mode.name for mode in core.CycleMode])
def test_cycles(obj, before: str, after: str) -> None:
    def repeat(fcurve: bpy.types.FCurve, random: np.random.Generator) -> None:
        modifier = fcurve.modifiers.new("CYCLES")
        modifier.mode_before, modifier.mode_after = before, after
        modifier.cycles_before, modifier.cycles_after = random.integers(0, 4, 2)

    assert_all_equal(obj, Wish(KINDS, whole=True), 25, seed=7, change=repeat, beyond=200)


def step(fcurve: bpy.types.FCurve, random: np.random.Generator) -> None:
    modifier = fcurve.modifiers.new("STEPPED")
    modifier.frame_step = random.choice([1, 2, 3, 2.5, 1.1])
    modifier.frame_offset = random.choice([0, 1, 0.5, -3])
    modifier.use_frame_start, modifier.use_frame_end = (random.random(2) < 0.3).tolist()
    modifier.frame_start, modifier.frame_end = fcurve.range()[0] + 3, fcurve.range()[1] + 5


def test_steps(obj) -> None:
    assert_all_equal(obj, Wish(KINDS), 150, seed=8, change=step)


def test_cycles_in_two_sorts_of_steps(obj) -> None:
    def change(fcurve: bpy.types.FCurve, random: np.random.Generator) -> None:
        fcurve.modifiers.new("CYCLES")
        step(fcurve, random)
        step(fcurve, random)

    assert_all_equal(obj, Wish(KINDS, whole=True), 150, seed=9, change=change, beyond=200)


@pytest.mark.parametrize("path", ["hide_render", "pass_index"])
@pytest.mark.parametrize("kind", ["CONSTANT", "LINEAR", "BEZIER"])
def test_switches_are_held_and_whole_numbers_are_whole(obj, path: str, kind: str) -> None:
    """Blender knows which numbers a property takes once it has made the key itself."""
    for frame, value in ((1, 0), (9, 1), (40, 0), (47, 5), (60, 2)):
        setattr(obj, path, bool(value) if path == "hide_render" else value)
        assert obj.keyframe_insert(path, frame=frame)
    fcurve = host.ensure_fcurve(obj, path)
    for key in fcurve.keyframe_points:
        key.interpolation = kind
    for extrapolation in ("CONSTANT", "LINEAR"):
        fcurve.extrapolation = extrapolation
        frames = np.arange(-20.0, 90.0, 0.25)
        ours = core.evaluate(curves.read(fcurve), frames)
        assert ours.tolist() == [fcurve.evaluate(float(f)) for f in frames]


def test_baked_samples_are_read_as_well(obj) -> None:
    fcurve = fresh(obj)
    random_curve(fcurve, np.random.default_rng(3), Wish(KINDS, whole=True))
    fcurve.convert_to_samples(-5, 90)
    assert not len(fcurve.keyframe_points)
    frames = np.arange(-20.0, 120.0, 0.25)
    theirs = np.array([fcurve.evaluate(float(f)) for f in frames])
    assert abs(core.evaluate(curves.read(fcurve), frames) - theirs).max() <= 1e-5 * np.ptp(theirs)


def test_a_muted_modifier_and_cycles_behind_another_do_nothing(obj) -> None:
    fcurve = fresh(obj)
    random_curve(fcurve, np.random.default_rng(4), Wish(KINDS, whole=True))
    fcurve.modifiers.new("NOISE").mute = True
    fcurve.modifiers.new("CYCLES")  # refused by Blender up to 5.0, ignored by later ones
    assert curves.read(fcurve).modifiers == ()
    assert_equal(fcurve, np.arange(-100.0, 300.0), "muted noise")


@pytest.mark.parametrize(
    ("kind", "setting", "complaint"),
    [
        ("NOISE", {}, "NOISE modifier .* only Blender can evaluate"),
        ("CYCLES", {"use_restricted_range": True}, "CYCLES modifier .* restricted to a range"),
        ("STEPPED", {"use_influence": True, "influence": 0.5}, r"STEPPED modifier .* influence of 0\.5"),
        ("STEPPED", {"frame_step": 0.0}, "STEPPED modifier .* steps of 0 frames"),
    ],
)
def test_what_only_blender_knows_is_refused_by_name(obj, kind: str, setting: dict, complaint: str) -> None:
    fcurve = fresh(obj)
    random_curve(fcurve, np.random.default_rng(10), Wish(KINDS))
    modifier = fcurve.modifiers.new(kind)
    for name, value in setting.items():
        setattr(modifier, name, value)
    with pytest.raises(PastepotError, match=complaint) as caught:
        curves.read(fcurve)
    assert caught.value.problems[0].field == "location[0]"


def test_sampling_is_blenders_to_the_bit_with_all_modifiers(obj) -> None:
    random = np.random.default_rng(11)
    for index, kind in enumerate(["NOISE", "CYCLES", "STEPPED", "GENERATOR", "ENVELOPE", "LIMITS"]):
        fcurve = host.ensure_fcurve(obj, ["location", "scale"][index // 3], index % 3)
        random_curve(fcurve, random, Wish(KINDS))
        modifier = fcurve.modifiers.new(kind)
        modifier.use_influence, modifier.influence = True, 0.7
    host.ensure_fcurve(obj, "rotation_euler").modifiers.new("NOISE")  # and no keys
    host.ensure_fcurve(obj, "rotation_euler", 1)  # nothing at all
    action = obj.animation_data.action
    before = [(c.data_path, len(c.keyframe_points), len(c.sampled_points)) for c in host.fcurves(action)]
    sampled = curves.sample_action(action, -20, 120)
    assert list(bpy.data.actions) == [action]
    assert [(c.data_path, len(c.keyframe_points), len(c.sampled_points)) for c in host.fcurves(action)] == before
    assert len(sampled) == len(before) == 8
    for fcurve in host.fcurves(action):
        (row,) = [v for k, v in sampled.items() if k[1:] == (fcurve.data_path, fcurve.array_index)]
        assert row.dtype == np.float32
        assert row.tolist() == [fcurve.evaluate(frame) for frame in range(-20, 121)]


@pytest.mark.skipif(host.FLAT_ACTIONS, reason="actions have no slots before Blender 4.4")
def test_each_slot_has_samples_of_its_own(obj) -> None:
    other = bpy.data.objects.new("other", None)
    other.animation_data_create().action = action = obj.animation_data.action
    other.animation_data.action_slot = action.slots.new("OBJECT", "other")
    for block, height in ((obj, 1.0), (other, 2.0)):
        host.ensure_fcurve(block, "location").keyframe_points.insert(1, height)
    handles = [host.slot_handle(block.animation_data) for block in (obj, other)]
    sampled = curves.sample_action(action, 1, 2)
    assert {key: row.tolist() for key, row in sampled.items()} == {
        (handles[0], "location", 0): [1.0, 1.0],
        (handles[1], "location", 0): [2.0, 2.0],
    }


def test_no_copy_is_left_behind_when_sampling_fails(obj) -> None:
    fcurve = fresh(obj)
    random_curve(fcurve, np.random.default_rng(12), Wish(KINDS))
    action = obj.animation_data.action
    with pytest.raises(TypeError):
        curves.sample_action(action, 1, 9.5)  # Blender's own refusal, halfway through
    assert list(bpy.data.actions) == [action]
    with pytest.raises(ValueError, match="end at 1, before they start at 2"):
        curves.sample_action(action, 2, 1)
