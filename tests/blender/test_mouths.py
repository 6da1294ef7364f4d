"""The mouths of the dialogue in a scene: keyed whole, on the exposures, without losing what the animator keyed."""

from __future__ import annotations

import wave
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import bpy
import pytest
from pastepot import film as films
from pastepot.errors import PastepotError
from pastepot.track import reading
from pastepot.track.align import Spoken
from pastepot.track.choose import Timed
from pastepot.track.reading import LineReading, Reading
from pastepot_blender import host, ids
from pastepot_blender.scene.targets import smooth_action
from pastepot_blender.steps import read as read_step
from pastepot_blender.steps import sheet as sheet_step
from pastepot_blender.steps import words
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, make
from pastepot_blender.steps.read import change, choices, job, lay_mouths
from pastepot_blender.steps.retime import retime

MOUTHS = {
    "rest": 'lips = "closed"\nopen = 0.0\nround = 0.3\n',
    "gape": 'lips = "apart"\nopen = 1.0\nround = 0.3\n',
    "pea": 'lips = "apart"\nopen = 0.3\nround = 1.0\n',
}
# Frame n begins at (n - 1)/12 s. M and AA from frame 5 to 9, UW from 10 to 12.
SOUNDS = (Timed("M", 4 / 12, 5 / 12), Timed("AA", 5 / 12, 9 / 12), Timed("UW", 9 / 12, 12 / 12))


