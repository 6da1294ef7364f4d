"""`pastepot render`: a scene becomes frames, each distinct picture rendered once."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from pastepot.bridge import BlenderStopped, run_job
from pastepot.cli import Console
from pastepot.commands.scene_file import existing
from pastepot.errors import Misuse, PastepotError, Problem
from pastepot.render.fingerprint import digest

NAME = "render"
SUMMARY = "Render a scene's frames, each picture once; goes on where it was stopped."
EXAMPLE = "pastepot render waiting.blend -o renders/waiting --samples 16"

ENGINES = ("cycles", "eevee", "workbench")

_RANGE = re.compile(r"(-?\d+)(?:-(-?\d+))?")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The scene, the folder, and what to do otherwise than the scene says."""
    parser.add_argument("scene", type=Path, metavar="FILE.blend", help="the scene; it is not changed")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="DIR", help="the folder for the frames")
    parser.add_argument("--frames", metavar="A-B", help="only these frames: 1-48, or 12")
    parser.add_argument("--every-frame", action="store_true", help="render each frame, even where two show the same")
    parser.add_argument("--samples", type=int, metavar="N", help="samples for each pixel, instead of the scene's")
    parser.add_argument("--engine", choices=ENGINES, help="render engine, instead of the scene's")
    parser.add_argument("--percent", type=int, metavar="N", help="size in percent, instead of the scene's")
    parser.add_argument("--blender", metavar="PROGRAM", help="a Blender program to use instead of this Python's bpy")


def run(args: argparse.Namespace, console: Console) -> int:
    """Render what is missing in the folder."""
    scene = existing(args.scene)
    first, last = _frames(args.frames) if args.frames else (None, None)
    params = {
        "output": str(args.output.resolve()),
        "first": first,
        "last": last,
        "every_frame": args.every_frame,
        "samples": _positive(args.samples, "--samples"),
        "engine": args.engine or "",
        "percent": _positive(args.percent, "--percent"),
        "content": digest(scene),
    }
    try:
        outcome = run_job("render", params, blend=scene, blender=args.blender, progress=console.progress)
    except BlenderStopped as error:
        if args.engine == "cycles":
            raise
        raise PastepotError(*error.problems, _NO_GRAPHICS) from error
    console.problems(outcome.warnings)
    console.result(outcome.result, outcome.result["text"])
    return 0


_NO_GRAPHICS = Problem(
    "EEVEE and Workbench need graphics (OpenGL, Vulkan or Metal), which this computer may not have.",
    "Render with --engine cycles, which needs none.",
)


def _frames(text: str) -> tuple[int, int]:
    found = _RANGE.fullmatch(text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
    if last < first:
        raise Misuse(Problem(f"'{text}' is no run of frames.", "Write for instance 1-48, or 12 for a single frame."))
    return first, last


def _positive(number: int | None, option: str) -> int | None:
    if number is not None and number < 1:
        raise Misuse(Problem(f"{option} {number} makes no picture.", "Give a whole number from 1 on."))
    return number
