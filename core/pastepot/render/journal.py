"""The render's journal: what was written into the folder, told to the disk before it is put there.

render-journal.jsonl has a JSON object on each line. The first is the job:
    {"schema": 1, "fingerprint": "…"}
then one for each finished picture, written just before its files are put in place:
    {"frame": 1, "file": "frame_0001.png", "sha256": "…", "bytes": 12345, "shown": ["frame_0001.png", "frame_0002.png"]}
and one for each file of an earlier job that still lies in the folder:
    {"earlier": "frame_0040.png", "sha256": "…"}

So any frame file that is ours is in the journal, and nothing in the folder is believed unless its bytes say the same.
A line that was cut off or damaged is passed over: what it told of is rendered again.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pastepot.output import replacing

NAME = "render-journal.jsonl"
SCHEMA = 1


@dataclass(frozen=True)
class Entry:
    """A finished picture: the frame it is named after, its file and size, and the files of all frames that show it."""

    frame: int
    file: str
    sha256: str
    bytes: int
    shown: tuple[str, ...] = ()


@dataclass
class Journal:
    """What the journal tells: the job, its pictures by frame, and every file name with all that was ever put there."""

    fingerprint: str = ""
    entries: dict[int, Entry] = field(default_factory=dict)
    ours: dict[str, set[str]] = field(default_factory=dict)

    def add(self, entry: Entry) -> None:
        """Take in a finished picture; a later one of the same frame counts."""
        self.entries[entry.frame] = entry
        for name in (entry.file, *entry.shown):
            self.know(name, entry.sha256)

    def know(self, name: str, sha256: str) -> None:
        """Remember that we wrote a file of these bytes under this name."""
        self.ours.setdefault(name, set()).add(sha256)


def read(folder: Path) -> Journal:
    """The folder's journal as far as it can be understood; an empty one where there is none. Raises OSError."""
    journal = Journal()
    try:
        lines = (folder / NAME).read_bytes().split(b"\n")
    except FileNotFoundError:
        return journal
    for number, line in enumerate(lines):
        values = _object(line)
        if number == 0 and values.get("schema") == SCHEMA:
            journal.fingerprint = str(values.get("fingerprint", ""))
        _take(journal, values)
    return journal


def _object(line: bytes) -> dict[str, Any]:
    try:
        values = json.loads(line)
    except ValueError:
        return {}
    return values if isinstance(values, dict) else {}


def _take(journal: Journal, values: Mapping[str, Any]) -> None:
    match values:
        case {"earlier": str(name), "sha256": str(sha256)}:
            journal.know(name, sha256)
        case {"frame": int(frame), "file": str(file), "sha256": str(sha256), "bytes": int(size), "shown": [*shown]}:
            journal.add(Entry(frame, file, sha256, size, tuple(map(str, shown))))


class Writer:
    """Appends finished pictures; each is on the disk when `add` returns. Raises OSError."""

    def __init__(
        self, folder: Path, fingerprint: str, kept: Iterable[Entry], earlier: Iterable[tuple[str, str]]
    ) -> None:
        """Begin the folder's journal anew with the pictures that stay and the files of earlier jobs (name, sha256)."""
        lines: list[dict[str, object]] = [{"schema": SCHEMA, "fingerprint": fingerprint}]
        lines += [_as_dict(entry) for entry in kept]
        lines += [{"earlier": name, "sha256": sha256} for name, sha256 in earlier]
        path = folder / NAME
        write_whole(path, "".join(map(_line, lines)))
        self._file = path.open("a", encoding="utf-8", newline="\n")

    def add(self, entry: Entry) -> None:
        """Tell the disk of a finished picture."""
        self._file.write(_line(_as_dict(entry)))
        self._file.flush()
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Close the file; every line is on the disk already."""
        self._file.close()


def write_whole(path: Path, text: str) -> None:
    """Replace the file by one with this text, which is on the disk before it takes the name. Raises OSError."""
    with replacing(path, overwrite=True) as draft, draft.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _as_dict(entry: Entry) -> dict[str, object]:
    return {
        "frame": entry.frame,
        "file": entry.file,
        "sha256": entry.sha256,
        "bytes": entry.bytes,
        "shown": list(entry.shown),
    }


def _line(values: Mapping[str, object]) -> str:
    return json.dumps(values, ensure_ascii=False) + "\n"
