"""A render killed at any moment, power cuts included, and started again gives the film of an undisturbed one."""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="needs Blender (bpy)"),
    pytest.mark.skipif(sys.platform == "win32", reason="kills process groups"),
]

LAST = 24
ROUNDS = 8
SEED = 20

# A card that turns on twos and comes back once, noisy enough to take a moment.
SCENE = """
import sys
import bpy
bpy.ops.wm.read_factory_settings(use_empty=True)
scene = bpy.context.scene
camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
camera.location, camera.rotation_euler = (0, -6, 0), (1.5708, 0, 0)
mesh = bpy.data.meshes.new("snail")
mesh.from_pydata([(-1, 0, -1), (1, 0, -1), (0, 0, 1)], [], [(0, 1, 2)])
snail = bpy.data.objects.new("snail", mesh)
sun = bpy.data.objects.new("sun", bpy.data.lights.new("sun", "SUN"))
sun.rotation_euler, sun.data.angle = (0.9, 0, 0), 0.5
for thing in (camera, snail, sun):
    scene.collection.objects.link(thing)
scene.camera = camera
for frame in range(1, %(last)d + 1):
    snail.rotation_euler[1] = 0.2 * min((frame - 1) // 2, 9)
    snail.keyframe_insert("rotation_euler", index=1, frame=frame)
scene.frame_start, scene.frame_end = 1, %(last)d
scene.render.engine, scene.cycles.samples = "CYCLES", 24
scene.render.resolution_x, scene.render.resolution_y = 160, 90
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[1])
bpy.ops.wm.read_factory_settings(use_empty=True)
"""


@pytest.fixture(scope="module")
def blend(tmp_path_factory) -> Path:
    """The scene, made by a Blender of its own."""
    path = tmp_path_factory.mktemp("film") / "waiting.blend"
    subprocess.run(
        [sys.executable, "-c", SCENE % {"last": LAST}, str(path)], check=True, capture_output=True, timeout=60
    )
    return path


@pytest.fixture(scope="module")
def calm(blend) -> dict[str, bytes]:
    """The frames of a render that nobody disturbed."""
    folder = blend.parent / "calm"
    answer = finish(blend, folder)
    assert answer["rendered"] == 10
    return contents(folder)


def start(blend: Path, folder: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "pastepot.cli", "render", str(blend), "-o", str(folder), "--json"]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def finish(blend: Path, folder: Path) -> dict[str, object]:
    """Render to the end."""
    process = start(blend, folder)
    said, complaints = process.communicate(timeout=120)
    assert process.returncode == 0, said + complaints
    return json.loads(said)


def kill(process: subprocess.Popen[str]) -> None:
    """End the command and its Blender at once, with no chance to tidy up."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate(timeout=30)
    while alive(process.pid):
        time.sleep(0.01)


def alive(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in (".png", ".json")}


def lines(path: Path) -> tuple[int, int]:
    """(the file itself, how many lines it has): a render begins its journal as a new file."""
    try:
        return path.stat().st_ino, path.read_bytes().count(b"\n")
    except FileNotFoundError:
        return 0, 0


def start_and_wait(blend: Path, folder: Path, pictures: int) -> subprocess.Popen[str]:
    """A render that has begun its journal and told it of so many more pictures, or has ended."""
    journal = folder / "render-journal.jsonl"
    old, _ = lines(journal)
    process = start(blend, folder)
    begun = None
    end = time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        file, count = lines(journal)
        if file != old:
            begun = count if begun is None else begun
            if count >= begun + pictures:
                break
        time.sleep(0.002)
    return process


def cut_power(folder: Path, chance: random.Random) -> None:
    """What a power cut may leave: the newest picture short or empty, half a line in the journal."""
    pictures = sorted(folder.glob("*.png"), key=lambda path: path.stat().st_ctime_ns)
    pictures += sorted(folder.glob(".*.png"), key=lambda path: path.stat().st_ctime_ns)
    if pictures:
        newest = chance.choice(pictures[-2:])
        os.truncate(newest, chance.randrange(newest.stat().st_size + 1))
    with (folder / "render-journal.jsonl").open("ab") as file:
        file.write(b'{"frame": 3, "file": "frame_00')


def intact(folder: Path) -> int:
    """Pictures the journal tells of and whose bytes are there."""
    found = set()
    for line in (folder / "render-journal.jsonl").read_bytes().splitlines():
        with contextlib.suppress(ValueError, KeyError, FileNotFoundError):
            entry = json.loads(line)
            if hashlib.sha256((folder / entry["file"]).read_bytes()).hexdigest() == entry["sha256"]:
                found.add(entry["frame"])
    return len(found)


def vouched_for(path: Path) -> bool:
    """Whether the journal says that these very bytes are ours."""
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return digest in (path.parent / "render-journal.jsonl").read_text(encoding="utf-8", errors="replace")


@pytest.mark.slow
def test_a_render_killed_again_and_again_gives_the_same_film(blend, calm, tmp_path):
    chance = random.Random(SEED)
    folder = tmp_path / "frames"
    seen = []
    for _ in range(ROUNDS):
        process = start_and_wait(blend, folder, pictures=chance.randrange(3))
        time.sleep(chance.uniform(0, 0.25))
        kill(process)
        if chance.random() < 0.5:
            cut_power(folder, chance)
        seen.append(intact(folder))
        vouched = {path.name: path.read_bytes() for path in folder.glob("frame_*.png") if vouched_for(path)}
        assert vouched == {name: calm[name] for name in vouched}
    assert any(0 < count < 10 for count in seen), f"no kill came in the middle: {seen}"
    before = intact(folder)
    answer = finish(blend, folder)
    assert answer["kept"] == before
    assert contents(folder) == calm
    assert not list(folder.glob(".*"))


def test_a_second_render_into_the_same_folder_is_refused(blend, tmp_path):
    folder = tmp_path / "frames"
    first = start_and_wait(blend, folder, pictures=0)
    try:
        second = start(blend, folder)
        said, _ = second.communicate(timeout=60)
        assert second.returncode == 1
        assert "A render into this folder is running" in said
    finally:
        kill(first)
