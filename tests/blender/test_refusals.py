"""Every reason why the frames of a scene may not share pictures, built in Blender and told in words."""

from __future__ import annotations

import re
from pathlib import Path

import bpy
import pytest
from pastepot_blender import host
from pastepot_blender.scene import held, refusals
from small_scenes import driver, key, material, node_group, scene, sequence, thing


def reasons(first=1, last=8):
    return [f"{p.part}: {p.what}" for p in held.plan(scene(), first, last).refusals]


# ── every rule ─────────────────────────────────────────────────────────────────────────────────────────────────────


def with_modifier(kind):
    def build():
        thing().modifiers.new("m", kind)

    return build


def with_node(tree, kind):
    return lambda: node_group(tree, kind)


def motion_blur():
    scene().render.use_motion_blur = True


def keyed_motion_blur():
    key(scene(), "render.use_motion_blur", {1: 0, 5: 1})


def animated_seed():
    scene().render.engine = "CYCLES"
    scene().cycles.use_animated_seed = True


def stretched_time():
    scene().render.frame_map_new = 200


def stamp():
    scene().render.use_stamp = True
    scene().render.use_stamp_frame = True
    scene().render.use_stamp_date = False


def colour_strip():
    strips = host.strips(scene().sequence_editor_create())
    length = {"length": 20} if "length" in strips.bl_rna.functions["new_effect"].parameters else {"frame_end": 21}
    strips.new_effect(name="sky", type="COLOR", channel=1, frame_start=1, **length)


def rigid_body():
    bpy.ops.rigidbody.world_add()


def freestyle_script():
    scene().render.use_freestyle = True
    scene().view_layers[0].use_freestyle = True
    scene().view_layers[0].freestyle_settings.mode = "SCRIPT"


def particles():
    thing().modifiers.new("hair", "PARTICLE_SYSTEM")


def bone_follows_clip():
    rig = thing("rig", bpy.data.armatures.new("rig"))
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    bone = rig.data.edit_bones.new("neck")
    bone.tail = (0, 0, 1)
    bpy.ops.object.mode_set(mode="OBJECT")
    rig.pose.bones["neck"].constraints.new("FOLLOW_TRACK")


def itasc_simulation():
    rig = thing("rig", bpy.data.armatures.new("rig"))
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="POSE")
    bpy.ops.object.mode_set(mode="OBJECT")
    rig.pose.ik_solver = "ITASC"
    rig.pose.ik_param.mode = "SIMULATION"


def view_layer_attribute():
    node = material().node_tree.nodes.new("ShaderNodeAttribute")
    node.attribute_type = "VIEW_LAYER"
    node.attribute_name = "frame_current"


def volume_sequence():
    volume = bpy.data.volumes.new("smoke")
    volume.is_sequence = True
    thing("smoke", volume)


def noise_texture():
    texture = bpy.data.textures.new("grain", "NOISE")
    thing().modifiers.new("rough", "DISPLACE").texture = texture


def nla_track():
    heron = thing()
    key(heron, "location", {1: 0, 5: 1})
    data = heron.animation_data
    action = data.action
    data.action = None
    data.nla_tracks.new().strips.new("walk", 1, action)


def geometry_image():
    sequence(frame_duration=1, frame_start=1)
    node_group("GeometryNodeTree", "GeometryNodeImageTexture")


def texture_movie():
    texture = bpy.data.textures.new("screen", "IMAGE")
    texture.image = bpy.data.images.new("film", 4, 4)
    texture.image.source = "MOVIE"
    texture.image_user.frame_duration = 50
    thing().modifiers.new("rough", "DISPLACE").texture = texture


def keyed_sequence_start():
    tree, node = sequence(frame_duration=1, frame_start=1)
    key(tree, f'nodes["{node.name}"].image_user.frame_start', {1: 1, 4: 5})


def register_script():
    bpy.data.texts.new("start.py").use_module = True


def clip_constraint():
    thing().constraints.new("CAMERA_SOLVER")


def itself():
    owner, _, target = driver()
    target.id = owner
    target.data_path = "location[0]"


def own_transform():
    owner, _, target = driver(type="TRANSFORMS")
    target.id = owner


