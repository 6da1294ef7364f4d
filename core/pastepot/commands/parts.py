"""`pastepot parts`: the parts as a table for spreadsheets, out and in."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.cli import Console
from pastepot.errors import Misuse, Problem

NAME = "parts"
SUMMARY = "Write the parts as a table for spreadsheets, or take changes from one."
EXAMPLE = "pastepot parts kettle-pond --csv parts.csv\n  pastepot parts kettle-pond --from-csv parts.csv --dry-run"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The film folder, and the table to write or to read."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument("--csv", type=Path, metavar="OUT.csv", help="write the table")
    way.add_argument(
        "--from-csv", type=Path, metavar="IN.csv", help="change and add parts; parts not in the table stay"
    )
    parser.add_argument("--overwrite", action="store_true", help="with --csv: replace the table if it exists")
    parser.add_argument("--dry-run", action="store_true", help="with --from-csv: say what would change, write nothing")


def run(args: argparse.Namespace, console: Console) -> int:
    """Write or read the table."""
    if args.csv and args.dry_run:
        raise Misuse(Problem("--dry-run goes with --from-csv.", "Leave it out."))
    if args.from_csv and args.overwrite:
        raise Misuse(Problem("--overwrite goes with --csv.", "Leave it out."))
    return _out(args, console) if args.csv else _in(args, console)


def _out(args: argparse.Namespace, console: Console) -> int:
    from pastepot.library import manifest, table

    library = manifest.load(args.film)
    table.write(library, args.csv, args.overwrite)
    console.result(
        {"output": str(args.csv), "parts": len(library), "problems": []}, f"{args.csv}: {_parts(len(library))}."
    )
    return 0


def _in(args: argparse.Namespace, console: Console) -> int:
    from pastepot.library import manifest, table

    changes = table.read(args.film, args.from_csv)
    table.apply(args.film, changes, dry_run=args.dry_run)
    for name, fields in changes.fields.items():
        console.say(f"{name}: {', '.join(fields)}")
    for part in changes.added:
        console.say(f"{part.name}: new")
    would = "would be " if args.dry_run else ""
    console.result(
        {
            "changed": {name: list(fields) for name, fields in changes.fields.items()},
            "added": [manifest.part_values(p) for p in changes.added],
            "written": not args.dry_run,
            "problems": [],
        },
        f"{_parts(len(changes.fields))} {would}changed, {_parts(len(changes.added))} {would}added.",
    )
    return 0


def _parts(number: int) -> str:
    return f"{number} part{'' if number == 1 else 's'}"
