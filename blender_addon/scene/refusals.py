"""What can change a picture from frame to frame without a key that says so.

Each rule looks at the opened file and tells of every such thing it finds; if there is one, no frame may stand in for
another. docs/reference/render.md lists the rules for the animator. A rule may be too careful (that costs time), never
too trusting (that costs a wrong film).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import bpy
from pastepot.errors import Problem

from .. import host
from . import blocks

Found = Iterator[tuple[str, str]]  # what it is, what to do

_BAKE = "Bake it into keys, or remove it."

# Modifiers that know what time it is, or what was before. GP_ is the older grease pencil of Blender 4.2.
MODIFIERS = {
    "BUILD": "builds up frame by frame",
    "CLOTH": "simulates cloth",
    "DYNAMIC_PAINT": "simulates paint",
    "EXPLODE": "follows particles",
    "FLUID": "simulates a fluid",
    "GREASE_PENCIL_BUILD": "builds up frame by frame",
    "GREASE_PENCIL_NOISE": "moves by chance from frame to frame",
    "GREASE_PENCIL_TIME": "shifts time",
    "GP_BUILD": "builds up frame by frame",
    "GP_NOISE": "moves by chance from frame to frame",
    "GP_TIME": "shifts time",
    "MESH_CACHE": "plays a file",
    "MESH_SEQUENCE_CACHE": "plays a file",
    "OCEAN": "simulates waves",
    "PARTICLE_INSTANCE": "follows particles",
    "PARTICLE_SYSTEM": "simulates particles or hair",
    "SOFT_BODY": "simulates a soft body",
    "WAVE": "runs on the frame number",
}

CONSTRAINTS = {
    "CAMERA_SOLVER": "follows a movie clip",
    "FOLLOW_TRACK": "follows a movie clip",
    "OBJECT_SOLVER": "follows a movie clip",
    "TRANSFORM_CACHE": "plays a file",
}

NODES = {
    "CompositorNodeKeyingScreen": "follows a movie clip",
    "CompositorNodeMask": "shows a mask, which may move",
    "CompositorNodeMovieClip": "plays a movie clip",
    "CompositorNodeMovieDistortion": "follows a movie clip",
    "CompositorNodeOutputFile": "writes a file of its own on every frame",
    "CompositorNodePlaneTrackDeform": "follows a movie clip",
    "CompositorNodeStabilize": "follows a movie clip",
    "CompositorNodeTime": "runs on the frame number",
    "CompositorNodeTrackPos": "follows a movie clip",
    "CompositorNodeVecBlur": "blurs by what moves between frames",
    "GeometryNodeBake": "plays a bake",
    "ShaderNodeScript": "runs a script",
    "TextureNodeCurveTime": "runs on the frame number",
}

# Families of nodes that grow with every version of Blender, by a piece of the name.
NODE_FAMILIES = {"SceneTime": "reads the time", "Simul": "simulates"}

HANDLERS = (
    "frame_change_pre", "frame_change_post", "depsgraph_update_pre", "depsgraph_update_post", "render_init",
    "render_pre", "render_post", "render_write", "composite_pre", "composite_post",
)  # fmt: skip

STAMPS = {
    "use_stamp_date": "the date",
    "use_stamp_frame": "the frame number",
    "use_stamp_marker": "the marker's name",
    "use_stamp_memory": "the memory used",
    "use_stamp_render_time": "the render time",
    "use_stamp_sequencer_strip": "the strip's name",
    "use_stamp_time": "the time code",
}

_PLAYING = ("SEQUENCE", "MOVIE")
_TIME_PATH = re.compile(r"\bframe_(current|float|subframe)")
_TIME_WORD = re.compile(r"\bframe\b")


def find(scene: bpy.types.Scene, first: int, seen: Mapping[bpy.types.ID, str]) -> tuple[Problem, ...]:
    """Every reason why frames of this scene, from frame `first` on, may not stand in for one another.

    seen: the file's datablocks and their names, from blocks.all_of_them
    """
    found: list[Problem] = []
    for each in blocks.scenes_of(scene):
        found += [_problem(each.name_full, *told) for rule in SCENE_RULES for told in rule(each)]
    found += [_problem(name, *told) for rule in BLOCK_RULES for block, name in seen.items() for told in rule(block)]
    found += [_problem(seen[block], *told) for block, *told in _playing_images(list(seen), first)]
    found += [_problem(name, *told) for name, *told in _python()]
    return tuple(dict.fromkeys(found))


def _problem(name: str, what: str, fix: str) -> Problem:
    return Problem(what, fix, part=name, severity="warning")


# ── the scene's own settings ───────────────────────────────────────────────────────────────────────────────────────


def _on(block: bpy.types.ID, path: str) -> bool:
    """Whether a switch is on, or keyed so that it may come on."""
    return bool(block.path_resolve(path)) or path in blocks.animated_paths(block)


def _blur(scene: bpy.types.Scene) -> Found:
    if _on(scene, "render.use_motion_blur"):
        yield "Motion blur is on.", "Turn it off in the render properties."


def _seed(scene: bpy.types.Scene) -> Found:
    if scene.render.engine == "CYCLES" and _on(scene, "cycles.use_animated_seed"):
        yield (
            "The noise seed changes on every frame.",
            "Turn off the clock beside Seed in the sampling settings, or key the seed itself with constant keys.",
        )


def _time(scene: bpy.types.Scene) -> Found:
    keyed = {"render.frame_map_old", "render.frame_map_new"} & blocks.animated_paths(scene)
    if scene.render.frame_map_old != scene.render.frame_map_new or keyed:
        yield "Time is stretched.", "Set the old and the new time stretching to the same number."


def _stamps(scene: bpy.types.Scene) -> Found:
    if not _on(scene, "render.use_stamp"):
        return
    burnt = [words for name, words in STAMPS.items() if _on(scene, f"render.{name}")]
    if burnt:
        yield f"Burnt into the picture: {', '.join(burnt)}.", "Turn these off in the output properties."


def _strips(scene: bpy.types.Scene) -> Found:
    editor = scene.sequence_editor
    if editor is None or not scene.render.use_sequencer:
        return
    keyed = any(path.startswith("sequence_editor") and path.endswith("mute") for path in blocks.animated_paths(scene))
    for strip in host.strips(editor):
        if strip.type != "SOUND" and (keyed or not strip.mute):
            yield (
                f"The strip '{strip.name}' in the sequencer is part of the picture.",
                "Mute it, or turn off Sequencer under post processing.",
            )


def _physics(scene: bpy.types.Scene) -> Found:
    if scene.rigidbody_world is not None:
        yield "It has a rigid body world.", "Bake the moves into keys and remove the world."


def _freestyle(scene: bpy.types.Scene) -> Found:
    if _on(scene, "render.use_freestyle"):
        for layer in scene.view_layers:
            if layer.use_freestyle and layer.freestyle_settings.mode == "SCRIPT":
                yield f"Freestyle runs scripts in '{layer.name}'.", "Use the parameter editor instead."


SCENE_RULES: tuple[Callable[[bpy.types.Scene], Found], ...] = (
    _blur, _seed, _time, _stamps, _strips, _physics, _freestyle,
)  # fmt: skip


# ── datablocks ─────────────────────────────────────────────────────────────────────────────────────────────────────


def _modifiers(block: bpy.types.ID) -> Found:
    if not isinstance(block, bpy.types.Object):
        return
    for modifier in (*block.modifiers, *getattr(block, "grease_pencil_modifiers", ())):
        if modifier.type in MODIFIERS:
            yield f"The modifier '{modifier.name}' {MODIFIERS[modifier.type]}.", _BAKE
    for system in block.particle_systems:
        yield f"The particle system '{system.name}' may move.", "Turn it into objects, or remove it."


def _constraints(block: bpy.types.ID) -> Found:
    if not isinstance(block, bpy.types.Object):
        return
    bones = block.pose.bones if block.pose else ()
    for constraint in (*block.constraints, *(c for bone in bones for c in bone.constraints)):
        if constraint.type in CONSTRAINTS:
            yield f"The constraint '{constraint.name}' {CONSTRAINTS[constraint.type]}.", _BAKE
    if block.pose and block.pose.ik_solver == "ITASC" and block.pose.ik_param.mode == "SIMULATION":
        yield "Its inverse kinematics are a simulation.", "Set the iTaSC solver's mode to Animation."


def _nodes(block: bpy.types.ID) -> Found:
    if not isinstance(block, bpy.types.NodeTree):
        return
    for node in block.nodes:
        does = NODES.get(node.bl_idname) or next(
            (does for piece, does in NODE_FAMILIES.items() if piece in node.bl_idname), ""
        )
        if node.bl_idname == "ShaderNodeAttribute" and node.attribute_type == "VIEW_LAYER":
            does = "reads the time" if _TIME_PATH.search(node.attribute_name) else ""
        if does:
            yield f"The node '{node.name}' {does}.", "Remove it if the picture does without."


def _playback(block: bpy.types.ID) -> Found:
    if isinstance(block, bpy.types.Volume) and block.is_sequence:
        yield "It plays a sequence of volume files.", "Use a single file."
    if isinstance(block, bpy.types.Texture) and block.type == "NOISE":
        yield "This texture is other noise every time.", "Use a Clouds texture instead."


def _nla(block: bpy.types.ID) -> Found:
    data = blocks.animation(block)
    if data is None or not data.use_nla:
        return
    if any(not track.mute and any(not strip.mute for strip in track.strips) for track in data.nla_tracks):
        yield "Tracks in the NLA editor animate it.", "Bake them into keys, or mute them."


def _drivers(block: bpy.types.ID) -> Found:
    # A driver is a function of its variables, and these read properties: keyed ones are in the table, driven ones come
    # out of this same rule, and what is neither stays as it is. So where all of a driver's inputs are the same on two
    # frames its value is too. Its own curve and modifiers are looked up by that value, not by the frame.
    data = blocks.animation(block)
    for curve in data.drivers if data is not None else ():
        why = "" if curve.mute else _reads_more(block, curve)
        if why:
            yield f"The driver on {curve.data_path} {why}.", "Use keys in its place."


def _reads_more(block: bpy.types.ID, curve: bpy.types.FCurve) -> str:
    """What the driver depends on besides properties; '' if on nothing."""
    driver = curve.driver
    if driver.type == "SCRIPTED":
        if _TIME_WORD.search(driver.expression):
            return "reads the frame number"
        if driver.use_self or not driver.is_simple_expression:
            return "is written in Python"
    itself = (curve.data_path, f"{curve.data_path}[{curve.array_index}]")
    for variable, target in ((v, target) for v in driver.variables for target in v.targets):
        if _TIME_PATH.search(target.data_path):
            return "reads the frame number"
        by_path = variable.type in ("SINGLE_PROP", "CONTEXT_PROP")
        if target.id == block and (target.data_path in itself if by_path else not target.bone_target):
            return "reads what it drives, so it may depend on the frame before"
    return ""


BLOCK_RULES: tuple[Callable[[bpy.types.ID], Found], ...] = (
    _modifiers, _constraints, _nodes, _playback, _nla, _drivers,
)  # fmt: skip


# ── images that play ───────────────────────────────────────────────────────────────────────────────────────────────


def _playing_images(seen: list[bpy.types.ID], first: int) -> Iterator[tuple[bpy.types.ID, str, str]]:
    """Sequences and movies, unless all that moves them is the keyed offset of a one-frame sequence."""
    for block in seen:
        for place, image, user, path in _image_users(block):
            if image is not None and image.source in _PLAYING:
                why = _plays(user, path, first, blocks.animated_paths(block))
                if why:
                    yield block, f"{place} shows '{image.name}', {why}.", _SEQUENCE_FIX
    if not any(isinstance(block, bpy.types.Image) and block.source in _PLAYING for block in seen):
        return
    for block in seen:  # here the image may come in from anywhere, and its number too
        for node in block.nodes if isinstance(block, bpy.types.GeometryNodeTree) else ():
            if node.bl_idname == "GeometryNodeImageTexture":
                what = f"The node '{node.name}' may show an image sequence or a movie."
                yield block, what, "Use single images in geometry nodes."


_SEQUENCE_FIX = "Set its Frames to 1 and its Start Frame to the first frame or before, and key its Offset."


def _image_users(block: bpy.types.ID) -> Iterator[tuple[str, Any, Any, str]]:
    """(what shows it, image, its settings, their path) for every image in this datablock's nodes or texture."""
    if isinstance(block, bpy.types.ImageTexture):
        yield "The texture", block.image, block.image_user, "image_user"
    for node in block.nodes if isinstance(block, bpy.types.NodeTree) else ():
        user = getattr(node, "image_user", None) or node
        if hasattr(user, "frame_duration"):
            path = f'nodes["{bpy.utils.escape_identifier(node.name)}"]'
            yield f"The node '{node.name}'", node.image, user, path if user is node else f"{path}.image_user"


def _plays(user: Any, path: str, first: int, animated: set[str]) -> str:
    if user.frame_duration > 1:
        return "which plays"
    if user.frame_start > first:
        return "which begins on a frame of this render"
    if {f"{path}.frame_duration", f"{path}.frame_start", f"{path}.use_cyclic"} & animated:
        return "with keys on when it plays"
    return ""


# ── Python ─────────────────────────────────────────────────────────────────────────────────────────────────────────


def _python() -> Iterator[tuple[str, str, str]]:
    ours = __package__.removesuffix(".scene")
    for when in HANDLERS:
        for handler in getattr(bpy.app.handlers, when):
            module = getattr(handler, "__module__", "") or "?"
            if module != ours and not module.startswith(f"{ours}."):
                what = f"Python runs on every frame: {when} calls '{getattr(handler, '__name__', repr(handler))}'."
                yield module, what, "Turn off the add-on or script it belongs to."
    for text in bpy.data.texts:
        if text.use_module:
            yield text.name, "This script is set to run with the file.", "Turn off Register in its text editor."
