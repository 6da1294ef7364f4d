"""A scene as an exposure sheet: the columns, what stands in them, and that reading changes nothing."""

from __future__ import annotations

import hashlib
from pathlib import Path

import bpy
import numpy as np
import pytest
from pastepot import cli
from pastepot.errors import PastepotError
from pastepot.film import load
from pastepot.timing import sheet_json, sheet_table
from pastepot.timing.feel import Feel
from pastepot.timing.sheet import Sheet
from pastepot_blender import host, ids
from pastepot_blender.scene import actions
from pastepot_blender.scene.targets import targets
from pastepot_blender.steps import sheet as step
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, make
from pastepot_blender.steps.retime import retime


class Say:
    """Listens to a job."""

    def __init__(self) -> None:
        self.problems = []

    def problem(self, problem) -> None:
        self.problems.append(problem)


def obj(part: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == part)


def key(block: bpy.types.ID, path: str, index: int, values: dict[int, float]) -> None:
    for frame, value in values.items():
        if index < 0:
            setattr(block, path, bool(value) if path.startswith("hide") else value)
        else:
            getattr(block, path)[index] = value
        block.keyframe_insert(path, index=index, frame=frame)


@pytest.fixture
def scene(pond: Path) -> bpy.types.Scene:
    """The cast with a waving wing, a walking heron, a blink and a camera that moves in."""
    scene = bpy.context.scene
    build(scene, pond, lambda *_: None)
    scene.frame_end = 24
    key(obj("wing"), "rotation_euler", 1, {1: 0.0, 9: 1.0, 15: 1.0, 24: 0.0})
    key(figure(), "location", 0, {1: 0.0, 12: 0.5})
    for part, hidden in (("eye-open", {1: 0, 10: 1, 12: 0}), ("eye-shut", {1: 1, 10: 0, 12: 1})):
        for path in ("hide_render", "hide_viewport"):
            key(obj(part), path, -1, hidden)
    key(scene.camera.data, "ortho_scale", -1, {1: 3.2, 24: 2.5})
    return scene


def figure() -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.CHARACTER) == "heron")


def read(part: str = "") -> tuple[Sheet, dict, list]:
    say = Say()
    answer = step.job({"part": part}, say)
    return sheet_json.from_values(answer["sheet"]), answer, say.problems


def test_columns_are_by_character_and_layer(scene) -> None:
    sheet, answer, problems = read()
    assert [(c.kind, c.character, c.name) for c in sheet.columns] == [
        ("character", "heron", "heron"),
        ("part", "heron", "wing"),
        ("set", "heron", "eye"),
        ("camera", "", "camera"),
    ]
    assert (sheet.title, sheet.fps, sheet.first, sheet.frames) == ("Pond", 12, 1, 24)
    assert answer["shots"] == [["a", 1, 24]]
    assert problems == []


def test_an_eye_blinks_in_the_column_of_its_set(scene) -> None:
    cells = read()[0].column("eye").cells
    assert [(c.start, c.frames, c.label) for c in cells] == [
        (1, 9, "eye-open"), (10, 2, "eye-shut"), (12, 13, "eye-open"),
    ]  # fmt: skip


def test_a_handmade_scene_shows_its_exposures(scene) -> None:
    make(scene, Settings(feel=Feel(pattern=(2,))))
    wing = read()[0].column("wing").cells
    assert [c.start for c in wing] == [1, 3, 5, 7, 9, 17, 19, 21, 24]
    assert [c.start for c in wing if c.extreme] == [1, 9, 24]
    assert [c.label for c in wing] == ["1", "2", "3", "4", "5", "6", "7", "8", "1"]
    assert wing[4].frames == 8  # the second key of the hold changes nothing


