"""The panels, one file a step, in the order of the work. They show what is prepared; nothing is computed in a draw."""

from __future__ import annotations


def register() -> None:
    """Register the panels."""


def unregister() -> None:
    """Undo register() in reverse."""
