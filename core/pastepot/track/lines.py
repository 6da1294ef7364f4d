"""The lines of a track: who says what, and when. SRT, WebVTT, or plain text with a speaker before each line."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pastepot.errors import MissingExtra, PastepotError, Problem, raise_if_any
from pastepot.naming import printable

ENDINGS = (".srt", ".vtt", ".txt")
"""The kinds of file, the first that is there counts."""

_SPEAKER = re.compile(r"\s*(?P<name>[^\W\d_][\w .'&/-]{0,39}?)\s*:\s*(?P<text>.*)", re.DOTALL)
_TAG = re.compile(r"</?[a-zA-Z][^>]*>|\{\\[^}]*\}")
_ASIDE = re.compile(r"\[[^\]]*\]|\([^)]*\)|[♪♫]+")


@dataclass(frozen=True)
class Line:
    """One line of dialogue.

    id:    the file's name and the line's number, 'waiting-2'; start, end: seconds, None in plain text
    text:  what is spoken, row: 1-based row of the file
    """

    id: str
    speaker: str
    text: str
    start: float | None = None
    end: float | None = None
    row: int = 0


def read(path: Path) -> tuple[Line, ...]:
    """The lines of a file by its ending. PastepotError with every problem found.

    Lines may overlap. A line without a speaker goes on with the speaker before it.
    """
    text = _text(path)
    readers = {".srt": _srt, ".vtt": _webvtt, ".txt": _plain}
    found, problems = readers[path.suffix.lower()](text, path)
    raise_if_any(problems)
    spoken = [line for line in found if re.search(r"\w", line.text)]
    if not spoken:
        raise PastepotError(
            Problem("There is no line in it.", "Write what is spoken, as in 'SNAIL: No hurry.'", path.name)
        )
    numbered = [replace(line, id=f"{path.stem}-{n}") for n, line in enumerate(_with_speakers(spoken), 1)]
    raise_if_any(_without_speaker(numbered, path.name))
    return tuple(numbered)


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise PastepotError(
            Problem(f"The lines cannot be read ({error.strerror or error}).", "Look at its permissions.", path.name)
        ) from None
    try:
        text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        raise PastepotError(
            Problem("The file is not UTF-8 text.", "Save it again with the encoding UTF-8.", path.name, row)
        ) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _cleaned(text: str) -> str:
    """Without markup, stage directions and line ends."""
    return " ".join(_ASIDE.sub(" ", _TAG.sub(" ", text)).split())


def _line(text: str, row: int, speaker: str = "", start: float | None = None, end: float | None = None) -> Line:
    said = _cleaned(text)
    named = None if speaker else _SPEAKER.fullmatch(said)
    if named:
        speaker, said = named["name"], named["text"]
    return Line("", speaker, said, start, end, row)


def _srt(text: str, path: Path) -> tuple[list[Line], list[Problem]]:
    webvtt = _library()
    found: list[Line] = []
    problems: list[Problem] = []
    for row, block in _blocks(text):
        numbered = block if block.split("\n")[0].strip().isdigit() else f"1\n{block}"
        if len(numbered.strip().split("\n")) == 2 and "-->" in numbered:
            continue  # times without a text
        try:
            cues = webvtt.from_buffer(io.StringIO(numbered), format="srt").captions
        except webvtt.errors.MalformedFileError:
            cues = []
        if len(cues) != 1:
            fix = "Write a number, then '00:00:02,333 --> 00:00:03,114', then the text."
            problems.append(Problem("This is not an SRT line.", fix, path.name, row))
            continue
        times = _seconds(cues[0].start), _seconds(cues[0].end)
        problems += _wrong_times(*times, path.name, row)
        found += _said(cues[0].text, row, "", *times)
    return found, problems


def _library() -> Any:
    try:
        import webvtt
    except ImportError:
        raise MissingExtra("speech", "webvtt", "Reading lines with times") from None
    return webvtt


def _said(text: str, row: int, speaker: str, start: float, end: float) -> list[Line]:
    """The lines of one cue: a row that names a speaker begins another, spoken at the same time."""
    rows: list[str] = []
    for piece in text.split("\n"):
        piece = re.sub(r"^\s*[-–—]\s*", "", piece)
        if rows and not (_SPEAKER.fullmatch(_cleaned(piece)) and not speaker):
            rows[-1] += " " + piece
        else:
            rows.append(piece)
    return [_line(piece, row, speaker, start, end) for piece in rows]


def _blocks(text: str) -> list[tuple[int, str]]:
    """Runs of rows that are not empty, each with the row it begins on. Text after an empty row belongs to its cue."""
    blocks: list[tuple[int, list[str]]] = []
    empty = True
    rows = text.split("\n")
    for row, line in enumerate(rows, 1):
        if line.strip() and (not blocks or (empty and _begins_cue(rows, row))):
            blocks.append((row, [line]))
        elif line.strip():
            blocks[-1][1].append(line)
        empty = not line.strip()
    return [(row, "\n".join(lines)) for row, lines in blocks]


def _begins_cue(rows: Sequence[str], row: int) -> bool:
    """Whether the 1-based row holds times, or is the number above them."""
    here, below = rows[row - 1], rows[row] if row < len(rows) else ""
    return "-->" in here or "-->" in below or here.strip().isdigit()


def _webvtt(text: str, path: Path) -> tuple[list[Line], list[Problem]]:
    webvtt = _library()
    try:
        cues = webvtt.from_string(text).captions
    except (webvtt.errors.MalformedFileError, webvtt.errors.MalformedCaptionError, ValueError) as error:
        fix = "A WebVTT file begins with the row WEBVTT; its times are written 00:02.333 --> 00:03.114."
        return [], [Problem(f"The file is not WebVTT ({error}).", fix, path.name, 1)]
    found: list[Line] = []
    problems: list[Problem] = []
    rows = [n for n, line in enumerate(text.split("\n"), 1) if "-->" in line]
    if len(rows) != len(cues):  # what it cannot read, that library passes over without a word
        fix = "Write the times of each as 00:02.333 --> 00:03.114, the text in the row below."
        return [], [
            Problem(f"Of {len(rows)} lines only {len(cues)} can be read.", fix, path.name, rows[0] if rows else 1)
        ]
    for row, cue in zip(rows, cues, strict=True):
        times = _seconds(cue.start), _seconds(cue.end)
        problems += _wrong_times(*times, path.name, row)
        found += _said(cue.text, row, (cue.voice or "").strip(), *times)
    return found, problems


def _seconds(clock: str) -> float:
    seconds = 0.0
    for piece in clock.split(":"):
        seconds = seconds * 60 + float(piece)
    return seconds


def _plain(text: str, path: Path) -> tuple[list[Line], list[Problem]]:
    return [_line(line, row) for row, line in enumerate(text.split("\n"), 1) if line.strip()], []


def _wrong_times(start: float, end: float, file: str, row: int) -> list[Problem]:
    if start < end:
        return []
    return [Problem(f"The line ends at {end:.3f} s, not after its start at {start:.3f} s.", "Correct it.", file, row)]


def _with_speakers(lines: Sequence[Line]) -> list[Line]:
    speaker, found = "", []
    for line in lines:
        speaker = line.speaker or speaker
        found.append(replace(line, speaker=speaker))
    return found


def _without_speaker(lines: Sequence[Line], file: str) -> list[Problem]:
    return [
        Problem(
            f"Nobody speaks the line '{printable(line.text[:40])}'.",
            "Write the speaker before it, as in 'SNAIL: No hurry.'",
            file,
            line.row,
        )
        for line in lines
        if not line.speaker
    ]
