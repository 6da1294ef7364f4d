"""The panels, one file a step, in the order of the work. They show what is prepared; nothing is computed in a draw."""

from __future__ import annotations

import importlib
from types import ModuleType

import bpy

# The same names as the steps.
_PANELS = ("build", "handmade", "read", "render", "deliver")


def _modules() -> list[ModuleType]:
    return [importlib.import_module(f".{name}", __package__) for name in _PANELS]


def register() -> None:
    """Register the panels."""
    for module in _modules():
        bpy.utils.register_class(module.PANEL)


def unregister() -> None:
    """Undo register() in reverse."""
    for module in reversed(_modules()):
        bpy.utils.unregister_class(module.PANEL)
