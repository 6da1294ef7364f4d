"""What can go wrong, said so that the person can put it right.

PastepotError            exit 1  something in the film needs attention; carries every problem found
├── MissingExtra         exit 1  an optional library is not installed; says which and how to get it
├── Misuse               exit 2  the command or call was wrong, the film is not to blame
└── Cancelled            exit 3  the person stopped the work; what was finished is kept
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True)
class Problem:
    """One thing that needs attention.

    what:  the fact, in one sentence ("The image is missing.")
    fix:   what to do about it ("Photograph the part again, or correct 'image'.")
    file:  film-relative path with '/', row: 1-based line in it (0: not known)
    part:  the part's name, field: the field in that part; '' where they do not apply
    """

    what: str
    fix: str
    file: str = ""
    row: int = 0
    part: str = ""
    field: str = ""
    severity: Severity = "error"

    def place(self) -> str:
        """Where it is, as one short string: 'parts.toml:12 heron-head · image'."""
        where = self.file + (f":{self.row}" if self.file and self.row else "")
        which = " · ".join(x for x in (self.part, self.field) if x)
        return " ".join(x for x in (where, which) if x)

    def __str__(self) -> str:
        place = self.place()
        return f"{place + ': ' if place else ''}{self.what} {self.fix}".rstrip()

    def as_dict(self) -> dict[str, object]:
        """Plain values for --json and for messages between processes."""
        return asdict(self)


class PastepotError(Exception):
    """Something in the film needs attention. `problems` holds everything found, not just the first."""

    exit_code = 1

    def __init__(self, *problems: Problem | str) -> None:
        self.problems: tuple[Problem, ...] = tuple(
            p if isinstance(p, Problem) else Problem(what=p, fix="") for p in problems
        )
        super().__init__("\n".join(map(str, self.problems)))


class MissingExtra(PastepotError):
    """An optional library is needed for this step and is not installed."""

    def __init__(self, extra: str, module: str, step: str) -> None:
        self.extra, self.module = extra, module
        super().__init__(
            Problem(
                what=f"{step} needs the library '{module}', which is not installed.",
                fix=f"Install it with: pip install 'pastepot[{extra}]'.",
            )
        )


class Misuse(PastepotError):
    """The command or call was wrong; nothing was read or written."""

    exit_code = 2


class Cancelled(PastepotError):
    """The person stopped the work. What was finished is kept, and the same command goes on from there."""

    exit_code = 3


def raise_if_any(problems: Iterable[Problem]) -> None:
    """Raise one PastepotError holding all problems of severity 'error', if there are any."""
    errors = [p for p in problems if p.severity == "error"]
    if errors:
        raise PastepotError(*errors)
