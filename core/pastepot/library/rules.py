"""What parts.toml may not say although its schema allows it, as far as its text alone shows."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from pastepot import naming
from pastepot.errors import Problem, Severity
from pastepot.library.parts import VIEWS, Part
from pastepot.naming import printable
from pastepot.schema.words import part_label
from pastepot.tomlfile import TomlFile

_COMPARISONS = 20_000
"""Looking for the nearest of all names is slow: in a large library only the first few unknown parents get one."""

_name_fault = lru_cache(maxsize=4096)(naming.name_fault)


@dataclass(frozen=True)
class Entry:
    """One [[part]] as far as it makes sense.

    index: its place in the file, from 0
    part:  its fields; those that are missing or break the schema hold placeholders
    good:  the names of the fields that are given and keep to the schema
    """

    index: int
    part: Part
    good: frozenset[str]


def problem(file: TomlFile, entry: Entry, field: str, what: str, fix: str, severity: Severity = "error") -> Problem:
    """A Problem with one field of a part."""
    row = file.row(("part", entry.index, field))
    return Problem(what, fix, file.name, row, part_label(entry.part.name, entry.index), field, severity)


def problems(entries: Sequence[Entry], file: TomlFile) -> Iterator[Problem]:
    """Everything that the values show: names, paths, parents, replacement sets, mouths."""
    by_name: dict[str, Entry] = {}
    for entry in entries:
        if "name" in entry.good:
            by_name.setdefault(entry.part.name, entry)
    for entry in entries:
        yield from _own_problems(entry, file)
    yield from _same_names(entries, file)
    yield from _unknown_parents(entries, by_name, file)
    yield from _circles(entries, by_name, file)
    yield from _split_sets(entries, file)


def _own_problems(entry: Entry, file: TomlFile) -> Iterator[Problem]:
    """What one part shows by itself."""
    part = entry.part
    for field in ("name", "character", "type", "view", "replaces"):
        value = getattr(part, field)
        fault = _name_fault(value) if value else ""
        if fault:
            fix = "Use letters, digits and - for it, up to 63 bytes."
            yield problem(file, entry, field, f"'{printable(value)}' {fault}.", fix)
    if "image" in entry.good:
        row = file.row(("part", entry.index, "image"))
        found = naming.path_problem(part.image, "image", file=file.name, row=row, part=printable(part.name))
        if found:
            yield found
    if part.view and part.view not in VIEWS:
        near = difflib.get_close_matches(part.view, VIEWS, n=1)
        what = f"The view '{printable(part.view)}' is none of {', '.join(VIEWS)}" + (
            f" (did you mean '{near[0]}'?)." if near else "."
        )
        yield problem(file, entry, "view", what, "Correct it, unless it is meant so.", "warning")
    if part.mouth is not None and "type" in entry.good and part.type != "mouth":
        what = f"A mouth is described on a part of type '{printable(part.type)}'."
        yield problem(file, entry, "mouth", what, "Take [part.mouth] out, or correct 'type'.", "warning")
    if part.joint_mm is not None and "parent" not in entry.good:
        yield problem(
            file,
            entry,
            "joint_mm",
            "'joint_mm' is given without a parent.",
            "Give 'parent', or take it out.",
            "warning",
        )


def _same_names(entries: Sequence[Entry], file: TomlFile) -> Iterator[Problem]:
    seen: dict[str, Entry] = {}
    for entry in entries:
        if "name" not in entry.good:
            continue
        first = seen.setdefault(naming.same_name(entry.part.name), entry)
        if first is entry:
            continue
        if first.part.name == entry.part.name:
            what = f"The name '{printable(entry.part.name)}' is given twice."
        else:
            what = (
                f"The names '{printable(entry.part.name)}' and '{printable(first.part.name)}' differ only in case or "
                "in how accents are stored, which some computers take for one name."
            )
        yield problem(file, entry, "name", what, f"Rename one; the other is in row {first.part.row}.")


def _unknown_parents(entries: Sequence[Entry], by_name: dict[str, Entry], file: TomlFile) -> Iterator[Problem]:
    by_any_case = {naming.same_name(name): name for name in by_name}
    suggestions = _COMPARISONS // max(1, len(by_name))
    for entry in entries:
        part = entry.part
        if not part.parent:
            continue
        parent = by_name.get(part.parent)
        if parent is None:
            near = by_any_case.get(naming.same_name(part.parent), "")
            if not near and suggestions > 0:
                suggestions -= 1
                near = next(iter(difflib.get_close_matches(part.parent, by_name, n=1)), "")
            fix = f"Did you mean '{near}'?" if near else "Correct 'parent', or add that part."
            yield problem(file, entry, "parent", f"There is no part '{printable(part.parent)}'.", fix)
        elif parent.part.character != part.character and {"character"} <= entry.good & parent.good:
            what = (
                f"The parent '{printable(part.parent)}' belongs to '{printable(parent.part.character)}', "
                f"this part to '{printable(part.character)}'."
            )
            yield problem(file, entry, "parent", what, "Correct 'parent' unless it is meant so.", "warning")


def _circles(entries: Sequence[Entry], by_name: dict[str, Entry], file: TomlFile) -> Iterator[Problem]:
    """Each circle of parents once. Every part is walked over once: a walk stops where an earlier one has been."""
    walk_of: dict[str, int] = {}
    for number, entry in enumerate(entries):
        chain: list[str] = []
        name = entry.part.name
        while name in by_name and name not in walk_of:
            walk_of[name] = number
            chain.append(name)
            name = by_name[name].part.parent
        if walk_of.get(name) == number and name in chain:
            circle = [*chain[chain.index(name) :], name]
            shown = circle if len(circle) <= 8 else [*circle[:6], "…", name]
            what = f"The parents go round in a circle: {' → '.join(map(printable, shown))}."
            yield problem(file, by_name[name], "parent", what, "Take one of these parts off its parent.")


def _split_sets(entries: Sequence[Entry], file: TomlFile) -> Iterator[Problem]:
    """Replacement sets whose parts hang on different parents, so that they would jump when they are exchanged.

    Each view by itself: a head seen from the side hangs on the body seen from the side.
    """
    first_of: dict[tuple[str, str], Entry] = {}
    told: set[tuple[str, str]] = set()
    for entry in entries:
        part = entry.part
        key = (part.replaces, part.view)
        if not part.replaces or key in told:
            continue
        first = first_of.setdefault(key, entry)
        if first.part.parent != part.parent:
            told.add(key)
            what = (
                f"The replacement set '{printable(part.replaces)}' has different parents: {_parent(first)} for "
                f"'{printable(first.part.name)}', {_parent(entry)} for '{printable(part.name)}'."
            )
            yield problem(file, entry, "parent", what, "Give all parts of the set one parent.", "warning")


def _parent(entry: Entry) -> str:
    return f"'{printable(entry.part.parent)}'" if entry.part.parent else "none"
