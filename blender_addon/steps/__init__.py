"""The steps of the job: operators, their settings, and the same work as a job without a window."""

from __future__ import annotations

import importlib
from types import ModuleType

# One module a step, in the order of the work; each may have CLASSES and register()/unregister() of its own.
_STEPS: tuple[str, ...] = (
    "background",
    "build",
    "pick",
    "handmade",
    "show_path",
    "retime",
    "read",
    "words",
    "render",
    "deliver",
)


def _modules() -> list[ModuleType]:
    return [importlib.import_module(f".{name}", __package__) for name in _STEPS]


def register() -> None:
    """Register every step's classes, then its properties and handlers."""
    import bpy

    for module in _modules():
        for cls in module.CLASSES:
            bpy.utils.register_class(cls)
        if hasattr(module, "register"):
            module.register()


def unregister() -> None:
    """Undo register() in reverse."""
    import bpy

    for module in reversed(_modules()):
        if hasattr(module, "unregister"):
            module.unregister()
        for cls in reversed(module.CLASSES):
            bpy.utils.unregister_class(cls)
