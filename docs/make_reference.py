"""Writes the generated halves of docs/reference: `python docs/make_reference.py`. A test compares them.

A page is written by hand but for what stands between a line `<!-- generated: WHAT -->` and `<!-- end -->`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pastepot import schema
from pastepot.library import filenames, table
from pastepot.schema import words
from pastepot.timing import feel

REFERENCE = Path(__file__).resolve().parent / "reference"
_GENERATED = re.compile(r"(<!-- generated: (?P<what>[a-z .]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def fields(top: Mapping[str, Any], path: tuple[str | int, ...]) -> str:
    """A table of the fields at a path of a schema."""
    here = words.along(top, path)[-1]
    lines = ["| field | what to give | left out |", "| --- | --- | --- |"]
    for name, field in here["properties"].items():
        lines.append(f"| `{name}` | {_cell(field)} | {_left_out(name, field, here)} |")
    return "\n".join(lines) + "\n"


def _cell(field: Mapping[str, Any]) -> str:
    text = str(field["description"])
    examples = ", ".join(f"`{json.dumps(e, ensure_ascii=False)}`" for e in field.get("examples", ()))
    return text + (f"; for example {examples}" if examples else "")


def _left_out(name: str, field: Mapping[str, Any], table: Mapping[str, Any]) -> str:
    if name in table.get("required", ()):
        return "must be there"
    return f"`{json.dumps(field['default'])}`" if "default" in field else "nothing"


def types() -> str:
    """The part types that a file name can say, with the layer that each is drafted on."""
    lines = ["| type | layer |", "| --- | --- |"]
    return "\n".join([*lines, *(f"| {name} | {layer} |" for name, layer in filenames.TYPES.items())]) + "\n"


def feel_settings() -> str:
    """A table of a feel's settings for each group."""
    lines = []
    for group, heading in feel.GROUPS.items():
        lines += [f"## {heading}", "", "| setting | what it does | from | to | left out |"]
        lines += ["| --- | --- | --- | --- | --- |"]
        lines += [_setting(s) for s in feel.SETTINGS if s.group == group] + [""]
    return "\n".join(lines)


def _setting(setting: feel.Setting) -> str:
    unit = f" ({setting.unit})" if setting.unit else ""
    numbers = setting.kind in ("number", "whole")
    low, high = (f"{setting.low:g}", f"{setting.high:g}") if numbers else ("", "")
    value = list(setting.default) if isinstance(setting.default, tuple) else setting.default
    return f"| `{setting.name}` | {setting.text}{unit} | {low} | {high} | `{json.dumps(value)}` |"


def feel_presets() -> str:
    """The feels that come along, and in what they differ from a feel that says nothing."""
    plain = feel.Feel()
    lines = ["| feel | sets |", "| --- | --- |"]
    for name in feel.presets():
        made = feel.preset(name)
        own = {s.name: getattr(made, s.name) for s in feel.SETTINGS if getattr(made, s.name) != getattr(plain, s.name)}
        lines.append(f"| {name} | {', '.join(f'`{k} = {json.dumps(v)}`' for k, v in own.items())} |")
    return "\n".join(lines) + "\n"


MAKERS: Mapping[str, Callable[[], str]] = {
    "film": lambda: fields(schema.schema("film"), ()),
    "shot": lambda: fields(schema.schema("film"), ("shot", 0)),
    "part": lambda: fields(schema.schema("parts"), ("part", 0)),
    "mouth": lambda: fields(schema.schema("parts"), ("part", 0, "mouth")),
    "sheet": lambda: fields(schema.schema("exposure-sheet"), ()),
    "sheet column": lambda: fields(schema.schema("exposure-sheet"), ("columns", 0)),
    "sheet cell": lambda: fields(schema.schema("exposure-sheet"), ("columns", 0, "cells", 0)),
    "columns": lambda: "`" + "`, `".join(table.COLUMNS) + "`\n",
    "types": types,
    "feel": feel_settings,
    "presets": feel_presets,
    "convention": lambda: filenames.EXPLAINED + "\n",
}


def pages() -> dict[Path, str]:
    """Every file of docs/reference with a generated part, as it should be."""
    made = {REFERENCE / f"{kind}.schema.json": schema.text(kind) for kind in schema.versions.CURRENT}
    for page in sorted(REFERENCE.glob("*.md")):
        text = page.read_text(encoding="utf-8")
        if _GENERATED.search(text):
            made[page] = _GENERATED.sub(lambda m: f"{m[1]}\n{MAKERS[m['what']]()}\n{m[3]}", text)
    return made


if __name__ == "__main__":
    for path, text in pages().items():
        path.write_text(text, encoding="utf-8")
