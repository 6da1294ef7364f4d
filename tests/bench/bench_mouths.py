"""Track reading against speech whose true sounds are known, with the bar beside each figure.

Synthetic speech is a best case: it is even, and said exactly as the dictionary has it. Thresholds and weights were set
on one voice (voices.TUNED_ON), when a closure is surely shut on texts of its own (voices.TUNING_SENTENCES); the figures
come from the other voices. In Row.seconds stands the figure itself. Rows without a bar are told for their own sake.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from fractions import Fraction

import numpy as np
import recordings
import voices
from numpy.typing import NDArray
from pastepot.library.parts import MouthShape, Part
from pastepot.track import align, choose
from pastepot.track.align import Aligned, Recogniser
from pastepot.track.mouths import MouthSet
from pastepot.track.pronounce import Speaking
from pastepot.track.sounds import SILENCE, sound
from rows import Row
from voices import RATE, Spoken

FPS = Fraction(12)
EIGHT = {
    "rest": MouthShape("closed", 0.0, 0.3),
    "bite": MouthShape("touching-teeth", 0.15, 0.3),
    "slit": MouthShape("apart", 0.2, 0.15),
    "smile": MouthShape("apart", 0.45, 0.0),
    "gape": MouthShape("apart", 1.0, 0.3),
    "pea": MouthShape("apart", 0.3, 1.0),
    "plum": MouthShape("apart", 0.7, 0.85),
    "tongue": MouthShape("apart", 0.4, 0.2, True),
}


def mouth_set(shapes: dict[str, MouthShape] = EIGHT) -> MouthSet:
    """A set of mouths that were never drawn."""
    return MouthSet(
        "snail-mouth",
        tuple(
            Part(n, "snail", "mouth", "", 1.0, (0.0, 0.0), replaces="snail-mouth", mouth=m) for n, m in shapes.items()
        ),
    )


@dataclass(frozen=True)
class Read:
    """One sentence with what was read of it."""

    spoken: Spoken
    aligned: Aligned


class Reader:
    """Reads sentences, with their own text or another."""

    def __init__(self) -> None:
        self.recogniser, self.speaking = Recogniser(), Speaking()

    def read(self, spoken: Spoken, text: str | None = None, samples: NDArray[np.int16] | None = None) -> Aligned:
        """What `pastepot read` makes of a line."""
        heard = spoken.samples if samples is None else samples
        words = self.speaking.words(spoken.text if text is None else text)
        return align.align(self.recogniser, words, heard, 0.0, (0.3, len(heard) / RATE - 0.3))


# ── where sounds begin ──


def boundary_errors(read: list[Read]) -> NDArray[np.float64]:
    """Seconds by which sounds begin late, of those that the dictionary and the synthesizer agree on."""
    errors = []
    for r in read:
        truth = [s for s in r.spoken.sounds if s[0] != SILENCE]
        got = [s for s in r.aligned.sounds if s.name != SILENCE]
        names = [s[0] for s in truth], [s.name for s in got]
        for block in SequenceMatcher(None, *names, autojunk=False).get_matching_blocks():
            errors += [got[block.b + k].start - truth[block.a + k][1] for k in range(block.size)]
    return np.array(errors)


# ── mouths ──


def mouths_of(r: Read, mouths: MouthSet) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The chosen mouths and the naive ones (that of the sound in the middle of each exposure), one an exposure."""
    last = int(np.ceil(len(r.spoken.samples) / RATE * FPS))
    starts = np.arange(last + 1, dtype=np.int64)
    chosen = choose.choose(starts, last, FPS, choose.seen(r.aligned.sounds, mouths), mouths)
    middle = (starts + 0.5) / float(FPS)
    naive = np.full(len(starts), mouths.rest)
    for s in r.aligned.sounds:
        naive[(middle >= s.start) & (middle < s.end)] = mouths.mouth_for(s.name)
    return chosen, naive


def _later(r: Read, seconds: float) -> Read:
    """The same, begun later."""
    true = [(name, a + seconds, b + seconds) for name, a, b in r.spoken.sounds]
    got = [replace(s, start=s.start + seconds, end=s.end + seconds) for s in r.aligned.sounds]
    return Read(r.spoken._replace(sounds=true), replace(r.aligned, sounds=tuple(got)))


