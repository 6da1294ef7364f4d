"""track/mouths.toml: what the person wants otherwise than the reading would have it. The file need not be there."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pastepot import tomlfile
from pastepot.errors import Problem, raise_if_any
from pastepot.library.parts import Library
from pastepot.tomlfile import TomlFile
from pastepot.track.mouths import MouthSet, sets_of
from pastepot.track.sounds import SILENCE, SOUNDS

FILE = "mouths.toml"
_MOST_LEAD_S = 0.25


@dataclass(frozen=True)
class Settings:
    """What the file says.

    lead_s:   how much earlier than the sound the picture is
    speakers: speaker in lower case -> character
    sets:     replacement set -> sound -> mouth
    lines:    line -> the set it is spoken with, for instance one of sad mouths
    """

    lead_s: float = 0.0
    speakers: Mapping[str, str] = field(default_factory=dict)
    sets: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    lines: Mapping[str, str] = field(default_factory=dict)

    def character(self, speaker: str, library: Library) -> str:
        """The character that a speaker is: as the file says, else the one of that name; '' if there is none."""
        key = speaker.lower()
        if key in self.speakers:
            return self.speakers[key]
        names = {_plain(part.character): part.character for part in library}
        return names.get(_plain(speaker), "")

    def mouths(self, library: Library, character: str, line: str = "") -> list[MouthSet]:
        """The sets a line is spoken with, one for each view: the view's first set, or the one the line asks for."""
        wanted = self.lines.get(line, "")
        chosen = []
        for sets in sets_of(library, character).values():
            found = next((s for s in sets if s.name == wanted), sets[0])
            chosen.append(self._with_choices(found))
        return chosen

    def mouth_set(self, library: Library, character: str, name: str) -> MouthSet | None:
        """One set of a character by its name."""
        sets = [s for view in sets_of(library, character).values() for s in view if s.name == name]
        return self._with_choices(sets[0]) if sets else None

    def _with_choices(self, mouths: MouthSet) -> MouthSet:
        index = {part.name: n for n, part in enumerate(mouths.mouths)}
        fixed = {sound: index[name] for sound, name in self.sets.get(mouths.name, {}).items()}
        return replace(mouths, fixed=fixed)


def _plain(name: str) -> str:
    return "".join(c for c in name.lower() if c.isalnum())


def load(folder: Path, library: Library) -> Settings:
    """The settings of a film folder. PastepotError with everything in the file that makes no sense."""
    path = folder / "track" / FILE
    if not path.is_file():
        return Settings()
    file = tomlfile.read(path, f"track/{FILE}", "")
    raise_if_any(_Check(file, library).found)
    data = file.data
    return Settings(
        float(data.get("lead_s", 0.0)),
        {k.lower(): v for k, v in data.get("speaker", {}).items()},
        data.get("set", {}),
        data.get("line", {}),
    )


class _Check:
    """Collects what makes no sense in the file."""

    def __init__(self, file: TomlFile, library: Library) -> None:
        self._file, self._data = file, file.data
        self._characters = {part.character for part in library}
        self._sets = {
            name: {p.name for p in members if p.mouth} for name, members in library.replacement_sets().items()
        }
        self.found: list[Problem] = []
        self._top()
        self._names("speaker", self._characters, "character")
        self._names("line", self._sets, "replacement set")
        for name, sounds in self._table("set").items():
            self._set(name, sounds)

    def _add(self, path: tuple[str, ...], what: str, fix: str) -> None:
        self.found.append(Problem(what, fix, self._file.name, self._file.row(path), field=".".join(path)))

    def _top(self) -> None:
        known = ("schema", "lead_s", "speaker", "set", "line")
        for key in self._data.keys() - set(known):
            self._add((key,), f"'{key}' is not known here.", f"Use one of: {', '.join(known)}.")
        if self._data.get("schema") != 1:
            self._add(("schema",), "The file does not begin with its schema number.", "Write: schema = 1")
        lead = self._data.get("lead_s", 0.0)
        number = isinstance(lead, int | float) and not isinstance(lead, bool)
        if not number or not -_MOST_LEAD_S <= lead <= _MOST_LEAD_S:
            self._add(("lead_s",), f"The lead is {lead!r}.", f"Give seconds from {-_MOST_LEAD_S} to {_MOST_LEAD_S}.")

    def _names(self, key: str, known: Collection[str], what: str) -> None:
        for name, value in self._table(key).items():
            if value not in known:
                self._add((key, name), f"There is no {what} '{value}'.", f"Use one of: {_listed(known)}.")

    def _set(self, name: str, sounds: object) -> None:
        if name not in self._sets or not isinstance(sounds, dict):
            self._add(("set", name), f"'{name}' is not a replacement set.", f"Use one of: {_listed(self._sets)}.")
            return
        for sound, mouth in sounds.items():
            path = ("set", name, sound)
            if sound not in SOUNDS and sound != SILENCE:
                self._add(path, f"'{sound}' is not a sound.", f"Use one of: {SILENCE} {' '.join(SOUNDS)}.")
            elif mouth not in self._sets[name]:
                self._add(path, f"'{mouth}' is not a mouth of '{name}'.", f"Use one of: {_listed(self._sets[name])}.")

    def _table(self, key: str) -> Mapping[str, Any]:
        value = self._data.get(key, {})
        if isinstance(value, dict) and all(isinstance(v, str | dict) for v in value.values()):
            return value
        self._add((key,), f"'{key}' is not a table of names.", f"Write [{key}] and a row for each: name = name.")
        return {}


def _listed(names: Collection[str]) -> str:
    return ", ".join(sorted(names)) or "none there is yet"
