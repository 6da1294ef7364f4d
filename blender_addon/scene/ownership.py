"""What we set and what the animator set: a value is ours to change only while it still is what we last made it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import bpy

from .. import ids

# Blender stores single precision.
_SAME = 1e-5


class Ours:
    """The values we last set on one datablock, kept on it as JSON.

    settle() is the whole rule: a value the animator changed since is left alone, whatever the library now says.
    """

    def __init__(self, block: bpy.types.ID) -> None:
        self._block = block
        self._stored = block.get(ids.BUILT, "")
        self._values: dict[str, Any] = json.loads(self._stored) if self._stored else {}
        self.changed = False
        self.kept: list[str] = []

    def __contains__(self, name: str) -> bool:
        return name in self._values

    def __getitem__(self, name: str) -> Any:
        return self._values[name]

    def settle(self, name: str, wanted: Any, current: Any, put: Callable[[Any], None], adopt: bool = True) -> None:
        """Bring one value to `wanted` if it is ours.

        adopt: what to do with a value we never set: take it over, or leave it and remember nothing.
        """
        if name in self._values:
            if not same(current, self._values[name]):
                if not same(wanted, self._values[name]):
                    self.kept.append(name)
                return
        elif not adopt:
            if not same(current, wanted):
                self.kept.append(name)
            return
        if not same(current, wanted):
            put(wanted)
            self.changed = True
        self.remember(name, wanted)

    def remember(self, name: str, value: Any) -> None:
        """Note a value as ours."""
        self._values[name] = value

    def forget(self, name: str) -> None:
        """Drop a note, if it is there."""
        self._values.pop(name, None)

    def save(self) -> None:
        """Write the notes back, if they differ."""
        text = json.dumps(self._values, sort_keys=True)
        if text != self._stored:
            self._block[ids.BUILT] = text
            self._stored = text


def same(a: Any, b: Any) -> bool:
    """Equal within single precision, through nested sequences (Blender's vectors are such, but no collections.abc)."""
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= _SAME * max(1.0, abs(b))
    if isinstance(a, str) or isinstance(b, str) or not (hasattr(a, "__len__") and hasattr(b, "__len__")):
        return a == b
    return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