RULES = [
    (motion_blur, "Scene: Motion blur is on"),
    (keyed_motion_blur, "Scene: Motion blur is on"),
    (animated_seed, "Scene: The noise seed changes"),
    (stretched_time, "Scene: Time is stretched"),
    (stamp, "Scene: Burnt into the picture: .*the frame number"),
    (colour_strip, "Scene: The strip 'sky' in the sequencer"),
    (rigid_body, "Scene: It has a rigid body world"),
    (freestyle_script, "Scene: Freestyle runs scripts in 'ViewLayer'"),
    (particles, "heron: The particle system 'hair' may move"),
    (clip_constraint, "heron: The constraint 'Camera Solver' follows a movie clip"),
    (bone_follows_clip, "rig: The constraint 'Follow Track' follows a movie clip"),
    (itasc_simulation, "rig: Its inverse kinematics are a simulation"),
    (view_layer_attribute, "paper: The node 'Attribute' reads the time"),
    (volume_sequence, "smoke: It plays a sequence of volume files"),
    (noise_texture, "grain: This texture is other noise every time"),
    (nla_track, "heron: Tracks in the NLA editor animate it"),
    (lambda: sequence(frame_duration=12), "paper: The node 'Image Texture' shows 'mouth_0001', which plays"),
    (lambda: sequence("MOVIE", frame_duration=12), "paper: The node 'Image Texture' shows 'mouth_0001', which plays"),
    (lambda: sequence(frame_duration=1, frame_start=4), "paper: .*, which begins on a frame of this render"),
    (keyed_sequence_start, "paper: .*, with keys on when it plays"),
    (geometry_image, "trick: The node 'Image Texture' may show an image sequence"),
    (texture_movie, "screen: The texture shows 'film', which plays"),
    (lambda: driver("frame * 2"), "heron: The driver on location reads the frame number"),
    (lambda: driver(scene=True, data_path="frame_current"), "heron: The driver on location reads the frame number"),
    (lambda: driver(scene=True, data_path="frame_float"), "heron: The driver on location reads the frame number"),
    (lambda: driver("[0][0]"), "heron: The driver on location is written in Python"),
    (itself, "heron: The driver on location reads what it drives"),
    (own_transform, "heron: The driver on location reads what it drives"),
    (register_script, "start.py: This script is set to run with the file"),
    (with_node("GeometryNodeTree", "GeometryNodeInputSceneTime"), "trick: The node 'Scene Time' reads the time"),
    (with_node("GeometryNodeTree", "GeometryNodeSimulationInput"), "trick: The node 'Simulation Input' simulates"),
    (with_node("GeometryNodeTree", "GeometryNodeSimulationOutput"), "trick: The node 'Simulation Output' simulates"),
    (with_node("GeometryNodeTree", "GeometryNodeBake"), "trick: The node 'Bake' plays a bake"),
    (with_node("CompositorNodeTree", "CompositorNodeSceneTime"), "trick: The node 'Scene Time' reads the time"),
]


@pytest.mark.parametrize(("build", "expected"), RULES, ids=[expected for _, expected in RULES])
def test_a_scene_is_refused_and_told_why(build, expected):
    assert reasons() == []
    build()
    assert [told for told in reasons() if re.match(expected, told)], reasons()
    assert held.plan(scene(), 1, 8).picture.tolist() == list(range(1, 9))


def known_here(kinds, enum):
    return sorted(set(kinds) & {item.identifier for item in enum})


HAS_OLD_PENCIL = "grease_pencil_modifiers" in bpy.types.Object.bl_rna.properties
MODIFIERS = [
    kind
    for kind in known_here(refusals.MODIFIERS, bpy.types.Modifier.bl_rna.properties["type"].enum_items)
    if not (HAS_OLD_PENCIL and kind.startswith("GREASE_PENCIL"))  # 4.2 knows their names but cannot make them
]


@pytest.mark.parametrize("kind", MODIFIERS)
def test_modifiers_that_know_the_time_are_refused(kind):
    pencils = getattr(bpy.data, "grease_pencils_v3", bpy.data.grease_pencils)
    made = thing("line", pencils.new("line")) if kind.startswith("GREASE_PENCIL") else thing("line")
    made.modifiers.new("m", kind)
    assert f"line: The modifier 'm' {refusals.MODIFIERS[kind]}." in reasons()


OLD_PENCIL = [kind for kind in refusals.MODIFIERS if kind.startswith("GP_")]


@pytest.mark.skipif(not HAS_OLD_PENCIL, reason="gone after 4.2")
@pytest.mark.parametrize("kind", OLD_PENCIL)
def test_modifiers_of_the_older_grease_pencil_are_refused(kind):
    thing("line", bpy.data.grease_pencils.new("line")).grease_pencil_modifiers.new("m", kind)
    assert reasons() == [f"line: The modifier 'm' {refusals.MODIFIERS[kind]}."]


CONSTRAINTS = known_here(refusals.CONSTRAINTS, bpy.types.Constraint.bl_rna.properties["type"].enum_items)


@pytest.mark.parametrize("kind", CONSTRAINTS)
def test_constraints_that_play_are_refused(kind):
    thing().constraints.new(kind).name = "c"
    assert reasons() == [f"heron: The constraint 'c' {refusals.CONSTRAINTS[kind]}."]


