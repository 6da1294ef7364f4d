"""All the dialogue of a film folder: which sounds have which lines, and the readings made of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pastepot.errors import Misuse, PastepotError, Problem
from pastepot.film import Film
from pastepot.library.parts import Library
from pastepot.timing import feel as feels
from pastepot.timing.exposures import Frames, plan
from pastepot.timing.feel import Feel
from pastepot.track import align, given, lay, lines, loudness, pronounce, reading, settings, sound
from pastepot.track.align import Aligned, Recogniser
from pastepot.track.choose import Timed
from pastepot.track.lines import Line
from pastepot.track.pronounce import Speaking
from pastepot.track.reading import LineReading, Reading
from pastepot.track.settings import Settings

Progress = Callable[[int, int, str], None]

_AROUND_S = 0.25  # how far beyond its times a line may be spoken, where no other line is near
_PAUSE_S = 0.6  # a longer silence parts two stretches of speech, where no lines say so
_STRETCH_S = 30.0
_PLAIN_S = 600.0  # the longest sound over which a text without times is laid


@dataclass(frozen=True)
class Track:
    """One sound of the track folder with its lines and somebody else's alignment, if there are any."""

    sound: Path
    lines: Path | None
    given: Path | None


def tracks(folder: Path) -> list[Track]:
    """The sounds in a film's track folder by name. PastepotError if there is none."""
    place = folder / "track"
    files = sorted(place.iterdir()) if place.is_dir() else []
    sounds = [p for p in files if p.suffix.lower() in sound.ENDINGS and not p.name.startswith(".")]
    if not sounds:
        fix = "Put a WAV there, and its lines beside it as an SRT, WebVTT or text file of the same name."
        raise PastepotError(Problem("There is no sound in the folder track/.", fix))
    return [Track(p, _beside(p, lines.ENDINGS), _beside(p, given.ENDINGS)) for p in sounds]


def _beside(path: Path, endings: Sequence[str]) -> Path | None:
    found = (path.with_suffix(ending) for ending in endings)
    return next((p for p in found if p.is_file() and p.name != pronounce.WORD_LIST), None)


def first_frame(film: Film, track: Path) -> int:
    """The frame on which a sound begins: its shot's first, if a shot has its name, else the film's."""
    return next((shot.start for shot in film.shots if shot.name == track.stem), film.first_frame)


