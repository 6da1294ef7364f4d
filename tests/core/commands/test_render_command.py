"""`pastepot render`: what it asks of Blender, and what it says. The Blender here is a script that plays one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from pastepot import cli
from pastepot.bridge import MARK

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="starts a script as a program")

SAYS = f"""#!{sys.executable}
import json, sys, time
params = json.load(sys.stdin)["params"]
def say(**message):
    sys.stdout.write({MARK!r} + json.dumps(message) + "\\n")
    sys.stdout.flush()
"""


@pytest.fixture
def blender(tmp_path):
    def make(body: str) -> str:
        path = tmp_path / "blender"
        path.write_text(SAYS + body, encoding="utf-8")
        path.chmod(0o755)
        return str(path)

    return make


@pytest.fixture
def scene(tmp_path) -> Path:
    path = tmp_path / "a.blend"
    path.touch()
    return path


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--frames", "24-1"], "'24-1' is no run of frames"),
        (["--frames", "all"], "Write for instance 1-48"),
        (["--samples", "0"], "--samples 0 makes no picture"),
        (["--percent", "-5"], "--percent -5 makes no picture"),
        (["--engine", "other"], "invalid choice"),
    ],
)
def test_wrong_options_are_misuse(scene, options, message, capsys):
    assert cli.main(["render", str(scene), "-o", str(scene.parent / "f"), *options]) == 2
    assert message in capsys.readouterr().err
    assert not (scene.parent / "f").exists()


def test_a_scene_that_is_not_there_is_misuse(tmp_path, capsys):
    assert cli.main(["render", str(tmp_path / "gone.blend"), "-o", str(tmp_path / "f")]) == 2
    assert "There is no such scene file" in capsys.readouterr().err


@pytest.mark.parametrize(("frames", "first", "last"), [("3-7", 3, 7), ("5", 5, 5), ("-3--1", -3, -1), ("-2-4", -2, 4)])
def test_runs_of_frames_reach_blender(scene, blender, frames, first, last, tmp_path, capsys):
    program = blender("say(kind='result', text=f\"{params['first']} {params['last']}\")\n")
    said = cli.main(["render", str(scene), "-o", str(tmp_path / "f"), f"--frames={frames}", "--blender", program])
    assert (said, capsys.readouterr().out) == (0, f"{first} {last}\n")


def test_a_crash_without_graphics_is_given_a_way_out(scene, blender, tmp_path, capsys):
    command = ["render", str(scene), "-o", str(tmp_path / "f"), "--blender", blender("import os\nos._exit(134)\n")]
    assert cli.main([*command, "--engine", "eevee"]) == 1
    assert "Render with --engine cycles" in capsys.readouterr().err
    assert cli.main([*command, "--engine", "cycles"]) == 1
    assert "Render with --engine cycles" not in capsys.readouterr().err


def test_reasons_to_render_every_frame_are_warnings(scene, blender, tmp_path, capsys):
    program = blender(
        "say(kind='problem', what='Motion blur is on.', fix='Turn it off.', part='Scene', severity='warning')\n"
        "say(kind='result', text='done')\n"
    )
    assert cli.main(["render", str(scene), "-o", str(tmp_path / "f"), "--blender", program]) == 0
    said = capsys.readouterr()
    assert said.out == "done\n"
    assert said.err == "warning: Scene: Motion blur is on. Turn it off.\n"
