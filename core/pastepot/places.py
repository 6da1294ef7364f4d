"""Where the parts of Pastepot that are not Python modules of the core lie, in a checkout and in an installed copy."""

from __future__ import annotations

from pathlib import Path

from pastepot.errors import PastepotError, Problem

_CORE = Path(__file__).resolve().parent


def _first(*candidates: Path, what: str) -> Path:
    for path in candidates:
        if path.exists():
            return path
    raise PastepotError(Problem(f"{what} is missing from this copy of Pastepot.", "Install Pastepot again."))


def blender_side() -> Path:
    """The folder of the Blender side (the add-on's own code)."""
    return _first(_CORE.parents[1] / "blender_addon", _CORE.parent / "pastepot_blender", what="The Blender side")


def example() -> Path:
    """The folder of the example film's scripts."""
    return _first(
        _CORE.parents[1] / "examples" / "kettle-pond",
        _CORE.parent / "pastepot_examples" / "kettle-pond",
        what="The example film",
    )
