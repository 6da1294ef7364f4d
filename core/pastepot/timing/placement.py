"""Placement error: where a hand puts a part that it has taken up, against where it should lie.

Each error belongs to one placement and holds until the next; errors never add up. A hand that moves a part far misses
by more, up to a limit:

    sigma = min(hypot(base, share * step), max(base, most))

A part turned about the point where it is held moves its pivot too: (R(error) - 1) (pivot - held point).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot import chance
from pastepot.timing.rows import STILL, Flags, Floats, Places, Role, Rows, Table, any_row
from pastepot.timing.settings import Feel
from pastepot.timing.spacing import smooth

_LIFE_TICKS = 900  # a second and a half: how long a held part drifts one way
_BLOCK = 128  # exposures whose distances are looked at together


@dataclass(frozen=True)
class Off:
    """How far each owner is off, (P, E) each: Blender units and radians."""

    x: Floats
    z: Floats
    turn: Floats

    def plus(self, other: Off) -> Off:
        """Both together."""
        return Off(self.x + other.x, self.z + other.z, self.turn + other.turn)


@dataclass(frozen=True)
class Steps:
    """Each owner's pose (P, E) in Blender units and radians, 0 where it has no such row; and its steps."""

    x: Floats
    z: Floats
    turn: Floats

    @classmethod
    def of(cls, rows: Rows, sampled: NDArray[np.float32]) -> Steps:
        """From the sampled poses (K, E)."""
        found = []
        for role in (Role.SLIDE_X, Role.SLIDE_Z, Role.TURN):
            row = rows.row_of(role)
            found.append(np.where((row >= 0)[:, None], sampled[row], 0).astype(np.float64))
        return cls(*found)

    def step(self, values: Floats) -> Floats:
        """(P, E) the difference from the exposure before; 0 at the first."""
        out = np.zeros(values.shape)
        out[:, 1:] = np.diff(values, axis=1)
        return out


def touched(sampled: NDArray[np.float32], rows: Rows) -> Flags:
    """(P, E): the owner's own pose differs from the exposure before."""
    moved = np.zeros(sampled.shape, bool)
    moved[:, 1:] = np.abs(np.diff(sampled.astype(np.float64), axis=1)) > STILL
    moved[rows.role == Role.SHOWN] = False
    return any_row(moved, rows.owner, len(rows.owners))


def lifted(placed: Flags, moved: Flags, exact: Flags, rows: Rows) -> Flags:
    """`placed`, and whatever lies on a part that a hand lifts. Nothing lies on the camera.

    A part is lifted when its pose changes, when it is lifted itself, and when it is put right: at an extreme, say, to
    which it came with an error. One that rests exactly on its extreme is not.
    """
    if rows.parent is None:
        return placed
    out, lifts = placed.copy(), moved.copy()
    at = np.arange(placed.shape[1])
    for who in from_the_root(rows.parent):
        below = rows.parent[who]
        if below >= 0 and not rows.exact[below]:
            out[who, 1:] |= lifts[below, 1:]
            lifts[who, 1:] |= lifts[below, 1:]
        since = np.maximum.accumulate(np.where(out[who], at, 0))
        off = (since > 0) & ~exact[who, since]
        lifts[who, 1:] |= out[who, 1:] & off[:-1]
    return out


def from_the_root(parent: Places) -> list[int]:
    """Owners in an order in which each comes after the one it lies on. A ring of parents is gone through once."""
    done: list[int] = []
    seen: set[int] = set()
    for start in range(len(parent)):
        way = []
        who = start
        while who >= 0 and who not in seen:
            seen.add(who)
            way.append(who)
            who = int(parent[who])
        done.extend(reversed(way))
    return done


def misses(
    rows: Rows, steps: Steps, parts: NDArray[np.int64], when: NDArray[np.int64], feel: Feel, table: Table
) -> Off:
    """The error of a placement at each exposure, whether or not there is one."""
    part = parts[:, None]
    x, z = chance.hand(table.seed, part, chance.Channel.PLACE, when[None, :])
    turn, _ = chance.hand(table.seed, part, chance.Channel.TURN, when[None, :])
    step = steps.step
    moved = np.sqrt(step(steps.x) ** 2 + step(steps.z) ** 2) / table.units_per_mm
    turned = np.degrees(np.abs(step(steps.turn)))
    slide = _spread(feel.offset_mm, feel.offset_share, feel.offset_most_mm, moved) * table.units_per_mm
    angle = turn * np.radians(_spread(feel.turn_deg, feel.turn_share, feel.turn_most_deg, turned))
    off = Off(x * slide, z * slide, angle)
    return off if rows.grab_mm is None else off.plus(_held_elsewhere(rows, steps, angle, table))


def _spread(base: float, share: float, most: float, step: Floats) -> Floats:
    if not share:
        return np.full(step.shape, base)
    spread: Floats = np.minimum(np.sqrt(base * base + (share * step) ** 2), max(base, most))
    return spread


def _held_elsewhere(rows: Rows, steps: Steps, angle: Floats, table: Table) -> Off:
    """What a turn by `angle` about the held point does to the pivot: 0 where the part has no turn of its own."""
    assert rows.grab_mm is not None
    turns = (rows.row_of(Role.TURN) >= 0)[:, None]
    x, z = (np.asarray(rows.grab_mm, float) * table.units_per_mm).T[:, :, None]
    held = _turned(x, z, steps.turn)
    after = _turned(x, z, steps.turn + angle)
    return Off(np.where(turns, held[0] - after[0], 0), np.where(turns, held[1] - after[1], 0), np.zeros(angle.shape))


