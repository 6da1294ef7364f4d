"""Single cells of a spreadsheet's table, with what spreadsheets are known to do to them."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from pastepot.naming import printable

Reader = Callable[[str], Any]
"""Takes a cell as it stands and gives its value, None if it is empty; raises CellError."""

# Characters with which spreadsheets begin a formula, after OWASP's page "CSV Injection".
_FORMULA = re.compile(r"[=+\-@\t\r]")
_ESCAPED = re.compile(r"'+[=+\-@\t\r]")
_ERROR = re.compile(r"#(NAME\?|REF!|VALUE!|DIV/0!|N/A|NUM!|NULL!|SPILL!|CALC!)", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_WITH_COMMA = re.compile(r"[+-]?[0-9.]*,[0-9]+")
_LIKE_A_DATE = re.compile(
    r"[0-9]{1,4}[-/. ]+([0-9]{1,2}[-/.]|[^\W\d_]{3,})|[^\W\d_]{3,}[-/. ]+[0-9]{1,4}|[0-9]+:[0-9]{2}"
)
_TRUTH = {"true": True, "false": False, "yes": True, "no": False, "1": True, "0": False}


class CellError(ValueError):
    """A cell makes no sense; says what and what to do."""

    def __init__(self, what: str, fix: str) -> None:
        self.what, self.fix = what, fix
        super().__init__(f"{what} {fix}")


def written(value: object) -> str:
    """A value as a cell; texts that a spreadsheet would take for a formula get an apostrophe before them."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if _FORMULA.match(value) or _ESCAPED.match(value) else value
    return repr(value)


def text(cell: str) -> str | None:
    """A text; the apostrophe that `written` puts before a formula's first character is taken off again."""
    cell = cell.strip(" ")
    _refuse_errors(cell)
    if _FORMULA.match(cell):
        raise CellError(
            f"'{printable(cell)}' begins like a formula.",
            "Begin the text with a letter or digit; in a spreadsheet, put ' before it.",
        )
    return (cell[1:] if _ESCAPED.match(cell) else cell) or None


def number(cell: str) -> float | None:
    """A number with a decimal point."""
    cell = cell.strip()
    if not cell:
        return None
    _refuse_errors(cell)
    if _NUMBER.fullmatch(cell):
        return float(cell)
    if _WITH_COMMA.fullmatch(cell):
        raise CellError(
            f"'{cell}' is written with a comma.",
            f"Write {cell.replace(',', '.', 1) if '.' not in cell else 'it'} with a point and no separators: set the "
            "spreadsheet's language to English before saving.",
        )
    if _LIKE_A_DATE.match(cell):
        raise CellError(
            f"'{printable(cell)}' looks like a date that a spreadsheet made of a number.",
            "Format the column as text and type the number again.",
        )
    raise CellError(f"'{printable(cell)}' is not a number.", "Write it like 12.5.")


def whole_number(cell: str) -> int | None:
    """A whole number; 30.0 is one too."""
    value = number(cell)
    if value is not None and not value.is_integer():
        raise CellError(f"'{cell.strip()}' is not a whole number.", "Write it like 30.")
    return None if value is None else int(value)


def truth(cell: str) -> bool | None:
    """True or false, also as yes, no, 1, 0 in any case."""
    cell = cell.strip()
    if cell and cell.lower() not in _TRUTH:
        raise CellError(f"'{printable(cell)}' is neither true nor false.", "Write true or false.")
    return _TRUTH[cell.lower()] if cell else None


def _refuse_errors(cell: str) -> None:
    if _ERROR.match(cell):
        raise CellError(f"'{cell}' is a spreadsheet's error message.", "Put the value itself into the cell.")
