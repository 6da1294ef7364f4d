"""`pastepot sheet`: a scene as an exposure sheet, and the charts of its parts."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import Any, get_args

from pastepot.cli import Console
from pastepot.commands import scene_file
from pastepot.errors import Misuse, Problem

NAME = "sheet"
SUMMARY = "Write a scene's exposure sheet, or the timing and spacing charts of one part."
EXAMPLE = "pastepot sheet waiting.blend -o waiting.pdf"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    from pastepot.timing.sheet_layout import Paper

    parser.add_argument("scene", type=Path, metavar="FILE", help="a scene (.blend), or a sheet as .json or .csv")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help="a sheet: .pdf to print, .csv for a spreadsheet, .json or .otio for other programs; with --part a chart: "
        ".svg, .png or .pdf",
    )
    parser.add_argument("--part", default="", metavar="NAME", help="chart this part of the scene instead")
    parser.add_argument("--frames", metavar="A-B", help="chart these frames only")
    parser.add_argument("--paper", default="A4", choices=get_args(Paper), help="the size of printed pages (A4)")
    parser.add_argument("--font", type=Path, metavar="FILE", help="a font file, for names in other scripts than Latin")
    parser.add_argument("--pictures", type=Path, metavar="DIR", help="rendered frames that an .otio file is to name")
    parser.add_argument("--overwrite", action="store_true", help="replace the output if it exists")
    scene_file.add_blender(parser)


def run(args: argparse.Namespace, console: Console) -> int:
    """Read the scene or the sheet, and write what was asked for."""
    from pastepot.timing import sheet_files, sheet_json
    from pastepot.timing.sheet_files import Wish

    _check(args)
    wish = Wish(args.paper, args.font, args.pictures, args.overwrite)
    if args.scene.suffix.lower() in (".json", ".csv"):
        answer: dict[str, Any] = {"shots": []}
        sheet = sheet_files.load(args.scene)
        warnings: list[Problem] = []
    else:
        answer, warnings = _ask_blender(args, console)
        sheet = sheet_json.from_values(answer["sheet"])
    if args.part:
        motion = _motion(answer["motion"], sheet.column(args.part), sheet.first, args.frames)
        warnings += sheet_files.write_chart(motion, sheet, args.output, wish)
        text = f"{args.output}: the charts of {args.part}."
    else:
        from pastepot.film import Shot

        warnings += sheet_files.write(sheet, args.output, [Shot(*shot) for shot in answer["shots"]], wish)
        text = f"{args.output}: {len(sheet.columns)} columns, frames {sheet.first} to {sheet.last}."
    console.problems(warnings)
    console.result(
        {
            "output": str(args.output),
            "columns": [column.name for column in sheet.columns],
            "first": sheet.first,
            "frames": sheet.frames,
            "exposures": len(sheet.exposures()),
            "problems": [p.as_dict() for p in warnings],
        },
        text,
    )
    return 0


def _check(args: argparse.Namespace) -> None:
    """Misuse, before Blender is started, for what cannot go together."""
    from pastepot.output import output_problems
    from pastepot.timing import sheet_files

    problems = output_problems(args.output, args.overwrite)
    if args.output.exists() and args.scene.exists() and args.output.samefile(args.scene):
        problems = [Problem("The output is the input itself.", "Choose another name for it.", str(args.output))]
    if args.part and args.scene.suffix.lower() in (".json", ".csv"):
        what = "A sheet does not know where its parts move."
        problems.append(Problem(what, "Give the scene (.blend) to chart a part."))
    if args.frames and not args.part:
        problems.append(Problem("--frames goes with a chart only.", "Name its part with --part."))
    if not args.part and args.output.suffix.lower() in (".svg", ".png"):
        problems.append(Problem("A chart shows one part.", "Name it with --part."))
    if problems:
        raise Misuse(*problems)
    if args.part:
        sheet_files.suffix(args.output, sheet_files.CHARTS, "A chart")
    else:
        sheet_files.suffix(args.output, sheet_files.SHEETS, "An exposure sheet")


def _ask_blender(args: argparse.Namespace, console: Console) -> tuple[dict[str, Any], list[Problem]]:
    from pastepot.bridge import run_job

    outcome = run_job(
        "sheet",
        {"part": args.part},
        blend=scene_file.existing(args.scene),
        blender=args.blender,
        progress=console.progress,
    )
    return outcome.result, outcome.warnings


def _motion(given: dict[str, Any], column: Any, first: int, frames: str | None) -> Any:
    """The part's movement, on the frames asked for."""
    import numpy as np

    from pastepot.timing.chart_motion import Motion

    smooth, handmade = np.array(given["smooth"]), np.array(given["handmade"])
    motion = Motion(column, first, smooth, handmade, (float(given["reach_mm"][0]), float(given["reach_mm"][1])))
    if not frames:
        return motion
    asked = re.fullmatch(r"(\d+)-(\d+)", frames)
    last = first + smooth.shape[1] - 1
    if not asked or not first <= int(asked[1]) < int(asked[2]) <= last:
        raise Misuse(Problem(f"'{frames}' is no range of the sheet's frames.", f"Write it like {first}-{last}."))
    return motion.within(int(asked[1]), int(asked[2]))
