"""`pastepot retime`: the same film at another frame rate."""

from __future__ import annotations

import argparse

from pastepot.cli import Console
from pastepot.commands import scene_file

NAME = "retime"
SUMMARY = "Change a scene's frame rate and keep every picture where it is in time."
EXAMPLE = "pastepot retime waiting.blend --fps 24 -o waiting-24.blend"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The scene and the new rate."""
    scene_file.add_arguments(parser)
    parser.add_argument("--fps", type=int, required=True, choices=(12, 24, 25, 30), help="the new frame rate")


def run(args: argparse.Namespace, console: Console) -> int:
    """Change the rate and save."""
    return scene_file.run("retime", {"fps": args.fps}, args, console)
