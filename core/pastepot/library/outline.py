"""The outline of a cut-out: polygons a little outside the paper, holes included, with few corners.

A mesh of this shape shows every pixel that the whole image would show, and costs a renderer nothing where there is no
paper.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Points = NDArray[np.float64]

# The picture is traced on a grid of about this many cells; finer would follow every fibre of the paper's edge.
_CELLS = 512
# Between paper and outline, so that filtered edges survive: pixels, and share of the picture's longer side.
_MARGIN_PX = 4
_MARGIN_SHARE = 1 / 200
# More corners than this are not worth it: the picture's rectangle is taken then.
_MOST_CORNERS = 1500

# Right, down, left, up; as steps of (x, y), y down.
_STEP = ((1, 0), (0, 1), (-1, 0), (0, -1))


@dataclass(frozen=True)
class Outline:
    """Closed polygons in pixels of the image, x right and y down from its top-left corner.

    loops: each (N, 2); a point is in the outline if it lies inside an odd number of them and inside the image. They may
    reach past the image's edges, where the image's rectangle cuts them off.
    size:  width and height of the image
    """

    loops: tuple[Points, ...]
    size: tuple[int, int]

    def holds(self, points: Points) -> Mask:
        """(N,) whether each of the (N, 2) points lies in the outline."""
        inside: Mask = ((points >= 0) & (points <= self.size)).all(axis=-1)
        return inside & inside_odd(points, self.loops) if self.loops else np.zeros(len(points), bool)


def outline(paper: Mask) -> Outline:
    """The outline of all pixels of `paper`, (H, W), True wherever there is any alpha; top row first.

    Holds every such pixel with at least half the margin (4 px, or 1/200 of the longer side) around it, as far as the
    image reaches. Empty if there is no paper.
    """
    height, width = paper.shape
    size = (width, height)
    if not paper.any():
        return Outline((), size)
    cell = max(1, round(max(size) / _CELLS))
    margin = max(_MARGIN_PX, max(size) * _MARGIN_SHARE)
    grow = -int(-margin // cell)
    solid = _cells(paper, cell, grow)
    edges = [(loop - grow - 1) * cell for loop in _traced(_grown(solid, grow))]
    needed = _rim(solid, cell, grow)
    for tolerance in (margin / 2, margin / 4):
        loops = tuple(simple for loop in edges if len(simple := _simplified(loop, tolerance)) > 2)
        if sum(map(len, loops)) <= _MOST_CORNERS and inside_odd(needed, loops).all():
            return Outline(loops, size)
    return Outline((rectangle(size),), size)


def rectangle(size: tuple[int, int]) -> Points:
    """(4, 2) corners of an image of that width and height, bottom-left first and anticlockwise as it is seen."""
    width, height = size
    return np.array([(0, height), (width, height), (width, 0), (0, 0)], np.float64)


def inside_odd(points: Points, loops: tuple[Points, ...]) -> Mask:
    """(N,) whether each of the (N, 2) points lies inside an odd number of the polygons (the even-odd rule)."""
    start = np.concatenate(loops)
    end = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    inside = np.zeros(len(points), bool)
    for first in range(0, len(points), 4096):  # points x edges stays small
        x, y = points[first : first + 4096, :1], points[first : first + 4096, 1:]
        spans = (start[:, 1] > y) != (end[:, 1] > y)
        rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
        crossing = start[:, 0] + (y - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
        inside[first : first + 4096] = (spans & (x < crossing)).sum(axis=1) % 2 == 1
    return inside


def _cells(paper: Mask, cell: int, grow: int) -> Mask:
    """Which squares of `cell` pixels hold paper, with room for growing around them."""
    height, width = paper.shape
    rows = np.logical_or.reduceat(paper, np.arange(0, height, cell), axis=0)
    return np.pad(np.logical_or.reduceat(rows, np.arange(0, width, cell), axis=1), grow + 1)


def _grown(solid: Mask, cells: int) -> Mask:
    """The same with every True square grown by so many cells on all sides. The margin around must hold them."""
    for axis in (0, 1):
        total = np.cumsum(solid, axis=axis, dtype=np.int32)
        ahead = np.roll(total, -cells, axis)
        behind = np.roll(total, cells + 1, axis)
        last = total.take([-1], axis)
        edge = [slice(None), slice(None)]
        edge[axis] = slice(-cells, None)
        ahead[tuple(edge)] = last
        edge[axis] = slice(0, cells + 1)
        behind[tuple(edge)] = 0
        solid = ahead > behind
    return solid


def _rim(solid: Mask, cell: int, grow: int) -> Points:
    """(N, 2) the corners, in pixels, of the solid cells at the edge of the paper."""
    inner = solid.copy()
    for axis in (0, 1):
        inner &= np.roll(solid, 1, axis) & np.roll(solid, -1, axis)
    y, x = np.nonzero(solid & ~inner)
    corners = [np.column_stack([x + dx, y + dy]) for dx in (0, 1) for dy in (0, 1)]
    unique: Points = np.unique(np.concatenate(corners), axis=0).astype(np.float64)
    return (unique - grow - 1.0) * cell


def _traced(solid: Mask) -> list[Points]:
    """The closed edges between True and False cells, in cells, only their corners; paper lies on the right hand."""
    height, width = solid.shape[0] + 1, solid.shape[1] + 1
    above, below = np.zeros((height, width), bool), np.zeros((height, width), bool)
    left, right = np.zeros((height, width), bool), np.zeros((height, width), bool)
    down = solid[1:] & ~solid[:-1]
    up = solid[:-1] & ~solid[1:]
    above[1:-1, :-1], below[1:-1, 1:] = down, up
    left[:-1, 1:-1] = solid[:, :-1] & ~solid[:, 1:]
    right[1:, 1:-1] = solid[:, 1:] & ~solid[:, :-1]
    # leaves[d]: an edge leaves this grid point in direction d
    leaves = [grid.ravel() for grid in (above, left, below, right)]
    jump = (1, width, -1, -width)
    following = _followers(leaves, jump)
    return [_corners(chain, width) for chain in _chains(following, len(leaves[0]))]


def _followers(leaves: list[Mask], jump: tuple[int, ...]) -> dict[int, int]:
    """For each edge (direction x points + start) the one that goes on where it ends."""
    count = len(leaves[0])
    following: dict[int, int] = {}
    for way in range(4):
        start = np.flatnonzero(leaves[way])
        end = start + jump[way]
        turned = np.full(len(start), -1)
        for then in ((way + 3) % 4, way, (way + 1) % 4):  # the right turn, tried last, wins: touching corners part
            turned = np.where(leaves[then][end], then * count + end, turned)
        following.update(zip((way * count + start).tolist(), turned.tolist(), strict=True))
    return following


def _chains(following: dict[int, int], count: int) -> list[list[int]]:
    """The closed chains; of each the edges at which the direction changes."""
    chains = []
    while following:
        first, edge = following.popitem()
        chain = [edge] if edge // count != first // count else []
        while edge != first:
            after = following.pop(edge)
            if after // count != edge // count:
                chain.append(after)
            edge = after
        chains.append([edge % count for edge in chain])
    return chains


def _corners(chain: list[int], width: int) -> Points:
    points = np.array(chain)
    return np.column_stack([points % width, points // width]).astype(np.float64)


def _simplified(loop: Points, tolerance: float) -> Points:
    """Fewer corners, no farther than `tolerance` from the loop (Douglas and Peucker 1973)."""
    far = int(np.argmax(((loop - loop[0]) ** 2).sum(axis=1)))
    closed = np.concatenate([loop, loop[:1]])
    keep = np.zeros(len(closed), bool)
    keep[[0, far]] = True
    todo = [(0, far), (far, len(loop))]
    while todo:
        first, last = todo.pop()
        if last - first < 2:
            continue
        distance = _distance(closed[first + 1 : last], closed[first], closed[last])
        worst = int(np.argmax(distance))
        if distance[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            todo += [(first, middle), (middle, last)]
    kept: Points = loop[keep[:-1]]
    return kept


def _distance(points: Points, start: Points, end: Points) -> Points:
    """(N,) from each point to the stretch between start and end."""
    along = end - start
    length = float(along @ along)
    share = np.clip((points - start) @ along / length, 0.0, 1.0) if length else np.zeros(len(points))
    gap: Points = np.linalg.norm(points - start - share[:, None] * along, axis=1)
    return gap
