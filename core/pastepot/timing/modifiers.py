"""What bends a curve's time before it is evaluated: repeating it outside its keys, and holding it in steps.

The rules are Blender's, and so is the precision: times are worked out in float32, because whether a frame falls on
this or that side of a step or of a cycle's end hangs on its last bit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pastepot.timing.kinds import CycleMode

Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Cycles:
    """The curve again and again, before its first key and after its last; 0 times means without end.

    It must be the first modifier of its curve.
    """

    before: CycleMode = CycleMode.REPEAT
    after: CycleMode = CycleMode.REPEAT
    times_before: int = 0
    times_after: int = 0


@dataclass(frozen=True)
class Stepped:
    """The curve held for `step` frames at a time, counted from `offset`; outside start..end it moves on smoothly."""

    step: float = 2.0
    offset: float = 0.0
    start: float = -np.inf
    end: float = np.inf

    def __post_init__(self) -> None:
        if not self.step > 0:
            raise ValueError(f"Steps must last longer than no time at all, not {self.step} frames.")


Modifier = Cycles | Stepped


def bend_time(
    modifiers: Sequence[Modifier], times: NDArray[np.float64], first: NDArray[np.float64], last: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where to evaluate the curve instead of at `times` (n,), and what to add to its value there (n,).

    first and last are the outer keys (frame, value). The last modifier works first.
    """
    bent = times.astype(np.float32)
    added = np.zeros(times.shape)
    for modifier in reversed(modifiers):
        if isinstance(modifier, Stepped):
            bent = _step(modifier, bent)
        else:
            bent, added = _cycle(modifier, bent, first.astype(np.float32), last.astype(np.float32))
    return bent.astype(np.float64), added


def _step(stepped: Stepped, times: Singles) -> Singles:
    step, offset = np.float32(stepped.step), np.float32(stepped.offset)
    held = np.trunc((times - offset) / step) * step + offset
    inside = (times >= np.float32(stepped.start)) & (times <= np.float32(stepped.end))
    return np.where(inside, held, times)


def _cycle(cycles: Cycles, times: Singles, first: Singles, last: Singles) -> tuple[Singles, NDArray[np.float64]]:
    bent, added = times.copy(), np.zeros(times.shape)
    if first[0] == last[0]:
        return bent, added
    before, after = times < first[0], times > last[0]
    if cycles.before is not CycleMode.NONE:
        bent[before], added[before] = _side(cycles.before, cycles.times_before, -1, times[before], first, last)
    if cycles.after is not CycleMode.NONE:
        bent[after], added[after] = _side(cycles.after, cycles.times_after, 1, times[after], first, last)
    return bent, added


def _side(
    mode: CycleMode, most: int, side: int, times: Singles, first: Singles, last: Singles
) -> tuple[Singles, NDArray[np.float64]]:
    """Bent times and added values on one side of the keys, all of whose times lie there."""
    length = last[0] - first[0]
    away = times - (first[0] if side < 0 else last[0])
    number = np.float32(side) * away / length
    into = np.fmod(away, length)
    bent = first[0] + into
    backwards = np.zeros(times.shape, bool)
    if mode is CycleMode.MIRROR:
        backwards = np.trunc(number + np.float32(1)) % 2 == 1
        bent = np.where(backwards, (first[0] if side < 0 else last[0]) - into, bent)
    # A time on the very end of a cycle belongs to the cycle nearer to the keys.
    end, start = (last[0], first[0]) if side > 0 else (first[0], last[0])
    turned = (mode is CycleMode.MIRROR) & (np.trunc(number) % 2 == 1)
    bent = np.where(into == 0, np.where(turned, start, end), bent)
    bent = np.where(bent < first[0], bent + length, bent)
    added = np.zeros(times.shape)
    if mode is CycleMode.REPEAT_OFFSET:
        whole = np.ceil(away / length) if side > 0 else np.floor(away / length)
        added = (whole * (last[1] - first[1])).astype(np.float64)
    over = (number > most) if most else np.zeros(times.shape, bool)
    return np.where(over, times, bent), np.where(over, 0.0, added)
