"""`pastepot flash`: whether a film flashes more than photosensitive people can bear."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from pastepot.cli import Console
from pastepot.errors import raise_if_any

NAME = "flash"
SUMMARY = "Check a film for flashes that can harm people."
EXAMPLE = "pastepot flash pond.mp4 --plot pond-flash.svg"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("film", type=Path, metavar="FILM", help="any film that FFmpeg's libraries read")
    parser.add_argument("--plot", type=Path, metavar="FILE.svg|.png", help="draw how often the light swings")
    parser.add_argument(
        "--every-pixel", action="store_true", help="measure the film's own pixels, not the standard's 1024: slow"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace the drawing if it exists")


def run(args: argparse.Namespace, console: Console) -> int:
    """Exit code 1 where a limit is broken."""
    from pastepot.output import output_problems, replacing
    from pastepot.review.flash import CAUTION, advice, check
    from pastepot.review.flash_chart import save

    if args.plot is not None:
        raise_if_any(_plot_problems(args.plot, args.film) or output_problems(args.plot, args.overwrite))
    report = check(args.film, console.progress, every_pixel=args.every_pixel)
    if args.plot is not None:
        with replacing(args.plot, overwrite=args.overwrite) as draft:
            save(report, args.film.name, draft)
    value = {"film": str(args.film), **as_dict(report), "caution": CAUTION}
    value["advice"] = [] if report.passed else list(advice(report.fps))
    console.result(value, text(report, str(args.film)))
    return 0 if report.passed else 1


def _plot_problems(plot: Path, film: Path) -> list[Any]:
    from pastepot.errors import Problem

    if plot.suffix.lower() not in (".svg", ".png"):
        return [Problem(f"The drawing can't be called '{plot.name}'.", "End its name with .svg or .png.")]
    return [Problem(f"{plot} is the film.", "Choose another name.")] if plot.resolve() == film.resolve() else []


def as_dict(report: Any) -> dict[str, Any]:
    """The report as plain values, without the counts of every frame."""
    from dataclasses import asdict

    from pastepot.review.flash import RULES, TOO_MANY

    return {
        "passed": report.passed,
        "fps": str(report.fps),
        "frames": len(report.times),
        "too_many": TOO_MANY,
        "most_swings_in_one_second": {rule: report.most(rule) for rule in RULES},
        "findings": [asdict(finding) for finding in report.findings],
    }


def text(report: Any, film: str) -> str:
    """The report in a few lines."""
    from pastepot.review.flash import CAUTION, RULES, TOO_MANY, advice
    from pastepot.review.flash_chart import NAMES, headline

    verdict = "no limit is broken" if report.passed else "TOO MANY FLASHES"
    lines = [f"{film}: {verdict} ({len(report.times)} frames at {report.fps} a second)"]
    lines += [
        f"  {NAMES[rule]}: at most {report.most(rule)} swings in one second; {TOO_MANY} are too many" for rule in RULES
    ]
    lines += [f"  ! {headline(finding)}: {finding.swings} swings in one second" for finding in report.findings]
    if not report.passed:
        lines += ["What can be changed:", *(f"  - {line}" for line in advice(report.fps))]
    return "\n".join([*lines, CAUTION])
