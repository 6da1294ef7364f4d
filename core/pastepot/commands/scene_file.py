"""What the commands that change one scene file have in common."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from pastepot.bridge import run_job
from pastepot.cli import Console
from pastepot.errors import Misuse, Problem


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The scene, and where the changed one goes."""
    parser.add_argument("scene", type=Path, metavar="FILE.blend", help="the scene")
    parser.add_argument("-o", "--output", type=Path, metavar="OUT.blend", help="save here, not into the same file")
    add_blender(parser)


def add_blender(parser: argparse.ArgumentParser) -> None:
    """The program that does the Blender side of the work."""
    parser.add_argument("--blender", metavar="PROGRAM", help="a Blender program to use instead of this Python's bpy")


def run(job: str, params: dict[str, Any], args: argparse.Namespace, console: Console) -> int:
    """Open the scene, do the job, save; the answer's 'text' is what the person reads."""
    outcome = run_job(
        job,
        params | {"output": str((args.output or args.scene).resolve())},
        blend=existing(args.scene),
        blender=args.blender,
        progress=console.progress,
    )
    console.problems(outcome.warnings)
    console.result(outcome.result, outcome.result["text"])
    return 0


def existing(path: Path) -> Path:
    """The file's full path; Misuse if it is not there."""
    if not path.is_file():
        raise Misuse(Problem("There is no such scene file.", "Check the path.", str(path)))
    return path.resolve()
