"""Speech whose true sounds are known: eSpeak NG says when it makes each of its sounds (its own phoneme events).

The synthesizer counts the silence while a stop is closed to the sound before it (measured: 40 to 50 ms at -60 dB before
its P, T and K, while neighbours are at -35); here it belongs to the stop, as phoneticians have it.

The sentences are our own. The synthesizer reports a sound where it begins; which sound that is, it says in its own
spelling, which ipa.py reads after it has been asked for the International Phonetic Alphabet.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pastepot.track import ipa

RATE = 16_000
VOICES = ("en-us", "en-us+f3", "en-gb-x-rp+f2", "en-us+m7", "en-gb-scotland+m3", "en-us+klatt2")
TUNED_ON = "en-us"
"""The voice on which thresholds and weights were set; figures come from the others."""

SENTENCES = (
    "The heron waits beside the pond for a bus that is a teapot.",
    "No hurry, said the snail, it comes when it boils.",
    "My mother makes a pot of peppermint tea before breakfast.",
    "Five frogs found a very funny fiddle under the ferry.",
    "Maybe the map by the bank was upside down.",
    "We would rather wait than walk around the water.",
    "Please put the blue paper boat back in the box.",
    "Every evening the wind moves over the reeds.",
    "Oh boy, how the old kettle whistles and hums.",
    "She should shut the window when the steam goes high.",
    "Do you think the driver thought of the milk?",
    "A small boy threw a smooth stone over the bridge.",
    "Have you ever heard of a heron with half a hat?",
    "Bring me my lamp, my map and a warm jumper.",
    "The lid hops, the spout puffs, and off we move.",
    "I believe that visitors love the view from above.",
    "Perhaps somebody simply forgot to buy a stamp.",
    "Look, the clock stopped at a quarter past eight.",
    "Keep your feet away from the wheels of that thing.",
    "Time is honey, and honey moves as it likes.",
)

TUNING_SENTENCES = (
    "Bob brought a bag of plums to the pump.",
    "The big blue bowl bubbled over by the bed.",
    "Mum made a map of every swamp and pebble.",
    "A bee bumped into the lamp post again.",
    "Peter put the paper cup below the tap.",
    "My thumb is numb, maybe from the bitter wind.",
    "Nobody sweeps the steps before the boat is by.",
    "Climb up, past the bench, but mind the moss.",
    "The bus blew steam and both of them jumped.",
    "Sam's best brush was left beside the open paint.",
    "Bees hum, bells boom, and the pipe pops.",
    "It's been ages, but the birds may be back.",
    "A kiss by the mill, a bath by the barn.",
    "This bird has beaks of brass, boys.",
    "Her father's bike is blocked by mud.",
    "He was both happy and a bit embarrassed.",
    "Let's meet at the pub before it's about empty.",
    "Those beads belong to my mother's bag.",
    "Place mint, pepper and plum jam upon the plate.",
    "Warm broth is better than bread and beans.",
)
"""Full of closures, said by TUNED_ON at 130, 150, 170 and 190 words a minute: where the choice of mouths takes them."""


class _Event(ctypes.Structure):
    """espeak_EVENT in speak_lib.h."""

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
_PHONEME, _SYNCHRONOUS, _EVENTS, _EVENTS_IN_IPA, _UTF8 = 7, 2, 1, 2, 1


class Spoken(NamedTuple):
    """A sentence: samples of 16 bits at 16 kHz, and its sounds as (ARPAbet, start, end) in seconds."""

    text: str
    samples: NDArray[np.int16]
    sounds: list[tuple[str, float, float]]


class Voices:
    """The synthesizer; one at a time in a process."""

    def __init__(self) -> None:
        import espeakng_loader

        self._lib = ctypes.CDLL(espeakng_loader.get_library_path())
        data = str(Path(espeakng_loader.get_data_path()).parent).encode()
        self._rate = self._lib.espeak_Initialize(_SYNCHRONOUS, 0, data, _EVENTS | _EVENTS_IN_IPA)
        self._chunks: list[NDArray[np.float64]] = []
        self._sounds: list[tuple[float, str]] = []
        self._callback = _Callback(self._heard)
        self._lib.espeak_SetSynthCallback(self._callback)

    def _heard(self, samples: ctypes._Pointer[ctypes.c_short], count: int, events: ctypes._Pointer[_Event]) -> int:
        if samples and count:
            self._chunks.append(np.ctypeslib.as_array(samples, (count,)).astype(np.float64) / 32768)
        k = 0
        while events[k].type:
            if events[k].type == _PHONEME:
                self._sounds.append((events[k].audio_position / 1000, events[k].id.decode("utf-8", "replace")))
            k += 1
        return 0

    def say(self, text: str, voice: str = "en-us", words_per_minute: int = 150) -> Spoken:
        """A sentence with a third of a second of faint noise before and after it."""
        self._chunks, self._sounds = [], []
        if self._lib.espeak_SetVoiceByName(voice.encode()):
            raise ValueError(f"The synthesizer has no voice {voice}.")
        self._lib.espeak_SetParameter(1, words_per_minute, 0)
        self._lib.espeak_ng_SetRandSeed(ctypes.c_long(1))
        self._lib.espeak_Synth(text.encode(), len(text.encode()) + 1, 0, 0, 0, _UTF8, None, None)
        sound = resampled(np.concatenate(self._chunks), self._rate)
        sound *= 0.4 / np.abs(sound).max()
        lead = round(RATE / 3)
        rng = np.random.default_rng(1)
        quiet = rng.standard_normal(len(sound) + 2 * lead) * 1e-4
        quiet[lead : lead + len(sound)] += sound
        found = self._in_arpabet(lead / RATE, len(sound) / RATE)
        return Spoken(text, whole(quiet), _with_closures(found, quiet))

    def _in_arpabet(self, lead: float, length: float) -> list[tuple[str, float, float]]:
        at = [t for t, _ in self._sounds] + [length]
        found = []
        for (start, name), end in zip(self._sounds, at[1:], strict=True):
            names = ipa.sounds(name) or ["SIL"]
            cuts = np.linspace(start, end, len(names) + 1) + lead
            found += [(n, float(a), float(b)) for n, a, b in zip(names, cuts[:-1], cuts[1:], strict=True) if b > a]
        return found


def _with_closures(
    sounds: list[tuple[str, float, float]], sound: NDArray[np.float64]
) -> list[tuple[str, float, float]]:
    """Stops without voice begin where their silence does, at most 80 ms earlier and within the sound before."""
    step = RATE // 200
    loud = np.sqrt((sound[: len(sound) // step * step].reshape(-1, step) ** 2).mean(axis=1)) > 10 ** (-52 / 20)
    found = list(sounds)
    for n, (name, start, end) in enumerate(sounds):
        if name in ("P", "T", "K") and n and found[n - 1][0] != "SIL":
            k = int(start * 200)
            while k > 0 and not loud[k - 1] and start - (k - 1) / 200 < 0.08 and (k - 1) / 200 > found[n - 1][1]:
                k -= 1
            begin = min(start, k / 200)
            found[n] = (name, begin, end)
            found[n - 1] = (*found[n - 1][:2], begin)
    return [s for s in found if s[2] > s[1]]


def resampled(sound: NDArray[np.float64], rate: int, to: int = RATE) -> NDArray[np.float64]:
    """The sound at another rate."""
    from scipy.signal import resample_poly

    divisor = int(np.gcd(rate, to))
    return np.asarray(resample_poly(sound, to // divisor, rate // divisor))


def whole(sound: NDArray[np.float64]) -> NDArray[np.int16]:
    """Samples of 16 bits."""
    return np.round(np.clip(sound, -1, 1) * 32767).astype(np.int16)


def mixed(speech: NDArray[np.int16], other: NDArray[np.float64], ratio_db: float) -> NDArray[np.int16]:
    """Speech with something else under it, so many decibels quieter than the speech (mean power where it speaks)."""
    voice = speech.astype(np.float64) / 32768
    speaking = np.abs(voice) > 0.01
    power = (voice[speaking] ** 2).mean()
    other = np.resize(other, len(voice))
    return whole(voice + other * np.sqrt(power / (other**2).mean() / 10 ** (ratio_db / 10)))


def music(seconds: float, seed: int = 3) -> NDArray[np.float64]:
    """A made-up tune: three voices of decaying tones with overtones, and a soft beat."""
    rng = np.random.default_rng(seed)
    track = np.zeros(round(seconds * RATE))
    scale = 220 * 2 ** (np.array([0, 2, 4, 7, 9, 12, 14, 16]) / 12)
    for voice, length in ((0.5, 0.25), (1.0, 0.5), (2.0, 1.0)):
        t = np.arange(round(length * RATE)) / RATE
        for start in range(0, len(track) - len(t), len(t)):
            pitch = rng.choice(scale) / voice
            tone = sum(np.sin(2 * np.pi * pitch * k * t) / k for k in (1, 2, 3, 4))
            track[start : start + len(t)] += tone * np.exp(-3 * t / length) * np.minimum(t / 0.01, 1)
    return track


def pink(seconds: float, seed: int = 4) -> NDArray[np.float64]:
    """Noise with as much power in each octave."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(round(seconds * RATE)))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 1))
    return np.fft.irfft(spectrum)
