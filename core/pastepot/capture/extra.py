"""The libraries that work on photographs, asked for only when one is at hand."""

from __future__ import annotations

from typing import Any

from pastepot import extras


def load(module: str, library: str) -> Any:
    """Give a module of the library. MissingExtra without it."""
    return extras.load(module, "photo", "Working with the mat", library)


def load_opencv() -> Any:
    """Give the module cv2. MissingExtra without it."""
    return load("cv2", "opencv-python-headless")
