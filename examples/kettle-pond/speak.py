"""What the snail and the heron say, and the pond's few sounds: FILM/track/waiting.wav and waiting.srt.

    python speak.py FILM_FOLDER [--replace]

The voice is the free synthesizer eSpeak NG (GPL-3.0-or-later), reached through the package espeakng-loader; the words
are our own. Without that package nothing is written and the film goes on silent. Every run makes the same bytes (the
synthesizer carries a little of what it said over to what it says next, so a second track made within one run differs
by a few bits). This script stands alone: it imports nothing else from this folder.
"""

import argparse
import ctypes
import sys
import wave
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.signal import butter, resample_poly, sosfilt

RATE = 48_000
FPS = 12
LAST_FRAME = 120


class Manner(NamedTuple):
    """How somebody speaks: one of the synthesizer's voices and its settings."""

    voice: bytes
    pitch: int
    pitch_range: int
    words_per_minute: int


MANNERS = {
    "Snail": Manner(b"en-gb-x-rp+f2", 70, 62, 126),  # small and unhurried
    "Heron": Manner(b"en-gb-x-rp+m3", 34, 45, 118),  # long-necked and dry
}


class Line(NamedTuple):
    """One sentence: who says it, what, and the frame on which the sound begins."""

    speaker: str
    text: str
    frame: int


LINES = (
    Line("Snail", "No hurry.", 29),
    Line("Snail", "It comes when it boils.", 42),
    Line("Heron", "So it does.", 95),
)


# ---------------------------------------------------------------- the voice


class _Event(ctypes.Structure):
    """What the synthesizer reports beside the sound (espeak_EVENT in speak_lib.h)."""

    _fields_ = (
        ("type", ctypes.c_int),
        ("unique_identifier", ctypes.c_uint),
        ("text_position", ctypes.c_int),
        ("length", ctypes.c_int),
        ("audio_position", ctypes.c_int),
        ("sample", ctypes.c_int),
        ("user_data", ctypes.c_void_p),
        ("id", ctypes.c_char * 8),
    )


_Callback = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.POINTER(_Event))
_PHONEME, _SYNCHRONOUS, _WITH_PHONEMES, _UTF8 = 7, 2, 1, 1


class Spoken(NamedTuple):
    """A sentence as sound (-1..1 at RATE), and its speech sounds as (seconds, name in the synthesizer's spelling)."""

    sound: np.ndarray
    sounds: list[tuple[float, str]]