def test_cells_begin_exactly_where_the_picture_changes(scene) -> None:
    """Held against Blender's own evaluation of the scene, frame by frame."""
    make(scene, Settings())
    sheet = read()[0]
    for name, part in (("wing", obj("wing")), ("heron", figure())):
        poses = []
        for frame in range(1, 25):
            scene.frame_set(frame)
            poses.append((*part.location, *part.rotation_euler))
        changed = [f for f in range(2, 25) if poses[f - 1] != poses[f - 2]]
        assert [c.start for c in sheet.column(name).cells] == [1, *changed]


def test_smooth_is_read_as_smooth(scene) -> None:
    before = read()[0]
    make(scene, Settings(feel=Feel(pattern=(3,))))
    assert read()[0] != before
    for target in targets(scene):
        actions.switch(target.block, False)
    assert read()[0] == before
    wing = before.column("wing").cells
    assert [c.start for c in wing if c.extreme] == [1, 9, 24]


def test_the_same_film_at_24_has_the_same_exposures(scene) -> None:
    make(scene, Settings())
    twelve = read()[0]
    retime(scene, 24)
    twice = read()[0]
    assert (twice.fps, twice.frames) == (24, 48)
    for a, b in zip(twelve.columns, twice.columns, strict=True):
        assert [(2 * c.start - 1, c.label) for c in a.cells] == [(c.start, c.label) for c in b.cells]


def everything() -> str:
    """All keys, names and values that reading could touch."""
    total = hashlib.sha256()
    for action in sorted(bpy.data.actions, key=lambda a: a.name):
        for curve in host.fcurves(action):
            total.update(repr((action.name, curve.data_path, curve.array_index)).encode())
            total.update(repr([(*k.co, *k.handle_left, k.type) for k in curve.keyframe_points]).encode())
    for o in sorted(bpy.data.objects, key=lambda o: o.name):
        total.update(repr((o.name, *o.location, *o.rotation_euler, o.hide_render, sorted(o.keys()))).encode())
    return total.hexdigest()


def test_reading_changes_nothing(scene) -> None:
    make(scene, Settings())
    scene.frame_set(7)
    before = everything()
    read("wing")
    assert everything() == before
    assert scene.frame_current == 7


def test_the_movement_of_a_part_is_where_blender_has_it(scene) -> None:
    """The point whose path is charted, against the object's own matrix."""
    make(scene, Settings())
    answer = read("wing")[1]["motion"]
    film = load(Path(bpy.path.abspath(scene[ids.FILM])))
    right, up, turn = np.array(answer["handmade"])
    x, z = answer["reach_mm"]
    wing = obj("wing")
    for frame in (1, 5, 9, 14, 20):
        scene.frame_set(frame)
        point = wing.matrix_basis @ bpy_vector(x, z, film.units_per_mm)
        a = np.radians(turn[frame - 1])
        charted = (right[frame - 1] + x * np.cos(a) + z * np.sin(a), up[frame - 1] - x * np.sin(a) + z * np.cos(a))
        assert charted == pytest.approx((point[0] / film.units_per_mm, point[2] / film.units_per_mm), abs=1e-3)
    smooth = np.array(answer["smooth"])
    assert (smooth[:2] == smooth[:2, :1]).all()
    assert smooth[2, 8] == pytest.approx(np.degrees(1.0), abs=1e-4)


def bpy_vector(x_mm: float, z_mm: float, units: float):
    from mathutils import Vector

    return Vector((x_mm * units, 0.0, z_mm * units))


def test_what_cannot_be_charted_is_said_with_what_can(scene) -> None:
    with pytest.raises(PastepotError, match=r"no animated part 'eye'.*Name one of: heron, wing") as caught:
        read("eye")
    assert len(caught.value.problems) == 1


def test_two_parts_of_a_set_at_once_are_a_warning(scene) -> None:
    for curve in host.fcurves(obj("eye-shut").animation_data.action):
        for point in curve.keyframe_points:
            point.co[1] = 0.0
        curve.update()
    sheet, _, problems = read()
    assert sheet.column("eye").cells[0].label == "eye-open + eye-shut"
    assert [(p.severity, p.part) for p in problems] == [("warning", "eye")]
    assert "from frame 1, 12 on" in problems[0].what


