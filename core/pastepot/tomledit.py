"""Changing single values in a TOML text while every other character of it stays as the person wrote it.

tomlkit edits each statement that changes, keeping its spacing and comments; which statements those are, and where new
ones go, is decided here. Handed the whole document, tomlkit would put a new key after the comment that belongs to the
next table.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import Array

from pastepot.tomlfile import KeyPath, Statement, comments, statements

_BARE = re.compile(r"[A-Za-z0-9_-]+")


class TomlEditor:
    """Collects changes to one text, one for each key; `text()` gives the text with all of them made."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._statements = statements(text)
        self._edits: list[tuple[int, int, str]] = []
        self._table_end: dict[KeyPath, Statement] = {}
        self._groups: dict[KeyPath, list[KeyPath]] = {}
        self._dotted: set[KeyPath] = set()
        for path, statement in self._statements.items():
            self._table_end[statement.table] = statement
            self._groups.setdefault(path[:2], []).append(path)
            if path != statement.table:
                self._dotted.update(path[: len(statement.table) + n] for n in range(1, len(statement.words)))

    def set(self, table: KeyPath, key: str, value: Any) -> None:
        """Give `key` in an existing table a value; a dict becomes (or changes single keys of) a table below it.

        The table is one with a header of its own, or one that stands in an array of such tables.
        """
        path = (*table, key)
        statement = self._statements.get(path)
        if isinstance(value, Mapping):
            self._set_table(table, key, value)
        elif statement:
            self._replace(statement, _changed(self._slice(statement), statement.words, value))
        else:
            self._insert_after(self._table_end[table], f"{_key(key)} = {literal(value)}\n")

    def remove(self, table: KeyPath, key: str) -> None:
        """Take a key or a table below out; comments inside it stay, on lines of their own."""
        path = (*table, key)
        for other in self._groups.get(path[:2], ()):
            statement = self._statements[other]
            if other[: len(path)] == path:
                kept = [f"{c}\n" for c in comments(self._slice(statement))]
                self._replace(statement, "".join(kept))

    def append(self, array: str, values: Mapping[str, Any], notes: Mapping[str, str]) -> None:
        """Add a table to an array of tables, at the end of the text; notes: key -> comment after its value."""
        lines = [f"[[{_key(array)}]]"]
        for key, value in values.items():
            note = f"  # {notes[key]}" if key in notes else ""
            lines += _table(f"{_key(array)}.{_key(key)}", value) if isinstance(value, Mapping) else []
            if not isinstance(value, Mapping):
                lines.append(f"{_key(key)} = {literal(value)}{note}")
        self._edits.append((len(self._text), len(self._text), "\n" + "\n".join(lines) + "\n"))

    def text(self) -> str:
        """The text with all changes made."""
        pieces = [""]
        position = 0
        for start, end, new in sorted(self._edits, key=lambda e: e[:2]):  # at one place, new lines before changed ones
            if start > position:
                pieces.append(self._text[position:start])
            if new and pieces[-1] and not pieces[-1].endswith("\n"):  # a last line without a line end
                pieces.append("\n")
            if new:
                pieces.append(new)
            position = end
        return "".join((*pieces, self._text[position:]))

    def _set_table(self, table: KeyPath, key: str, values: Mapping[str, Any]) -> None:
        path = (*table, key)
        statement = self._statements.get(path)
        if statement and statement.table == path:  # it has a header
            for name, value in values.items():
                self.set(path, name, value)
        elif statement:  # it is written inline
            text = self._slice(statement)
            for name, value in values.items():
                text = _changed(text, (*statement.words, name), value)
            self._replace(statement, text)
        elif path in self._dotted:
            for name, value in values.items():
                dotted = self._statements.get((*path, name))
                if dotted:
                    self._replace(dotted, _changed(self._slice(dotted), dotted.words, value))
                else:
                    self._insert_after(self._table_end[table], f"{_key(key)}.{_key(name)} = {literal(value)}\n")
        else:
            header = ".".join(_key(k) for k in path if isinstance(k, str))
            last = self._statements[self._groups[table[:2]][-1]]
            self._insert_after(last, "\n".join(_table(header, values)) + "\n")

    def _slice(self, statement: Statement) -> str:
        return self._text[statement.start : statement.end]

    def _replace(self, statement: Statement, new: str) -> None:
        self._edits.append((statement.start, statement.end, new))

    def _insert_after(self, statement: Statement, new: str) -> None:
        indent = re.match(r"[ \t]*", self._slice(statement))
        assert indent is not None  # it matches the empty text
        new = "".join(indent[0] + line if line.strip() else line for line in new.splitlines(keepends=True))
        self._edits.append((statement.end, statement.end, new))


def literal(value: Any) -> str:
    """A value as TOML writes it."""
    text: str = tomlkit.item(list(value) if isinstance(value, tuple) else value).as_string()
    return text


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else literal(key)


def _table(header: str, values: Mapping[str, Any]) -> list[str]:
    return [f"[{header}]", *(f"{_key(k)} = {literal(v)}" for k, v in values.items())]


def _changed(statement: str, words: Sequence[str], value: Any) -> str:
    """One statement's text with another value; lists of the same length keep the comments inside them."""
    document = tomlkit.parse(statement)
    node: Any = document
    for word in words[:-1]:
        node = node[word]
    old = node.get(words[-1])
    if isinstance(old, Array) and isinstance(value, list | tuple) and len(old) == len(value):
        for i, element in enumerate(value):
            if old[i] != element:
                old[i] = element
    else:
        node[words[-1]] = list(value) if isinstance(value, tuple) else value
    return tomlkit.dumps(document)
