"""A track reading: what is spoken in a sound, when, and the mouths chosen for it; as a value and as a JSON file.

The file lies beside the sound: waiting.wav has waiting.reading.json. Its schema is published in docs/reference.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from pastepot import schema
from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.output import replacing
from pastepot.schema import versions, words
from pastepot.tomlfile import KeyPath
from pastepot.track.align import Rough, Spoken
from pastepot.track.choose import Timed

KIND: versions.Kind = "track-reading"
ENDING = ".reading.json"

Mouths = Mapping[str, Mapping[int, str]]
"""Replacement set -> frame -> mouth."""


@dataclass(frozen=True)
class LineReading:
    """One line as it was read. Times in seconds of the sound.

    how:    'text', 'sound' (rough), 'given' or 'silent'
    mouths: the reading's choice, by the frame on which each begins
    by_hand: the person's choice for single exposures, by a frame of each; a new reading keeps it
    """

    id: str
    speaker: str
    text: str
    start: float
    end: float
    how: str
    character: str = ""
    words: tuple[Spoken, ...] = ()
    sounds: tuple[Timed, ...] = ()
    rough: tuple[Rough, ...] = ()
    remarks: tuple[str, ...] = ()
    mouths: Mouths = field(default_factory=dict)
    by_hand: Mouths = field(default_factory=dict)


@dataclass(frozen=True)
class Reading:
    """All lines of one sound. sound: film-relative path, first: the frame on which it begins."""

    sound: str
    seconds: float
    fps: Fraction
    first: int
    lines: tuple[LineReading, ...]

    def keeping(self, old: Reading | None) -> Reading:
        """The same with what the person chose by hand in an older one, line by line."""
        if old is None:
            return self
        kept = {line.id: line.by_hand for line in old.lines}
        return replace(
            self, lines=tuple(replace(x, by_hand=_merged(kept.get(x.id, {}), x.by_hand)) for x in self.lines)
        )

    def spoken(self) -> Iterator[tuple[float, float, str]]:
        """(start, end, text) of every word, seconds of the sound; a line without words whole, doubted ones with a ?."""
        for line in self.lines:
            if line.how == "text":
                yield from ((w.start, w.end, w.text + "?" * w.doubted) for w in line.words)
            elif line.text:
                yield line.start, line.end, line.text + " ?" * (line.how in ("sound", "silent"))

    def on_frames(self, rate: Fraction, begin: int) -> list[tuple[int, int, str]]:
        """(first frame, last frame, text) of every word; words that begin on the same frame stand together.

        begin: the frame on which the sound begins
        """
        found: list[tuple[int, int, str]] = []
        for start, end, text in sorted(self.spoken()):
            first = begin + math.floor(start * float(rate) + 1e-6)
            last = max(begin + math.ceil(end * float(rate) - 1e-6) - 1, first)
            if found and found[-1][0] == first:
                found[-1] = (first, max(last, found[-1][1]), f"{found[-1][2]} {text}")
            else:
                found.append((first, last, text))
        return found

    def changed(self, line: str, set_: str, frame: int, mouth: str) -> Reading:
        """The same with another mouth on the exposure that holds the frame; '' takes such a choice back."""
        made = []
        for x in self.lines:
            if x.id == line:
                frames = dict(x.by_hand.get(set_, {}))
                frames.pop(frame, None)
                x = replace(x, by_hand={**x.by_hand, set_: frames | ({frame: mouth} if mouth else {})})
            made.append(x)
        return replace(self, lines=tuple(made))


def _merged(old: Mouths, new: Mouths) -> Mouths:
    return {name: {**old.get(name, {}), **new.get(name, {})} for name in {**old, **new}}


def path_of(sound: Path) -> Path:
    """Where the reading of a sound lies."""
    return sound.with_name(sound.stem + ENDING)


def values(reading: Reading) -> dict[str, Any]:
    """The reading as plain values that keep to the schema; empty fields are left out."""
    return {
        "schema": versions.CURRENT[KIND],
        "sound": reading.sound,
        "seconds": round(reading.seconds, 3),
        "fps": str(reading.fps),
        "first": reading.first,
        "lines": [_line_values(line) for line in reading.lines],
    }


def _line_values(line: LineReading) -> dict[str, Any]:
    made: dict[str, Any] = {
        "id": line.id,
        "speaker": line.speaker,
        "character": line.character,
        "text": line.text,
        "start": line.start,
        "end": line.end,
        "how": line.how,
        "words": [[w.text, w.start, w.end, w.score, w.doubted] for w in line.words],
        "sounds": [[s.name, s.start, s.end, s.louder_db] for s in line.sounds],
        "rough": [{"start": r.start, "step": r.step, "opens": list(r.opens)} for r in line.rough],
        "remarks": list(line.remarks),
        "mouths": _frames_as_text(line.mouths),
        "by_hand": _frames_as_text(line.by_hand),
    }
    needed = ("id", "speaker", "text", "start", "end", "how")
    return {name: value for name, value in made.items() if value or name in needed}


def _frames_as_text(mouths: Mouths) -> dict[str, dict[str, str]]:
    return {n: {str(f): frames[f] for f in sorted(frames)} for n, frames in mouths.items() if frames}


@dataclass(frozen=True)
class _Source:
    name: str

    def row(self, path: KeyPath) -> int:
        """Values in JSON have no row that is known."""
        return 0


def loads(text: str, file: str = "") -> Reading:
    """The reading in a JSON text. PastepotError with every problem found; file: what they call it."""
    try:
        given = json.loads(text)
    except (ValueError, RecursionError) as error:
        row = error.lineno if isinstance(error, json.JSONDecodeError) else 0
        fix = "Correct it, or delete the file and read the track again."
        raise PastepotError(Problem("The file is not JSON.", fix, file, row)) from None
    if not isinstance(given, dict):
        raise PastepotError(Problem("The file holds no track reading.", "Read the track again.", file))
    versions.upgrade(given, KIND, file)
    top = schema.schema(KIND)
    raise_if_any(
        replace(problem, part="", field=".".join(map(str, path)))
        for error in schema.validator(KIND).iter_errors(given)
        for path, problem in _problems(error, top, given, file)
    )
    lines = tuple(_line(values) for values in given["lines"])
    return Reading(given["sound"], float(given["seconds"]), Fraction(given["fps"]), int(given["first"]), lines)


def _problems(error: Any, top: Mapping[str, Any], given: dict[str, Any], file: str) -> list[tuple[KeyPath, Problem]]:
    try:
        return words.problems(error, top, given, _Source(file))
    except (KeyError, StopIteration):  # inside lists without names of their own
        path = tuple(error.absolute_path)
        return [(path, Problem(f"A value does not fit: {error.message}.", "Read the track again.", file))]


def _line(given: Mapping[str, Any]) -> LineReading:
    return LineReading(
        given["id"],
        given["speaker"],
        given["text"],
        given["start"],
        given["end"],
        given["how"],
        given.get("character", ""),
        tuple(Spoken(*w) for w in given.get("words", ())),
        tuple(Timed(*s) for s in given.get("sounds", ())),
        tuple(Rough(r["start"], r["step"], tuple(r["opens"])) for r in given.get("rough", ())),
        tuple(given.get("remarks", ())),
        *({n: {int(f): m for f, m in frames.items()} for n, frames in given.get(name, {}).items()} for name in _FRAMED),
    )


_FRAMED = ("mouths", "by_hand")


def load(path: Path) -> Reading | None:
    """The reading in a file, None where there is no such file. PastepotError with every problem found in it."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        raise PastepotError(
            Problem("The reading cannot be read as UTF-8 text.", "Delete it and read the track again.", path.name)
        ) from None
    return loads(text, path.name)