@pytest.mark.parametrize("kind", [kind for kind in refusals.NODES if kind.startswith("Compositor")])
def test_compositor_nodes_that_know_the_time_are_refused(kind):
    (node,) = node_group("CompositorNodeTree", kind)
    assert reasons() == [f"trick: The node '{node.name}' {refusals.NODES[kind]}."]


def test_other_nodes_that_know_the_time_are_refused():
    script = material().node_tree.nodes.new("ShaderNodeScript")
    tree = bpy.data.textures.new("old", "CLOUDS")
    thing().modifiers.new("rough", "DISPLACE").texture = tree
    tree.use_nodes = True
    tree.node_tree.nodes.new("TextureNodeCurveTime")
    assert f"paper: The node '{script.name}' runs a script." in reasons()
    assert any(told.startswith("old: The node") and told.endswith("runs on the frame number.") for told in reasons())


@pytest.mark.parametrize("when", refusals.HANDLERS)
def test_python_on_every_frame_is_refused(when):
    def wobble(*_):
        pass

    calls = getattr(bpy.app.handlers, when)
    calls.append(wobble)
    try:
        assert reasons() == [f"{__name__}: Python runs on every frame: {when} calls 'wobble'."]
        wobble.__module__ = "pastepot_blender.steps.render"
        assert reasons() == []
        wobble.__module__ = "pastepot_blender_too"
        assert len(reasons()) == 1
    finally:
        calls.remove(wobble)


def test_another_scene_that_is_seen_in_this_one_counts():
    other = bpy.data.scenes.new("Pond")
    other.render.use_motion_blur = True
    assert reasons() == []
    scene().background_set = other
    assert reasons() == ["Pond: Motion blur is on."]


def test_a_scene_in_the_compositor_counts():
    other = bpy.data.scenes.new("Pond")
    other.render.use_motion_blur = True
    if "compositing_node_group" in bpy.types.Scene.bl_rna.properties:
        scene().compositing_node_group = bpy.data.node_groups.new("comp", "CompositorNodeTree")
    else:
        scene().use_nodes = True
    host.compositor(scene()).nodes.new("CompositorNodeRLayers").scene = other
    assert reasons() == ["Pond: Motion blur is on."]


def test_every_reason_is_told_at_once():
    motion_blur()
    rigid_body()
    thing().modifiers.new("m", "CLOTH")
    assert len(reasons()) == 3


def test_every_reason_says_what_to_do():
    motion_blur()
    (problem,) = held.plan(scene(), 1, 2).refusals
    assert (problem.severity, problem.fix) == ("warning", "Turn it off in the render properties.")


# ── what is read and not refused ───────────────────────────────────────────────────────────────────────────────────


def group_value():
    (node,) = node_group("GeometryNodeTree", "ShaderNodeValue")
    key(node.id_data, f'nodes["{node.name}"].outputs[0].default_value', {1: 0, 5: 1})


def compositor_value():
    (node,) = node_group("CompositorNodeTree", "CompositorNodeRGB")
    key(node.id_data, f'nodes["{node.name}"].outputs[0].default_value', {1: 0, 5: 1})


def sequence_offset():
    tree, node = sequence(frame_duration=1, frame_start=1)
    key(tree, f'nodes["{node.name}"].image_user.frame_offset', {1: 0, 5: 1})


def driven_by_keys():
    lead = thing("lead")
    key(lead, "location", {1: 0, 5: 1})
    driver("var * 2", id=lead, data_path="location[0]")


@pytest.mark.parametrize("build", [group_value, compositor_value, sequence_offset, driven_by_keys])
def test_what_keys_move_by_way_of_nodes_and_drivers_is_read(build):
    build()
    assert reasons() == []
    assert held.plan(scene(), 1, 8).picture.tolist() == [1, 1, 1, 1, 5, 5, 5, 5]


def test_drivers_of_properties_need_no_frame_of_their_own():
    driver("sin(var) + 1", scene=True, data_path="render.fps")
    assert reasons() == []
    assert held.plan(scene(), 1, 8).picture.tolist() == [1] * 8


def test_what_nothing_uses_does_not_count():
    bpy.data.node_groups.new("left over", "GeometryNodeTree").nodes.new("GeometryNodeInputSceneTime")
    bpy.data.node_groups["left over"].use_fake_user = True
    assert reasons() == []


# ── the page for the animator ──────────────────────────────────────────────────────────────────────────────────────

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "render.md"
TABLES = (refusals.MODIFIERS, refusals.CONSTRAINTS, refusals.NODES, refusals.NODE_FAMILIES, refusals.STAMPS)


@pytest.mark.parametrize("words", sorted({words for table in TABLES for words in table.values()}))
def test_the_page_tells_of_every_kind(words):
    assert words in PAGE.read_text(encoding="utf-8")
