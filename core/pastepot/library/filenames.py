"""How a picture's file name tells what part it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from pastepot.library.parts import VIEWS

PATTERN = "character-type[-variant...][-view].png"

TYPES: Mapping[str, int] = {
    "sky": 0,
    "backdrop": 0,
    "ground": 5,
    "building": 10,
    "tree": 12,
    "vehicle": 15,
    "prop": 20,
    "shadow": 22,
    "tail": 24,
    "leg": 26,
    "foot": 28,
    "body": 30,
    "shell": 32,
    "neck": 34,
    "upper-arm": 40,
    "arm": 40,
    "forearm": 42,
    "wing": 42,
    "hand": 44,
    "head": 50,
    "ear": 52,
    "hair": 53,
    "eye": 54,
    "eyes": 54,
    "pupil": 56,
    "brow": 58,
    "mouth": 60,
    "beak": 60,
    "nose": 62,
    "hat": 64,
}
"""The types that a file name can say, and the layer that a new part of each is drafted on."""

REPLACEABLE = ("mouth", "eye", "eyes", "hand")
"""Types whose variants stand in for each other, so that a replacement set is drafted for them."""

SIDES = ("left", "right", "near", "far")
"""Variants that are places of their own: a left hand never stands in for a right one."""

EXPLAINED = (
    f"Name each picture {PATTERN}, in small letters with - between the words, for example heron-head-front.png, "
    "snail-mouth-small-front.png or pond-backdrop.png. The first word that is a known type decides; what stands "
    f"before it is the character. Known types: {', '.join(TYPES)}. Views, if there is one: {', '.join(VIEWS)}. "
    f"Variants that are {', '.join(SIDES[:-1])} or {SIDES[-1]} tell two places apart; any other variants of "
    f"{', '.join(REPLACEABLE[:-1])} or {REPLACEABLE[-1]} become one replacement set."
)
"""The convention in words, for --help and the manual."""


@dataclass(frozen=True)
class Reading:
    """What a file name says."""

    character: str
    type: str
    variants: tuple[str, ...]
    view: str

    @property
    def set_name(self) -> str:
        """The replacement set to draft, '' for none."""
        if self.type not in REPLACEABLE:
            return ""
        return "-".join((self.character, self.type, *(v for v in self.variants if v in SIDES)))


def read(stem: str) -> Reading | None:
    """What the name of a picture without its ending says; None if it does not keep to the convention."""
    words = stem.split("-")
    if not all(words) or stem != stem.lower() or re.search(r"[\s_]", stem):
        return None
    view = words.pop() if words[-1] in VIEWS else ""
    if any(word in VIEWS for word in words):
        return None
    for start in range(1, len(words)):
        for length in (2, 1):
            kind = "-".join(words[start : start + length])
            if kind in TYPES:
                return Reading("-".join(words[:start]), kind, tuple(words[start + length :]), view)
    return None


def nearest(stem: str) -> str:
    """A name close to this one that keeps to the convention; '' if none can be guessed."""
    words = [w for w in re.split(r"[\s_.-]+", stem.lower()) if w]
    views = [w for w in words if w in VIEWS]
    if len(views) > 1:
        return ""
    tidy = "-".join([w for w in words if w not in VIEWS] + views)
    return tidy if tidy != stem and read(tidy) else ""
