"""Which frames share a picture, proved by going to every frame and looking."""

from __future__ import annotations

import random

import bpy
import numpy as np
import pytest
from pastepot_blender import host
from pastepot_blender.scene import held
from small_scenes import key, material, scene, thing

# ── small things to build scenes from ──────────────────────────────────────────────────────────────────────────────


def pictures(first=1, last=8):
    plan = held.plan(scene(), first, last)
    assert plan.refusals == ()
    return plan.picture.tolist()


# ── what is read ───────────────────────────────────────────────────────────────────────────────────────────────────


def test_nothing_animated_is_one_picture():
    thing()
    assert pictures() == [1] * 8


def test_held_frames_and_frames_that_come_back():
    key(thing(), "location", {1: 0, 3: 1, 5: 0, 7: 2})
    assert pictures() == [1, 1, 3, 3, 1, 1, 7, 7]


def test_a_smooth_curve_is_another_picture_on_every_frame():
    key(thing(), "location", {1: 0, 8: 1}, interpolation="LINEAR")
    assert pictures() == list(range(1, 9))


def test_stepped_modifiers_count():
    curve = key(thing(), "location", {1: 0, 8: 1}, interpolation="LINEAR")
    step = curve.modifiers.new("STEPPED")
    step.frame_step, step.frame_offset = 2, 1
    assert pictures() == [1, 1, 3, 3, 5, 5, 7, 7]


def test_noise_modifiers_count():
    key(thing(), "location", {1: 0}).modifiers.new("NOISE").phase = 0.3
    assert len(set(pictures())) == 8


def test_muted_curves_do_not_count():
    key(thing(), "location", {1: 0, 3: 1}).mute = True
    assert pictures() == [1] * 8


def camera_lens():
    camera = bpy.data.cameras.new("cam")
    scene().camera = thing("cam", camera)
    key(camera, "lens", {1: 30, 5: 50})


def paper_colour():
    tree = material().node_tree
    node = tree.nodes.new("ShaderNodeRGB")
    key(tree, f'nodes["{node.name}"].outputs[0].default_value', {1: 0, 5: 1})


def world_colour():
    scene().world = bpy.data.worlds.new("sky")
    key(scene().world, "color", {1: 0, 5: 1})


def shape_key():
    heron = thing()
    heron.data.from_pydata([(0, 0, 0), (1, 0, 0)], [], [])
    heron.shape_key_add(name="Basis")
    heron.shape_key_add(name="open")
    key(heron.data.shape_keys, 'key_blocks["open"].value', {1: 0, 5: 1})


def own_property():
    heron = thing()
    heron["mood"] = 1.0
    key(heron, '["mood"]', {1: 0, 5: 1})


def seed_keys():
    key(scene(), "cycles.seed", {1: 0, 5: 1})


def camera_markers():
    for frame, name in ((1, "wide"), (5, "close")):
        scene().timeline_markers.new(name, frame=frame).camera = thing(name, bpy.data.cameras.new(name))


def drawings():
    pencils = getattr(bpy.data, "grease_pencils_v3", bpy.data.grease_pencils)
    layer = pencils.new("line").layers.new("ink")
    layer.frames.new(1)
    layer.frames.new(5)
    thing("line", pencils["line"])


SEEN = [
    lambda: key(thing(), "location", {1: 0, 5: 1}),
    lambda: key(thing(), "hide_render", {1: 0, 5: 1}),
    camera_lens,
    paper_colour,
    world_colour,
    shape_key,
    own_property,
    seed_keys,
    camera_markers,
    drawings,
]


@pytest.mark.parametrize("build", SEEN)
def test_whatever_is_keyed_is_seen(build):
    build()
    assert pictures() == [1, 1, 1, 1, 5, 5, 5, 5]


def test_linked_actions_are_read(tmp_path):
    heron = thing()
    key(heron, "location", {1: 0, 5: 1})
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "lib.blend"))
    bpy.ops.wm.read_factory_settings(use_empty=True)
    with bpy.data.libraries.load(str(tmp_path / "lib.blend"), link=True) as (_, wanted):
        wanted.objects = ["heron"]
    scene().collection.objects.link(wanted.objects[0])
    assert wanted.objects[0].library is not None
    before = len(bpy.data.actions)
    assert pictures() == [1, 1, 1, 1, 5, 5, 5, 5]
    assert len(bpy.data.actions) == before


