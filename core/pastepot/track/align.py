"""A line's text laid over its sound, and whether to believe it.

The recogniser gives words and sounds with their times whatever it is given, a wrong text too. So each word's likelihood
is held against that of free sounds over the same time, and speech that lies outside every word is looked for. What does
not hold is read from loudness alone, never from the text.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import MissingExtra
from pastepot.track import loudness
from pastepot.track.choose import Timed
from pastepot.track.pronounce import Word
from pastepot.track.sound import RATE, Samples
from pastepot.track.sounds import SILENCE, SOUNDS, sound

LONGEST_S = 60.0
"""A longer line is not aligned: the recogniser's memory grows with the square of its length."""

# Set on one voice, measured on others (tests/bench/bench_mouths.py). Scores are the recogniser's log likelihoods a
# hundredth of a second, word less free sounds.
_LINE_SCORE = -27.0
_WORD_SCORE = -92.0
_LEFT_OUT_S = 0.45
_OPEN_STEP = 4  # of loudness.STEP_S
# The recogniser says that sounds begin a little early, the same for every voice (median -12 ms over four voices).
_LATE_S = 0.01
_FAINT = 1.0  # of 32768, the last bit: a room is never as quiet, so that it covers nothing


@dataclass(frozen=True)
class Spoken:
    """A word in time, seconds. score: how well it fits, 0 as well as any sounds would; doubted: it does not fit."""

    text: str
    start: float
    end: float
    score: float = 0.0
    doubted: bool = False


@dataclass(frozen=True)
class Rough:
    """Amounts of opening where the text is no help: one each `step` seconds from `start`, 0 a closed mouth."""

    start: float
    step: float
    opens: tuple[float, ...]


@dataclass(frozen=True)
class Aligned:
    """What one line's sound gave. how: 'text' by its words, 'sound' by loudness alone, 'silent' nothing is heard."""

    how: str
    words: tuple[Spoken, ...] = ()
    sounds: tuple[Timed, ...] = ()
    rough: tuple[Rough, ...] = ()
    remarks: tuple[str, ...] = ()


class Recogniser:
    """Asks the recogniser, which lives in a process of its own. MissingExtra without its library."""

    def __init__(self) -> None:
        if importlib.util.find_spec("pocketsphinx") is None:
            raise MissingExtra("speech", "pocketsphinx", "Reading a track by its text")
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Recogniser:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let the process end."""
        if self._process is not None:
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe is not None:
                    with contextlib.suppress(BrokenPipeError):
                        pipe.close()
            self._process.wait()
            self._process = None

    def ask(self, words: Sequence[Word], samples: Samples, rough: bool = False) -> dict[str, Any] | None:
        """The answer (see recogniser.py); None if the process ended over it, in which case the next has a new one."""
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "pastepot.track.recogniser"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        samples = _alive(samples)
        order = {"words": [word.ways for word in words], "samples": len(samples), "rough": rough}
        answer = b""
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write(json.dumps(order).encode() + b"\n" + samples.astype("<i2").tobytes())
            self._process.stdin.flush()
            answer = self._process.stdout.readline()
        if not answer.endswith(b"\n"):
            self.close()
            return None
        found: dict[str, Any] = json.loads(answer)
        return found


def _alive(samples: Samples) -> Samples:
    """The sound with a breath of noise, always the same: the recogniser loses words between samples of nothing."""
    noise = np.random.default_rng(1).standard_normal(len(samples)) * _FAINT
    return np.clip(np.round(samples + noise), -32768, 32767).astype(np.int16)


def align(
    recogniser: Recogniser, words: Sequence[Word], samples: Samples, start: float, own: tuple[float, float]
) -> Aligned:
    """Lay the words over the sound, if they are what is spoken.

    start: of the samples, own: the line's start and end, which the samples may pass a little; seconds of the track
    """
    level = loudness.levels(samples)
    remarks = ("The sound is recorded too loud: its peaks are cut off.",) if loudness.is_clipped(samples) else ()
    if loudness.is_silent(level):
        return Aligned("silent", remarks=(*remarks, "Nothing is to be heard here."))
    if not words:
        return by_sound(samples, start, own, remarks)
    if len(samples) > LONGEST_S * RATE:
        long = f"The line is longer than {LONGEST_S:.0f} s, too long to lay its text over it: part it into several."
        return by_sound(samples, start, own, (*remarks, long))
    answer = recogniser.ask(words, samples)
    if answer is None:
        return by_sound(samples, start, own, (*remarks, "The recogniser ended over this line."))
    if not answer["words"]:
        return by_sound(samples, start, own, (*remarks, "The text cannot be laid over what is spoken."))
    return _believed(answer, words, samples, start, own, remarks)


def by_sound(samples: Samples, start: float, own: tuple[float, float], remarks: Sequence[str] = ()) -> Aligned:
    """Amounts of opening from loudness, closed on silence; inside the line's own time only."""
    level = loudness.levels(samples)
    if loudness.is_silent(level):
        return Aligned("silent", remarks=(*remarks, "Nothing is to be heard here."))
    return Aligned("sound", rough=_rough(level, start, [own]), remarks=tuple(remarks))


