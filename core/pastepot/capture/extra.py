"""The libraries that work on photographs, asked for only when one is at hand."""

from __future__ import annotations

import importlib
from typing import Any

from pastepot.errors import MissingExtra


def load(module: str, library: str) -> Any:
    """Give a module of the library. MissingExtra without it."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise MissingExtra("photo", library, "Working with the mat") from error


def load_opencv() -> Any:
    """Give the module cv2. MissingExtra without it."""
    return load("cv2", "opencv-python-headless")