@pytest.mark.skipif(host.FLAT_ACTIONS, reason="actions have slots from 4.4 on")
def test_only_slots_in_use_count():
    heron, snail = thing("heron"), thing("snail")
    key(heron, "location", {1: 0, 5: 1})
    action = heron.animation_data.action
    slot = action.slots.new("OBJECT", "snail")
    data = snail.animation_data_create()
    data.action, data.action_slot = action, slot
    key(snail, "location", {1: 0, 3: 1})
    assert pictures() == [1, 1, 3, 3, 5, 5, 5, 5]
    data.action = None
    assert pictures() == [1, 1, 1, 1, 5, 5, 5, 5]


def test_deciding_leaves_the_file_as_it_was():
    heron = thing()
    key(heron, "location", {1: 0, 3: 1})
    scene().frame_set(2)
    pictures()
    assert [action.name for action in bpy.data.actions] == [heron.animation_data.action.name]
    assert len(host.ensure_fcurve(heron, "location").keyframe_points) == 2
    assert scene().frame_current == 2


# ── the proof: go to every frame and look ──────────────────────────────────────────────────────────────────────────


def look(things, materials):
    """Everything these scenes can show, as Blender evaluates it on the current frame."""
    graph = bpy.context.evaluated_depsgraph_get()
    shown = [np.asarray(t.evaluated_get(graph).matrix_world, np.float64).tobytes() for t in things]
    shown += [bytes([t.evaluated_get(graph).hide_render]) for t in things]
    shown += [np.array(m.evaluated_get(graph).diffuse_color[:]).tobytes() for m in materials]
    return b"".join(shown)


def constant_scene(seed):
    """Parts with constant keys at random, some parented, some hidden for a time, some recoloured."""
    chance = random.Random(seed)
    things, materials = [], []
    for number in range(6):
        part = thing(f"part{number}")
        part.parent = chance.choice([None, *things])
        colour = material(f"paper{number}")
        things.append(part)
        materials.append(colour)
        values = {frame: chance.choice([0.0, 0.5, -1.25]) for frame in chance.sample(range(1, 41), 5)}
        key(part, chance.choice(["location", "rotation_euler", "scale"]), values, chance.randrange(3))
        if chance.random() < 0.5:
            key(part, "hide_render", {frame: chance.randrange(2) for frame in chance.sample(range(1, 41), 3)})
        if chance.random() < 0.5:
            key(colour, "diffuse_color", {frame: chance.randrange(2) for frame in chance.sample(range(1, 41), 3)})
    return things, materials


def live_curves():
    for block in (*bpy.data.objects, *bpy.data.materials):
        if block.animation_data and block.animation_data.action:
            yield from host.fcurves(block.animation_data.action, host.slot_handle(block.animation_data))


@pytest.mark.parametrize("seed", range(8))
def test_the_pictures_are_those_that_blender_shows_frame_by_frame(seed):
    things, materials = constant_scene(seed)
    plan = held.plan(scene(), 1, 40)
    assert plan.refusals == ()
    looks, values = {}, {}
    for frame in range(1, 41):
        scene().frame_set(frame)
        looks[frame] = look(things, materials)
        values[frame] = tuple(curve.evaluate(frame) for curve in live_curves())
    for frame, picture in zip(plan.frames.tolist(), plan.picture.tolist(), strict=True):
        assert looks[frame] == looks[picture]
        assert picture == next(f for f in range(1, 41) if values[f] == values[frame])
    assert len(plan.pictures) < 40


def test_the_proof_would_see_a_difference():
    """The looks above differ where a picture does: otherwise they would prove nothing."""
    things, materials = constant_scene(3)
    seen = set()
    for frame in range(1, 41):
        scene().frame_set(frame)
        seen.add(look(things, materials))
    assert len(seen) > 10
