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


@pytest.fixture
def pond(tmp_path: Path) -> Path:
    """A film folder with a small cast in plain colours: heron (body, wing, two eyes as a set) and a bank."""
    from PIL import Image

    folder = tmp_path / "pond"
    (folder / "parts").mkdir(parents=True)
    film = 'schema = 1\ntitle = "Pond"\nfps = 12\nsize = [64, 36]\nseed = 7\n'
    film += '[[shot]]\nname = "a"\nstart = 1\nend = 24\n'
    (folder / "film.toml").write_text(film, encoding="utf-8")
    parts = ["schema = 1\n"]
    for name, size, colour, more in PARTS:
        image = Image.new("RGBA", size, (*colour, 255))
        for x in range(3):  # a transparent edge that carries the paper's colour
            image.paste((*colour, 0), (x, 0, x + 1, size[1]))
        image.save(folder / "parts" / f"{name}.png", dpi=(254, 254))
        parts.append(f'[[part]]\nname = "{name}"\nimage = "parts/{name}.png"\npx_per_mm = 10.0\n{more}')
    (folder / "parts.toml").write_text("\n".join(parts), encoding="utf-8")
    return folder


HERON = 'character = "heron"\nview = "front"\n'
EYE = HERON + 'type = "eye"\nparent = "body"\njoint_mm = [3, 1]\nlayer = 14\nreplaces = "eye"\n'
PARTS = (
    ("bank", (400, 100), (90, 120, 60), 'character = "pond"\ntype = "backdrop"\npivot_mm = [20, 5]\nlayer = 1\n'),
    ("body", (60, 120), (120, 140, 170), HERON + 'type = "body"\npivot_mm = [3, 11]\nlayer = 10\n'),
    (
        "wing",
        (40, 60),
        (80, 100, 140),
        HERON + 'type = "wing"\npivot_mm = [2, 1]\nparent = "body"\njoint_mm = [4, 3]\nlayer = 12\n',
    ),
    (
        "eye-open",
        (12, 12),
        (240, 236, 220),
        EYE + "pivot_mm = [0.6, 0.6]\n",
    ),
    (
        "eye-shut",
        (12, 8),
        (60, 60, 70),
        EYE + "pivot_mm = [0.6, 0.4]\n",
    ),
)
