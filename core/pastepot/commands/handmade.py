"""`pastepot handmade`: smooth keys become exposures set by hand."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.cli import Console
from pastepot.commands import scene_file
from pastepot.errors import Misuse, Problem
from pastepot.timing.exposures import checked_pattern
from pastepot.timing.feel import SUFFIX, presets

NAME = "handmade"
SUMMARY = "Turn a scene's smooth keys into exposures set by hand."
EXAMPLE = "pastepot handmade waiting.blend --pattern 2,2,3 --seed 7 -o waiting-handmade.blend"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The scene, and what to do otherwise than film.toml says."""
    scene_file.add_arguments(parser)
    feel_help = f"a feel other than the film's: a file, or {', '.join(presets())}"
    parser.add_argument("--feel", metavar="FILE.feel.toml|NAME", help=feel_help)
    parser.add_argument("--seed", type=int, help="a seed other than the film's")
    parser.add_argument("--pattern", metavar="N,N,…", help="exposure lengths in the scene's frames: 1, 2 or 2,2,3")
    parser.add_argument("--smooth", action="store_true", help="go back to the smooth keys instead")


def run(args: argparse.Namespace, console: Console) -> int:
    """Time the scene and save it."""
    params = {
        "feel": str(Path(args.feel).resolve()) if (args.feel or "").endswith(SUFFIX) else args.feel or "",
        "seed": args.seed,
        "pattern": _pattern(args.pattern) if args.pattern else [],
        "smooth": args.smooth,
    }
    return scene_file.run("handmade", params, args, console)


def _pattern(text: str) -> list[int]:
    try:
        return list(checked_pattern([int(n) for n in text.split(",")]))
    except ValueError as error:
        raise Misuse(Problem(f"'{text}' is not an exposure pattern.", "Write for instance 2 or 2,2,3.")) from error
