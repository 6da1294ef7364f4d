"""Libraries that only some steps need, asked for when such a step begins."""

from __future__ import annotations

import importlib
from typing import Any

from pastepot.errors import MissingExtra


def load(module: str, extra: str, step: str, library: str = "") -> Any:
    """Give a module of a library of this extra. MissingExtra, which says what `step` needs it, if it is not there.

    library: the name by which people know it; left out, the module's
    """
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise MissingExtra(extra, library or module, step) from error
