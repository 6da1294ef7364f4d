"""The built zip, installed into a clean Blender the way a user does it, in a process of its own."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import av
import pastepot
import pytest

ROOT = Path(__file__).resolve().parents[2]
PROBE = Path(__file__).with_name("installed_extension.py")
TOOL = Path(".ci") / "build_extension.py"
NAME = f"pastepot-{pastepot.__version__}.zip"


def build(root: Path, output: Path, *options: str) -> Path:
    """Build what is asked for into the folder; gives the zip for every system."""
    done = subprocess.run(
        [sys.executable, root / TOOL, "--output", output, *options], capture_output=True, text=True, timeout=200
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return output / NAME


@pytest.fixture(scope="session")
def zips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with both zips: those that `make test` has built for all Blenders, else our own."""
    built = os.environ.get("PASTEPOT_EXTENSIONS")
    return Path(built) if built else build(ROOT, tmp_path_factory.mktemp("extension")).parent


@pytest.fixture(scope="session")
def extension(zips: Path) -> Path:
    """The zip for every system."""
    return zips / NAME


@pytest.fixture(scope="session")
def with_encoder(zips: Path) -> Path:
    """The zip for this system."""
    (found,) = (path for path in zips.glob("*.zip") if path.name != NAME)
    return found


def ask(question: str, user_folder: Path, **more: Any) -> dict[str, Any]:
    """What the installed extension answers; see installed_extension.py."""
    env = {key: value for key, value in os.environ.items() if not key.startswith(("BLENDER_", "PYTHONPATH"))}
    done = subprocess.run(
        [sys.executable, "-I", PROBE],
        input=json.dumps({"ask": question, **more}, default=str),
        env={**env, "BLENDER_USER_RESOURCES": str(user_folder)},
        capture_output=True,
        text=True,
        timeout=200,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_an_installed_extension_builds_the_cast_with_what_its_zip_holds(
    extension: Path, tmp_path: Path, pond: Path
) -> None:
    user = tmp_path / "user"
    answer = ask("build", user, zip=extension, film=pond)
    after_a_restart = ask("build", user, film=pond)
    assert after_a_restart == answer
    assert answer["enabled"] == [True, True]
    assert answer["online"] is False
    assert answer["results"] == [["FINISHED"], ["FINISHED"]]
    assert answer["parts"] == ["bank", "body", "eye-open", "eye-shut", "wing"]
    outside = {name: file for name, file in answer["files"].items() if not Path(file).is_relative_to(user)}
    assert outside == {}
    assert answer["strangers"] == []


def test_the_zip_with_the_encoder_goes_all_the_way_to_a_film(with_encoder: Path, tmp_path: Path, pond: Path) -> None:
    user = tmp_path / "user"
    answer = ask("film", user, zip=with_encoder, film=pond, blend=pond / "flap.blend")
    assert answer["results"] == [["FINISHED"]] * 4
    assert Path(answer["encoder"]).is_relative_to(user)
    assert len(list((pond / "renders" / "flap").glob("*.png"))) == 24
    with av.open(str(pond / "flap.mp4")) as film:
        (video,) = film.streams.video
        assert (video.width, video.height) == (64, 36)
        assert (video.frames, video.average_rate) == (48, 24)  # 12 frames a second, each shown twice


def test_turned_off_it_leaves_nothing_behind(extension: Path, tmp_path: Path) -> None:
    answer = ask("footprints", tmp_path, zip=extension)
    assert answer["left"] == {}
    added = answer["added"]
    assert "pastepot.build_cast" in added["operators"]  # the footprint does see what is there
    assert "PASTEPOT_PT_build" in added["types"]
    assert "Scene.pastepot_render" in added["properties"]
    assert added["keymap items"] == added["handlers"] == added["timers"] == []


def test_everything_a_person_can_hover_over_is_explained(extension: Path, tmp_path: Path) -> None:
    answer = ask("undescribed", tmp_path, zip=extension)
    assert "operator build_cast" in answer["known"]
    assert "Scene.pastepot_render" in answer["known"]
    assert answer["undescribed"] == []


def test_a_job_runs_inside_an_installed_extension_and_leaves_it_whole(
    extension: Path, tmp_path: Path, pond: Path
) -> None:
    """A job that read the factory settings turned the extension off, and Blender deleted its wheels from the disk."""
    blend = tmp_path / "pond.blend"
    params = {"film": str(pond), "output": str(blend), "new": True}
    answer = ask("job", tmp_path / "user", zip=extension, job={"job": "scene", "blend": "", "params": params})
    assert '"kind": "result"' in answer["said"]
    assert blend.is_file()
    assert "pastepot" in answer["wheels"]


def test_an_upgrade_in_a_running_blender_brings_the_new_core(extension: Path, tmp_path: Path, pond: Path) -> None:
    """Blender keeps an installed wheel of the same version, and the old modules of a wheel in memory.

    Both left new steps talking to an old core: the wheel's version now carries a digest of the core, and register()
    forgets a core that is not the installed one.
    """
    changed = tmp_path / "changed"
    for name in ("blender_addon", "core", ".ci", "build/wheels"):
        shutil.copytree(ROOT / name, changed / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "LICENSE"):
        shutil.copy(ROOT / name, changed)
    for name in ("core/pastepot/__init__.py", "blender_addon/ids.py"):
        with (changed / name).open("a", encoding="utf-8") as file:
            file.write('\nMARK = "newer"\n')
    newer = build(changed, tmp_path / "newer", "--pure")

    answer = ask("upgrade", tmp_path / "user", zip=extension, newer=newer, film=pond)
    assert answer["first"]["marks"] == ["", ""]
    assert answer["second"]["marks"] == ["newer", "newer"]
    assert answer["second"]["version"] != answer["first"]["version"]
    assert answer["second"]["one core"] is True
    assert answer["results"] == [["FINISHED"]]


def test_the_zip_holds_what_is_needed_and_nothing_else(extension: Path) -> None:
    with zipfile.ZipFile(extension) as archive:
        names = archive.namelist()
        manifest = tomllib.loads(archive.read("blender_manifest.toml").decode())
    assert list(manifest["permissions"]) == ["files"]
    assert manifest["blender_version_min"] == "4.2.0"
    wheels = [name for name in names if name.startswith("wheels/")]
    assert sorted(manifest["wheels"]) == sorted(f"./{name}" for name in wheels)
    assert all(name.endswith("-py3-none-any.whl") for name in wheels)
    assert {name.split("/")[1].split("-")[0] for name in wheels} == {
        "attrs",
        "jsonschema",
        "pastepot",
        "pyrsistent",
        "tomlkit",
    }
    others = {name for name in names if not name.startswith("wheels/")}
    sources = {p.relative_to(ROOT / "blender_addon").as_posix() for p in (ROOT / "blender_addon").rglob("*.py")}
    assert others == sources | {"LICENSE", "blender_manifest.toml"}


def test_the_cores_wheel_holds_the_core_only(extension: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(extension) as archive:
        wheel = next(name for name in archive.namelist() if name.startswith("wheels/pastepot-"))
        archive.extract(wheel, tmp_path)
    with zipfile.ZipFile(tmp_path / wheel) as archive:
        files = {name for name in archive.namelist() if ".dist-info/" not in name}
    core = ROOT / "core"
    assert files == {
        path.relative_to(core).as_posix()
        for path in (core / "pastepot").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_the_same_sources_give_the_same_zip(extension: Path, tmp_path: Path) -> None:
    assert build(ROOT, tmp_path, "--pure").read_bytes() == extension.read_bytes()
