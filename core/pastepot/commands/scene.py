"""`pastepot scene`: build or refresh the Blender scene of a film."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.bridge import run_job
from pastepot.cli import Console
from pastepot.commands import scene_file

NAME = "scene"
SUMMARY = "Build or refresh the Blender scene from the parts library."
EXAMPLE = "pastepot scene kettle-pond -o kettle-pond/scenes/waiting.blend"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The film folder and the file to write."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")
    output_help = "the scene; one that is there is brought up to date"
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.blend", help=output_help)
    scene_file.add_blender(parser)


def run(args: argparse.Namespace, console: Console) -> int:
    """Build into a new file, or update the one that is there."""
    output = args.output.resolve()
    exists = output.exists()
    output.parent.mkdir(parents=True, exist_ok=True)
    outcome = run_job(
        "scene",
        {"film": str(args.film.resolve()), "output": str(output), "new": not exists},
        blend=output if exists else None,
        blender=args.blender,
        progress=console.progress,
    )
    console.problems(outcome.warnings)
    console.result(outcome.result, outcome.result["text"])
    return 0
