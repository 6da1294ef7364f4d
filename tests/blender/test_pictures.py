"""The example film's own pictures: exposures where the plan has them, the same from the same seed.

What changed is read off the rendered frames by plain frame difference, which knows nothing of plans.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
from pastepot_blender import host, ids
from pastepot_blender.scene import actions
from pastepot_blender.scene.targets import targets
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, make
from PIL import Image

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "kettle-pond"
FRAMES = range(1, 25)
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example's paper, drawn small."""
    folder = tmp_path_factory.mktemp("kettle-pond") / "film"
    subprocess.run([sys.executable, str(EXAMPLE / "draw.py"), str(folder), "--scale", "0.1"], check=True)
    return folder


@pytest.fixture
def scene(parts: Path, monkeypatch: pytest.MonkeyPatch) -> bpy.types.Scene:
    """The first two seconds of the shot with the camera at rest, small and quick to render."""
    scene = bpy.context.scene
    build(scene, parts, lambda *_: None)
    stage, animate = _script("stage", monkeypatch), _script("animate", monkeypatch)
    shot = stage.acting()
    animate.perform(scene, shot._replace(camera=shot.camera[:1], sound=[]))
    scene.frame_start, scene.frame_end = FRAMES[0], FRAMES[-1]
    scene.render.resolution_x, scene.render.resolution_y = 240, 135
    scene.cycles.samples = 1
    scene.render.use_persistent_data = True
    host.use_png(scene.render.image_settings)
    return scene


def _script(name: str, monkeypatch: pytest.MonkeyPatch):
    """One of the example's scripts as a module; they name their siblings plainly."""
    spec = importlib.util.spec_from_file_location(name, EXAMPLE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, name, module)
    spec.loader.exec_module(module)
    return module


def pictures(scene: bpy.types.Scene, folder: Path, frames=FRAMES) -> list[bytes]:
    out = []
    for frame in frames:
        scene.frame_set(frame)
        scene.render.filepath = str(folder / f"{frame}.png")
        bpy.ops.render.render(write_still=True)
        out.append(np.asarray(Image.open(scene.render.filepath).convert("RGB")).tobytes())
    return out


def planned(scene: bpy.types.Scene) -> set[int]:
    """Frames on which a piece that is seen has a key that changes something."""
    found = set()
    for target in targets(scene):
        if getattr(target.block, "hide_render", False) and not _swaps(target.block):
            continue
        for curve in host.fcurves(target.block.animation_data.action):
            found |= {round(key.co[0]) for key in curve.keyframe_points}
    return found - {FRAMES[0]}


def _swaps(block: bpy.types.Object) -> bool:
    return any(c.data_path == "hide_render" for c in host.fcurves(block.animation_data.action))


@pytest.mark.parametrize("pattern", [(2,), (2, 2, 3)])
def test_exposures_measured_on_the_frames_are_the_plans(scene, tmp_path: Path, pattern) -> None:
    report = make(scene, Settings(pattern=pattern))
    assert report.exposures < len(FRAMES)
    shown = pictures(scene, tmp_path)
    measured = {f for f, a, b in zip(FRAMES[1:], shown, shown[1:], strict=False) if a != b}
    assert measured == planned(scene)
    assert len(measured) > 3


def test_the_same_seed_gives_the_same_pictures_and_another_does_not(scene, tmp_path: Path) -> None:
    frames = (20, 21, 22)  # in the middle of a move; at rest there is nothing to miss

    def made(seed: int) -> list[bytes]:
        make(scene, Settings(seed=seed))
        return pictures(scene, tmp_path, frames)

    first = made(7)
    assert made(7) == first
    assert all(a != b for a, b in zip(made(8), first, strict=True))


def test_smooth_keys_render_as_before_after_going_there_and_back(scene, tmp_path: Path) -> None:
    before = pictures(scene, tmp_path, (20,))
    make(scene, Settings())
    assert pictures(scene, tmp_path, (20,)) != before
    assert all(actions.switch(t.block, False) for t in targets(scene))
    assert pictures(scene, tmp_path, (20,)) == before
    assert ids.HANDMADE_ACTION in targets(scene)[0].block
