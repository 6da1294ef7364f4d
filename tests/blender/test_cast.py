"""The cast in the scene: true scale, joints, collections; brought up to date, the animator's own work kept."""

from __future__ import annotations

from pathlib import Path

import bpy
import pytest
from mathutils import Vector
from pastepot.errors import PastepotError
from pastepot_blender import ids
from pastepot_blender.scene import paper
from pastepot_blender.scene.cast import Report
from pastepot_blender.steps.build import build
from PIL import Image

KINDS = ("objects", "meshes", "materials", "images", "collections", "cameras", "actions", "node_groups", "scenes")


def built(folder: Path) -> Report:
    return build(bpy.context.scene, folder, lambda *_: None)


def obj(part: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == part)


def edit(folder: Path, old: str, new: str) -> None:
    path = folder / "parts.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def content() -> dict[str, object]:
    """Everything in the file that could change: every datablock's plain properties, custom ones and mesh points."""
    out: dict[str, object] = {}
    for kind in KINDS:
        for block in getattr(bpy.data, kind):
            for prop in block.bl_rna.properties:
                if prop.type in {"POINTER", "COLLECTION"} or prop.identifier in {"session_uid", "use_nodes"}:
                    continue
                value = getattr(block, prop.identifier)
                out[f"{kind}/{block.name}/{prop.identifier}"] = tuple(value) if getattr(prop, "is_array", 0) else value
            out[f"{kind}/{block.name}/own"] = {k: str(block[k]) for k in dict(block)}
    for mesh in bpy.data.meshes:
        out[f"points/{mesh.name}"] = [tuple(v.co) for v in mesh.vertices]
    for o in bpy.data.objects:
        out[f"pose/{o.name}"] = (o.parent, tuple(map(tuple, o.matrix_parent_inverse)), tuple(o.location))
        out[f"home/{o.name}"] = sorted(c.name for c in o.users_collection)
    return {key: str(value) for key, value in out.items()}


def test_parts_have_their_true_size_and_hang_from_their_joints(pond: Path) -> None:
    report = built(pond)
    assert sorted(report.made) == ["bank", "body", "eye-open", "eye-shut", "wing"]
    bpy.context.view_layer.update()
    assert tuple(obj("body").dimensions) == pytest.approx((0.06, 0.0, 0.12), abs=1e-6)
    joint = obj("wing").matrix_world.translation - obj("body").matrix_world.translation
    # 1 mm right of and 8 mm above the body's pivot, two layers of 1 mm in front of it
    assert tuple(joint) == pytest.approx((0.01, -0.02, 0.08), abs=1e-6)
    assert tuple(obj("wing").location) == (0, 0, 0)


def test_a_turned_parent_takes_its_children_along(pond: Path) -> None:
    built(pond)
    before = obj("wing").matrix_world.translation.copy()
    obj("body").rotation_euler[1] = 0.3
    bpy.context.view_layer.update()
    assert (obj("wing").matrix_world.translation - before).length > 0.01


def test_collections_go_film_character_type(pond: Path) -> None:
    built(pond)
    (film,) = [c for c in bpy.context.scene.collection.children if c.get(ids.PLACE) == "film"]
    assert film.name == "Pond"
    assert sorted(c.name for c in film.children) == ["heron", "pond"]
    heron = film.children["heron"]
    assert sorted(c.name for c in heron.children) == ["heron body", "heron eye", "heron wing"]
    assert [o.name for o in heron.children["heron wing"].objects] == ["wing"]
    assert [o.name for o in heron.objects] == ["heron"]


def test_one_of_a_replacement_set_is_shown(pond: Path) -> None:
    built(pond)
    assert [(o.hide_render, o.hide_viewport) for o in (obj("eye-open"), obj("eye-shut"))] == [
        (False, False),
        (True, True),
    ]


def test_a_new_scene_is_set_up_for_true_colours(pond: Path) -> None:
    built(pond)
    scene = bpy.context.scene
    assert (scene.render.fps, scene.frame_start, scene.frame_end) == (12, 1, 24)
    assert (scene.view_settings.view_transform, scene.render.dither_intensity) == ("Standard", 0.0)
    assert scene.camera.data.type == "ORTHO"


def test_building_again_changes_nothing(pond: Path) -> None:
    built(pond)
    before = content()
    report = built(pond)
    assert not report.changed
    assert content() == before


def test_what_the_animator_made_stays(pond: Path) -> None:
    built(pond)
    wing = obj("wing")
    wing.name = "my wing"
    wing.location[0] = 0.5
    wing.keyframe_insert("rotation_euler", frame=1)
    constraint = wing.constraints.new("LIMIT_ROTATION")
    bpy.data.collections["heron wing"].name = "flappers"
    own = bpy.data.objects.new("moon", None)
    bpy.data.collections["flappers"].objects.link(own)
    obj("body").active_material.node_tree.nodes.new("ShaderNodeRGB").name = "mine"
    edit(pond, "layer = 12", "layer = 20")
    report = built(pond)
    assert report.updated == ["wing"]
    assert (wing.name, wing.location[0], wing.constraints[0]) == ("my wing", 0.5, constraint)
    assert wing.animation_data.action is not None
    assert [c.name for c in own.users_collection] == ["flappers"]
    assert "mine" in obj("body").active_material.node_tree.nodes
    assert wing.matrix_parent_inverse.translation.y == pytest.approx(-0.10)


