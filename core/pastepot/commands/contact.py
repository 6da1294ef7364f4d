"""`pastepot contact`: the contact sheet of a film's parts."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.cli import Console

NAME = "contact"
SUMMARY = "Show every part on one sheet, by character and type."
EXAMPLE = "pastepot contact myfilm -o myfilm/review/contact.pdf --date '3 May 2026'"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help="the sheet to write: .png for one tall picture, .pdf for A4 pages",
    )
    parser.add_argument("--date", default="", help="printed in the heading as it is given; left out without this")
    parser.add_argument("--font", type=Path, metavar="FILE", help="a font file, for names in other scripts than Latin")
    parser.add_argument("--overwrite", action="store_true", help="replace the sheet if it exists")


def run(args: argparse.Namespace, console: Console) -> int:
    """Write the sheet; warnings do not change the exit code."""
    from pastepot import film
    from pastepot.library import contact, manifest

    made = contact.make(
        film.load(args.film),
        manifest.load(args.film),
        args.output,
        date=args.date,
        font=args.font,
        overwrite=args.overwrite,
        progress=console.progress,
    )
    console.problems(made.warnings)
    pages = f"{made.pages} page" + ("" if made.pages == 1 else "s")
    console.result(
        {
            "output": str(args.output),
            "parts": made.parts,
            "pages": made.pages,
            "pixels_per_mm": round(made.pixels_per_mm, 4),
            "problems": [p.as_dict() for p in made.warnings],
        },
        f"{args.output}: {made.parts} parts on {pages}.",
    )
    return 0
