"""Whether a film flashes more than photosensitive people can bear: the limits of WCAG 2.2 and of ITU-R BT.1702.

More than three flashes, which are seven swings, within any one second fail where the area is large enough:

general  W3C WCAG 2.2, relative luminance, a quarter of any ten degrees (21,824 of 341 x 256 pixels at 1024 x 768)
red      the same for swings to and from a saturated red
screen   ITU-R BT.1702, 20 cd/m2 on a screen of 200, a quarter of the picture
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np

from pastepot import extras
from pastepot.errors import PastepotError, Problem
from pastepot.review import swings
from pastepot.review.cells import SIDE, Cells, cells
from pastepot.review.windows import Windows

Rule = Literal["general", "red", "screen"]
RULES: tuple[Rule, ...] = ("general", "red", "screen")
TOO_MANY = 7
"""Swings in one second: more than three pairs."""
WHAT: dict[Rule, str] = {
    "general": "light flashes (WCAG 2.2)",
    "red": "red flashes (WCAG 2.2)",
    "screen": "light flashes (ITU-R BT.1702)",
}
CAUTION = "This check is an aid and no certificate: it can't say that nobody will be harmed."

_WINDOW = (256 / SIDE, 341 / SIDE)
_QUARTER = 341 * 256 / 4 / SIDE**2
_HDR = {16: "PQ", 18: "HLG"}  # transfers of ITU-T H.273

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Finding:
    """A passage with too many swings.

    start, end: s in the film; swings: the most in one second; box: left, top, width and height of the place that has
    them, as shares of the picture
    """

    rule: Rule
    start: float
    end: float
    swings: int
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Report:
    """What was found. times: s of every frame; counts: for each rule the most swings in the second up to it."""

    fps: Fraction
    times: tuple[float, ...]
    counts: dict[Rule, tuple[int, ...]]
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """Whether no limit is broken."""
        return not self.findings

    def most(self, rule: Rule) -> int:
        """The most swings in any one second."""
        return max(self.counts[rule], default=0)


class FlashCheck:
    """Takes a film's pictures in one by one."""

    def __init__(self, fps: Fraction) -> None:
        self._fps = fps
        self._times: list[float] = []
        self._counts: dict[Rule, list[int]] = {rule: [] for rule in RULES}
        self._findings: dict[Rule, list[Finding]] = {rule: [] for rule in RULES}
        self._swings: dict[Rule, Any] = {}
        self._windows: dict[Rule, Windows] = {}
        self._shape = (0, 0)
        self._seen: Cells | None = None

    def add(self, seen: Cells, time: float) -> None:
        """The next picture, shown from `time` (s) on; one that is held may be given again as the same object."""
        held, self._seen = seen is self._seen, seen
        values = {} if held else {"general": swings.luminance(seen.rgb), "red": seen.rgb, "screen": seen.nits}
        if not self._times:
            self._begin(seen, values)
        self._times.append(time)
        for rule in RULES:
            if len(self._times) == 1:
                self._counts[rule].append(0)
                continue
            fell, rose = (self._still, self._still) if held else self._swings[rule].step(values[rule])
            count = self._windows[rule].add(time, fell, rose)
            self._counts[rule].append(count)
            if count >= TOO_MANY and self._windows[rule].swung_at(time):
                self._found(rule, time, count, fell | rose)

    def report(self) -> Report:
        """What was found so far."""
        counts = {rule: tuple(counts) for rule, counts in self._counts.items()}
        found = sorted((f for of_rule in self._findings.values() for f in of_rule), key=lambda f: (f.start, f.rule))
        return Report(self._fps, tuple(self._times), counts, tuple(found))

    def _begin(self, seen: Cells, values: dict[str, Any]) -> None:
        self._shape = (seen.nits.shape[0], seen.nits.shape[1])
        self._still = np.zeros(self._shape, np.bool_)
        self._swings = {
            "general": swings.LightSwings(values["general"], swings.general),
            "red": swings.RedSwings(values["red"]),
            "screen": swings.LightSwings(values["screen"], swings.broadcast),
        }
        window = (round(_WINDOW[0]), round(_WINDOW[1]))
        whole = self._shape[0] * self._shape[1]
        self._windows = {
            "general": Windows(self._shape, window, _QUARTER),
            "red": Windows(self._shape, window, _QUARTER),
            "screen": Windows(self._shape, self._shape, whole / 4),
        }

    def _found(self, rule: Rule, time: float, count: int, swung: swings.Mask) -> None:
        """Note it, as part of the passage before if that is still on."""
        (row, column, height, width), start = self._windows[rule].busiest(time, swung)
        rows, columns = self._shape
        box = (column / columns, row / rows, width / columns, height / rows)
        passages = self._findings[rule]
        if passages and start <= passages[-1].end:
            last = passages.pop()
            start = min(start, last.start)
            if last.swings >= count:
                count, box = last.swings, last.box
        passages.append(Finding(rule, start, time, count, box))


