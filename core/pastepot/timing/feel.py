"""Feel files: read with every mistake told at once, written with each setting explained; some feels come along."""

from __future__ import annotations

import difflib
import math
import tomllib
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from pastepot.errors import Misuse, PastepotError, Problem, raise_if_any
from pastepot.output import replacing
from pastepot.timing.light import SAFE_FLICKER_STOPS
from pastepot.timing.settings import GROUPS, PATTERN_FPS, SETTINGS, Feel, Setting

__all__ = [
    "GROUPS",
    "PATTERN_FPS",
    "SETTINGS",
    "SUFFIX",
    "Feel",
    "Setting",
    "check",
    "complaint_about",
    "dumps",
    "load",
    "loads",
    "preset",
    "presets",
    "save",
]

SUFFIX = ".feel.toml"

_BY_NAME = {setting.name: setting for setting in SETTINGS}
_LONGEST = 1000  # frames


def load(path: Path) -> Feel:
    """Read a feel file; PastepotError with every problem in it. What it leaves out has its usual value."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise PastepotError(Problem(f"The feel cannot be read: {reason}.", "Correct the path.", str(path))) from error
    return loads(text, path.name, str(path))


def loads(text: str, file: str = "", place: str = "") -> Feel:
    """The feel in a text; problems name `file`, or `place` where it is no TOML at all."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of thousands of digits is a plain ValueError
        raise PastepotError(
            Problem(f"This is not valid TOML: {error}.", "Correct that line.", place or file)
        ) from error
    raise_if_any(_problems(table, file))
    feel = Feel(**{name: _value(_BY_NAME[name], value) for name, value in table.items() if name != "schema"})
    raise_if_any(check(feel, file))
    return feel


def check(feel: Feel, file: str = "") -> list[Problem]:
    """What is wrong with a feel as a whole: an error for flicker that is not safe, a warning where it is meant."""
    if feel.flicker_stops <= SAFE_FLICKER_STOPS:
        return []
    what = (
        f"A flicker of {feel.flicker_stops:g} stops can set off seizures in photosensitive viewers "
        "(W3C WCAG 2.2, general flash)."
    )
    safe = f"Up to {SAFE_FLICKER_STOPS:g} is safe whatever is in the picture."
    if feel.unsafe_flicker:
        fix = f"{safe} Check the finished film for flashes, and warn its viewers."
        return [Problem(what, fix, file, field="flicker_stops", severity="warning")]
    return [Problem(what, f"{safe} If it is meant, write: unsafe_flicker = true", file, field="flicker_stops")]


def dumps(feel: Feel) -> str:
    """The feel as the text of a feel file."""
    lines = ["schema = 1"]
    for group, heading in GROUPS.items():
        lines += ["", f"# {heading}"]
        lines += [_line(s, getattr(feel, s.name)) for s in SETTINGS if s.group == group]
    return "\n".join(lines) + "\n"


def save(feel: Feel, path: Path, *, overwrite: bool = False) -> None:
    """Write a feel file in one step. PastepotError where it exists, unless `overwrite`, or cannot be written."""
    try:
        with replacing(path, overwrite=overwrite) as draft:
            draft.write_text(dumps(feel), encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or str(error)
        raise PastepotError(
            Problem(f"The feel cannot be written: {reason}.", "Choose another place.", str(path))
        ) from error


def presets() -> tuple[str, ...]:
    """Names of the feels that come along, in order."""
    return tuple(sorted(p.name.removesuffix(SUFFIX).replace("-", " ") for p in _folder().iterdir() if _is_feel(p.name)))


def preset(name: str) -> Feel:
    """A feel that comes along, by its name: 'careful hands'. Misuse where there is none of that name."""
    if name not in presets():
        raise Misuse(Problem(f"There is no feel '{name}'.", _nearest(name, presets())))
    file = name.replace(" ", "-") + SUFFIX
    return loads((_folder() / file).read_text(encoding="utf-8"), file)


def _folder() -> Traversable:
    return resources.files("pastepot.timing") / "feels"


def _is_feel(name: str) -> bool:
    return name.endswith(SUFFIX)


def _nearest(name: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(name, known, n=1)
    return (f"Did you mean {near[0]}? " if near else "") + f"Known are: {', '.join(sorted(known))}."


def _line(setting: Setting, value: Any) -> str:
    unit = f" ({setting.unit})" if setting.unit else ""
    return f"{setting.name} = {_literal(value)}    # {setting.text}{unit}"


def _literal(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    return str(list(value)) if isinstance(value, tuple) else repr(value)


def _value(setting: Setting, value: Any) -> Any:
    if isinstance(value, list):
        return tuple(value)
    return float(value) if setting.kind == "number" else value


def _problems(table: dict[str, Any], file: str) -> list[Problem]:
    found = []
    if type(table.get("schema")) is not int or table["schema"] != 1:
        found.append(Problem("A feel file begins with its schema number.", "Write: schema = 1", file, field="schema"))
    for name, value in table.items():
        if name == "schema":
            continue
        if name not in _BY_NAME:
            fix = _nearest(name, tuple(_BY_NAME))
            found.append(Problem("This setting is not known.", fix, file, field=name))
        elif (complaint := complaint_about(_BY_NAME[name], value)) is not None:
            found.append(Problem(f"The value {value!r} does not fit.", complaint, file, field=name))
    return found


def complaint_about(setting: Setting, value: Any) -> str | None:
    """What to write instead of a value; None where it fits."""
    match setting.kind:
        case "lengths":
            whole = isinstance(value, list) and value and all(type(n) is int and 1 <= n <= _LONGEST for n in value)
            return None if whole else "Write a list of whole numbers from 1, such as [1] or [2, 2, 3]."
        case "odds":
            return None if _are_odds(value) else "Write a list of numbers from 0, not all 0, such as [6, 3, 1], or []."
        case "choice":
            return None if value in setting.choices else f"Write one of: {', '.join(setting.choices)}."
        case "yes or no":
            return None if isinstance(value, bool) else "Write true or false."
    fits = type(value) is int or (type(value) is float and setting.kind == "number")
    if fits and setting.low <= value <= setting.high:
        return None
    number = "number" if setting.kind == "number" else "whole number"
    return f"Write a {number} from {setting.low:g} to {setting.high:g}."


def _are_odds(value: Any) -> bool:
    if not isinstance(value, list) or len(value) > _LONGEST:
        return False
    return all(type(n) in (int, float) and n >= 0 and math.isfinite(n) for n in value) and (not value or sum(value) > 0)