class Voice:
    """The synthesizer. ImportError if its package is missing."""

    def __init__(self) -> None:
        import espeakng_loader

        self._lib = ctypes.CDLL(espeakng_loader.get_library_path())
        data = str(Path(espeakng_loader.get_data_path()).parent).encode()
        self._rate = self._lib.espeak_Initialize(_SYNCHRONOUS, 0, data, _WITH_PHONEMES)
        if self._rate <= 0:
            raise RuntimeError("The synthesizer's own data could not be read. Install espeakng-loader again.")
        self._chunks: list[np.ndarray] = []
        self._sounds: list[tuple[float, str]] = []
        self._callback = _Callback(self._heard)
        self._lib.espeak_SetSynthCallback(self._callback)

    def _heard(self, samples: "ctypes._Pointer[ctypes.c_short]", count: int, events: "ctypes._Pointer[_Event]") -> int:
        if samples and count:
            self._chunks.append(np.ctypeslib.as_array(samples, (count,)).astype(np.float64) / 32768)
        k = 0
        while events[k].type:
            if events[k].type == _PHONEME:
                self._sounds.append((events[k].audio_position / 1000, events[k].id.decode("utf-8", "replace")))
            k += 1
        return 0

    def say(self, text: str, manner: Manner = MANNERS["Snail"]) -> Spoken:
        """A sentence, without the silence at its ends."""
        if self._lib.espeak_SetVoiceByName(manner.voice):
            name = manner.voice.decode()
            raise RuntimeError(f"The synthesizer has no voice named {name}. Install espeakng-loader again.")
        for parameter, value in ((1, manner.words_per_minute), (2, 90), (3, manner.pitch), (4, manner.pitch_range)):
            self._lib.espeak_SetParameter(parameter, value, 0)
        self._chunks, self._sounds = [], []
        self._lib.espeak_ng_SetRandSeed(ctypes.c_long(1))  # its breath noise would differ on every run
        spoken = text.encode()
        self._lib.espeak_Synth(spoken, len(spoken) + 1, 0, 0, 0, _UTF8, None, None)
        sound = resample_poly(np.concatenate(self._chunks), RATE // 150, self._rate // 150)
        loud = np.flatnonzero(np.abs(sound) > 0.004)
        first = int(loud[0])
        sounds = [(max(t - first / RATE, 0.0), name) for t, name in self._sounds]
        return Spoken(sound[first : loud[-1] + RATE // 50], sounds)


# ---------------------------------------------------------------- the pond


def _at(frame: float) -> int:
    return round((frame - 1) / FPS * RATE)


def _fade(length: float, attack: float, decay: float) -> np.ndarray:
    t = np.arange(round(length * RATE)) / RATE
    return np.minimum(t / attack, 1) * np.exp(-t / decay)


def _plip() -> np.ndarray:
    """A drop falls into water: a short tone that runs upward."""
    shape = _fade(0.22, 0.004, 0.045)
    t = np.arange(len(shape)) / RATE
    return shape * np.sin(2 * np.pi * (620 * t + 1500 * t**2))


def _tick(high: bool) -> np.ndarray:
    shape = _fade(0.06, 0.001, 0.008)
    t = np.arange(len(shape)) / RATE
    return shape * (np.sin(2 * np.pi * (2350 if high else 1900) * t) + 0.5 * np.sin(2 * np.pi * 4100 * t))


def _clink() -> np.ndarray:
    """China on china."""
    shape = _fade(0.5, 0.001, 0.09)
    t = np.arange(len(shape)) / RATE
    return shape * sum(a * np.sin(2 * np.pi * f * t) for a, f in ((0.6, 1710), (0.4, 2893), (0.25, 4480)))


def _rolling(rng: np.random.Generator, length: float) -> np.ndarray:
    """Wheels on a lane: soft low noise that comes nearer and stops."""
    noise = sosfilt(butter(2, (70, 420), "band", fs=RATE, output="sos"), rng.standard_normal(round(length * RATE)))
    t = np.linspace(0, 1, len(noise))
    bumps = 1 + 0.35 * np.sin(2 * np.pi * 5.2 * length * t * (1 - 0.35 * t))
    return noise / np.abs(noise).max() * np.sin(np.pi * np.clip(t, 0, 1) ** 0.7) ** 1.5 * bumps


def _whistle(length: float) -> np.ndarray:
    """A kettle that is nearly there."""
    t = np.arange(round(length * RATE)) / RATE
    pitch = 1180 + 260 * (1 - np.exp(-t / 0.5)) - 180 * np.clip((t - length + 0.7) / 0.7, 0, 1) ** 2
    phase = 2 * np.pi * np.cumsum(pitch + 9 * np.sin(2 * np.pi * 5.5 * t)) / RATE
    swell = np.sin(np.pi * np.clip(t / length, 0, 1)) ** 1.6
    return swell * (np.sin(phase) + 0.18 * np.sin(2 * phase))


def pond(seed: int = 7) -> np.ndarray:
    """Everything but the voice, and quiet, so that the words are heard."""
    rng = np.random.default_rng([seed, 48])
    track = np.zeros(round(LAST_FRAME / FPS * RATE))
    effects = [(frame, 0.05, _plip()) for frame in (9.0, 65.5)]
    effects += [(frame, 0.03, _tick(k % 2 == 0)) for k, frame in enumerate((67.0, 73.0, 79.0, 84.0))]
    effects += [(80.0, 0.07, _rolling(rng, 2.1)), (81.0, 0.022, _whistle(2.2))]
    effects += [(108.0, 0.06, _clink()), (111.0, 0.03, _clink())]
    for frame, level, sound in effects:
        start = _at(frame)
        sound = sound[: len(track) - start]
        track[start : start + len(sound)] += level * sound
    return track


# ---------------------------------------------------------------- the files


def _time(seconds: float) -> str:
    milliseconds = round(seconds * 1000)
    minutes, rest = divmod(milliseconds, 60_000)
    return f"00:{minutes:02d}:{rest // 1000:02d},{rest % 1000:03d}"


def _write(wav: Path, srt: Path, track: np.ndarray, cues: list[tuple[float, float, Line]]) -> None:
    blocks = [
        f"{k}\n{_time(start)} --> {_time(end)}\n{line.speaker.upper()}: {line.text}\n"
        for k, (start, end, line) in enumerate(cues, 1)
    ]
    for path in (wav, srt):
        path.parent.mkdir(parents=True, exist_ok=True)
    fresh = wav.with_suffix(".wav.part")
    with wave.open(str(fresh), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(np.round(np.clip(track, -1, 1) * 32767).astype("<i2").tobytes())
    fresh.replace(wav)
    fresh = srt.with_suffix(".srt.part")
    fresh.write_text("\n".join(blocks), encoding="utf-8", newline="\n")
    fresh.replace(srt)


def speak(film: Path) -> Path | None:
    """Write the sound of the shot and its lines. Returns the WAV; None, after saying why, if it cannot."""
    try:
        voice = Voice()
    except ImportError:
        print(
            "The two stay silent: the synthesizer's package 'espeakng-loader' is not installed.\n"
            "Install it with: pip install 'pastepot[example]'.",
            file=sys.stderr,
        )
        return None
    except OSError as error:
        print(f"The two stay silent: the synthesizer does not start on this machine ({error}).", file=sys.stderr)
        return None
    track = pond()
    cues = []
    for line in LINES:
        sound = voice.say(line.text, MANNERS[line.speaker]).sound
        sound = sound * (0.42 / np.abs(sound).max())
        start = _at(line.frame)
        track[start : start + len(sound)] += sound
        cues.append((start / RATE, (start + len(sound)) / RATE, line))
    wav = film / "track" / "waiting.wav"
    _write(wav, wav.with_suffix(".srt"), track, cues)
    return wav


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Make the demo film's sound.")
    parser.add_argument("film", type=Path, help="the film folder")
    parser.add_argument("--replace", action="store_true", help="write over a track that is there already")
    asked = parser.parse_args(arguments)
    wav = asked.film / "track" / "waiting.wav"
    if wav.exists() and not asked.replace:
        print(f"{wav} is there already. Write over it with --replace.")
        return 1
    made = speak(asked.film)
    print(f"Wrote {made} and its lines." if made else "No sound was made.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
