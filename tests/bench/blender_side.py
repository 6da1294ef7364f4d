"""The checkout's Blender side, importable as pastepot_blender, for benchmarks that run in this process."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def load() -> None:
    """Make `import pastepot_blender` work."""
    if "pastepot_blender" in sys.modules:
        return
    folder = ROOT / "blender_addon"
    spec = importlib.util.spec_from_file_location(
        "pastepot_blender", folder / "__init__.py", submodule_search_locations=[str(folder)]
    )
    assert spec is not None
    assert spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    sys.modules["pastepot_blender"] = package
    spec.loader.exec_module(package)
