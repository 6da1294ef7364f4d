"""A feel: one saved set of what a hand does to the timing, in a `*.feel.toml` file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.timing.exposures import scaled

# The rate at which a feel's pattern is counted, whatever the film's: a feel can then move from film to film.
PATTERN_FPS = 12


@dataclass(frozen=True)
class Feel:
    """What a hand does to the timing.

    pattern:   exposure lengths in frames at 12 frames a second: (1,) is 'on ones' there and 'on twos' at 24
    anchor:    'extremes' begins an exposure on every extreme; 'grid' lets the pattern run through
    camera:    'plan' moves the camera with the parts; 'ones' moves it on every frame
    offset_mm: how far a hand misses a moved part's place: standard deviation along each axis, paper millimetres
    turn_deg:  the same for its angle, degrees
    """

    pattern: tuple[int, ...] = (1,)
    anchor: Literal["extremes", "grid"] = "extremes"
    camera: Literal["plan", "ones"] = "plan"
    offset_mm: float = 0.25
    turn_deg: float = 0.4

    def pattern_at(self, fps: Fraction) -> tuple[int, ...]:
        """The pattern in frames at this rate (rates such as 24000/1001 count as 24); Misuse where it is uneven."""
        return scaled(self.pattern, round(fps), PATTERN_FPS)


_BOUNDS = {"offset_mm": (0.0, 10.0), "turn_deg": (0.0, 20.0)}
_CHOICES = {"anchor": ("extremes", "grid"), "camera": ("plan", "ones")}


def load(path: Path) -> Feel:
    """Read a feel file; PastepotError with every problem in it. What it leaves out has its usual value."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise PastepotError(Problem(f"The feel cannot be read: {reason}.", "Correct the path.", str(path))) from error
    except tomllib.TOMLDecodeError as error:
        raise PastepotError(Problem(f"This is not valid TOML: {error}.", "Correct that line.", str(path))) from error
    raise_if_any(_problems(table, path.name))
    table.pop("schema", None)
    if "pattern" in table:
        table["pattern"] = tuple(table["pattern"])
    return Feel(**table)


def dumps(feel: Feel) -> str:
    """The feel as the text of a feel file."""
    return (
        "schema = 1\n"
        f"pattern = {list(feel.pattern)}    # exposure lengths in frames at {PATTERN_FPS} frames a second\n"
        f'anchor = "{feel.anchor}"    # extremes: an exposure begins on every extreme; grid: the pattern runs through\n'
        f'camera = "{feel.camera}"    # plan: the camera moves with the parts; ones: on every frame\n'
        f"offset_mm = {feel.offset_mm}    # how far a hand misses, paper millimetres along each axis\n"
        f"turn_deg = {feel.turn_deg}    # how far it misses the angle, degrees\n"
    )


def _problems(table: dict[str, Any], file: str) -> list[Problem]:
    known = {f.name for f in fields(Feel)}
    found = []
    if table.get("schema") != 1:
        found.append(Problem("A feel file begins with its schema number.", "Write: schema = 1", file, field="schema"))
    for name, value in table.items():
        if name == "schema":
            continue
        if name not in known:
            fix = f"Known are: {', '.join(sorted(known))}."
            found.append(Problem("This setting is not known.", fix, file, field=name))
        elif (complaint := _complaint(name, value)) is not None:
            found.append(Problem(f"The value {value!r} does not fit.", complaint, file, field=name))
    return found


def _complaint(name: str, value: Any) -> str | None:
    if name == "pattern":
        whole = isinstance(value, list) and value and all(type(n) is int and 1 <= n <= 1000 for n in value)
        return None if whole else "Write a list of whole numbers from 1, such as [1] or [2, 2, 3]."
    if name in _CHOICES:
        return None if value in _CHOICES[name] else f"Write one of: {', '.join(_CHOICES[name])}."
    low, high = _BOUNDS[name]
    number = isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
    return None if number else f"Write a number from {low:g} to {high:g}."
