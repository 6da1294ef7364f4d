"""`pastepot check`: everything in a film folder that needs attention."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.cli import Console

NAME = "check"
SUMMARY = "Show every problem of a film's settings, parts and pictures at once."
EXAMPLE = "pastepot check kettle-pond"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The film folder."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")


def run(args: argparse.Namespace, console: Console) -> int:
    """Print the problems; 1 if one of them is an error."""
    from pastepot.library import check

    problems = check.check(args.film)
    console.problems(problems)
    errors = sum(p.severity == "error" for p in problems)
    warnings = len(problems) - errors
    console.result(
        {"errors": errors, "warnings": warnings, "problems": [p.as_dict() for p in problems]},
        f"{_count(errors, 'error')}, {_count(warnings, 'warning')}." if problems else "No problems.",
    )
    return 1 if errors else 0


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
