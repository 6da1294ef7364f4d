"""The choices that a curve and its keys have. Names and numbers are Blender's own."""

from __future__ import annotations

from enum import IntEnum


class Interpolation(IntEnum):
    """How a curve gets from a key to the next."""

    CONSTANT = 0
    LINEAR = 1
    BEZIER = 2
    BACK = 3
    BOUNCE = 4
    CIRC = 5
    CUBIC = 6
    ELASTIC = 7
    EXPO = 8
    QUAD = 9
    QUART = 10
    QUINT = 11
    SINE = 12


class Easing(IntEnum):
    """At which end of the way the easing works."""

    AUTO = 0
    EASE_IN = 1
    EASE_OUT = 2
    EASE_IN_OUT = 3


class Extrapolation(IntEnum):
    """What a curve does outside its keys: keep its value, or go on in a straight line."""

    CONSTANT = 0
    LINEAR = 1


class CycleMode(IntEnum):
    """What a curve with the CYCLES modifier does outside its keys."""

    NONE = 0
    REPEAT = 1
    REPEAT_OFFSET = 2
    MIRROR = 3


class Numbers(IntEnum):
    """Which numbers the animated property takes: any; whole ones, by rounding; or a switch, held from key to key.

    The numbers are ours: Blender keeps this to itself.
    """

    ANY = 0
    WHOLE = 1
    SWITCH = 2
