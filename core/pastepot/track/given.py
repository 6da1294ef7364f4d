"""Somebody else's alignment: a TextGrid as Praat writes it (long or short, UTF-8 or UTF-16), or NIST's CTM.

The formats are described in Praat's manual ("TextGrid file formats") and in NIST's scoring tools (sclite, "ctm").
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.track import ipa
from pastepot.track.choose import Timed
from pastepot.track.sounds import SILENCE

ENDINGS = (".TextGrid", ".textgrid", ".ctm")

_TOKEN = re.compile(r'"((?:[^"]|"")*)"|(?<![\w\[<])(-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)(?![\w\]>])|<exists>')


def read(path: Path) -> tuple[Timed, ...]:
    """Every sound of an alignment in order of time. PastepotError with what is wrong and where."""
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError:
        raise PastepotError(_wrong(path, "It is not UTF-8 or UTF-16 text.", "Save it again as such.")) from None
    found = _ctm(text, path) if path.suffix.lower() == ".ctm" else _textgrid(text, path)
    if not found:
        raise PastepotError(
            _wrong(path, "It holds no sounds.", "It needs a tier named 'phones', or tokens that are sounds, not words.")
        )
    return tuple(sorted(found, key=lambda s: s.start))


def _wrong(path: Path, what: str, fix: str, row: int = 0) -> Problem:
    return Problem(f"The alignment cannot be used. {what}", fix, f"track/{path.name}", row)


def _textgrid(text: str, path: Path) -> list[Timed]:
    """All tiers whose name says that they hold phones; the numbers and quoted texts alone carry the meaning."""
    tokens = [m[1].replace('""', '"') if m[1] is not None else float(m[2]) for m in _matches(text)]
    broken = _wrong(path, "It is not a TextGrid, or is cut off.", "Save it again from Praat, as a text file.")
    if tokens[:2] != ["ooTextFile", "TextGrid"]:
        raise PastepotError(broken)
    try:
        return _tiers(tokens[2:], path)
    except (IndexError, TypeError, ValueError):
        raise PastepotError(broken) from None


def _matches(text: str) -> list[re.Match[str]]:
    return [m for m in _TOKEN.finditer(text) if m[0] != "<exists>"]


def _tiers(tokens: Sequence[str | float], path: Path) -> list[Timed]:
    found, problems = [], []
    at = 3  # after the start, the end and the number of tiers
    for _ in range(int(tokens[2])):
        kind, name, count = tokens[at], str(tokens[at + 1]), int(tokens[at + 4])
        at += 5
        step = 3 if kind == "IntervalTier" else 2
        if kind not in ("IntervalTier", "TextTier"):
            raise ValueError(kind)
        wanted = step == 3 and "phone" in name.lower()
        for number in range(count):
            start, end, label = tokens[at], tokens[at + 1], tokens[at + step - 1]
            at += step
            if not wanted:
                continue
            if not isinstance(start, float) or not isinstance(end, float):
                raise TypeError(start)
            sound = ipa.label(str(label))
            if sound is None:
                what = f"The sound '{label}' (number {number + 1} of the tier '{name}') is not known."
                problems.append(_wrong(path, what, "Use CMUdict's sounds or the phonetic alphabet."))
            else:
                found.append(Timed(sound or SILENCE, start, end))
    raise_if_any(problems)
    return [s for s in found if s.name != SILENCE]


def _ctm(text: str, path: Path) -> list[Timed]:
    """Rows of: sound file, channel, start, duration, token, and what else the row may have."""
    found, problems = [], []
    for number, row in enumerate(text.splitlines(), 1):
        fields = row.split(";;")[0].split()
        if not fields:
            continue
        try:
            start, length, token = float(fields[2]), float(fields[3]), fields[4]
        except (IndexError, ValueError):
            fix = "Write: file channel start duration sound."
            problems.append(_wrong(path, "The row is not CTM.", fix, number))
            continue
        sound = ipa.label(re.sub(r"_[BIES]$", "", token))
        if sound is None:
            what = f"The sound '{token}' is not known."
            problems.append(_wrong(path, what, "Use CMUdict's sounds or the phonetic alphabet.", number))
        elif sound:
            found.append(Timed(sound, start, start + length))
    raise_if_any(problems)
    return found
