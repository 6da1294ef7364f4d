"""The named ways from one key to the next: how far along the change is at each share of the time.

Source of the formulas: Robert Penner's easing equations, 2001, with Blender's three departures: EXPO is stretched to
begin and end exactly on its keys, BACK in and out at once overshoots 1.525 times as far, and ELASTIC fades its swing
where the amplitude is smaller than the change.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pastepot.timing.kinds import Easing, Interpolation

Floats = NDArray[np.float64]


_AUTO_IS_OUT = (Interpolation.BACK, Interpolation.BOUNCE, Interpolation.ELASTIC)
_POWERS = {Interpolation.QUAD: 2, Interpolation.CUBIC: 3, Interpolation.QUART: 4, Interpolation.QUINT: 5}
_EXPO_START = 2.0**-10


def rise(
    kind: Interpolation,
    easing: Easing,
    share: Floats,
    change: Floats,
    duration: Floats,
    back: Floats,
    amplitude: Floats,
    period: Floats,
) -> Floats:
    """How far the value has come from the first key's, for any kind but CONSTANT and BEZIER. All arrays (n,).

    share: of the time between the keys, in [0, 1]; change: of the value; duration: in frames. back is read by BACK,
    amplitude (in the value's unit) and period (in frames) by ELASTIC alone.
    """
    if easing is Easing.AUTO:
        easing = Easing.EASE_OUT if kind in _AUTO_IS_OUT else Easing.EASE_IN
    if kind is Interpolation.ELASTIC:
        return _elastic(easing, share, change, duration, amplitude, period)
    overshoot = back * 1.525 if easing is Easing.EASE_IN_OUT else back
    return change * _at_the_end(easing, _beginning(kind), share, overshoot)


_Shape = Callable[[Floats, Floats], Floats]


def _at_the_end(easing: Easing, shape: _Shape, u: Floats, back: Floats) -> Floats:
    """The shape of a beginning, turned about for an end, or half of it at each end."""
    if easing is Easing.EASE_IN:
        return shape(u, back)
    if easing is Easing.EASE_OUT:
        return 1 - shape(1 - u, back)
    late = u >= 0.5
    half = 0.5 * shape(np.where(late, 2 - 2 * u, 2 * u), back)
    return np.where(late, 1 - half, half)


def _beginning(kind: Interpolation) -> _Shape:
    """The easing-in shape f(u, back), f(0) = 0 and f(1) = 1."""
    if kind in _POWERS:
        power = _POWERS[kind]
        return lambda u, _: u**power
    return _SHAPES[kind]


def _linear(u: Floats, _: Floats) -> Floats:
    return u


def _sine(u: Floats, _: Floats) -> Floats:
    way: Floats = 1 - np.cos(u * (np.pi / 2))
    return way


def _expo(u: Floats, _: Floats) -> Floats:
    way: Floats = (np.exp2(10 * (u - 1)) - _EXPO_START) / (1 - _EXPO_START)
    return way


def _circ(u: Floats, _: Floats) -> Floats:
    way: Floats = 1 - np.sqrt(np.maximum(0, 1 - u * u))
    return way


def _back(u: Floats, back: Floats) -> Floats:
    return u * u * ((back + 1) * u - back)


def _bounce(u: Floats, _: Floats) -> Floats:
    """Parabolas 7.5625 v**2 over the time left, v, each with its floor contact 1/2.75 apart and a quarter as high."""
    v = 1 - u
    middle = np.select([v < 1 / 2.75, v < 2 / 2.75, v < 2.5 / 2.75], [0.0, 1.5 / 2.75, 2.25 / 2.75], 2.625 / 2.75)
    height = np.select([v < 1 / 2.75, v < 2 / 2.75, v < 2.5 / 2.75], [0.0, 0.75, 0.9375], 0.984375)
    way: Floats = 1 - (7.5625 * (v - middle) ** 2 + height)
    return way


_SHAPES: dict[Interpolation, _Shape] = {
    Interpolation.LINEAR: _linear,
    Interpolation.SINE: _sine,
    Interpolation.EXPO: _expo,
    Interpolation.CIRC: _circ,
    Interpolation.BACK: _back,
    Interpolation.BOUNCE: _bounce,
}


def _elastic(
    easing: Easing, share: Floats, change: Floats, duration: Floats, amplitude: Floats, period: Floats
) -> Floats:
    """A swing that dies away by 2**-10 over the time; period 0 means 0.3 of the duration (0.45 at both ends)."""
    both = easing is Easing.EASE_IN_OUT
    period = np.where(period == 0, duration * (0.45 if both else 0.3), period)
    # Time before (or after) the swing's full height, in [-1, 0].
    before = {Easing.EASE_IN: share - 1, Easing.EASE_OUT: -share, Easing.EASE_IN_OUT: -abs(2 * share - 1)}[easing]
    # In float32, as Blender: where amplitude and change are all but equal, the arcsine hangs on their last bits.
    change_single, amplitude_single = change.astype(np.float32), amplitude.astype(np.float32)
    small = (amplitude_single == 0) | (amplitude_single < abs(change_single))
    height = np.where(small, change, amplitude)
    sine = np.where(small, np.float32(1), change_single / np.where(small, np.float32(1), amplitude_single))
    lag = period / (2 * np.pi) * np.arcsin(sine.astype(np.float64))
    fade = np.where(small & (change != 0), _fade(before * duration, lag, amplitude, change), 1.0)
    swing = fade * height * np.exp2(10 * before) * np.sin((before * duration - lag) * (2 * np.pi) / period)
    if easing is Easing.EASE_IN:
        way = -swing
    elif easing is Easing.EASE_OUT:
        way = change + swing
    else:
        way = np.where(share < 0.5, -swing / 2, change + swing / 2)
    return np.where(share == 0, 0.0, np.where(share == 1, change, way))


def _fade(time: Floats, lag: Floats, amplitude: Floats, change: Floats) -> Floats:
    """How much of the swing is left where it would be lower than the change: all of it only close to the key."""
    with np.errstate(divide="ignore", invalid="ignore"):
        low = amplitude / abs(change)
        near = abs(time) / abs(lag)
        return np.where(near < 1, low * near + (1 - near), low)