def check(path: Path, progress: Progress = lambda done, total, text: None, *, every_pixel: bool = False) -> Report:
    """Check a film file. Raises PastepotError if it can't be read or is HDR, MissingExtra without PyAV."""
    av = extras.load("av", "film", "Checking a film for flashes")
    try:
        with av.open(str(path.resolve())) as film:
            if not film.streams.video:
                raise PastepotError(Problem("There are no pictures in this file.", "Name a film.", str(path)))
            return _checked(film, path, progress, every_pixel)
    except FileNotFoundError:
        raise PastepotError(Problem("The film is missing.", "Correct its path.", str(path))) from None
    except (av.FFmpegError, OSError) as error:
        said = f"The film can't be read ({error.strerror or error})."
        raise PastepotError(Problem(said, "Deliver it again, or name another.", str(path))) from error


def _checked(film: Any, path: Path, progress: Progress, every_pixel: bool) -> Report:
    stream = film.streams.video[0]
    stream.thread_type = "AUTO"
    transfer = int(stream.codec_context.color_trc)
    if transfer in _HDR:
        said = f"The film is HDR ({_HDR[transfer]}), and only what ordinary screens show is measured here."
        raise PastepotError(Problem(said, "Check a version of it in BT.709.", str(path)))
    fps = Fraction(stream.average_rate or stream.base_rate or 24)
    total, done = int(stream.frames), FlashCheck(fps)
    for number, frame in enumerate(film.decode(stream)):
        time = float(frame.pts * frame.time_base) if frame.pts is not None else float(number / fps)
        done.add(cells(frame, every_pixel=every_pixel), time)
        progress(number + 1, max(total, number + 1), "Looking for flashes")
    report = done.report()
    if not report.times:
        raise PastepotError(Problem("There are no pictures in this file.", "Name a film.", str(path)))
    return report


def advice(fps: Fraction) -> tuple[str, ...]:
    """What can be changed, the likeliest first."""
    hold = math.ceil(fps / 6)
    return (
        "Lower 'flicker_stops' in the film's feel, or set it to 0, if the light of the whole picture changes.",
        f"Hold each of the pictures that differ for {hold} frames or more at {fps} a second: six changes a second "
        "are the most that pass.",
        "Let fewer of them differ, make the part that changes smaller, or bring its light and dark closer together.",
        "A red that comes and goes counts however bright it is: mix it with white or grey.",
    )


def problems_of(report: Report) -> list[Problem]:
    """A warning for each passage in which the film breaks a limit."""
    return [
        Problem(
            f"From {clock(f.start)} to {clock(f.end)} the {WHAT[f.rule]} {place(f.box)}: {f.swings} swings in one "
            f"second, where {TOO_MANY} are too many. It can set off seizures in photosensitive people.",
            " ".join(advice(report.fps)),
            severity="warning",
        )
        for f in report.findings
    ]


def clock(seconds: float) -> str:
    """Minutes, seconds and hundredths, rounded down: '1:02.50'."""
    whole = math.floor(seconds * 100 + 1e-6)
    return f"{whole // 6000}:{whole // 100 % 60:02}.{whole % 100:02}"


def place(box: tuple[float, float, float, float]) -> str:
    """Where a box is, in words."""
    if box[2] * box[3] > 0.9:
        return "all over the picture"
    across, down = box[0] + box[2] / 2, box[1] + box[3] / 2
    column = "left" if across < 0.4 else "right" if across > 0.6 else ""
    row = "top" if down < 0.4 else "bottom" if down > 0.6 else ""
    return f"at the {row} {column}".replace("  ", " ").strip() if row or column else "in the middle"