def dumps(reading: Reading) -> str:
    """The reading as JSON text, a row for each field of a line."""
    made = values(reading)
    lines = made.pop("lines")
    head = json.dumps(made, ensure_ascii=False, indent=1)[:-2]
    bodies = [
        ",\n".join(f"   {json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}" for k, v in x.items()) for x in lines
    ]
    body = ",\n".join(f"  {{\n{text}\n  }}" for text in bodies)
    return f'{head},\n "lines": [{body and chr(10)}{body}{body and chr(10) + " "}]\n}}\n'


def save(reading: Reading, path: Path) -> None:
    """Write the reading, in one step, over an older one."""
    with replacing(path, overwrite=True) as draft:
        draft.write_text(dumps(reading), encoding="utf-8", newline="\n")


def as_csv(readings: Sequence[Reading]) -> str:
    """Every mouth of every line as a table: sound, line, speaker, set, frame, seconds, mouth, by hand."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(("sound", "line", "speaker", "set", "frame", "seconds", "mouth", "by hand"))
    for reading in readings:
        for line in reading.lines:
            for name in {**line.mouths, **line.by_hand}:
                chosen = line.by_hand.get(name, {})
                for frame, mouth in sorted({**line.mouths.get(name, {}), **chosen}.items()):
                    at = round(float((frame - reading.first) / reading.fps), 3)
                    hand = "yes" if frame in chosen else ""
                    rows.writerow((reading.sound, line.id, line.speaker, name, frame, at, mouth, hand))
    return out.getvalue()