def seen(read: list[Read], mouths: MouthSet, kind: str, heard: bool, which: int = 0) -> tuple[int, int]:
    """How many sounds of a kind are seen, of how many: some exposure that they touch shows their lips.

    heard: at the times that were read, which is what the choice of mouths can know; else at the true ones
    """
    good = all_ = 0
    for r in read:
        row = mouths_of(r, mouths)[which]
        sounds = [(s.name, s.start, s.end) for s in r.aligned.sounds] if heard else r.spoken.sounds
        for name, a, b in sounds:
            if name != SILENCE and sound(name).kind == kind:
                touched = row[int(a * FPS) : int(np.ceil(b * float(FPS)))]
                all_ += 1
                good += any(mouths.shapes[m].lips == sound(name).shape.lips for m in touched)
    return good, all_


def restlessness(read: list[Read], mouths: MouthSet) -> NDArray[np.float64]:
    """(2, 2) chosen and naive: changes of mouth a second, and mouths shown once between two that are one."""
    counts, seconds = np.zeros((2, 2)), 0.0
    for r in read:
        seconds += len(r.spoken.samples) / RATE
        for k, row in enumerate(mouths_of(r, mouths)):
            counts[k, 0] += np.count_nonzero(np.diff(row))
            counts[k, 1] += np.count_nonzero((row[2:] == row[:-2]) & (row[1:-1] != row[2:]))
    return counts / seconds


# ── what cannot be believed ──


def disbelieved(aligned: Aligned) -> bool:
    """Whether the person is told that something is wrong."""
    return aligned.how != "text" or bool(aligned.remarks)


def figures() -> Iterator[Row]:
    """Every row."""
    voice, reader, mouths = voices.Voices(), Reader(), mouth_set()
    names = [v for v in voices.VOICES if v != voices.TUNED_ON]
    said = [voice.say(text, name) for name in names for text in voices.SENTENCES]
    seconds = sum(len(s.samples) for s in said) / RATE
    reader.read(said[0])  # the dictionary is loaded
    begun, busy = time.perf_counter(), _processor_seconds(reader)
    clean = [Read(s, reader.read(s)) for s in said]
    by_clock, busy = time.perf_counter() - begun, _processor_seconds(reader) - busy
    times = seconds / busy
    yield Row("reading, times real time, by processor time", times, "", 0, ">= 15", times >= 15)
    yield Row("  by the clock, whatever else runs", seconds / by_clock, "", 0, "", True)
    yield from _boundaries("clean", boundary_errors(clean), 0.020, 0.060)
    yield from _under(said, reader, mouths)
    yield from _mouths(clean, mouths)
    yield from _wrong(said, clean, reader, voice)
    yield from _recorded(reader)


def _processor_seconds(reader: Reader) -> float:
    """Of this process and of the recogniser's, which ends for it; that it has to begin again is counted too."""
    reader.recogniser.close()
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


# ── with something else to be heard ──


def _under(said: list[Spoken], reader: Reader, mouths: MouthSet) -> Iterator[Row]:
    """Music at 10 dB has its bars, over everything said; other sounds and levels are measured on every other line."""
    others = {"music": voices.music(8.0), "other voices": _babble(said), "pink noise": voices.pink(8.0)}
    for what, other in others.items():
        for ratio in (20.0, 10.0, 0.0):
            strict = what == "music" and ratio == 10.0
            lines = said if strict else said[::2]
            read = [Read(s, reader.read(s, samples=voices.mixed(s.samples, other, ratio))) for s in lines]
            late = np.abs(boundary_errors(read))
            if not len(late):
                yield Row(f"{what} at {ratio:.0f} dB: no line is read by its text", 0.0, "", 0, "", True)
                continue
            median, share = float(np.median(late)), float((late < 1 / 12).mean())
            bars = ("<= 0.025", ">= 0.85") if strict else ("", "")
            good = (median <= 0.025, share >= 0.85) if strict else (True, True)
            yield Row(f"sounds begin, {what} at {ratio:.0f} dB, median s", median, "", 0, bars[0], good[0])
            yield Row("  within one exposure at 12 fps", share, "", 0, bars[1], good[1])
            by_text = [r for r in read if r.aligned.how == "text"]
            yield Row("  lines read by their text", len(by_text) / len(read), "", 0, "", True)
            shut, all_ = seen(by_text, mouths, "closure", False)
            yield Row(f"  of these, closures seen when truly spoken, of {all_}", shut / max(all_, 1), "", 0, "", True)


def _babble(said: list[Spoken]) -> NDArray[np.float64]:
    """Four voices at once."""
    talk = np.zeros(8 * RATE)
    for n in range(4):
        one = np.concatenate([s.samples for s in said[n * 23 : n * 23 + 4]]).astype(np.float64)
        talk += np.resize(one, len(talk)) / np.sqrt((one**2).mean())
    return talk


# ── real voices ──


