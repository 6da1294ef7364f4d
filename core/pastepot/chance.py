"""Random numbers without a state: each value is a pure function of what it is for.

A value depends on the film's seed, the part's name, the channel, the tick and the lane, and on nothing else, so that
editing one part or a later frame never reshuffles anything. It is the same on every machine and numpy version.

Source of the generator: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel Random Numbers: As Easy as 1, 2,
3", SC'11, 2011: Philox4x32 with 10 rounds.
"""

from __future__ import annotations

import hashlib
import math
import operator
import unicodedata
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Words = tuple[NDArray[np.uint32], NDArray[np.uint32], NDArray[np.uint32], NDArray[np.uint32]]

_LOW = np.uint64(0xFFFFFFFF)
_32 = np.uint64(32)
_MULTIPLIERS = np.uint64(0xD2511F53), np.uint64(0xCD9E8D57)
_KEY_STEPS = 0x9E3779B9, 0xBB67AE85
_ROUNDS = 10

_UNIT_VARIANCE = math.sqrt(3 / (2**32 - 1))
HAND_LIMIT = 131070 * _UNIT_VARIANCE
"""No value of `hand` is further from 0 than this (just under 2 * sqrt(3), 3.4641)."""


class Channel(IntEnum):
    """What a random number is for. The numbers are part of every film's look: never change or reuse one."""

    PLACE = 0
    TURN = 1
    SPACING = 2
    NUDGE = 3
    WEAVE = 4
    LIGHT = 5
    BOIL = 6
    TAKE = 7
    PLAN = 8
    LIFE = 9
    BUMP = 10
    ARC = 11


def part_key(name: str) -> int:
    """32 bits that stand for a part: BLAKE2s (RFC 7693) of the name's NFC form in UTF-8, first byte lowest."""
    text = unicodedata.normalize("NFC", name).encode()
    return int.from_bytes(hashlib.blake2s(text, digest_size=4).digest(), "little")


def philox4x32(counter: tuple[ArrayLike, ...], key: tuple[ArrayLike, ...]) -> Words:
    """Philox4x32-10 of a counter of four and a key of two words below 2**32, which broadcast together."""
    c0, c1, c2, c3 = (np.asarray(word, np.uint64) for word in counter)
    k0, k1 = (np.asarray(word, np.uint64) for word in key)
    for i in range(_ROUNDS):
        left = _MULTIPLIERS[0] * c0  # 32 x 32 bits fit in 64
        right = _MULTIPLIERS[1] * c2
        round_k0 = (k0 + np.uint64(i * _KEY_STEPS[0] & 0xFFFFFFFF)) & _LOW
        round_k1 = (k1 + np.uint64(i * _KEY_STEPS[1] & 0xFFFFFFFF)) & _LOW
        c0, c1, c2, c3 = (right >> _32) ^ c1 ^ round_k0, right & _LOW, (left >> _32) ^ c3 ^ round_k1, left & _LOW
    w0, w1, w2, w3 = (word.astype(np.uint32) for word in np.broadcast_arrays(c0, c1, c2, c3))
    return w0, w1, w2, w3


def words(seed: int, part: ArrayLike, channel: ArrayLike, tick: ArrayLike, lane: ArrayLike = 0) -> Words:
    """Four independent arrays of 32 random bits, shaped as part, channel, tick and lane broadcast together.

    seed: the film's, any int; 64 bits of it count. part: from `part_key`. channel: a `Channel`. tick: when the exposure
    starts (see `units.tick`), negative before the film's first frame. lane: a number of the caller's, for more than
    one draw at one time. Raises ValueError for arrays that are not of an integer type.
    """
    seed = operator.index(seed)
    counter = (_word(tick, "tick"), _word(channel, "channel"), seed >> 32 & 0xFFFFFFFF, _word(lane, "lane"))
    return philox4x32(counter, (seed & 0xFFFFFFFF, _word(part, "part")))


def uniform(
    seed: int, part: ArrayLike, channel: ArrayLike, tick: ArrayLike, lane: ArrayLike = 0
) -> NDArray[np.float64]:
    """Evenly spread values in [0, 1) with all 53 bits; arguments as for `words`."""
    w = words(seed, part, channel, tick, lane)
    bits = (w[0].astype(np.uint64) >> np.uint64(5) << np.uint64(26)) | (w[1].astype(np.uint64) >> np.uint64(6))
    return bits.astype(np.float64) * 2.0**-53


def hand(
    seed: int, part: ArrayLike, channel: ArrayLike, tick: ArrayLike, lane: ArrayLike = 0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Two independent bell-shaped values, mean 0 and variance 1, never beyond HAND_LIMIT; arguments as for `words`.

    A hand has a steady aim and no outliers: each value is the sum of four even 16-bit numbers (Irwin-Hall, n = 4),
    less its mean of 131070, over its standard deviation sqrt((2**32 - 1) / 3). All steps but the last multiplication
    are on integers, so that the bits are the same everywhere.
    """
    w = words(seed, part, channel, tick, lane)
    return _bell(w[0], w[1]), _bell(w[2], w[3])


def _bell(a: NDArray[np.uint32], b: NDArray[np.uint32]) -> NDArray[np.float64]:
    low, half = np.uint32(0xFFFF), np.uint32(16)
    total = (a & low) + (a >> half) + (b & low) + (b >> half)
    centred: NDArray[np.int64] = total.astype(np.int64) - 131070
    return np.multiply(centred, _UNIT_VARIANCE)


def _word(value: ArrayLike, name: str) -> NDArray[np.uint64]:
    """The low 32 bits of integers, two's complement."""
    array = np.asarray(value)
    if array.dtype.kind not in "iu":
        raise ValueError(f"{name} must be of an integer type, not {array.dtype}.")
    return array.astype(np.uint64, casting="unsafe") & _LOW
