"""`pastepot scan`: draft entries of parts.toml for new pictures."""

from __future__ import annotations

import argparse
import textwrap
from pathlib import Path

from pastepot.cli import Console
from pastepot.library import filenames

NAME = "scan"
SUMMARY = "Draft parts.toml entries for new pictures, by their file names."
EXAMPLE = "pastepot scan kettle-pond --dry-run"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The film folder, and the naming convention as part of the help."""
    convention = textwrap.fill(filenames.EXPLAINED, 100, break_on_hyphens=False)
    rest = (
        "The scale comes from the picture, or is 300 dpi with a warning; the pivot is drafted at the middle of the\n"
        "picture, the layer by type. Entries that are there already are never changed."
    )
    parser.description = f"{SUMMARY}\n\n{convention}\n\n{rest}"
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")
    parser.add_argument("--dry-run", action="store_true", help="say what would be added, and write nothing")


def run(args: argparse.Namespace, console: Console) -> int:
    """Add the drafted parts; 1 if a picture could not be drafted."""
    from pastepot.library import manifest, scan

    draft = scan.scan(args.film)
    if draft.parts and not args.dry_run:
        scan.add(args.film, draft)
    console.problems(draft.problems)
    for part in draft.parts:
        console.say(f"{part.name}: {part.type} of {part.character}, layer {part.layer}")
    count = len(draft.parts)
    parts = f"{count} new part{'' if count == 1 else 's'}"
    done = f"{parts} would be added." if args.dry_run else f"{parts} added to parts.toml."
    pivots = " Each pivot is drafted at the middle of its picture: put it where the part turns." if count else ""
    console.result(
        {
            "added": [manifest.part_values(p) for p in draft.parts],
            "written": bool(draft.parts) and not args.dry_run,
            "problems": [p.as_dict() for p in draft.problems],
        },
        done + pivots,
    )
    return 1 if any(p.severity == "error" for p in draft.problems) else 0
