"""`pastepot measure`: when a film's new pictures were taken, how its frame and light wandered, as a feel."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.cli import Console
from pastepot.errors import Cancelled, Misuse, Problem

if TYPE_CHECKING:
    from pastepot.reference.feeling import Frame
    from pastepot.reference.frame import Figure
    from pastepot.reference.measure import Measured
    from pastepot.timing.feel import Feel

NAME = "measure"
SUMMARY = "Measure a film that is to be matched: exposures, weave and flicker, as a feel."
EXAMPLE = "pastepot measure old-pond.mp4 -o myfilm/reference/pond.feel.toml --sheet myfilm/reference/pond.csv"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("clip", type=Path, metavar="CLIP", help="the film, in any format that FFmpeg's libraries read")
    parser.add_argument("-o", "--output", type=Path, metavar="F.feel.toml", help="the feel to write")
    parser.add_argument(
        "--sheet", type=Path, metavar="FILE", help="an exposure sheet to write: .csv, .json, .otio, .pdf"
    )
    parser.add_argument("--base", type=Path, metavar="FEEL", help="a feel from which to take what is not measured")
    parser.add_argument(
        "--width-mm", type=float, default=320.0, help="paper across the picture, in mm (default: %(default)g)"
    )
    parser.add_argument(
        "--lines",
        choices=("auto", "all", "every-other"),
        default="auto",
        help="every-other: for pictures woven of two moments, line by line; auto: if the film's beginning shows them",
    )
    parser.add_argument(
        "--cuts", metavar="N,N", help="pictures on which shots begin, counted from 0, instead of those found"
    )
    parser.add_argument("--shots", type=Path, metavar="LIST.csv", help="the list of pastepot shots, as you left it")
    parser.add_argument("--overwrite", action="store_true", help="replace files that exist")


def run(args: argparse.Namespace, console: Console) -> int:
    """Measure, write what was asked for, and tell it in a few lines; warnings do not change the exit code."""
    from pastepot.reference import feeling, measure, shotlist, told
    from pastepot.timing import feel, sheet_files

    _check(args)
    base = feel.load(args.base) if args.base else feel.Feel()
    begins = shotlist.firsts(args.shots) if args.shots else _cuts(args.cuts)
    one_field = {"auto": None, "all": False, "every-other": True}[args.lines]
    try:
        measured = measure.measure(args.clip, one_field=one_field, cuts=begins, progress=console.progress)
    except KeyboardInterrupt:
        raise Cancelled("Stopped. Nothing was written.") from None
    made, warnings = feeling.feel_of(measured, base, args.width_mm)
    if measured.damaged:
        what = f"{measured.damaged} places in the film could not be decoded and were left out."
        warnings.insert(0, Problem(what, "Find a better copy, or check the exposures there.", severity="warning"))
    if len(measured.times) < 0.9 * measured.look.expected:
        what = f"The file announces {measured.look.expected} pictures; {len(measured.times)} could be read."
        warnings.insert(0, Problem(what, "Find a better copy if the film is longer.", severity="warning"))
    if args.output:
        feel.save(made, args.output, overwrite=args.overwrite)
    if args.sheet:
        sheet, shots = told.sheet(measured, args.clip.stem)
        warnings += sheet_files.write(sheet, args.sheet, shots, sheet_files.Wish(overwrite=args.overwrite))
    console.problems(warnings)
    value = {
        "output": str(args.output) if args.output else None,
        "sheet": str(args.sheet) if args.sheet else None,
        **told.as_dict(measured),
        "odds": list(feeling.odds(measured)),
        "problems": [p.as_dict() for p in warnings],
    }
    console.result(value, _text(args.clip, measured, made, feeling.frame(measured, args.width_mm)))
    return 0


def _check(args: argparse.Namespace) -> None:
    """Misuse, before the film is read, for what cannot be written."""
    from pastepot.output import output_problems
    from pastepot.timing import feel, sheet_files

    problems = [p for path in (args.output, args.sheet) if path for p in output_problems(path, args.overwrite)]
    if args.output and not args.output.name.endswith(feel.SUFFIX):
        problems.append(
            Problem(f"A feel can't be written as '{args.output.name}'.", f"End its name with {feel.SUFFIX}.")
        )
    if any(p and p.exists() and args.clip.exists() and p.samefile(args.clip) for p in (args.output, args.sheet)):
        problems.append(Problem("The output is the film itself.", "Choose another name for it.", str(args.clip)))
    if not 10 <= args.width_mm <= 10_000:
        problems.append(Problem(f"A width of {args.width_mm:g} mm makes no sense.", "Give 10 to 10000."))
    if args.shots and args.cuts is not None:
        problems.append(Problem("--shots and --cuts both say where shots begin.", "Give one of them."))
    if problems:
        raise Misuse(*problems)
    if args.sheet:
        sheet_files.suffix(args.sheet, sheet_files.SHEETS, "An exposure sheet")


def _cuts(text: str | None) -> list[int] | None:
    if text is None:
        return None
    try:
        return sorted({int(word) for word in text.split(",") if word.strip()})
    except ValueError:
        raise Misuse(Problem(f"'{text}' are no pictures.", "Give whole numbers: 120,311")) from None


def _text(clip: Path, measured: Measured, made: Feel, figures: Frame) -> str:
    seen = measured.look
    content = "can't tell" if measured.content is None else f"{float(measured.content[0]):g} a second"
    shots, count = len(measured.shots), len(measured.starts)
    sure = sum(shot.sure * len(shot.new) for shot in measured.shots) / len(measured.times)
    across, down = seen.size
    box = seen.box
    lengths = f"odds {list(made.odds)}" if made.odds else f"pattern {list(made.pattern)}"
    lines = [
        f"{clip}: {len(measured.times)} pictures at {seen.rate} a second, {across} x {down}"
        + (", every other line read" if seen.field else ""),
        f"  picture    columns {box.left} to {box.right - 1}, lines {box.top} to {box.bottom - 1}",
        f"  shots      {shots}; begin on pictures {', '.join(str(s.first) for s in measured.shots[:12])}"
        + (" ..." if shots > 12 else ""),
        f"  exposures  {count}, sure of {sure:.1%} of the pictures; different pictures: {content}",
        f"  lengths    {lengths}, frames at 12 a second",
        f"  weave      {_figure(figures.weave_mm, 'mm')}; turn {_figure(figures.weave_deg, 'degrees')}",
        f"  flicker    {_figure(figures.flicker_stops, 'stops')}",
        "  hands      not measured",
    ]
    return "\n".join(lines)


def _figure(figure: Figure, unit: str) -> str:
    if not figure.tells:
        return "can't tell"
    return f"{figure.value:.3g} {unit} (floor {figure.floor:.2g})"
