"""Which parts lie under the pointer: by the paper that is really there, through all layers, nearest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sheets:
    """N flat pictures in space; each lies in the plane y = 0 of its own axes, x right and z up.

    world:   (N, 4, 4) from own axes to the world's
    corner:  (N, 2) own x and z of the picture's top-left corner
    step:    (N, 2) own x and z per pixel, to the right and downward (so the second is mostly negative)
    opaque:  each (H, W), True where the paper can be grasped; top row first
    """

    world: Floats
    corner: Floats
    step: Floats
    opaque: Sequence[NDArray[np.bool_]]

    def under(self, origin: Floats, direction: Floats) -> list[int]:
        """The sheets whose paper a ray meets, by number, nearest first. origin, direction: (3,) in the world.

        A sheet seen exactly edge-on, flattened to nothing or behind the origin is not met.
        """
        if not len(self.world):
            return []
        distance, x, z = self._met(origin, direction)
        column = np.floor((x - self.corner[:, 0]) / self.step[:, 0])
        row = np.floor((z - self.corner[:, 1]) / self.step[:, 1])
        size = np.array([mask.shape for mask in self.opaque])
        met = (distance >= 0) & (row >= 0) & (row < size[:, 0]) & (column >= 0) & (column < size[:, 1])
        numbers = np.flatnonzero(met)
        near_first = numbers[np.argsort(distance[numbers], kind="stable")]
        return [int(n) for n in near_first if self.opaque[n][int(row[n]), int(column[n])]]

    def _met(self, origin: Floats, direction: Floats) -> tuple[Floats, Floats, Floats]:
        """(N,) the distance to each plane, in directions, and the own x and z there; a distance of -1: not met."""
        flat = np.abs(np.linalg.det(self.world[:, :3, :3])) < 1e-18
        own = np.linalg.inv(np.where(flat[:, None, None], np.eye(4), self.world))
        start = own[:, :3, :3] @ origin + own[:, :3, 3]
        along = own[:, :3, :3] @ direction
        edge_on = flat | (along[:, 1] == 0.0)
        distance = -start[:, 1] / np.where(edge_on, 1.0, along[:, 1])
        at = start + distance[:, None] * along
        distance[edge_on] = -1.0
        return distance, at[:, 0], at[:, 2]


def next_down(stack: Sequence[str], last: Sequence[str], chosen: str) -> str:
    """The part that a click takes: the topmost, or the one below `chosen` where the stack is as at the last click.

    After the lowest comes the topmost again; '' if there is none.
    """
    if not stack:
        return ""
    if list(stack) != list(last) or chosen not in stack:
        return stack[0]
    return stack[(stack.index(chosen) + 1) % len(stack)]