@pytest.fixture
def folder(pond: Path) -> Path:
    """The pond, with two views of a mouth and a reading of one line."""
    from PIL import Image

    text = (pond / "parts.toml").read_text(encoding="utf-8")
    for view in ("front", "side"):
        for name, looks in MOUTHS.items():
            Image.new("RGBA", (8, 6), (90, 40, 40, 255)).save(pond / "parts" / f"{name}-{view}.png")
            text += f'\n[[part]]\nname = "{name}-{view}"\ncharacter = "heron"\nview = "{view}"\ntype = "mouth"\n'
            text += f'image = "parts/{name}-{view}.png"\npx_per_mm = 10.0\npivot_mm = [0.4, 0.3]\n'
            text += f'parent = "{"body" if view == "front" else "wing"}"\nreplaces = "mouth-{view}"\nlayer = 15\n'
            text += f"[part.mouth]\n{looks}"
    (pond / "parts.toml").write_text(text, encoding="utf-8")
    (pond / "track").mkdir()
    with wave.open(str(pond / "track" / "a.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(bytes(2 * 8000 * 2))
    save(pond, line())
    return pond


def line(**other: object) -> LineReading:
    values = {"character": "heron", "sounds": SOUNDS, **other}
    return LineReading("a-1", "HERON", "Ma-oo", 4 / 12, 1.0, "text", **values)


def save(folder: Path, *lines: LineReading) -> None:
    made = Reading("track/a.wav", 2.0, Fraction(12), 1, lines)
    reading.save(made, folder / "track" / "a.reading.json")


@pytest.fixture
def scene(folder: Path) -> bpy.types.Scene:
    """The cast, seen from the front: what stands on the wing is hidden with it."""
    scene = bpy.context.scene
    build(scene, folder, lambda *_: None)
    for name in ("wing", *(f"{m}-side" for m in MOUTHS)):
        obj(name).hide_render = obj(name).hide_viewport = True
    return scene


def obj(part: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == part)


def shown(scene: bpy.types.Scene, view: str = "front") -> list[str]:
    """The one mouth that is shown on each frame ('' none; two are never right)."""
    found = []
    for frame in range(scene.frame_start, scene.frame_end + 1):
        scene.frame_set(frame)
        names = [m for m in MOUTHS if not obj(f"{m}-{view}").hide_render]
        assert names == [m for m in MOUTHS if not obj(f"{m}-{view}").hide_viewport]
        assert len(names) < 2, frame
        found.append("".join(names))
    return found


EXPECTED = ["rest"] * 5 + ["gape"] * 4 + ["pea"] * 3 + ["rest"] * 12


def test_every_exposure_shows_one_mouth(scene) -> None:
    report = lay_mouths(scene)
    assert shown(scene) == EXPECTED
    assert report.sets == ["mouth-front"]
    assert report.warnings == []


def test_a_hidden_view_stays_hidden(scene) -> None:
    lay_mouths(scene)
    assert shown(scene, "side") == [""] * 24
    assert obj("rest-side").animation_data is None


def test_keys_are_constant_and_only_where_something_changes(scene) -> None:
    lay_mouths(scene)
    action, _ = smooth_action(obj("gape-front"))
    curves = {c.data_path: c for c in host.fcurves(action)}
    assert set(curves) == {"hide_render", "hide_viewport"}
    for curve in curves.values():
        assert [tuple(k.co) for k in curve.keyframe_points] == [(1, 1), (6, 0), (10, 1)]
        assert {k.interpolation for k in curve.keyframe_points} == {"CONSTANT"}


def test_laying_twice_is_laying_once(scene) -> None:
    lay_mouths(scene)
    first = shown(scene)
    keys = sum(len(c.keyframe_points) for a in bpy.data.actions for c in host.fcurves(a))
    lay_mouths(scene)
    assert shown(scene) == first
    assert sum(len(c.keyframe_points) for a in bpy.data.actions for c in host.fcurves(a)) == keys


def test_what_the_animator_keyed_between_the_lines_stays(scene) -> None:
    for name in MOUTHS:
        for frame in (1, 18, 22):
            hidden = (name != "rest") if frame != 18 else (name != "pea")
            for path in ("hide_render", "hide_viewport"):
                setattr(obj(f"{name}-front"), path, hidden)
                obj(f"{name}-front").keyframe_insert(path, frame=frame)
    lay_mouths(scene)
    assert shown(scene) == EXPECTED[:17] + ["pea"] * 4 + ["rest"] * 3


def test_keys_outside_the_scenes_frames_stay(scene) -> None:
    obj("gape-front").hide_render = False
    obj("gape-front").keyframe_insert("hide_render", frame=40)
    lay_mouths(scene)
    action, _ = smooth_action(obj("gape-front"))
    curve = next(c for c in host.fcurves(action) if c.data_path == "hide_render")
    assert tuple(curve.keyframe_points[-1].co) == (40, 0)


def test_a_head_that_is_hidden_hides_its_mouth(scene) -> None:
    for frame, hidden in ((1, False), (8, True), (16, False)):
        for path in ("hide_render", "hide_viewport"):
            setattr(obj("body"), path, hidden)
            obj("body").keyframe_insert(path, frame=frame)
    lay_mouths(scene)
    assert shown(scene)[:7] == EXPECTED[:7]
    assert shown(scene)[7:12] == [""] * 5


def test_exposures_begin_on_the_animators_extremes_and_the_films_pattern(scene, folder) -> None:
    (folder / "slow.feel.toml").write_text("schema = 1\npattern = [3]\n", encoding="utf-8")
    film = (folder / "film.toml").read_text(encoding="utf-8")
    (folder / "film.toml").write_text('feel = "slow.feel.toml"\n' + film, encoding="utf-8")
    lay_mouths(scene)
    row = shown(scene)
    assert {n + 1 for n in range(1, 24) if row[n] != row[n - 1]} <= set(range(1, 25, 3))
    assert "gape" in row


def test_handmade_stays_in_use_and_takes_the_mouths_when_made_again(scene) -> None:
    for frame, turn in ((1, 0.0), (24, 1.0)):
        obj("body").rotation_euler[1] = turn
        obj("body").keyframe_insert("rotation_euler", index=1, frame=frame)
    lay_mouths(scene)
    make(scene, Settings())
    save(scene_folder(scene), line(sounds=(Timed("AA", 4 / 12, 1.0),)))
    report = lay_mouths(scene)
    assert [p.what for p in report.warnings] == ["The mouths are in the smooth keys."]
    assert shown(scene) == EXPECTED
    make(scene, Settings())
    assert shown(scene) == ["rest"] * 4 + ["gape"] * 8 + ["rest"] * 12


def scene_folder(scene: bpy.types.Scene) -> Path:
    from pastepot_blender.steps.build import film_folder

    return film_folder(scene)


def test_a_mouth_changed_by_hand_stays_through_a_new_reading(scene, folder) -> None:
    lay_mouths(scene)
    change(scene, "mouth-front", 7, "pea-front")
    assert shown(scene)[5:9] == ["gape", "pea", "gape", "gape"]
    save(folder, line(sounds=(Timed("UW", 4 / 12, 1.0),)))
    lay_mouths(scene)
    assert shown(scene)[4:12] == ["pea"] * 8
    change(scene, "mouth-front", 7, "rest-front")
    assert shown(scene)[4:12] == ["pea", "pea", "rest", "pea", "pea", "pea", "pea", "pea"]
    change(scene, "mouth-front", 7, "")
    assert shown(scene)[4:12] == ["pea"] * 8
    assert choices(scene) == {"mouth-front": {}}


def test_what_was_changed_in_the_reading_is_shown_too(scene, folder) -> None:
    save(folder, line(by_hand={"mouth-front": {7: "pea-front"}}))
    lay_mouths(scene)
    assert shown(scene)[5:9] == ["gape", "pea", "gape", "gape"]


def test_at_twice_the_rate_the_mouths_are_at_the_same_times(scene) -> None:
    retime(scene, 24)
    lay_mouths(scene)
    row = shown(scene)
    assert row[::2] == EXPECTED
    assert row[::2] == row[1::2]


def test_the_sound_is_placed_once_where_it_begins(scene, folder) -> None:
    made = Reading("track/a.wav", 2.0, Fraction(12), 5, (line(),))
    reading.save(made, folder / "track" / "a.reading.json")
    reports = [lay_mouths(scene) for _ in range(2)]
    if not host.HAS_SOUND:
        pytest.skip("THE SOUND STRIP IS NOT TESTED: this Blender comes without sound")
    assert [r.sounds for r in reports] == [1, 0]
    (strip,) = host.strips(scene.sequence_editor)
    assert (strip.type, host.strip_begins(strip)) == ("SOUND", 5)
    assert scene.sync_mode == "AUDIO_SYNC"


def test_how_the_person_plays_stays_theirs(scene, folder) -> None:
    scene.sync_mode = "FRAME_DROP"
    lay_mouths(scene)
    assert scene.sync_mode == "FRAME_DROP"


def test_without_a_reading_it_says_what_to_do(scene, folder) -> None:
    (folder / "track" / "a.reading.json").unlink()
    with pytest.raises(PastepotError, match="pastepot read"):
        lay_mouths(scene)


def test_a_broken_reading_changes_nothing(scene, folder) -> None:
    (folder / "track" / "a.reading.json").write_text('{"schema": 1}', encoding="utf-8")
    with pytest.raises(PastepotError, match=r"a\.reading\.json"):
        lay_mouths(scene)
    assert not bpy.data.actions


def test_the_job_saves_the_scene(scene, tmp_path) -> None:
    said = job({"output": str(tmp_path / "out.blend")}, None)
    assert (tmp_path / "out.blend").exists()
    assert said["sets"] == ["mouth-front"]


def test_a_lead_brings_every_mouth_forward(scene, folder) -> None:
    (folder / "track" / "mouths.toml").write_text("schema = 1\nlead_s = 0.0834\n", encoding="utf-8")
    lay_mouths(scene)
    assert shown(scene) == [*EXPECTED[1:], "rest"]


SPOKEN = (Spoken("Ma", 4 / 12, 9 / 12), Spoken("oo", 9 / 12, 1.0))


def test_the_words_stand_under_the_frames_on_which_they_are_spoken(scene, folder) -> None:
    save(folder, line(words=SPOKEN))
    lay_mouths(scene)
    (first, second) = words.on_frames(scene)
    assert (*first[:2], *second[:2]) == pytest.approx((5, 10, 10, 13), abs=0.01)
    assert (first[2], second[2]) == ("Ma", "oo")
    retime(scene, 24)
    assert words.on_frames(scene)[1][0] == pytest.approx(1 + 2 * 9, abs=0.02)


def test_the_words_are_drawn_while_the_add_on_is_on_and_not_after(scene) -> None:
    before = len(words._handles)
    words.register()
    assert len(words._handles) == before + 1
    words.unregister()
    assert words._handles == []


def test_the_exposure_sheet_has_the_words_in_its_dialogue_column(scene, folder) -> None:
    save(folder, line(words=SPOKEN))
    lay_mouths(scene)
    sheet, *_ = sheet_step.read(scene, films.load(folder))
    (column,) = [c for c in sheet.columns if c.kind == "dialogue"]
    assert {(c.start, c.label) for c in column.cells if c.label} >= {(5, "Ma"), (10, "oo")}


def test_a_line_is_spoken_with_the_set_that_is_asked_for(scene_with_sad, folder) -> None:
    """A second set for the same place, sad mouths, on one line of two."""
    sad_line = replace(line(), id="a-2", start=13 / 12, end=18 / 12, sounds=(Timed("AA", 13 / 12, 18 / 12),))
    save(folder, line(), sad_line)
    lay_mouths(scene_with_sad)
    row = shown(scene_with_sad)
    assert row[4:12] == EXPECTED[4:12]
    assert row[13:18] == [""] * 5
    scene_with_sad.frame_set(16)
    assert [n for n in ("sad-shut", "sad-open") if not obj(n).hide_render] == ["sad-open"]
    scene_with_sad.frame_set(8)
    assert [n for n in ("sad-shut", "sad-open") if not obj(n).hide_render] == []


@pytest.fixture
def scene_with_sad(folder: Path) -> bpy.types.Scene:
    from PIL import Image

    text = (folder / "parts.toml").read_text(encoding="utf-8")
    for name, looks in (("sad-shut", MOUTHS["rest"]), ("sad-open", MOUTHS["gape"])):
        Image.new("RGBA", (8, 6), (40, 40, 90, 255)).save(folder / "parts" / f"{name}.png")
        text += f'\n[[part]]\nname = "{name}"\ncharacter = "heron"\nview = "front"\ntype = "mouth"\n'
        text += f'image = "parts/{name}.png"\npx_per_mm = 10.0\npivot_mm = [0.4, 0.3]\nparent = "body"\n'
        text += f'replaces = "mouth-sad"\nlayer = 15\n[part.mouth]\n{looks}'
    (folder / "parts.toml").write_text(text, encoding="utf-8")
    (folder / "track" / "mouths.toml").write_text('schema = 1\n[line]\na-2 = "mouth-sad"\n', encoding="utf-8")
    scene = bpy.context.scene
    build(scene, folder, lambda *_: None)
    for name in ("wing", *(f"{m}-side" for m in MOUTHS)):
        obj(name).hide_render = obj(name).hide_viewport = True
    return scene


@pytest.fixture
def operators() -> Iterator[None]:
    for cls in read_step.CLASSES:
        bpy.utils.register_class(cls)
    yield
    for cls in read_step.CLASSES:
        bpy.utils.unregister_class(cls)


def test_the_operators_lay_and_change_and_can_be_undone(scene, operators) -> None:
    assert bpy.ops.pastepot.lay_mouths() == {"FINISHED"}
    assert shown(scene) == EXPECTED
    bpy.context.view_layer.objects.active = obj("rest-front")
    scene.frame_set(7)
    bpy.ops.ed.undo_push(message="before")
    assert bpy.ops.pastepot.change_mouth(mouth="pea-front") == {"FINISHED"}
    assert shown(scene)[6] == "pea"
    bpy.ops.ed.undo_push(message="after")
    bpy.ops.ed.undo()
    assert shown(bpy.context.scene) == EXPECTED
    assert choices(bpy.context.scene) == {}


def test_the_operators_say_what_they_wait_for(folder, operators) -> None:
    assert not bpy.ops.pastepot.lay_mouths.poll()  # no film folder yet
    build(bpy.context.scene, folder, lambda *_: None)
    assert bpy.ops.pastepot.lay_mouths.poll()
    assert not bpy.ops.pastepot.change_mouth.poll()  # no mouth is selected
    (folder / "track" / "a.reading.json").unlink()
    assert not bpy.ops.pastepot.lay_mouths.poll()
