"""Recorded speech with its published words, from Debian's package pocketsphinx-testdata (BSD-2-Clause); never copied.

Five sentences that a LibriVox volunteer reads, and names of playing cards. Their sounds' true times are not published.
"""

from __future__ import annotations

import re
import wave
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

PLACE = Path("/usr/share/pocketsphinx/test/data")
_ROW = re.compile(r"(?:<s>)?(?P<text>.*?)(?:</s>)?\s*\((?P<name>\S+)\)")


class Recorded(NamedTuple):
    """samples: of 16 bits at 16 kHz."""

    name: str
    text: str
    samples: NDArray[np.int16]


def lines() -> list[Recorded]:
    """What the package carries; empty where it is not installed."""
    found = []
    for file in ("librivox/transcription", "cards/cards.transcription"):
        path = PLACE / file
        for row in path.read_text(encoding="utf-8").splitlines() if path.is_file() else ():
            if match := _ROW.match(row.strip()):
                sound = path.parent / f"{match['name']}.wav"
                with wave.open(str(sound), "rb") as wav:
                    samples = np.frombuffer(wav.readframes(wav.getnframes()), "<i2")
                found.append(Recorded(match["name"], match["text"].strip(), samples))
    return found
