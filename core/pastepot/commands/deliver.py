"""`pastepot deliver`: rendered pictures and a sound become a film file."""

from __future__ import annotations

import argparse
import math
import re
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.cli import Console
from pastepot.errors import Cancelled

if TYPE_CHECKING:
    from pastepot.render.deliver import Delivered

NAME = "deliver"
SUMMARY = "Join rendered pictures and sound into a film."
EXAMPLE = "pastepot deliver myfilm/renders/pond --sound myfilm/track/pond.wav --fps 24 -o pond.mp4"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("frames", type=Path, metavar="FRAMES_DIR", help="the folder that pastepot render wrote")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILM",
        help="the film: .mp4 H.264, .mov ProRes 422 HQ, .mkv FFV1",
    )
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
    parser.add_argument("--uneven", action="store_true", help="let pictures be on show for unequal numbers of frames")
    parser.add_argument("--wide", choices=("bars", "crop"), help="make narrow pictures 16:9: black bars, or cut")
    parser.add_argument(
        "--loudness", type=_lufs, metavar="LUFS", help="bring the sound to this loudness (-23: EBU R 128)"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace the film if it exists")


def _rate(text: str) -> Fraction:
    if not re.fullmatch(r"[1-9]\d*(/[1-9]\d*)?", text, re.ASCII):
        raise argparse.ArgumentTypeError(f"'{text}' is not an exact rate; write 24 or 24000/1001")
    return Fraction(text)


def _lufs(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not -70 < value < 0:
        raise argparse.ArgumentTypeError(f"'{text}' is no loudness between -70 and 0 LUFS, such as -23")
    return value


def run(args: argparse.Namespace, console: Console) -> int:
    """Write the film and say what is in it; warnings do not change the exit code."""
    from pastepot.render.deliver import Order, deliver
    from pastepot.review.flash import CAUTION

    order = Order(
        frames=args.frames,
        out=args.output,
        sound=args.sound,
        fps=args.fps,
        sound_frame=args.sound_frame,
        overwrite=args.overwrite,
        uneven=args.uneven,
        wide=args.wide,
        loudness=args.loudness,
    )
    try:
        made = deliver(order, console.progress)
    except KeyboardInterrupt:
        raise Cancelled("Stopped. No film was written, and the pictures are as they were.") from None
    console.problems(made.warnings)
    value = {
        "output": str(args.output),
        **made.found,
        "sound_frame": made.sound_frame if args.sound else None,
        "loudness": _heard(made),
        "flash_check": {"passed": made.flashes.passed, "caution": CAUTION},
        "problems": [p.as_dict() for p in made.warnings],
    }
    console.result(value, _text(args.output, made))
    return 0


def _heard(made: Delivered) -> dict[str, float | None] | None:
    """Loudness as plain values; JSON has no infinity, so silence has no peak."""
    if made.loudness is None:
        return None
    peak = made.loudness.peak if math.isfinite(made.loudness.peak) else None
    return {"lufs": made.loudness.lufs, "true_peak": peak, "range": made.loudness.range, "gain": made.gain}


def _text(path: Path, made: Delivered) -> str:
    """What the file holds, in a few lines."""
    from pastepot.review.flash import CAUTION

    found = made.found
    video, sound = found["video"], found["sound"]
    lines = [
        f"{path}: {video['seconds']:.3f} s, {found['bytes'] / 1e6:.1f} MB",
        f"  picture  {video['frames']} frames at {video['rate']} a second, {video['size'][0]} x {video['size'][1]},"
        f" {video['codec']} {video['profile'] or ''} {video['pixels']}",
        f"  colour   primaries {video['primaries']}, transfer {video['transfer']}, matrix {video['matrix']},"
        f" range {video['range']}{'; colr ' + video['colr'] if video['colr'] else ''}",
        f"  keys     {len(video['key_frames'])}, {'closed' if video['closed_gop'] else 'open'} groups"
        + (f"; index {'first' if found['moov_first'] else 'last'}" if found["boxes"] else ""),
    ]
    if sound is None:
        lines.append("  sound    none")
    else:
        lines.append(
            f"  sound    {sound['seconds']:.3f} s, {sound['codec']} {sound['rate']} Hz, {sound['channels']} channels,"
            f" from frame {made.sound_frame}"
        )
    if made.loudness is not None:
        lines.append(f"  loudness {_loudness_text(made)}")
    lines.append(f"  flashes  {'no limit broken' if made.flashes.passed else 'TOO MANY'}. {CAUTION}")
    return "\n".join(lines)


def _loudness_text(made: Delivered) -> str:
    """Loudness in words, before coding."""
    heard = made.loudness
    if heard is None or heard.lufs is None:
        return "silence"
    said = f"{heard.lufs:.1f} LUFS, true peak {heard.peak:.1f} dBTP, range {heard.range:.1f} LU (EBU R 128)"
    return said + (f", {made.gain:+.1f} dB added" if made.gain else "")
