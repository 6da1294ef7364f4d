"""Exposure sheets as OpenTimelineIO, for editing programs: a clip for each shot, a marker for each exposure."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from pastepot.errors import MissingExtra, Misuse, PastepotError, Problem, raise_if_any
from pastepot.film import Shot
from pastepot.output import output_problems, replacing
from pastepot.timing.sheet import Sheet, checked

_FRAMES = "frames.json"
_DIGITS = 4


@dataclass(frozen=True)
class Pictures:
    """A folder of rendered frames, as its frames.json lists them: every frame from first to last has a file."""

    folder: Path
    first: int
    last: int


def pictures(folder: Path, fps: Fraction) -> Pictures:
    """The rendered frames in a folder. PastepotError if it is not a finished render at this rate."""
    try:
        listed = json.loads((folder / _FRAMES).read_bytes())
        rate, first, last = Fraction(listed["fps"]), int(listed["first"]), int(listed["last"])
        gaps = [f for f in range(first, last + 1) if str(f) not in listed["frames"]]
    except OSError:
        fix = "Render first: pastepot render FILE.blend -o DIR"
        raise Misuse(Problem(f"There is no {_FRAMES} in {folder}.", fix)) from None
    except (ValueError, KeyError, TypeError, ZeroDivisionError):
        raise PastepotError(Problem(f"{_FRAMES} makes no sense.", "Render again.", str(folder / _FRAMES))) from None
    if rate != fps:
        what = f"The pictures are at {rate} frames a second, the sheet at {fps}."
        raise PastepotError(Problem(what, "Render again.", str(folder)))
    if gaps:
        what = f"The pictures leave out frame {gaps[0]}" + (f" and {len(gaps) - 1} more." if gaps[1:] else ".")
        raise PastepotError(Problem(what, "Render the whole range.", str(folder)))
    return Pictures(folder.resolve(), first, last)


def write(
    sheet: Sheet, path: Path, shots: Sequence[Shot] = (), shown: Pictures | None = None, overwrite: bool = False
) -> None:
    """Write an .otio file. MissingExtra without OpenTimelineIO; PastepotError if the place is none or taken."""
    text = to_otio(sheet, shots, shown)
    raise_if_any(output_problems(path, overwrite))
    with replacing(path, overwrite=overwrite) as draft:
        draft.write_bytes(text.encode())


def to_otio(sheet: Sheet, shots: Sequence[Shot] = (), shown: Pictures | None = None) -> str:
    """The sheet as the text of an .otio file; without shots it is one clip.

    Clips are in the sheet's own frame numbers. Frames between two shots become gaps.
    """
    try:
        import opentimelineio as otio
    except ImportError as error:
        raise MissingExtra("edit", "opentimelineio", "An .otio file") from error
    checked(sheet)
    return str(_Editor(otio, sheet, shown).timeline(_runs(sheet, shots)).to_json_string() + "\n")


def _runs(sheet: Sheet, shots: Sequence[Shot]) -> Iterator[Shot]:
    """The shots as far as the sheet covers them, and the gaps between them, nameless, in order."""
    inside = [s for s in shots if s.end >= sheet.first and s.start <= sheet.last]
    at = sheet.first
    for shot in sorted(inside, key=lambda s: s.start) or [Shot(sheet.title, sheet.first, sheet.last)]:
        start, end = max(shot.start, at), min(shot.end, sheet.last)
        if start > at:
            yield Shot("", at, start - 1)
        if end >= start:
            yield Shot(shot.name, start, end)
            at = end + 1
    if at <= sheet.last:
        yield Shot("", at, sheet.last)


class _Editor:
    """Builds the timeline; `otio` is the library, which is there by now."""

    def __init__(self, otio: Any, sheet: Sheet, shown: Pictures | None) -> None:
        self._otio, self._sheet, self._shown = otio, sheet, shown
        self._rate = float(sheet.fps)
        self._begins: dict[int, dict[str, str]] = {}  # frame -> what begins on it: column -> label, * for an extreme
        for column in sheet.columns:
            for cell in column.cells if column.kind != "dialogue" else ():
                self._begins.setdefault(cell.start, {})[column.name] = cell.label + "*" * cell.extreme

    def timeline(self, runs: Iterator[Shot]) -> Any:
        schema, sheet = self._otio.schema, self._sheet
        track = schema.Track(name="picture", kind=schema.TrackKind.Video)
        for run in runs:
            track.append(self._clip(run) if run.name else schema.Gap(source_range=self._range(run.start, run.end)))
        made = schema.Timeline(name=sheet.title, global_start_time=self._time(sheet.first))
        made.metadata["pastepot"] = {"fps": str(sheet.fps)}  # exact, where a rate is a rounded number
        made.tracks.append(track)
        return made

    def _clip(self, shot: Shot) -> Any:
        clip = self._otio.schema.Clip(
            name=shot.name,
            media_reference=self._media(),
            source_range=self._range(shot.start, shot.end),
        )
        clip.markers.extend(self._exposures(shot))
        clip.markers.extend(self._dialogue(shot))
        return clip

    def _media(self) -> Any:
        if self._shown is None:
            return self._otio.schema.MissingReference()
        return self._otio.schema.ImageSequenceReference(
            target_url_base=self._shown.folder.as_uri() + "/",
            name_prefix="frame_",
            name_suffix=".png",
            start_frame=self._shown.first,
            frame_step=1,
            rate=self._rate,
            frame_zero_padding=_DIGITS,
            available_range=self._range(self._shown.first, self._shown.last),
        )

    def _exposures(self, shot: Shot) -> Iterator[Any]:
        """One marker for each exposure, with what changes in it."""
        starts = sorted({shot.start, *(f for f in self._sheet.exposures() if shot.start < f <= shot.end)})
        for number, (start, following) in enumerate(zip(starts, [*starts[1:], shot.end + 1], strict=True), 1):
            yield self._marker(
                f"exposure {number}", start, following - 1, "GREEN", {"shows": self._begins.get(start, {})}
            )

    def _dialogue(self, shot: Shot) -> Iterator[Any]:
        for column in self._sheet.columns:
            for cell in column.cells if column.kind == "dialogue" else ():
                if cell.label and cell.last >= shot.start and cell.start <= shot.end:
                    start, end = max(cell.start, shot.start), min(cell.last, shot.end)
                    yield self._marker(cell.label, start, end, "YELLOW", {"dialogue": column.name})

    def _marker(self, name: str, first: int, last: int, colour: str, about: dict[str, Any]) -> Any:
        marked = self._range(first, last)
        return self._otio.schema.Marker(name=name, marked_range=marked, color=colour, metadata={"pastepot": about})

    def _range(self, first: int, last: int) -> Any:
        return self._otio.opentime.TimeRange(self._time(first), self._time(last + 1 - first))

    def _time(self, frames: int) -> Any:
        return self._otio.opentime.RationalTime(frames, self._rate)
