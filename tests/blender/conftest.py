"""Blender inside the test process: an own user folder, our Blender side from this checkout, an empty scene per test."""

from __future__ import annotations

import importlib.util
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# Before the first import of bpy, so that no test sees or touches the user's own Blender settings.
_user_folder = tempfile.TemporaryDirectory(prefix="pastepot-blender-")
os.environ["BLENDER_USER_RESOURCES"] = _user_folder.name

import bpy  # noqa: E402


def _load_blender_side() -> None:
    """Make the checkout's Blender side importable as pastepot_blender, the name it has in an installed copy."""
    folder = ROOT / "blender_addon"
    spec = importlib.util.spec_from_file_location(
        "pastepot_blender", folder / "__init__.py", submodule_search_locations=[str(folder)]
    )
    assert spec is not None
    assert spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    sys.modules["pastepot_blender"] = package
    spec.loader.exec_module(package)


_load_blender_side()


@pytest.fixture(autouse=True)
def _empty_scene() -> None:
    bpy.ops.wm.read_factory_settings(use_empty=True)


@pytest.fixture(scope="session", autouse=True)
def _leave_nothing_open() -> Iterator[None]:
    """Some versions crash or hang at exit with handlers or drivers still alive."""
    yield
    bpy.ops.wm.read_factory_settings(use_empty=True)
    _user_folder.cleanup()
