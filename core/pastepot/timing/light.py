"""How much the light of a film may flicker from picture to picture, whatever is in the pictures.

W3C WCAG 2.2 ("general flash and red flash thresholds") counts a flash where relative luminance goes up and down by 0.10
or more. White paper is the brightest thing on the table; if its luminance Y can never differ by that much between any
two pictures, no flicker of the light as a whole is ever a flash. With gains of 2**c at most either way:

    Y * (2**c - 2**-c) < 0.10 - two codes of 8-bit rounding

A gain multiplies linear light; the codes are those of IEC 61966-2-1 (sRGB).
"""

from __future__ import annotations

import math

from pastepot.chance import HAND_LIMIT
from pastepot.srgb import linear

FLASH = 0.10
WHITE_PAPER = 0.79
"""Relative luminance of white drawing paper brightly lit: a measured sheet. Darker paper flickers less."""


# The widest step between two codes that white paper can reach: at the top of the scale.
_TWO_CODES = 2 * float(linear(255) - linear(254))


def safe_peak_stops(paper: float = WHITE_PAPER) -> float:
    """How far the light may stray either way, in stops, over paper of this relative luminance."""
    return math.asinh((FLASH - _TWO_CODES) / paper / 2) / math.log(2)


SAFE_FLICKER_STOPS = math.floor(safe_peak_stops() / HAND_LIMIT * 1e4) / 1e4
"""The standard deviation for that, rounded down to four places: no random value is further out than HAND_LIMIT."""
