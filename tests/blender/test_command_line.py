"""The main job as a person types it: from a folder of parts to a film, each command in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import av
import bpy
import pytest
from pastepot_blender import ids

pytestmark = pytest.mark.slow


def pastepot(*words: object, code: int = 0) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, "-m", "pastepot.cli", *map(str, words), "--json"], capture_output=True, text=True, timeout=200
    )
    assert done.returncode == code, done.stdout + done.stderr
    return json.loads(done.stdout)


def animate(path: Path) -> None:
    bpy.ops.wm.open_mainfile(filepath=str(path))
    wing = next(o for o in bpy.data.objects if o.get(ids.PART) == "wing")
    for frame, turn in ((1, 0.0), (8, 1.0), (16, 1.0), (24, 0.0)):
        wing.rotation_euler[1] = turn
        wing.keyframe_insert("rotation_euler", index=1, frame=frame)
    bpy.context.scene.cycles.samples = 1
    bpy.ops.wm.save_mainfile()


def test_from_parts_to_film(pond: Path, tmp_path: Path) -> None:
    scene, handmade, frames = pond / "scenes" / "a.blend", pond / "scenes" / "b.blend", pond / "renders" / "b"
    assert pastepot("check", pond)["problems"] is not None
    assert len(pastepot("scene", pond, "-o", scene)["added"]) == 5
    before = scene.read_bytes()
    assert pastepot("scene", pond, "-o", scene)["changed"] is False
    assert scene.read_bytes() == before
    animate(scene)

    assert pastepot("handmade", scene, "--pattern", "2", "-o", handmade)["exposures"] == 12
    rendered = pastepot("render", handmade, "-o", frames)
    assert rendered["frames"] == 24
    assert rendered["pictures"] < 12  # the wing rests for eight frames
    again = pastepot("render", handmade, "-o", frames)
    assert (again["rendered"], again["kept"]) == (0, rendered["pictures"])

    film = pond / "film.mp4"
    pastepot("deliver", frames, "--fps", "24", "-o", film)
    with av.open(str(film)) as container:
        assert sum(1 for _ in container.decode(video=0)) == 48
        assert container.streams.video[0].average_rate == 24


def test_a_film_at_another_rate(pond: Path) -> None:
    scene = pond / "scenes" / "a.blend"
    pastepot("scene", pond, "-o", scene)
    animate(scene)
    pastepot("handmade", scene)
    twice = pond / "scenes" / "twice.blend"
    assert pastepot("retime", scene, "--fps", "24", "-o", twice)["fps"] == 24
    bpy.ops.wm.open_mainfile(filepath=str(twice))
    assert (bpy.context.scene.frame_end, bpy.context.scene.render.fps) == (48, 24)


def test_problems_come_with_what_to_do(pond: Path) -> None:
    (pond / "parts" / "wing.png").write_bytes(b"not a picture")
    told = pastepot("scene", pond, "-o", pond / "scenes" / "a.blend", code=1)
    (problem,) = told["problems"]
    assert (problem["part"], problem["field"]) == ("wing", "image")
    assert problem["fix"]
    assert not (pond / "scenes" / "a.blend").exists()


@pytest.mark.parametrize("command", ["handmade", "render"])
def test_a_scene_that_is_not_there_is_misuse(command: str, tmp_path: Path) -> None:
    told = pastepot(command, tmp_path / "none.blend", "-o", tmp_path / "out", code=2)
    assert "no such scene" in told["problems"][0]["what"]


def test_a_file_that_is_no_scene_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.blend").write_text("hello")
    told = pastepot("handmade", tmp_path / "a.blend", code=1)
    assert "cannot be opened" in told["problems"][0]["what"]


def test_nothing_keyed_yet_is_told(pond: Path) -> None:
    scene = pond / "scenes" / "a.blend"
    pastepot("scene", pond, "-o", scene)
    told = pastepot("handmade", scene, code=1)
    assert "animated" in told["problems"][0]["what"]
