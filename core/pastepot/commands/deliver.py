"""`pastepot deliver`: rendered pictures and a sound become a film file."""

from __future__ import annotations

import argparse
import re
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.cli import Console
from pastepot.errors import Cancelled

if TYPE_CHECKING:
    from pastepot.render.deliver import Delivered

NAME = "deliver"
SUMMARY = "Join rendered pictures and sound into an MP4."
EXAMPLE = "pastepot deliver myfilm/renders/pond --sound myfilm/track/pond.wav --fps 24 -o pond.mp4"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("frames", type=Path, metavar="FRAMES_DIR", help="the folder that pastepot render wrote")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILM.mp4", help="the film to write")
    parser.add_argument("--sound", type=Path, metavar="WAV", help="the sound; without this the film is silent")
    parser.add_argument(
        "--sound-frame",
        type=int,
        metavar="N",
        help="the frame on which the sound begins (default: the first picture's)",
    )
    parser.add_argument(
        "--fps",
        type=_rate,
        metavar="RATE",
        help="a multiple of the film's rate: 24, 24000/1001 (default: the film's own)",
    )
    parser.add_argument("--overwrite", action="store_true", help="replace the film if it exists")


def _rate(text: str) -> Fraction:
    if not re.fullmatch(r"[1-9]\d*(/[1-9]\d*)?", text, re.ASCII):
        raise argparse.ArgumentTypeError(f"'{text}' is not an exact rate; write 24 or 24000/1001")
    return Fraction(text)


def run(args: argparse.Namespace, console: Console) -> int:
    """Write the film and say what is in it; warnings do not change the exit code."""
    from pastepot.render.deliver import Order, deliver
    from pastepot.review.flash import CAUTION

    order = Order(args.frames, args.output, args.sound, args.fps, args.sound_frame, args.overwrite)
    try:
        made = deliver(order, console.progress)
    except KeyboardInterrupt:
        raise Cancelled("Stopped. No film was written, and the pictures are as they were.") from None
    console.problems(made.warnings)
    value = {
        "output": str(args.output),
        **made.found,
        "sound_frame": made.sound_frame if args.sound else None,
        "flash_check": {"passed": made.flashes.passed, "caution": CAUTION},
        "problems": [p.as_dict() for p in made.warnings],
    }
    console.result(value, _text(args.output, made))
    return 0


def _text(path: Path, made: Delivered) -> str:
    """What the file holds, in a few lines."""
    from pastepot.review.flash import CAUTION

    found = made.found
    video, sound = found["video"], found["sound"]
    lines = [
        f"{path}: {video['seconds']:.3f} s, {found['bytes'] / 1e6:.1f} MB",
        f"  picture  {video['frames']} frames at {video['rate']} a second, {video['size'][0]} x {video['size'][1]},"
        f" H.264 {video['profile']} {video['pixels']}",
        f"  colour   primaries {video['primaries']}, transfer {video['transfer']}, matrix {video['matrix']},"
        f" range {video['range']} (BT.709, limited); colr {video['colr']}",
        f"  keys     {len(video['key_frames'])}, {'closed' if video['closed_gop'] else 'open'} groups;"
        f" index {'first' if found['moov_first'] else 'last'}",
    ]
    if sound is None:
        lines.append("  sound    none")
    else:
        lines.append(
            f"  sound    {sound['seconds']:.3f} s, AAC {sound['rate']} Hz, {sound['channels']} channels,"
            f" from frame {made.sound_frame}"
        )
    lines.append(f"  flashes  {'no limit broken' if made.flashes.passed else 'TOO MANY'}. {CAUTION}")
    return "\n".join(lines)
