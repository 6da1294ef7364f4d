"""The plans of a shot: one for everything under the camera, the camera's own, and exceptions for single parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pastepot import chance
from pastepot.errors import Misuse, Problem
from pastepot.timing.edits import Edit, edited
from pastepot.timing.exposures import Frames, anchored_in, plan
from pastepot.timing.rows import REACH_MM, Flags, Floats, Role, Rows, Table
from pastepot.timing.settings import PATTERN_FPS, Feel
from pastepot.units import tick


@dataclass(frozen=True)
class Plans:
    """When new pictures are taken.

    shared:   starts for everything that has no plan of its own
    own:      owner's index -> starts of its own
    problems: warnings, such as an edit that no longer fits
    """

    shared: Frames
    own: Mapping[int, Frames] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    def union(self) -> Frames:
        """Every frame on which anything is taken anew."""
        starts: Frames = np.unique(np.concatenate([self.shared, *self.own.values()]))
        return starts


@dataclass(frozen=True)
class Wishes:
    """What a person asked for beyond the feel; frames are the scene's own.

    pattern:        instead of the feel's
    starts:         taken from a measured reference: exposures begin on exactly these frames, extremes or not
    own:            owner's name -> a pattern of its own
    edits:          done to the shared plan, in this order
    frame_width_mm: how wide the picture is, for the feel's fast_share
    """

    pattern: Sequence[int] | None = None
    starts: ArrayLike | None = None
    own: Mapping[str, Sequence[int]] = field(default_factory=dict)
    edits: Sequence[Edit] = ()
    frame_width_mm: float | None = None


def plans(rows: Rows, feel: Feel, table: Table, wishes: Wishes | None = None) -> Plans:
    """The plans that a feel and a person's wishes give. Misuse for wishes that make no sense."""
    wishes = wishes or Wishes()
    own = _own(rows, feel, wishes)
    free = np.ones(len(rows.owners), bool)
    free[list(own)] = False
    extremes = _extremes(rows, free) if feel.anchor == "extremes" else []
    pattern = wishes.pattern or feel.pattern_at(table.fps)
    if wishes.starts is not None:
        shared = measured(rows.first, rows.last, wishes.starts)
    elif feel.odds and not wishes.pattern:
        shared = drawn(rows.first, rows.last, feel.odds, table, extremes)
    else:
        shared = plan(rows.first, rows.last, pattern, extremes)
    if feel.fast_share and wishes.starts is None:
        if wishes.frame_width_mm is None:
            raise Misuse(Problem("The feel asks for the frame's width.", "Give the width of the picture in mm."))
        shared = split_fast(shared, rows, table, free, feel.fast_share * wishes.frame_width_mm)
    shared, problems = edited(shared, rows.last, wishes.edits)
    return Plans(shared, own, tuple(problems))


def _own(rows: Rows, feel: Feel, wishes: Wishes) -> dict[int, Frames]:
    own = {}
    if feel.camera == "ones":
        every = np.arange(rows.first, rows.last + 1, dtype=np.int64)
        own = {who: every for who in np.flatnonzero(rows.exact).tolist()}
    for name, pattern in wishes.own.items():
        if name not in rows.owners:
            fix = "Take its pattern out, or animate it first."
            raise Misuse(Problem("There is no such part to give a pattern of its own.", fix, part=name))
        who = rows.owners.index(name)
        chosen = np.arange(len(rows.owners)) == who
        extremes = _extremes(rows, chosen) if feel.anchor == "extremes" else []
        own[who] = plan(rows.first, rows.last, pattern, extremes)
    return own


def _extremes(rows: Rows, owners: Flags) -> list[int]:
    """Frames on which any of the owners has an extreme."""
    posed = (rows.role != Role.SHOWN) & owners[rows.owner]
    at: list[int] = (np.flatnonzero(rows.keyed[posed].any(axis=0)) + rows.first).tolist()
    return at


def measured(first: int, last: int, starts: ArrayLike) -> Frames:
    """The plan of a measured reference: its starts within the range, and `first`. Misuse for other starts."""
    frames = np.asarray(starts)
    if frames.ndim != 1 or (frames.size and frames.dtype.kind not in "iu"):
        raise Misuse(Problem("The measured starts are not a list of whole frames.", "Measure the reference again."))
    inside = frames[(frames > first) & (frames <= last)].astype(np.int64)
    begun: Frames = np.unique(np.append(inside, first))
    return begun


def drawn(first: int, last: int, odds: Sequence[float], table: Table, extremes: Iterable[int] = ()) -> Frames:
    """A plan whose lengths are drawn with the film's seed: odds[n] is how often one lasts n + 1 frames of 1/12 s.

    A length depends on the seed and on when its exposure begins, on nothing else. Extremes begin exposures as in
    `exposures.plan`, and what is left before one is added to the exposure before.
    """
    weights = np.asarray(odds, float)
    if weights.ndim != 1 or not (weights >= 0).all() or not np.isfinite(weights).all() or not weights.sum() > 0:
        raise Misuse(Problem(f"The odds {list(odds)} draw no lengths.", "Give numbers from 0, one above 0 at least."))
    frames = np.arange(first, last + 1, dtype=np.int64)
    u = chance.uniform(table.seed, 0, chance.Channel.PLAN, tick(frames, table.fps, table.first_frame))
    kinds = np.searchsorted(np.cumsum(weights) / weights.sum(), u, side="right")
    scale = Fraction(round(table.fps), PATTERN_FPS)
    kinds = np.minimum(kinds, np.flatnonzero(weights)[-1])
    lengths = [max(1, round(int(n + 1) * scale)) for n in range(len(weights))]
    shortest = min(n for n, w in zip(lengths, weights.tolist(), strict=True) if w > 0)
    starts: list[int] = []
    for begin, end in anchored_in(first, last, extremes):
        at = begin
        starts.append(at)
        while (at := at + lengths[kinds[at - first]]) <= end - shortest:
            starts.append(at)
    return np.array(starts, dtype=np.int64)


def split_fast(starts: Frames, rows: Rows, table: Table, owners: Flags, most_mm: float) -> Frames:
    """The plan with single frames wherever an exposure's fastest part goes further than this to the next one.

    How far a part goes: its slide, and what its turn moves its far end by; both as the smooth curve has them.
    """
    columns = np.append(starts - rows.first, rows.last - rows.first)
    fast: Flags = np.any(steps_mm(rows, table, columns)[owners] > most_mm, axis=0)
    inside = np.searchsorted(starts, np.arange(rows.first, rows.last + 1), side="right") - 1
    every = np.flatnonzero(fast[inside]) + rows.first
    return np.union1d(starts, every)


def steps_mm(rows: Rows, table: Table, columns: NDArray[np.int64]) -> Floats:
    """(P, C - 1) how far each owner goes from each of C columns of Rows.values to the next, in mm."""
    reach = np.full(len(rows.owners), REACH_MM) if rows.reach_mm is None else np.asarray(rows.reach_mm, float)
    row = np.flatnonzero(rows.role <= Role.TURN)
    who = rows.owner[row]
    weight = np.where(rows.role[row] == Role.TURN, reach[who], 1 / table.units_per_mm)
    steps = np.diff(rows.values[row][:, columns], axis=1) * weight[:, None]
    squares = np.zeros((len(rows.owners), len(columns) - 1))
    for one, step in zip(who.tolist(), steps * steps, strict=True):
        squares[one] += step
    return np.sqrt(squares)
