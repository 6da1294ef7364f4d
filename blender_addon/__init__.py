"""Pastepot in Blender: cut-paper animation, from parts to film."""

from __future__ import annotations

import importlib

# Everything with a register() and an unregister(), in the order of the work.
_ROOMS = (".steps", ".sidebar")


def register() -> None:
    """Called by Blender when the add-on is enabled."""
    for room in _ROOMS:
        importlib.import_module(room, __package__).register()


def unregister() -> None:
    """Called by Blender when the add-on is disabled; mirrors register()."""
    for room in reversed(_ROOMS):
        importlib.import_module(room, __package__).unregister()
