"""The whole frame in a scene: it weaves, its light flickers, its paper boils, in pictures; and off means gone."""

from __future__ import annotations

import itertools
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
from mathutils import Vector
from pastepot.errors import PastepotError
from pastepot.timing.feel import Feel
from pastepot.timing.frame import FrameEffects, frame_effects
from pastepot.timing.handmade import Table
from pastepot_blender import host, ids
from pastepot_blender.scene import actions, held, paper, paper_light, shown_frame
from pastepot_blender.scene.targets import targets
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, _switch, make

STILL = {"offset_mm": 0.0, "turn_deg": 0.0}
ALL = Feel(**STILL, weave_mm=0.4, weave_deg=0.5, flicker_stops=0.02, boil_mm=1.0, bumps=60.0)


@pytest.fixture
def scene(pond: Path) -> bpy.types.Scene:
    return staged(pond)


def staged(pond: Path, look: str = "flat") -> bpy.types.Scene:
    """The cast with one moving part, rendered in 160 x 90 pixels, one sample each."""
    path = pond / "film.toml"
    text = path.read_text(encoding="utf-8").replace("seed = 7", f'seed = 7\nframe_width_mm = 80\nlook = "{look}"')
    path.write_text(text.replace("[64, 36]", "[160, 90]"), encoding="utf-8")
    scene = bpy.context.scene
    build(scene, pond, lambda *_: None)
    wing = next(o for o in scene.objects if o.get(ids.PART) == "wing")
    for frame, turn in {1: 0.0, 9: 1.0, 24: 0.0}.items():
        wing.rotation_euler[1] = turn
        wing.keyframe_insert("rotation_euler", index=1, frame=frame)
    scene.cycles.samples = 1
    scene.cycles.use_adaptive_sampling = False
    return scene


def picture(scene: bpy.types.Scene, frame: int, folder: Path) -> np.ndarray:
    """(H, W, 3) linear light of one frame, 32-bit."""
    scene.frame_set(frame)
    settings = scene.render.image_settings
    if "media_type" in settings.bl_rna.properties:
        settings.media_type = "IMAGE"
    settings.file_format, settings.color_depth, settings.color_mode = "OPEN_EXR", "32", "RGB"
    scene.render.filepath = str(folder / "frame.exr")
    bpy.ops.render.render(write_still=True)
    return loaded(Path(scene.render.filepath))


def loaded(path: Path) -> np.ndarray:
    image = bpy.data.images.load(str(path))
    values = np.empty(len(image.pixels), np.float32)
    image.pixels.foreach_get(values)
    width, height = image.size
    bpy.data.images.remove(image)
    return values.reshape(height, width, -1)[..., :3]


def effects_of(feel: Feel, frames: int = 24) -> FrameEffects:
    return frame_effects(np.arange(1, frames + 1), feel, Table(12, 1, 7, 0.01), frames)


def shown(scene: bpy.types.Scene) -> list[tuple[float, ...]]:
    """Where the camera is and what the paper's nodes say, on a few frames."""
    out = []
    for frame in (1, 6, 12, 24):
        scene.frame_set(frame)
        given = bpy.context.evaluated_depsgraph_get()
        nodes = bpy.data.node_groups[paper.GROUP].evaluated_get(given).nodes
        values = [nodes[f"Pastepot {name}"].outputs[0].default_value for name in ("light", "right", "up")]
        out.append((*values, *(x for row in scene.camera.evaluated_get(given).matrix_world for x in row)))
    return out


def everything(scene: bpy.types.Scene) -> tuple[object, ...]:
    """What the effects could leave behind."""
    tree = bpy.data.node_groups[paper.GROUP]
    links = {(a.from_node.name, a.from_socket.name, a.to_node.name, a.to_socket.name) for a in tree.links}
    drivers = len(tree.animation_data.drivers) if tree.animation_data else 0
    return {node.name for node in tree.nodes}, links, drivers, set(scene.objects), list(scene.camera.constraints)


@pytest.mark.parametrize("look", ["flat", "lit"])
@pytest.mark.parametrize("engine", ["CYCLES", host.EEVEE])
def test_flicker_is_exact_in_linear_light(pond: Path, look: str, engine: str, tmp_path: Path) -> None:
    """2 ** stops at every pixel of paper. Cycles to float32; EEVEE keeps its pictures in half floats (11 bits)."""
    scene = staged(pond, look)
    scene.render.engine = engine
    scene.eevee.taa_render_samples = 1
    feel = Feel(**STILL, flicker_stops=0.02)
    make(scene, Settings(feel=Feel(**STILL)))
    steady = picture(scene, 13, tmp_path)
    make(scene, Settings(feel=feel))
    lit = picture(scene, 13, tmp_path)
    on_paper = steady > 0.05
    assert on_paper.sum() > 1000
    off = np.abs(lit[on_paper] / steady[on_paper] / effects_of(feel).gain[12] - 1)
    # On a soft edge Cycles draws lots between paper and what is behind it, by how light both are: noise, no bias.
    assert np.quantile(off, 0.9) < (2e-6 if engine == "CYCLES" else 2**-10)
    assert off.mean() < 1e-3


