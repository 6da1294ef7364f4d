"""`pastepot mat`: the printed sheet that pieces are photographed on, and a look at a photograph of it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.cli import Console
from pastepot.errors import Misuse, Problem

if TYPE_CHECKING:
    from pastepot.capture.tint import Tint

NAME = "mat"
SUMMARY = "Print the mat to photograph pieces on, or look at a photograph of it."
EXAMPLE = "pastepot mat --paper A4 --film myfilm -o mat.pdf\n  pastepot mat --look empty.jpg --film myfilm"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("-o", "--output", type=Path, metavar="FILE.pdf", help="print the mat into this file")
    what.add_argument(
        "--look", type=Path, metavar="PHOTO", help="judge set-up and light by a photograph of the empty mat"
    )
    parser.add_argument("--paper", default="A4", help="A4, A3 or Letter (default A4)")
    parser.add_argument("--strips", action="store_true", help="to be cut into two strips for a sheet of coloured card")
    parser.add_argument("--tint", default="", metavar="#RRGGBB", help="the backdrop; left out, the one that suits best")
    parser.add_argument("--plain", action="store_true", help="print no backdrop")
    parser.add_argument("--film", type=Path, metavar="DIR", help="the film whose papers the backdrop has to suit")
    parser.add_argument("--overwrite", action="store_true", help="replace the file if it exists")


def run(args: argparse.Namespace, console: Console) -> int:
    """Print or look; leaves with 0 also when there are warnings."""
    return _look(args, console) if args.look else _print(args, console)


def _print(args: argparse.Namespace, console: Console) -> int:
    from pastepot.capture.mat import mat
    from pastepot.capture.mat_pdf import print_mat
    from pastepot.capture.papers import papers
    from pastepot.capture.tint import propose

    sheet = mat(args.paper, "strips" if args.strips else "whole")
    tint = _tint(args.tint) or propose(papers(args.film).values() if args.film else ())
    print_mat(sheet, args.output, tint=None if args.plain or args.strips else tint, overwrite=args.overwrite)
    code = "#{:02X}{:02X}{:02X}".format(*tint)
    card = f" Lay the strips on card near {code}." if args.strips else ""
    console.result(
        {"output": str(args.output), "paper": sheet.paper, "kind": sheet.kind, "tint": code},
        f"{args.output}: print it at 100 % and measure the bar.{card}",
    )
    return 0


def _look(args: argparse.Namespace, console: Console) -> int:
    from pastepot import film as films
    from pastepot.capture.light import look
    from pastepot.capture.papers import papers
    from pastepot.capture.photo import read_photo

    film = films.load(args.film) if args.film else None
    scale = film.size[0] / film.frame_width_mm if film else 0.0
    seen = look(read_photo(args.look), papers(args.film) if args.film else {}, scale)
    console.problems(seen.problems)
    red, green, blue = (100 * seen.backdrop).round(1)
    console.result(
        {
            "paper": seen.view.mat.paper,
            "kind": seen.view.mat.kind,
            "px_per_mm": [round(v, 4) for v in seen.px_per_mm],
            "tilt_deg": round(seen.view.tilt_deg, 2),
            "distortion": round(seen.view.distortion, 5),
            "edge_px": round(seen.edge_px, 2),
            "even": round(seen.even, 3),
            "backdrop": [round(float(v), 4) for v in seen.backdrop],
            "problems": [p.as_dict() for p in seen.problems],
        },
        f"{seen.view.mat.paper}: {seen.px_per_mm[1]:.2f} to {seen.px_per_mm[0]:.2f} pixels a mm, tilted by "
        f"{seen.view.tilt_deg:.1f} degrees, lens distortion {100 * seen.view.distortion:+.1f} %, edges of "
        f"{seen.edge_px:.1f} pixels, light even to {100 * seen.even:.0f} %, backdrop {red} {green} {blue} % of white.",
    )
    return 0


def _tint(text: str) -> Tint | None:
    if not text:
        return None
    digits = text.removeprefix("#")
    try:
        red, green, blue = bytes.fromhex(digits)
    except ValueError:
        raise Misuse(Problem(f"'{text}' is no colour.", "Write it like #CC3D85.")) from None
    return red, green, blue
