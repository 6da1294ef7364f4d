"""The sounds of English speech and what a mouth looks like that makes them.

The names are the 39 of the CMU Pronouncing Dictionary, without stress, and SIL for silence. The shapes follow from
articulation: where the lips and the tongue are. Their numbers are our own reading of that (common practice, no
source); the International Phonetic Association's chart says which sounds are labial, rounded, open or close.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pastepot.library.parts import MouthShape

Kind = Literal["closure", "teeth", "vowel", "consonant", "rest"]

SILENCE = "SIL"


@dataclass(frozen=True)
class Sound:
    """What is seen while a sound is made.

    ends: the sound whose shape a gliding vowel ends in, '' for one that stays as it is
    """

    shape: MouthShape
    kind: Kind
    ends: str = ""


def _closure() -> Sound:
    return Sound(MouthShape("closed", 0.0, 0.4), "closure")


def _teeth() -> Sound:
    return Sound(MouthShape("touching-teeth", 0.15, 0.25), "teeth")


def _vowel(open_: float, round_: float, ends: str = "") -> Sound:
    return Sound(MouthShape("apart", open_, round_), "vowel", ends)


def _consonant(open_: float, round_: float, tongue: bool = False) -> Sound:
    return Sound(MouthShape("apart", open_, round_, tongue), "consonant")


SOUNDS: Mapping[str, Sound] = {
    "AA": _vowel(1.0, 0.3),
    "AE": _vowel(0.8, 0.1),
    "AH": _vowel(0.6, 0.25),
    "AO": _vowel(0.75, 0.8),
    "AW": _vowel(0.95, 0.3, ends="W"),
    "AY": _vowel(0.95, 0.25, ends="Y"),
    "B": _closure(),
    "CH": _consonant(0.25, 0.75),
    "D": _consonant(0.3, 0.2),
    "DH": _consonant(0.3, 0.2, tongue=True),
    "EH": _vowel(0.55, 0.1),
    "ER": _vowel(0.35, 0.65),
    "EY": _vowel(0.5, 0.05, ends="Y"),
    "F": _teeth(),
    "G": _consonant(0.35, 0.25),
    "HH": _consonant(0.45, 0.3),
    "IH": _vowel(0.4, 0.15),
    "IY": _vowel(0.35, 0.0),
    "JH": _consonant(0.25, 0.75),
    "K": _consonant(0.35, 0.25),
    "L": _consonant(0.4, 0.2, tongue=True),
    "M": _closure(),
    "N": _consonant(0.35, 0.2, tongue=True),
    "NG": _consonant(0.35, 0.25),
    "OW": _vowel(0.6, 0.85, ends="W"),
    "OY": _vowel(0.7, 0.85, ends="Y"),
    "P": _closure(),
    "R": _consonant(0.3, 0.65),
    "S": _consonant(0.2, 0.1),
    "SH": _consonant(0.25, 0.75),
    "T": _consonant(0.3, 0.2),
    "TH": _consonant(0.3, 0.2, tongue=True),
    "UH": _vowel(0.4, 0.75),
    "UW": _vowel(0.3, 1.0),
    "V": _teeth(),
    "W": _consonant(0.2, 1.0),
    "Y": _consonant(0.25, 0.05),
    "Z": _consonant(0.2, 0.1),
    "ZH": _consonant(0.25, 0.75),
}

REST = Sound(MouthShape("closed", 0.0, 0.3), "rest")
"""A mouth that says nothing."""


def sound(name: str) -> Sound:
    """The sound of that name; stress digits do not matter. KeyError if it is not one of the 39 or SIL."""
    return REST if name == SILENCE else SOUNDS[name.rstrip("012")]
