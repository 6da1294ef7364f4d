"""`pastepot new`: start a film folder."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from pastepot.cli import Console

NAME = "new"
SUMMARY = "Start a film folder."
EXAMPLE = "pastepot new kettle-pond --title 'Waiting for the Teapot' --fps 12 --size 1920x1080"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The folder, and what the film is."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the folder to make, or one without a film in it")
    parser.add_argument("--title", help="the film's title (the folder's name)")
    parser.add_argument("--fps", default="12", metavar="N", help="frames per second, such as 12 or 24000/1001 (12)")
    parser.add_argument(
        "--size", type=_size, default=(1920, 1080), metavar="WxH", help="the picture in pixels (1920x1080)"
    )


def run(args: argparse.Namespace, console: Console) -> int:
    """Make the folder; nothing that is there already is touched."""
    from pastepot import film

    title = args.title if args.title is not None else args.film.resolve().name
    made = film.create(args.film, title, args.fps, args.size)
    console.result(
        {"film": str(args.film), "title": made.title, "fps": str(made.fps), "size": list(made.size), "problems": []},
        f"{args.film} is ready. Put the cut-out pictures into {args.film / 'parts'}, then: pastepot scan {args.film}",
    )
    return 0


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"([0-9]{1,6})[x×]([0-9]{1,6})", text)
    if not found:
        raise argparse.ArgumentTypeError(f"'{text}' is not a size like 1920x1080")
    return int(found[1]), int(found[2])
