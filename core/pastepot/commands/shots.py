"""`pastepot shots`: the shots of the film that is to be matched, as a list to be looked through."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.cli import Console
from pastepot.errors import Cancelled, Problem

NAME = "shots"
SUMMARY = "List the shots of a film that is to be matched, for you to correct."
EXAMPLE = "pastepot shots old-pond.mp4 --film myfilm --otio"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("clip", type=Path, metavar="CLIP", help="the film, in any format that FFmpeg's libraries read")
    parser.add_argument(
        "--film", type=Path, required=True, metavar="DIR", help="the film folder; the list goes into its reference/"
    )
    parser.add_argument("--otio", action="store_true", help="also write a timeline (OpenTimelineIO), a clip a shot")
    parser.add_argument("--overwrite", action="store_true", help="replace the list, and what was corrected in it")


def run(args: argparse.Namespace, console: Console) -> int:
    """Write the list; it is a proposal, and `pastepot measure --shots` takes it as the person left it."""
    from pastepot import film
    from pastepot.errors import raise_if_any
    from pastepot.output import output_problems
    from pastepot.reference import shotlist

    folder = film.load(args.film).folder / "reference"
    stem = args.clip.stem
    listed = folder / f"{stem}.shots.csv"
    timeline = folder / f"{stem}.shots.otio" if args.otio else None
    wanted = [path for path in (listed, timeline) if path is not None]
    raise_if_any([problem for path in wanted for problem in output_problems(path, args.overwrite)])
    try:
        found = shotlist.find(args.clip, console.progress)
    except KeyboardInterrupt:
        raise Cancelled("Stopped. Nothing was written.") from None
    shotlist.write(found, listed, timeline, stem, args.overwrite)
    warnings = []
    if found.damaged:
        what = f"{found.damaged} places in the film could not be decoded and were left out."
        warnings.append(Problem(what, "Find a better copy, or check the shots there.", severity="warning"))
    console.problems(warnings)
    value = {
        "outputs": [str(path) for path in wanted],
        "pictures": found.pictures,
        "rate": str(found.rate),
        "firsts": list(found.firsts),
        "unlike": [round(u, 3) for u in found.unlike],
        "problems": [p.as_dict() for p in warnings],
    }
    lines = [f"{listed}: {len(found.firsts)} shots in {found.pictures} pictures. Look through it, then measure:"]
    console.result(value, "\n".join([*lines, f"  pastepot measure {args.clip} --shots {listed}"]))
    return 0