def test_boil_changes_the_surface_and_not_the_outline(scene, tmp_path: Path) -> None:
    make(scene, Settings(feel=Feel(**STILL)))
    plain = picture(scene, 12, tmp_path)
    make(scene, Settings(feel=Feel(**STILL, boil_mm=1.0)))
    one, other = picture(scene, 12, tmp_path), picture(scene, 13, tmp_path)
    on_paper = plain[..., 1] > 0.05
    assert ((one != other).any(axis=-1) & on_paper).sum() > on_paper.sum() / 2
    share = one[on_paper] / plain[on_paper]
    assert np.abs(share - 1).max() <= paper_light.GRAIN_SHARE + 1e-5
    assert abs(share.mean() - 1) < 0.01
    assert (one[plain.max(axis=-1) == 0] == 0).all()


def test_what_is_not_touched_is_the_same_to_the_last_pixel(scene, tmp_path: Path) -> None:
    """Between its extremes the wing is set anew for each picture; everything around it is zero away from itself."""
    make(scene, Settings(feel=Feel(offset_mm=1.0, turn_deg=2.0)))
    pictures = np.stack([picture(scene, frame, tmp_path) for frame in range(2, 9)])
    changed = (pictures != pictures[0]).any(axis=(0, 3))
    assert changed.any()
    wing = next(o for o in scene.objects if o.get(ids.PART) == "wing")
    wing.hide_render = True
    bare = np.stack([picture(scene, frame, tmp_path) for frame in range(2, 9)])
    assert (bare == bare[0]).all()
    assert (pictures[:, ~changed] == pictures[0][~changed]).all()
    held_px = np.stack([picture(scene, frame, tmp_path) for frame in (24, 23)])
    assert (held_px[0] == bare[0]).all()


def test_all_of_it_together_can_still_be_planned(scene, tmp_path: Path) -> None:
    """On twos each picture is rendered once, and the two frames that share it are equal to the pixel."""
    make(scene, Settings(feel=ALL, pattern=(2,)))
    plan = held.plan(scene, 1, 24)
    assert plan.refusals == ()
    wing = next(o for o in scene.objects if o.get(ids.PART) == "wing")
    assert wing.animation_data is not None
    for frame, shows in zip(plan.frames[:6], plan.picture[:6], strict=True):
        assert (picture(scene, int(frame), tmp_path) == picture(scene, int(shows), tmp_path)).all()
    assert len(plan.pictures) == len(np.unique(plan.picture)) < 24
    pictures = [picture(scene, int(frame), tmp_path) for frame in plan.pictures[:4]]
    assert all((a != b).any() for a, b in itertools.pairwise(pictures))


@pytest.mark.parametrize("name", ["weave_mm", "weave_deg", "flicker_stops", "boil_mm", "bumps"])
def test_the_planner_tells_frames_apart_by_each_alone(scene, name: str) -> None:
    scene.animation_data_clear()
    for target in targets(scene):
        target.block.animation_data_clear()
    effects = effects_of(Feel(**{name: getattr(ALL, name)}), 240)
    shown_frame.apply(scene, effects, 0.01)
    plan = held.plan(scene, 1, 240)
    assert plan.refusals == ()
    assert len(plan.pictures) == (1 + effects.bumped.sum() if name == "bumps" else 240)


def test_off_is_gone_and_on_again_is_the_same(scene) -> None:
    before = everything(scene)
    make(scene, Settings(feel=ALL))
    made = shown(scene)
    assert everything(scene) != before
    assert _switch(scene, False)
    assert everything(scene) == before
    assert _switch(scene, True)
    assert shown(scene) == made
    make(scene, Settings(feel=ALL))
    assert shown(scene) == made
    make(scene, Settings(feel=Feel(**STILL)))
    assert everything(scene) == before
    assert ids.FRAME_ACTION not in scene