def _believed(
    answer: dict[str, Any],
    words: Sequence[Word],
    samples: Samples,
    start: float,
    own: tuple[float, float],
    remarks: tuple[str, ...],
) -> Aligned:
    level = loudness.levels(samples)
    spans = np.array([w[:2] for w in answer["words"]])
    scores = _scores(answer, len(level))
    lengths = spans[:, 1] - spans[:, 0]
    left = _left_out(level, spans, start, own)
    if float(scores @ lengths / lengths.sum()) < _LINE_SCORE:
        said = "The text is not what is spoken here (another text, or another language)."
        aligned = by_sound(samples, start, own, (*remarks, said))
        return Aligned("sound", _spoken(words, spans, scores, start, True), (), aligned.rough, aligned.remarks)
    spoken = _spoken(words, spans, scores, start, False)
    doubted = [w for w in spoken if w.doubted]
    if doubted:
        remarks += (f"These words are not what is spoken: {', '.join(w.text for w in doubted)}.",)
    for a, b in left:
        remarks += (f"Something is spoken from {a:.2f} to {b:.2f} s that is not in the text.",)
    rough = _rough(level, start, [*((w.start, w.end) for w in doubted), *left])
    return Aligned("text", spoken, _sounds(answer, spoken, level, start), rough, remarks)


def _scores(answer: dict[str, Any], count: int) -> NDArray[np.float64]:
    """Each word's likelihood less that of free sounds, a hundredth of a second."""
    free = np.zeros(count + 10)
    for _, first, last, score in answer["loop"]:
        free[first:last] = score / max(last - first, 1)
    total = np.concatenate([[0.0], np.cumsum(free)])
    words = np.array(answer["words"], np.float64)
    first, last = (np.clip(words[:, k].astype(int), 0, count + 10) for k in (0, 1))
    scores: NDArray[np.float64] = (words[:, 2] - (total[last] - total[first])) / np.maximum(last - first, 1)
    return scores


def _left_out(
    level: NDArray[np.float64], spans: NDArray[np.int64], start: float, own: tuple[float, float]
) -> list[tuple[float, float]]:
    """Stretches of loud sound outside every word, inside the line's own time, long enough to be words."""
    outside = loudness.loud(level)
    for first, last in spans:
        outside[max(first - 5, 0) : last + 5] = False
    at = start + np.arange(len(level)) * loudness.STEP_S
    outside &= (at >= own[0]) & (at < own[1])
    edges = np.flatnonzero(np.diff(np.concatenate([[0], outside.astype(int), [0]])))
    runs = edges.reshape(-1, 2)
    return [
        (start + a * loudness.STEP_S, start + b * loudness.STEP_S)
        for a, b in runs.tolist()
        if (b - a) * loudness.STEP_S >= _LEFT_OUT_S
    ]


def _spoken(
    words: Sequence[Word], spans: NDArray[np.int64], scores: NDArray[np.float64], start: float, all_: bool
) -> tuple[Spoken, ...]:
    return tuple(
        Spoken(word.text, _at(a, start), _at(b, start), round(float(score), 1), all_ or bool(score < _WORD_SCORE))
        for word, (a, b), score in zip(words, spans.tolist(), scores, strict=True)
    )


def _at(frame: int, start: float) -> float:
    return round(start + frame * loudness.STEP_S + _LATE_S, 3)


def _sounds(
    answer: dict[str, Any], spoken: Sequence[Spoken], level: NDArray[np.float64], start: float
) -> tuple[Timed, ...]:
    """The sounds of the words that are believed, with silence between words that are apart."""
    named = [(n, a, b) for n, a, b in answer["sounds"] if n in SOUNDS]
    loud = np.array([level[a:b].max(initial=-100.0) for _, a, b in named])
    vowels = np.array([sound(n).kind == "vowel" for n, _, _ in named], bool)
    usual = float(np.median(loud[vowels])) if vowels.any() else 0.0
    doubted = [(w.start, w.end) for w in spoken if w.doubted]
    found: list[Timed] = []
    for (name, a, b), level_db in zip(named, loud, strict=True):
        first, last = _at(a, start), _at(b, start)
        if any(first < end and last > begin for begin, end in doubted):
            continue
        if found and first - found[-1].end > 0.005:
            found.append(Timed(SILENCE, found[-1].end, first))
        found.append(Timed(name, first, last, round(float(level_db) - usual, 1)))
    return tuple(s for s in found if s.name != SILENCE or not any(s.start < e and s.end > b for b, e in doubted))


def _rough(level: NDArray[np.float64], start: float, spans: Sequence[tuple[float, float]]) -> tuple[Rough, ...]:
    opens = loudness.opens(level, _OPEN_STEP)
    step = _OPEN_STEP * loudness.STEP_S
    found = []
    for begin, end in spans:
        first = max(round((begin - start) / step), 0)
        last = min(round((end - start) / step), len(opens))
        if last > first:
            chosen = tuple(round(float(v), 2) for v in opens[first:last])
            found.append(Rough(round(start + first * step, 3), step, chosen))
    return tuple(found)