def _turned(x: Floats, z: Floats, angle: Floats) -> tuple[Floats, Floats]:
    """Turned about the y axis, as parts in the xz plane turn: z towards x."""
    cos, sin = np.cos(angle), np.sin(angle)
    return x * cos + z * sin, z * cos - x * sin


def nudged(
    rows: Rows,
    steps: Steps,
    moved: Flags,
    free: Flags,
    parts: NDArray[np.int64],
    when: NDArray[np.int64],
    feel: Feel,
    table: Table,
) -> tuple[Flags, Off]:
    """(P, E) whether a neighbour's move pushes an owner, and where to: a share of that move, no wider than the limit.

    moved: whose own pose changed. free: who may be pushed. The nearest neighbour that moved counts; the chance falls in
    a straight line from `nudge` at no distance to nothing at `nudge_reach_mm`.
    """
    gap, by = _nearest(rows, steps, moved, table)
    likely = feel.nudge * np.maximum(1 - gap / feel.nudge_reach_mm, 0)
    at = np.nonzero(free & (likely > 0))
    pushed = np.zeros(moved.shape, bool)
    pushed[at] = chance.uniform(table.seed, parts[at[0]], chance.Channel.NUDGE, when[at[1]]) < likely[at]
    who = by[pushed], np.nonzero(pushed)[1]
    dx, dz = (feel.nudge_share * steps.step(v)[who] for v in (steps.x, steps.z))
    far = np.sqrt(dx * dx + dz * dz)
    shrink = np.minimum(1, feel.offset_most_mm * table.units_per_mm / np.maximum(far, 1e-300))
    x, z = np.zeros(moved.shape), np.zeros(moved.shape)
    x[pushed], z[pushed] = dx * shrink, dz * shrink
    return pushed, Off(x, z, np.zeros(moved.shape))


def _nearest(rows: Rows, steps: Steps, moved: Flags, table: Table) -> tuple[Floats, Places]:
    """(P, E) the gap in mm to the nearest neighbour that moved at that exposure (inf for none), and which it is."""
    count, exposures = moved.shape
    gap = np.full((count, exposures), np.inf)
    by = np.zeros((count, exposures), np.intp)
    for group in neighbourhoods(rows):
        for begin in range(0, exposures, _BLOCK):
            block = slice(begin, begin + _BLOCK)
            x, z, stirs = (v[group, block].T for v in (steps.x, steps.z, moved))
            if rows.gaps_mm is None:
                far = np.square(x[:, :, None] - x[:, None, :]) + np.square(z[:, :, None] - z[:, None, :])
                far = np.sqrt(far) / table.units_per_mm
            else:
                far = np.broadcast_to(rows.gaps_mm[np.ix_(group, group)], (len(x), len(group), len(group))).copy()
            far += np.where(stirs, 0, np.inf)[:, None, :]
            far[:, np.arange(len(group)), np.arange(len(group))] = np.inf
            nearest = far.argmin(axis=2)
            by[group, block] = group[nearest].T
            gap[group, block] = np.take_along_axis(far, nearest[:, :, None], axis=2)[:, :, 0].T
    return gap, by


def neighbourhoods(rows: Rows) -> list[Places]:
    """Owners that may push each other: those with one parent, or, with gaps given, all; the camera pushes nobody."""
    here = np.flatnonzero(~rows.exact)
    if rows.gaps_mm is not None or rows.parent is None:
        groups = [here]
    else:
        groups = [here[rows.parent[here] == p] for p in np.unique(rows.parent[here])]
    return [g for g in groups if len(g) > 1]


def drift(
    rows: Rows, placed: Flags, held: Flags, parts: NDArray[np.int64], when: NDArray[np.int64], feel: Feel, table: Table
) -> Off:
    """Life in long holds: a slow drift that begins and ends at nothing and never goes further than the limits.

    placed: what ends a hold. held: (P, E) where a part may not stir.
    """
    exposures = placed.shape[1]
    edges = placed | held
    edges[:, 0] = True
    at = np.arange(exposures)
    since = np.maximum.accumulate(np.where(edges, at, 0), axis=1)
    until = np.full(edges.shape, exposures)
    until[:, :-1] = np.minimum.accumulate(np.where(edges, at, exposures)[:, :0:-1], axis=1)[:, ::-1]
    length = until - since
    share = (at - since) / length
    # 0 at the hold's first exposure and where it ends, never above 1
    swell = np.where((length >= feel.life_from) & ~held & ~rows.exact[:, None], 4 * share * (1 - share), 0)
    if rows.alive is not None:
        swell = np.where(rows.alive[:, None], swell, 0)
    x, z = smooth(table.seed, parts, chance.Channel.LIFE, when, _LIFE_TICKS, lane=0)
    turn, _ = smooth(table.seed, parts, chance.Channel.LIFE, when, _LIFE_TICKS, lane=1)
    # within a circle of the limit: both values together go no further than sqrt(2) of HAND_LIMIT
    far = feel.life_mm * table.units_per_mm / (chance.HAND_LIMIT * np.sqrt(2))
    return Off(x * swell * far, z * swell * far, turn * swell * (np.radians(feel.life_deg) / chance.HAND_LIMIT))