def test_the_animators_own_keys_and_constraints_stay(scene) -> None:
    camera = scene.camera
    for frame, x in {1: 0.0, 24: 0.5}.items():
        camera.location[0] = x
        camera.keyframe_insert("location", index=0, frame=frame)
        bpy.data.node_groups[paper.GROUP].nodes["Lamp"].outputs[0].default_value = x
        bpy.data.node_groups[paper.GROUP].nodes["Lamp"].outputs[0].keyframe_insert("default_value", frame=frame)
    camera.constraints.new("LIMIT_LOCATION").name = "mine"
    before = [(a.name, actions.digest(a)) for a in bpy.data.actions]
    make(scene, Settings(feel=ALL))
    make(scene, Settings(feel=ALL))
    after = [(a.name, actions.digest(a)) for a in bpy.data.actions]
    assert set(before) <= set(after)
    assert [c.name for c in camera.constraints] == ["mine", "Pastepot frame"]
    _switch(scene, False)
    assert [c.name for c in camera.constraints] == ["mine"]


def test_the_camera_shifts_the_other_way_whichever_way_it_looks(scene) -> None:
    """The picture goes right by x and up by y: a point of the paper, seen from the camera, does."""
    scene.camera.rotation_euler = (1.2, 0.3, -0.4)
    effects = effects_of(Feel(weave_mm=2.0, weave_deg=3.0))
    bpy.context.view_layer.update()
    point = Vector((0.3, 0.0, 0.2))
    plain = scene.camera.matrix_world.inverted() @ point
    shown_frame.apply(scene, effects, 0.01)
    for frame in (1, 7):
        scene.frame_set(frame)
        seen = scene.camera.evaluated_get(bpy.context.evaluated_depsgraph_get()).matrix_world.inverted() @ point
        turn = np.radians(effects.turn_deg[frame - 1])
        x = np.cos(turn) * plain[0] - np.sin(turn) * plain[1] + effects.x_mm[frame - 1] * 0.01
        y = np.sin(turn) * plain[0] + np.cos(turn) * plain[1] + effects.y_mm[frame - 1] * 0.01
        assert (*seen,) == pytest.approx((x, y, plain[2]), abs=1e-5)


def test_a_retouched_weave_is_never_lost(scene) -> None:
    make(scene, Settings(feel=ALL))
    curve = next(iter(host.fcurves(scene[ids.FRAME_ACTION])))
    curve.keyframe_points[3].co[1] = 7.0
    (told,) = make(scene, Settings(feel=ALL)).warnings
    assert "Pastepot frame, retouched" in told.fix
    assert bpy.data.actions["Pastepot frame, retouched"].use_fake_user


def test_flicker_that_is_not_safe_is_refused_before_anything_changes(scene) -> None:
    before = everything(scene), len(bpy.data.actions)
    with pytest.raises(PastepotError, match="seizures"):
        make(scene, Settings(feel=Feel(flicker_stops=0.1)))
    assert (everything(scene), len(bpy.data.actions)) == before
    assert ids.TIMING not in scene
    (caution,) = make(scene, Settings(feel=Feel(flicker_stops=0.1, unsafe_flicker=True))).warnings
    assert caution.severity == "warning"
    assert "seizures" in caution.what


def test_a_saved_file_shows_the_same_without_the_add_on(scene, tmp_path: Path) -> None:
    """In a Blender of its own that knows nothing of ours, with scripts off."""
    make(scene, Settings(feel=ALL))
    expected = picture(scene, 7, tmp_path)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    code = (
        f"import bpy; bpy.ops.wm.open_mainfile(filepath={str(tmp_path / 'a.blend')!r}, use_scripts=False)\n"
        "scene = bpy.context.scene; scene.frame_set(7)\n"
        f"scene.render.filepath = {str(tmp_path / 'alone.exr')!r}\n"
        "bpy.ops.render.render(write_still=True)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, timeout=120)
    assert (loaded(tmp_path / "alone.exr") == expected).all()


def test_a_film_with_no_paper_of_ours_is_told(scene) -> None:
    bpy.data.node_groups[paper.GROUP].name = "something else"
    (told,) = shown_frame.apply(scene, effects_of(Feel(flicker_stops=0.01)), 0.01)
    assert "paper is not in this file" in told.what


@pytest.mark.parametrize(("seconds", "warned"), [(6.5, True), (7.5, False)])
def test_a_pan_that_may_strobe_is_told(scene, seconds: float, warned: bool) -> None:
    """A picture's width in 7 s at least: camera handbooks, from memory (core/pastepot/timing/advice.py)."""
    scene.frame_end = 1 + round(12 * seconds)
    for frame, x in ((1, 0.0), (scene.frame_end, scene.camera.data.ortho_scale)):
        scene.camera.location[0] = x
        scene.camera.keyframe_insert("location", index=0, frame=frame)
    for curve in host.fcurves(scene.camera.animation_data.action):
        for point in curve.keyframe_points:
            point.interpolation = "LINEAR"
    told = make(scene, Settings(feel=Feel(**STILL))).warnings
    assert [("may strobe" in problem.what, problem.severity) for problem in told] == [(True, "warning")] * warned
