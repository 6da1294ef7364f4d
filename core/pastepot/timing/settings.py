"""The settings of a feel, each with its bounds and what it means.

The class is the one list of them: reading, checking, writing, the reference page and Blender's sidebar follow it.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields
from dataclasses import field as dataclass_field
from fractions import Fraction
from typing import Any, Literal

from pastepot.timing.exposures import spread

# The rate at which a feel's pattern is counted, whatever the film's: a feel can then move from film to film.
PATTERN_FPS = 12

Kind = Literal["lengths", "odds", "choice", "number", "whole", "yes or no"]

GROUPS = {
    "exposures": "When a new picture is taken",
    "spacing": "How the way between two extremes is divided",
    "placement": "How far a hand misses",
    "holds": "What happens while a part is held",
    "frame": "The whole frame, its light and its paper",
}
"""The groups of settings, in the order of the file, with their headings."""


@dataclass(frozen=True)
class Setting:
    """One setting of a feel.

    low, high: bounds of a number; choices: words of a choice; unit: '' where it has none; text: one line about it
    """

    name: str
    group: str
    kind: Kind
    default: Any
    text: str
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()


def _set(group: str, kind: Kind, default: object, text: str, **more: Any) -> Any:
    return dataclass_field(default=default, metadata={"group": group, "kind": kind, "text": text, **more})


def _number(group: str, default: float, high: float, unit: str, text: str, low: float = 0.0) -> Any:
    return _set(group, "number", default, text, unit=unit, low=low, high=high)


def _whole(group: str, default: int, high: int, unit: str, text: str, low: int = 0) -> Any:
    return _set(group, "whole", default, text, unit=unit, low=low, high=high)


def _choice(group: str, choices: tuple[str, ...], text: str) -> Any:
    return _set(group, "choice", choices[0], text, choices=choices)


@dataclass(frozen=True)
class Feel:
    """What a hand does to the timing; `SETTINGS` says what each number means.

    All lengths in paper millimetres; misses, weave and flicker as standard deviations.
    """

    pattern: tuple[int, ...] = _set(
        "exposures",
        "lengths",
        (1,),
        "lengths of the exposures, repeated: [1] is 'on ones' at 12 frames a second and 'on twos' at 24",
        unit=f"frames at {PATTERN_FPS} a second",
    )
    odds: tuple[float, ...] = _set(
        "exposures",
        "odds",
        (),
        "how often an exposure lasts 1, 2, 3 ... such frames, drawn with the film's seed; [] repeats the pattern",
    )
    fast_share: float = _number(
        "exposures",
        0.0,
        2.0,
        "of the frame's width",
        "exposures in which the fastest part goes further than this are taken on single frames; 0: never",
    )
    anchor: Literal["extremes", "grid"] = _choice(
        "exposures",
        ("extremes", "grid"),
        "extremes: an exposure begins on every extreme; grid: the pattern runs through",
    )
    camera: Literal["plan", "ones"] = _choice(
        "exposures", ("plan", "ones"), "plan: the camera moves with the parts; ones: on every frame"
    )
    idle: Literal["keep", "merge"] = _choice(
        "exposures",
        ("keep", "merge"),
        "keep: a picture that nobody changed is taken anew; merge: it belongs to the one before",
    )

    uneven: float = _number("spacing", 0.0, 1.0, "", "how much the steps vary, each by itself: 0.2 is a fifth")
    hurry: float = _number("spacing", 0.0, 1.0, "", "how much the steps vary in runs: a hand that hurries, then lags")
    ease_steps: int = _whole(
        "spacing",
        0,
        10,
        "",
        "slow-in and slow-out in so few sizes of step: 2 is half and whole; 0: as the curve has it",
    )
    smallest_mm: float = _number(
        "spacing", 0.0, 10.0, "mm", "the smallest move a hand makes: less sticks until it has added up"
    )
    overshoot: float = _number(
        "spacing", 0.0, 0.5, "of the move", "how far a part goes past an extreme that it then holds"
    )
    settle: int = _whole("spacing", 2, 6, "exposures", "how long it takes to come back from there", low=1)
    arc: float = _number("spacing", 0.0, 0.5, "of the move", "how far the way bows off the arc, midway; to either side")

    offset_mm: float = _number("placement", 0.25, 10.0, "mm", "how far a hand misses a moved part's place, each axis")
    turn_deg: float = _number("placement", 0.4, 20.0, "degrees", "how far it misses the angle")
    offset_share: float = _number("placement", 0.0, 1.0, "of the step", "how much further it misses after a wide move")
    turn_share: float = _number("placement", 0.0, 1.0, "of the step", "the same for the angle after a wide turn")
    offset_most_mm: float = _number("placement", 1.5, 10.0, "mm", "no move, however wide, makes a hand miss by more")
    turn_most_deg: float = _number("placement", 3.0, 20.0, "degrees", "the same for the angle")
    children: Literal["stay", "lifted"] = _choice(
        "placement",
        ("stay", "lifted"),
        "stay: only the moved part is set anew; lifted: what lies on it is set anew with it",
    )
    nudge: float = _number(
        "placement", 0.0, 1.0, "", "how likely a moved part pushes the one it touches: 0.2 is one time in five"
    )
    nudge_share: float = _number("placement", 0.1, 1.0, "of the step", "how far it pushes it")
    nudge_reach_mm: float = _number("placement", 30.0, 500.0, "mm", "nothing further away than this is pushed", low=1)

    life_mm: float = _number("holds", 0.0, 5.0, "mm", "a held part drifts by this at most; 0: it does not stir")
    life_deg: float = _number("holds", 0.0, 10.0, "degrees", "the same for its angle")
    life_from: int = _whole("holds", 6, 1000, "exposures", "only holds of at least so many exposures drift", low=2)

    weave_mm: float = _number("frame", 0.0, 5.0, "mm", "how far the whole frame is off, each picture anew")
    weave_deg: float = _number("frame", 0.0, 5.0, "degrees", "how far the whole frame is turned, each picture anew")
    flicker_stops: float = _number("frame", 0.0, 1.0, "stops", "how much the light changes from picture to picture")
    boil_mm: float = _number("frame", 0.0, 50.0, "mm", "how far the paper's surface shifts under each picture")
    bumps: float = _number("frame", 0.0, 60.0, "a minute", "how often somebody bumps the table for one picture")
    unsafe_flicker: bool = _set(
        "frame", "yes or no", False, "true: flicker beyond what is safe for photosensitive people is meant"
    )

    def pattern_at(self, fps: Fraction) -> tuple[int, ...]:
        """The pattern in frames at this rate (24000/1001 counts as 24).

        Where its lengths do not come out whole, the uneven run that keeps its time: 12 a second is 2, 3 at 30.
        """
        return spread(self.pattern, round(fps), PATTERN_FPS)


def _settings() -> tuple[Setting, ...]:
    found = tuple(Setting(f.name, default=f.default, **f.metadata) for f in fields(Feel))
    assert all(s.default is not MISSING for s in found)
    return found


SETTINGS = _settings()
"""Every setting of a feel, in the order of the file."""