def test_a_new_pivot_moves_the_paper_not_the_keys(pond: Path) -> None:
    built(pond)
    edit(pond, "pivot_mm = [2, 1]", "pivot_mm = [1, 1]")
    assert built(pond).updated == ["wing"]
    assert min(v.co.x for v in obj("wing").data.vertices) == pytest.approx(-0.01)
    assert tuple(obj("wing").location) == (0, 0, 0)


def test_a_reshot_image_is_taken_up_in_place(pond: Path) -> None:
    built(pond)
    wing, picture = obj("wing"), obj("wing").active_material.node_tree.nodes[paper.IMAGE_NODE].image
    Image.new("RGBA", (80, 60), (10, 200, 30, 255)).save(pond / "parts" / "wing.png")
    assert built(pond).updated == ["wing"]
    assert tuple(picture.size) == (80, 60)
    assert wing.dimensions.x == pytest.approx(0.08)
    assert picture.pixels[1] == pytest.approx(200 / 255)
    assert len([i for i in bpy.data.images if i.get(ids.PART) == "wing"]) == 1


def test_a_vanished_part_is_moved_aside_and_comes_back(pond: Path) -> None:
    built(pond)
    text = (pond / "parts.toml").read_text(encoding="utf-8")
    start = text.index('[[part]]\nname = "wing"')
    (pond / "parts.toml").write_text(text[:start] + text[text.index('[[part]]\nname = "eye-open"') :], encoding="utf-8")
    wing = obj("wing")
    wing.keyframe_insert("rotation_euler", frame=1)
    report = built(pond)
    assert report.set_aside == ["wing"]
    assert "Set aside" in str(report.warnings[0])
    assert [c.get(ids.PLACE) for c in wing.users_collection] == ["film:aside"]
    assert not built(pond).changed
    (pond / "parts.toml").write_text(text, encoding="utf-8")
    report = built(pond)
    assert (report.returned, report.made) == (["wing"], [])
    assert [c.name for c in wing.users_collection] == ["heron wing"]
    assert wing.animation_data.action is not None


def test_a_copy_of_a_part_follows_the_library(pond: Path) -> None:
    built(pond)
    copy = obj("wing").copy()
    copy.location[0] = 1.0
    obj("wing").users_collection[0].objects.link(copy)
    edit(pond, "layer = 12", "layer = 13")
    built(pond)
    assert copy.location[0] == 1.0
    assert copy.matrix_parent_inverse.translation.y == pytest.approx(-0.03)


def test_what_the_animator_hung_elsewhere_stays_there_and_is_told(pond: Path) -> None:
    built(pond)
    obj("wing").matrix_parent_inverse.translation = Vector((9, 9, 9))
    edit(pond, "joint_mm = [4, 3]", "joint_mm = [5, 3]")
    report = built(pond)
    assert obj("wing").matrix_parent_inverse.translation == Vector((9, 9, 9))
    assert any("new offset was not applied to 'wing'" in str(p) for p in report.warnings)


def test_a_shifting_view_transform_is_warned_about(pond: Path) -> None:
    built(pond)
    bpy.context.scene.view_settings.view_transform = "AgX"
    bpy.data.objects.new("unused", None)
    report = built(pond)
    assert bpy.context.scene.view_settings.view_transform == "AgX"
    assert any("AgX, which shifts the paper's colours" in p.what for p in report.warnings)


def test_a_scene_as_blender_starts_it_is_set_up_too(pond: Path) -> None:
    bpy.ops.wm.read_factory_settings()
    scene, before = bpy.context.scene, set(bpy.context.scene.objects)
    bpy.context.scene[ids.FILM] = str(pond)  # the folder was chosen first, as in the sidebar
    report = built(pond)
    assert not report.warnings
    assert before <= set(scene.objects)
    assert {c.get(ids.PLACE) for o in before for c in o.users_collection} == {"film:aside"}
    assert (scene.render.fps, scene.camera.data.type, scene.render.engine) == (12, "ORTHO", "CYCLES")


def test_an_animators_own_scene_is_not_rearranged(pond: Path) -> None:
    scene = bpy.context.scene
    scene.collection.objects.link(bpy.data.objects.new("mine", None))
    scene.render.fps, scene.render.resolution_x = 25, 999
    report = built(pond)
    assert (scene.render.fps, scene.render.resolution_x) == (25, 999)
    assert {p.field for p in report.warnings} >= {"fps", "width"}


def test_a_library_with_problems_touches_nothing(pond: Path) -> None:
    edit(pond, 'parent = "body"', 'parent = "boddy"')
    (pond / "parts" / "bank.png").unlink()
    before = content()
    with pytest.raises(PastepotError) as caught:
        built(pond)
    assert {p.part for p in caught.value.problems} == {"wing", "bank"}
    assert content() == before


def test_a_foreign_png_gets_a_working_copy_with_bled_edges(pond: Path) -> None:
    image = Image.open(pond / "parts" / "wing.png")
    original = image.copy()
    original.paste((0, 0, 0, 0), (0, 0, 5, 60))
    original.save(pond / "parts" / "wing.png")
    before = (pond / "parts" / "wing.png").read_bytes()
    built(pond)
    assert (pond / "parts" / "wing.png").read_bytes() == before
    copy = Image.open(pond / "scenes" / "bled" / "wing.png")
    assert copy.getpixel((2, 30)) == (80, 100, 140, 0)
    assert copy.crop((5, 0, 40, 60)).tobytes() == original.crop((5, 0, 40, 60)).tobytes()
    picture = next(i for i in bpy.data.images if i.get(ids.PART) == "wing")
    assert Path(bpy.path.abspath(picture.filepath)) == pond / "scenes" / "bled" / "wing.png"
    assert not built(pond).changed
