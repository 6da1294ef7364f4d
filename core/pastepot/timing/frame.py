"""What happens to the whole picture: it weaves, the light flickers, the paper boils, somebody bumps the table.

Each is a pure function of the film's seed and of when the exposure begins, and off unless the feel asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot import chance
from pastepot.errors import Problem, raise_if_any
from pastepot.timing.exposures import Frames
from pastepot.timing.feel import check
from pastepot.timing.rows import Flags, Floats, Table
from pastepot.timing.settings import Feel
from pastepot.units import TICKS_PER_SECOND, tick

_FRAME = chance.part_key("the whole frame")
BUMP_MM = 1.0
"""How far a bump moves the frame along each axis: a standard deviation. A wish, not a measurement."""
BUMP_DEG = 0.2


@dataclass(frozen=True)
class FrameEffects:
    """One value per exposure (E,): it holds until the next.

    x_mm, y_mm:  where the whole frame is, right and up, paper millimetres; weave and bumps together
    turn_deg:    how far it is turned, anticlockwise
    stops, gain: how much lighter it is; gain = 2**stops multiplies linear light
    boil:        a number below 2**32 for each picture's paper surface; 0 throughout where it does not boil
    boil_x_mm, boil_y_mm: how far the surface is shifted under the picture
    bumped:      exposures in which somebody bumped the table
    problems:    the warning where the light flickers beyond what is safe
    """

    starts: Frames
    x_mm: Floats
    y_mm: Floats
    turn_deg: Floats
    stops: Floats
    gain: Floats
    boil: NDArray[np.int64]
    boil_x_mm: Floats
    boil_y_mm: Floats
    bumped: Flags
    problems: tuple[Problem, ...] = ()


def frame_effects(starts: Frames, feel: Feel, table: Table, last: int | None = None) -> FrameEffects:
    """The effects of a feel on a plan. PastepotError for flicker that is not safe and not marked as meant.

    last: the last frame, which the last exposure lasts to; left out, it lasts one frame.
    """
    problems = check(feel)
    raise_if_any(problems)
    when = tick(starts, table.fps, table.first_frame)
    end = tick(np.array([(int(starts[-1]) if last is None else last) + 1]), table.fps, table.first_frame)

    x, y = _hand(table, chance.Channel.WEAVE, when, 0)
    turn, _ = _hand(table, chance.Channel.WEAVE, when, 1)
    bumped, bump_x, bump_y, bump_turn = _bumps(feel, table, when, np.diff(when, append=end))
    stops = feel.flicker_stops * _hand(table, chance.Channel.LIGHT, when, 0)[0]
    boil_x, boil_y = _hand(table, chance.Channel.BOIL, when, 0)
    boil = chance.words(table.seed, _FRAME, chance.Channel.BOIL, when, 1)[0].astype(np.int64)
    return FrameEffects(
        starts,
        x * feel.weave_mm + bump_x,
        y * feel.weave_mm + bump_y,
        turn * feel.weave_deg + bump_turn,
        stops,
        np.exp2(stops),
        boil if feel.boil_mm else np.zeros_like(boil),
        boil_x * feel.boil_mm,
        boil_y * feel.boil_mm,
        bumped,
        tuple(problems),
    )


def _hand(table: Table, channel: chance.Channel, when: NDArray[np.int64], lane: int) -> tuple[Floats, Floats]:
    return chance.hand(table.seed, _FRAME, channel, when, lane)


def _bumps(
    feel: Feel, table: Table, when: NDArray[np.int64], lasts: NDArray[np.int64]
) -> tuple[Flags, Floats, Floats, Floats]:
    """Whether each exposure was bumped, the likelier the longer it lasts, and where to."""
    minutes = lasts / (60 * TICKS_PER_SECOND)
    bumped: Flags = chance.uniform(table.seed, _FRAME, chance.Channel.BUMP, when, 0) < feel.bumps * minutes
    x, y = _hand(table, chance.Channel.BUMP, when, 1)
    turn, _ = _hand(table, chance.Channel.BUMP, when, 2)
    by = bumped.astype(np.float64)
    return bumped, x * BUMP_MM * by, y * BUMP_MM * by, turn * BUMP_DEG * by