@dataclass
class Reader:
    """Reads the tracks of one film.

    character: who speaks in a sound that has no lines; only: the one line to read, '' for all
    """

    film: Film
    library: Library
    progress: Progress
    character: str = ""
    only: str = ""

    def __post_init__(self) -> None:
        place = self.film.folder / "track"
        self.settings: Settings = settings.load(self.film.folder, self.library)
        self._speaking = Speaking(pronounce.own_words(place / pronounce.WORD_LIST))

    def read(self, track: Track) -> tuple[Reading, list[Problem]]:
        """A new reading of one sound, with what was changed by hand in the last, and warnings."""
        old = reading.load(reading.path_of(track.sound))
        heard = sound.Measured()
        spoken = self._lines(track)
        wanted = [x for x in spoken if not self.only or x.id == self.only]
        made = list(self._read_lines(track, spoken, wanted, heard))
        if self.only and old is not None:
            fresh = {x.id: x for x in made}
            made = [fresh.get(x.id, x) for x in old.lines]
        name = track.sound.relative_to(self.film.folder).as_posix()
        seconds = heard.seconds if heard.samples else (old.seconds if old else 0.0)
        whole = Reading(name, seconds, self.film.fps, first_frame(self.film, track.sound), tuple(made)).keeping(old)
        laid = replace(whole, lines=tuple(self._laid(whole)))
        return laid, [p for x in laid.lines if not self.only or x.id == self.only for p in self._warnings(track, x)]

    # ── lines ──

    def _lines(self, track: Track) -> list[Line]:
        if track.lines is None:
            return self._stretches(track)
        found = list(lines.read(track.lines))
        if track.lines.suffix == ".txt":
            found = self._placed(track, found)
        return found

    def _stretches(self, track: Track) -> list[Line]:
        """Where somebody speaks in a sound without lines, by loudness."""
        if not self.character:
            raise PastepotError(
                Problem(
                    "This sound has no lines.",
                    f"Write them in {track.sound.stem}.srt, or read it by its loudness alone with --character NAME.",
                    f"track/{track.sound.name}",
                )
            )
        level = np.concatenate([loudness.levels(block) for block in sound.blocks(track.sound)])
        edges = np.flatnonzero(np.diff(np.concatenate([[0], loudness.loud(level).astype(int), [0]]))).reshape(-1, 2)
        spans: list[list[float]] = []
        for a, b in (edges * loudness.STEP_S).tolist():
            if spans and a - spans[-1][1] < _PAUSE_S and b - spans[-1][0] < _STRETCH_S:
                spans[-1][1] = b
            else:
                spans.append([a, b])
        parts = [(a + k, min(a + k + _STRETCH_S, b)) for a, b in spans for k in np.arange(0, b - a, _STRETCH_S)]
        return [
            Line(f"{track.sound.stem}-{n}", self.character, "", float(a), float(b)) for n, (a, b) in enumerate(parts, 1)
        ]

    def _placed(self, track: Track, found: list[Line]) -> list[Line]:
        """A text without times: its words are laid over the whole sound, and each line begins where its first does."""
        assert track.lines is not None
        words = [self._speaking.words(line.text) for line in found]
        samples = next(sound.pieces(track.sound, [(0.0, _PLAIN_S + 1)])).samples
        too_long = len(samples) > _PLAIN_S * sound.RATE
        with Recogniser() as recogniser:
            answer = None if too_long else recogniser.ask([w for line in words for w in line], samples, rough=True)
        if answer is None or answer["words"] is None:
            what = "is too long for a text without times" if too_long else "does not fit its text"
            raise PastepotError(
                Problem(
                    f"The sound {what}.", "Write the lines with times, as SRT or WebVTT.", f"track/{track.lines.name}"
                )
            )
        placed, at = [], 0
        for line, own in zip(found, words, strict=True):
            spans = answer["words"][at : at + len(own)]
            at += len(own)
            start, end = spans[0][0] * loudness.STEP_S, spans[-1][1] * loudness.STEP_S
            placed.append(replace(line, start=round(start, 2), end=round(max(end, start + 0.1), 2)))
        return placed

    # ── sounds ──

    def _read_lines(
        self, track: Track, spoken: Sequence[Line], wanted: Sequence[Line], heard: sound.Measured
    ) -> Iterator[LineReading]:
        outside = given.read(track.given) if track.given else ()
        spans = [_span(line, spoken) for line in wanted]
        found: dict[int, LineReading] = {}
        with Recogniser() if not outside and any(x.text for x in wanted) else _Nobody() as recogniser:
            for number, piece in enumerate(sound.pieces(track.sound, spans, heard)):
                self.progress(number, len(wanted), f"reading {track.sound.name}")
                line = wanted[piece.span]
                assert line.start is not None
                assert line.end is not None
                own = (line.start, line.end)
                if outside:
                    aligned = _given(outside, own)
                elif len(piece.samples) == 0:
                    aligned = Aligned("silent", remarks=("The sound ends before this line.",))
                else:
                    words = self._speaking.words(line.text)
                    aligned = align.align(recogniser, words, piece.samples, piece.start, own)  # type: ignore[arg-type]
                found[piece.span] = self._line_reading(line, aligned)
        self.progress(len(wanted), len(wanted), f"reading {track.sound.name}")
        yield from (found[n] for n in range(len(wanted)))

    def _line_reading(self, line: Line, aligned: Aligned) -> LineReading:
        assert line.start is not None
        assert line.end is not None
        return LineReading(
            line.id,
            line.speaker,
            line.text,
            line.start,
            line.end,
            aligned.how,
            self.settings.character(line.speaker, self.library),
            aligned.words,
            aligned.sounds,
            aligned.rough,
            aligned.remarks,
        )

    # ── mouths ──

    def _laid(self, whole: Reading) -> Iterator[LineReading]:
        """Every line with its mouths, on the exposures of the film's plain plan."""
        starts, last = exposures(self.film)
        for line in whole.lines:
            made = {}
            for mouths in self.settings.mouths(self.library, line.character, line.id) if line.character else ():
                chosen = lay.lay([line], mouths, starts, last, whole.fps, whole.first, self.settings.lead_s)
                changes = lay.changes(chosen, starts, mouths)
                if any(name != mouths.mouths[mouths.rest].name for name in changes.values()):
                    made[mouths.name] = {f: m for f, m in changes.items() if f != starts[0] or len(changes) == 1}
            yield replace(line, mouths=made)

    def _warnings(self, track: Track, line: LineReading) -> Iterator[Problem]:
        file = f"track/{(track.lines or track.sound).name}"

        def warning(what: str, fix: str) -> Problem:
            return Problem(what, fix, file, part=line.id, severity="warning")

        for remark in line.remarks:
            yield warning(remark, "Correct the text or its times, or leave it: the mouth then follows the loudness.")
        if not line.character:
            fix = (
                f"Name them so in the lines, or say who they are in track/{settings.FILE}: [speaker] {line.speaker} = …"
            )
            yield warning(f"No character is called {line.speaker}.", fix)
        elif not self.settings.mouths(self.library, line.character):
            fix = "Describe at least two mouths of one replacement set with [part.mouth] in parts.toml."
            yield warning(f"The character {line.character} has no mouths to speak with.", fix)


class _Nobody:
    """Stands in for the recogniser where none is needed."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, *_: object) -> None:
        return None


def _span(line: Line, others: Sequence[Line]) -> tuple[float, float]:
    """A line's times, a little wider where no other line is near."""
    assert line.start is not None
    assert line.end is not None
    begin, end = line.start - _AROUND_S, line.end + _AROUND_S
    for other in others:
        if other is not line and other.start is not None and other.end is not None:
            if other.end <= line.start:
                begin = max(begin, (other.end + line.start) / 2)
            if other.start >= line.end:
                end = min(end, (other.start + line.end) / 2)
    return max(begin, 0.0), end


def _given(outside: Sequence[Timed], own: tuple[float, float]) -> Aligned:
    """Those sounds of an alignment whose middle lies in the line."""
    inside = tuple(s for s in outside if own[0] <= (s.start + s.end) / 2 < own[1])
    remarks = () if inside else ("The alignment has no sounds here.",)
    return Aligned("given" if inside else "silent", sounds=inside, remarks=remarks)


def exposures(film: Film) -> tuple[Frames, int]:
    """The exposures of the film by its feel alone, before anything is keyed: their starts, and the last frame."""
    feel = feels.load(film.folder / film.feel) if film.feel else Feel()
    if not film.shots:
        raise Misuse(Problem("The film has no shots yet.", "Add a [[shot]] with its frames to film.toml.", "film.toml"))
    pattern = feel.pattern_at(film.fps)
    starts = np.concatenate([plan(shot.start, shot.end, pattern) for shot in film.shots])
    return np.unique(starts), max(shot.end for shot in film.shots)