def _recorded(reader: Reader) -> Iterator[Row]:
    """LibriVox readers and others, with their published words, where Debian's pocketsphinx-testdata is installed."""
    lines = recordings.lines()
    if not lines:
        yield Row("recorded speech: NOT MEASURED, pocketsphinx-testdata is missing", 0.0, "", 0, "", True)
        return
    heard = [Spoken(x.text, x.samples, []) for x in lines]
    right = [not disbelieved(reader.read(s)) for s in heard]
    yield Row(f"recorded speech, words believed, of {len(right)}", sum(right) / len(right), "", 0, "", True)
    texts = [s.text for s in heard]
    told = [disbelieved(reader.read(s, text)) for n, s in enumerate(heard) for text in texts[:n] + texts[n + 1 :]]
    yield Row(f"  told: another text, of {len(told)}", sum(told) / len(told), "", 0, "", True)


def _boundaries(what: str, errors: NDArray[np.float64], median: float, most: float) -> Iterator[Row]:
    late = np.abs(errors)
    middle, ninety = float(np.median(late)), float(np.percentile(late, 90))
    yield Row(f"sounds begin, {what}, median s", middle, "", 0, f"<= {median}", middle <= median)
    yield Row("  90 of 100, s", ninety, "", 0, f"<= {most}", ninety <= most)


def _mouths(clean: list[Read], mouths: MouthSet) -> Iterator[Row]:
    for kind, bar in (("closure", 0.99), ("teeth", 0.98)):
        for heard, least, when in ((True, bar, "heard"), (False, bar, "truly spoken")):
            good, all_ = seen(clean, mouths, kind, heard)
            naive = seen(clean, mouths, kind, heard, 1)[0]
            share = good / all_
            name = f"{kind} seen when {when}, of {all_}"
            yield Row(name, share, "naive", good / max(naive, 1), f">= {least:.2f}", share >= least)
    shifted = [_later(r, k / 48) for r in clean for k in range(4)]
    good, all_ = seen(shifted, mouths, "closure", False)
    name = f"  closures, the track a quarter exposure later each time, of {all_}"
    yield Row(name, good / all_, "", 0, ">= 0.99", good / all_ >= 0.99)
    rest = restlessness(clean, mouths)
    for k, (what, bar) in enumerate((("changes a second", 0.75), ("single exposures a second", 0.5))):
        ratio = rest[0, k] / rest[1, k]
        yield Row(what, rest[0, k], "naive", ratio, f"<= {bar} x", ratio <= bar)


def _wrong(said: list[Spoken], clean: list[Read], reader: Reader, voice: voices.Voices) -> Iterator[Row]:
    false = sum(disbelieved(r.aligned) for r in clean) / len(clean)
    yield Row("false alarms, clean and right", false, "", 0, "<= 0.02", false <= 0.02)
    texts = list(voices.SENTENCES)
    other = {text: texts[(n + 7) % len(texts)] for n, text in enumerate(texts)}
    for what, told in (
        ("another text", [disbelieved(reader.read(s, other[s.text])) for s in said]),
        ("half the text missing", [disbelieved(reader.read(s, _half(s.text))) for s in said]),
        ("German under English text", [disbelieved(reader.read(voice.say(g, "de"), texts[n])) for n, g in _german()]),
        ("silence", [disbelieved(reader.read(s, samples=np.zeros_like(s.samples))) for s in said[:20]]),
        ("clipping", [disbelieved(reader.read(s, samples=voices.whole(s.samples / 32768 * 12))) for s in said[:40]]),
    ):
        share = sum(told) / len(told)
        yield Row(f"told: {what}, of {len(told)}", share, "", 0, ">= 0.95", share >= 0.95)


def _half(text: str) -> str:
    words = text.split()
    return " ".join(words[: len(words) // 2])


def _german() -> list[tuple[int, str]]:
    return list(
        enumerate(
            (
                "Der Reiher wartet am Teich auf einen Bus, der eine Kanne ist.",
                "Keine Eile, sagte die Schnecke, er kommt, wenn er kocht.",
                "Meine Mutter kocht jeden Morgen einen Topf mit Pfefferminztee.",
                "Vielleicht war die Karte am Ufer verkehrt herum aufgehängt.",
                "Bitte lege das blaue Papierboot zurück in den Kasten.",
                "Jeden Abend zieht der Wind über das hohe Schilf.",
                "Wir würden lieber warten, als um das Wasser zu gehen.",
                "Die Uhr ist um Viertel nach acht stehen geblieben.",
                "Ein kleiner Junge warf einen glatten Stein über die Brücke.",
                "Der Deckel hüpft, die Tülle pufft, und schon fahren wir ab.",
            )
        )
    )


def run() -> list[Row]:
    """The rows for `make bench`."""
    return list(figures())