def test_a_piece_has_no_pose_while_it_is_hidden(scene) -> None:
    key(obj("wing"), "hide_render", -1, {1: 1, 5: 0})
    cells = read()[0].column("wing").cells
    assert (cells[0].start, cells[0].frames, cells[0].label) == (1, 4, "")
    assert cells[1].label == "1"


def test_subtitles_of_the_shot_are_the_dialogue(scene, pond) -> None:
    (pond / "track").mkdir()
    (pond / "track" / "a.srt").write_text(
        "1\n00:00:00,500 --> 00:00:01,000\nHERON: Still\nwaiting.\n", encoding="utf-8"
    )
    column = read()[0].columns[0]
    assert column.kind == "dialogue"
    assert [(c.start, c.frames, c.label) for c in column.cells] == [
        (1, 6, ""), (7, 6, "HERON: Still waiting."), (13, 12, ""),
    ]  # fmt: skip


@pytest.mark.skipif(not bpy.app.build_options.audaspace, reason="this Blender package has no sound")
def test_a_sound_strip_brings_its_subtitles_or_its_name(scene, pond) -> None:
    import wave

    (pond / "track").mkdir()
    with wave.open(str(pond / "track" / "kettle.wav"), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(12000)
        sound.writeframes(bytes(2 * 12000))
    strips = host.strips(scene.sequence_editor_create())
    strips.new_sound(name="kettle", filepath=str(pond / "track" / "kettle.wav"), channel=1, frame_start=4)
    cells = read()[0].column("dialogue").cells
    assert [(c.start, c.frames, c.label) for c in cells] == [(1, 3, ""), (4, 12, "kettle"), (16, 9, "")]
    (pond / "track" / "kettle.srt").write_text("1\n00:00:00,250 --> 00:00:00,500\nPfff.\n", encoding="utf-8")
    cells = read()[0].column("dialogue").cells
    assert [(c.start, c.frames, c.label) for c in cells] == [(1, 6, ""), (7, 3, "Pfff."), (10, 15, "")]


def test_a_part_set_aside_is_left_out(scene, pond) -> None:
    text = (pond / "parts.toml").read_text(encoding="utf-8")
    begin = text.index('[[part]]\nname = "wing"')
    end = text.index("[[part]]", begin + 5)
    (pond / "parts.toml").write_text(text[:begin] + text[end:], encoding="utf-8")
    build(scene, pond, lambda *_: None)
    assert [c.name for c in read()[0].columns] == ["heron", "eye", "camera"]


def test_nothing_animated_is_said(pond: Path) -> None:
    build(bpy.context.scene, pond, lambda *_: None)
    with pytest.raises(PastepotError, match="Nothing in the film's collections is animated"):
        read()
    del bpy.context.scene[ids.FILM]
    with pytest.raises(PastepotError, match="film folder of this scene was not found"):
        read()


def test_the_command_from_scene_to_files(scene, tmp_path) -> None:
    """The whole way: a Blender of its own opens the saved scene; the sheet and a chart come out."""
    make(scene, Settings())
    expected = read()[0]
    blend = tmp_path / "scene.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(blend))
    before = blend.read_bytes()
    assert cli.main(["sheet", str(blend), "-o", str(tmp_path / "a.csv")]) == 0
    assert sheet_table.read(tmp_path / "a.csv").sheet == expected
    assert cli.main(["sheet", str(blend), "--part", "wing", "--frames", "1-12", "-o", str(tmp_path / "a.svg")]) == 0
    assert "frames 1 to 12, 12 frames a second" in (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert cli.main(["sheet", str(blend), "--part", "wing", "--frames", "9-99", "-o", str(tmp_path / "b.svg")]) == 2
    assert blend.read_bytes() == before
