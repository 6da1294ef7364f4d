"""Pastepot in Blender: cut-paper animation, from parts to film."""

from __future__ import annotations

import importlib
import importlib.metadata
import sys

# Everything with a register() and an unregister(), in the order of the work.
_ROOMS = (".steps", ".sidebar")


def register() -> None:
    """Called by Blender when the add-on is enabled."""
    _forget_old_core()
    for room in _ROOMS:
        importlib.import_module(room, __package__).register()


def unregister() -> None:
    """Called by Blender when the add-on is disabled; mirrors register()."""
    for room in reversed(_ROOMS):
        importlib.import_module(room, __package__).unregister()


def _forget_old_core() -> None:
    """After an upgrade in a running Blender, drop the core that is in memory if another is installed now.

    Blender loads this package afresh then, but not the modules of its wheels: new steps would meet the old core.
    """
    loaded = sys.modules.get("pastepot")
    if loaded is None:
        return
    importlib.invalidate_caches()
    try:
        installed = importlib.metadata.version("pastepot")
    except importlib.metadata.PackageNotFoundError:
        return
    if loaded.__version__ != installed:
        for name in [name for name in sys.modules if name.partition(".")[0] == "pastepot"]:
            del sys.modules[name]
