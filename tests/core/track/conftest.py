"""Mouths that were never drawn, sounds as files, and a film with a snail that can speak."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest
from pastepot.library.parts import MouthShape, Part
from pastepot.track.mouths import MouthSet

SHAPES = {
    "rest": MouthShape("closed", 0.0, 0.3),
    "bite": MouthShape("touching-teeth", 0.15, 0.3),
    "smile": MouthShape("apart", 0.4, 0.0),
    "gape": MouthShape("apart", 1.0, 0.3),
    "pea": MouthShape("apart", 0.3, 1.0),
}


def mouth_set(*names: str, fixed: dict[str, int] | None = None) -> MouthSet:
    """The set of those mouths, all of them if none is named."""
    chosen = {n: SHAPES[n] for n in names or SHAPES}
    parts = [Part(n, "snail", "mouth", "", 1.0, (0.0, 0.0), replaces="snail-mouth", mouth=m) for n, m in chosen.items()]
    return MouthSet("snail-mouth", tuple(parts), fixed or {})


@pytest.fixture
def mouths():
    """The function that makes a set."""
    return mouth_set


def write_wav(path: Path, samples: np.ndarray, rate: int = 16_000, width: int = 2, channels: int = 1) -> Path:
    """Samples from -1 to 1, (n,) or (n, channels), as a WAV of 8, 16, 24 or 32 bits."""
    top = 2 ** (8 * width - 1) - 1
    whole = np.round(np.clip(samples, -1, 1) * top).astype(np.int64)
    if width == 1:
        raw = (whole + 128).astype(np.uint8).tobytes()
    else:
        raw = whole.astype("<i8").reshape(-1, 1).view(np.uint8)[:, :width].tobytes()
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(width)
        file.setframerate(rate)
        file.writeframes(raw)
    return path


@pytest.fixture
def wav():
    """The function that writes a WAV."""
    return write_wav


def tone(seconds: float, rate: int = 16_000, pitch: float = 440.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * pitch * np.arange(round(seconds * rate)) / rate)


@pytest.fixture
def make_tone():
    """The function that makes a tone."""
    return tone


@pytest.fixture
def pond(folder):
    """A film folder whose snail has five mouths, one shot of 48 frames, and an empty track folder."""
    for name, shape in SHAPES.items():
        looks = {"lips": shape.lips, "open": shape.open, "round": shape.round}
        folder.part(f"snail-{name}", character="snail", type="mouth", replaces="snail-mouth", mouth=looks)
    with folder.film_toml.open("a") as file:
        file.write('\n[[shot]]\nname = "waiting"\nstart = 1\nend = 48\n')
    return folder
