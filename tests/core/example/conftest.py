"""The demo film, drawn small once for all tests of it."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from pastepot import places

SCALE = 0.2
"""How coarse the parts are drawn; the scripts' own --scale."""


@pytest.fixture(scope="session")
def run() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run a script of the example as a person would."""
    pytest.importorskip("scipy", reason="the demo film needs pip install 'pastepot[example]'")
    pytest.importorskip("PIL", reason="the demo film needs pip install 'pastepot[example]'")

    def run_script(script: str, *arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, str(places.example() / script), *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)

    return run_script


@pytest.fixture(scope="session")
def load() -> Callable[[str], ModuleType]:
    """Load one of the scripts that import no neighbour, from its file."""
    pytest.importorskip("scipy", reason="the demo film needs pip install 'pastepot[example]'")
    pytest.importorskip("PIL", reason="the demo film needs pip install 'pastepot[example]'")

    def load_script(name: str) -> ModuleType:
        spec = importlib.util.spec_from_file_location(f"kettle_pond_{name}", places.example() / f"{name}.py")
        assert spec
        assert spec.loader
        module = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = module  # dataclasses look their module up
        spec.loader.exec_module(module)
        return module

    return load_script


@pytest.fixture(scope="session")
def scale() -> float:
    return SCALE


@pytest.fixture(scope="session")
def film(run: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pond") / "film"
    done = run("draw.py", folder, "--scale", SCALE)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="session")
def parts(film: Path) -> dict[str, dict[str, Any]]:
    listed = tomllib.loads((film / "parts.toml").read_text(encoding="utf-8"))["part"]
    return {part["name"]: part for part in listed}


@pytest.fixture(scope="session")
def pixels(film: Path, parts: dict[str, dict[str, Any]]) -> dict[str, np.ndarray]:
    from PIL import Image

    return {name: np.asarray(Image.open(film / part["image"])) for name, part in parts.items()}


@pytest.fixture(scope="session")
def acting(load: Callable[[str], Any]) -> Any:
    return load("stage").acting()


@pytest.fixture(scope="session")
def speak(load: Callable[[str], ModuleType]) -> ModuleType:
    pytest.importorskip("espeakng_loader", reason="the snail's voice needs pip install 'pastepot[example]'")
    return load("speak")
