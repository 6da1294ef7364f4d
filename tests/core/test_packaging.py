"""What the packaging promises: one version, everything pinned, nothing that only one machine has."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pastepot
import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
HOSTS = sorted((ROOT / ".ci").glob("blender-*.txt"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def requirements(path: Path) -> list[Requirement]:
    lines = (line.split("#")[0].strip() for line in path.read_text(encoding="utf-8").splitlines())
    return [Requirement(line) for line in lines if line]


def test_manifest_and_core_have_one_version() -> None:
    manifest = tomllib.loads((ROOT / "blender_addon" / "blender_manifest.toml").read_text(encoding="utf-8"))
    assert manifest["version"] == pastepot.__version__


def test_the_change_log_tells_of_this_version() -> None:
    assert re.search(
        rf"^## {re.escape(pastepot.__version__)}\b", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE
    )


@pytest.mark.parametrize("path", [ROOT / ".ci" / "constraints.txt", *HOSTS], ids=lambda path: path.name)
def test_every_pin_is_one_exact_version(path: Path) -> None:
    for pin in requirements(path):
        assert pin.url is None
        assert [spec.operator for spec in pin.specifier] == ["=="], pin


def test_everything_we_ask_for_is_pinned() -> None:
    pinned = {pin.name for path in (ROOT / ".ci" / "constraints.txt", HOSTS[0]) for pin in requirements(path)}
    asked = [*PROJECT["dependencies"], *(need for extra in PROJECT["optional-dependencies"].values() for need in extra)]
    names = {Requirement(need).name.lower() for need in asked} - {"pastepot"}
    assert names <= pinned


@pytest.mark.parametrize("path", HOSTS, ids=lambda path: path.stem)
def test_every_blender_says_its_python(path: Path) -> None:
    assert re.match(r"# python 3\.\d+\n", path.read_text(encoding="utf-8"))
    assert {pin.name for pin in requirements(path)} == {"bpy", "numpy", "scipy"}


def test_help_tells_of_every_target() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):", makefile, re.MULTILINE)) - {"help", "venv"}
    assert targets == set(re.findall(r"\bmake ([a-z-]+)", "\n".join(re.findall(r'echo "(.*)"', makefile))))
