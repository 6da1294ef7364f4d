"""A TOML file of the film as text, as values, and as rows: which line holds which value."""

from __future__ import annotations

import os
import re
import shutil
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from pastepot.errors import PastepotError, Problem
from pastepot.output import replacing

KeyPath = tuple[str | int, ...]
"""Where a value is: ('part', 3, 'mouth', 'open')."""

_BOM = "\ufeff"


class Statement(NamedTuple):
    """One header or one `key = value` in a text.

    row: its 1-based line, start and end: its characters, whole lines with the last line end
    table: the table it stands in (a header: the table it opens), words: its own name, dotted names as several
    """

    row: int
    start: int
    end: int
    table: KeyPath
    words: tuple[str, ...]


@dataclass(frozen=True)
class TomlFile:
    """One TOML file as it was read.

    name: what problems call it (its film-relative path)
    raw:  the bytes on the disc
    text: the same as text, without a byte-order mark, every line ending as \\n
    """

    path: Path
    name: str
    raw: bytes
    text: str

    @cached_property
    def data(self) -> dict[str, Any]:
        """The values. PastepotError with the row where the file is not TOML."""
        try:
            return tomllib.loads(self.text)
        except RecursionError:
            raise PastepotError(
                Problem("The file is nested too deeply to be read.", "Take the nested brackets out.", self.name)
            ) from None
        except ValueError as error:  # TOMLDecodeError is one; a number of thousands of digits is a plain one
            found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", str(error))
            said = str(error)[: found.start()] if found else str(error)
            row = int(found[1]) if found and found[1] else 0
            raise PastepotError(
                Problem(f"The file is not TOML: {said[:1].lower()}{said[1:]}.", "Correct this line.", self.name, row)
            ) from None

    @cached_property
    def statements(self) -> dict[KeyPath, Statement]:
        """Where the text writes out each table and key."""
        return statements(self.text)

    def row(self, path: KeyPath) -> int:
        """1-based line of a value, or of the nearest thing around it that has a line; 0 if none has."""
        while path:
            if path in self.statements:
                return self.statements[path].row
            path = path[:-1]
        return 0

    def encode(self, text: str) -> bytes:
        """Bytes for a new text, with the byte-order mark and line endings that the file had."""
        if b"\r\n" in self.raw:
            text = text.replace("\n", "\r\n")
        return ((_BOM if self.raw.startswith(_BOM.encode()) else "") + text).encode()


def read(path: Path, name: str, if_missing: str) -> TomlFile:
    """Read a TOML file's text. PastepotError if it is missing (`if_missing` says what to do), unreadable, not UTF-8."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise PastepotError(Problem(f"There is no {name} in {path.parent}.", if_missing, name)) from None
    except OSError as error:
        raise PastepotError(
            Problem(f"The file cannot be read ({error.strerror or error}).", "Look at its permissions.", name)
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        raise PastepotError(
            Problem("The file is not UTF-8 text.", "Save it again with the encoding UTF-8.", name, row)
        ) from None
    return TomlFile(path, name, raw, text.replace("\r\n", "\n"))


def save(source: TomlFile, text: str) -> None:
    """Put another text in the file's place, in one step and with the same permissions; a link is followed.

    PastepotError, with the file untouched, if it is no longer what was read, or cannot be written.
    """
    target = Path(os.path.realpath(source.path))
    try:
        if target.read_bytes() != source.raw:
            raise PastepotError(
                Problem("The file was changed while it was worked on.", "Run the command again.", source.name)
            )
        with replacing(target, overwrite=True) as draft:
            with draft.open("wb") as file:
                file.write(source.encode(text))
                file.flush()
                os.fsync(file.fileno())
            shutil.copymode(target, draft)
    except OSError as error:
        raise PastepotError(
            Problem(
                f"The file cannot be written ({error.strerror or error}).",
                "Look at its permissions, the folder's, and the space on the disc.",
                source.name,
            )
        ) from None


_WORD = r"""(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\\n])*"|'[^'\n]*')"""
_NAME = rf"{_WORD}(?:[ \t]*\.[ \t]*{_WORD})*"
_TABLE = re.compile(rf"[ \t]*\[(?P<array>\[?)[ \t]*(?P<name>{_NAME})[ \t]*\]")
_KEY = re.compile(rf"[ \t]*(?P<name>{_NAME})[ \t]*=")
_COMMENT = r"\#[^\n]*"
_STRING = r"""(?:\"{3}(?:\\[\s\S]|[^\\])*?\"{3,}|'{3}[\s\S]*?'{3,}|"(?:\\.|[^"\\\n])*"|'[^'\n]*')"""
# What can stand between two brackets or line ends.
_BETWEEN = re.compile(rf"""(?:[^\n\[\]{{}}"'#]+|{_COMMENT}|{_STRING})*""")
_COMMENT_OR_STRING = re.compile(rf"(?P<comment>{_COMMENT})|{_STRING}")


def statements(text: str) -> dict[KeyPath, Statement]:
    """Every header and key written out in a TOML text (which should be valid), by the path of its value."""
    found: dict[KeyPath, Statement] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    position, row = 0, 1
    while position < len(text):
        key = _KEY.match(text, position)
        header = None if key else _TABLE.match(text, position)
        end = _end_of_statement(text, key.end() if key else position)
        if header:
            words = _words(header["name"])
            table = _table_path(words, bool(header["array"]), counts)
            found.setdefault(table, Statement(row, position, end, table, words))
        elif key:
            words = _words(key["name"])
            found[table + words] = Statement(row, position, end, table, words)
        row += text.count("\n", position, end)
        position = end
    return found


def _words(name: str) -> tuple[str, ...]:
    """A dotted name as separate words, quotes taken off."""
    return tuple(w[1:-1] if w[0] in "\"'" else w for w in re.findall(_WORD, name))


def _table_path(words: tuple[str, ...], array: bool, counts: dict[KeyPath, int]) -> KeyPath:
    """The path of a table's header: numbers are put in where a name stands for the last of an array of tables."""
    path: KeyPath = ()
    for i, word in enumerate(words):
        path += (word,)
        if array and i == len(words) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path += (counts[path],)
    return path


def _end_of_statement(text: str, position: int) -> int:
    """Just after the line end that closes the statement, which may hold brackets over several lines."""
    depth = 0
    while position < len(text):
        between = _BETWEEN.match(text, position)
        position = between.end() if between else position
        if position >= len(text):
            break
        character = text[position]
        position += 1
        if character in "[{":
            depth += 1
        elif character in "]}":
            depth -= 1
        elif character == "\n" and depth <= 0:
            break
    return position


def comments(text: str) -> list[str]:
    """The comments in a TOML text, each with its #."""
    return [m["comment"].rstrip() for m in _COMMENT_OR_STRING.finditer(text) if m["comment"]]
