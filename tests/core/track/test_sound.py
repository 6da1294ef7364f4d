"""Any sound in pieces of 16 kHz: odd kinds of file, long ones, and broken ones."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from pastepot.errors import PastepotError
from pastepot.track import sound

pytest.importorskip("av", reason="SOUNDS ARE NOT TESTED: PyAV is not installed")


def whole(path) -> np.ndarray:
    return np.concatenate(list(sound.blocks(path)))


@pytest.mark.parametrize(
    ("rate", "width"), [(8_000, 2), (16_000, 2), (44_100, 1), (48_000, 3), (96_000, 2), (192_000, 4)]
)
def test_rates_and_depths(tmp_path, wav, make_tone, rate, width):
    heard = whole(wav(tmp_path / "a.wav", make_tone(1.0, rate), rate, width)).astype(float) / 32768
    assert abs(len(heard) - sound.RATE) <= 2
    spectrum = np.abs(np.fft.rfft(heard))
    assert abs(np.argmax(spectrum) * sound.RATE / len(heard) - 440) < 2
    assert abs(heard[4000:12000].std() - 0.5 / np.sqrt(2)) < 0.01


def test_the_middle_of_six_channels_is_heard(tmp_path, wav, make_tone):
    six = np.zeros((48_000, 6))
    six[:, 2] = make_tone(1.0, 48_000)  # 5.1 as a WAV has it: left, right, middle, ...
    heard = whole(wav(tmp_path / "a.wav", six, 48_000, 2, 6)).astype(float) / 32768
    assert heard[4000:12000].std() > 0.05


def test_pieces_overlap_and_come_in_any_order(tmp_path, wav):
    ramp = np.arange(5 * sound.RATE) / (5 * sound.RATE)
    path = wav(tmp_path / "a.wav", ramp)
    measured = sound.Measured()
    found = {
        p.span: p for p in sound.pieces(path, [(3.0, 4.0), (0.5, 3.5), (4.5, 9.0), (7.0, 8.0), (-1.0, 0.1)], measured)
    }
    assert {n: (p.start, len(p.samples)) for n, p in found.items()} == {
        0: (3.0, 16_000), 1: (0.5, 48_000), 2: (4.5, 8_000), 3: (7.0, 0), 4: (0.0, 1_600),
    }  # fmt: skip
    for n in (0, 1, 2):
        expected = ramp[round(found[n].start * sound.RATE) :][: len(found[n].samples)]
        assert np.abs(found[n].samples / 32767 - expected).max() < 1e-4
    assert measured.seconds == 5.0


@pytest.mark.slow
def test_two_hours_take_no_more_memory_than_two_minutes(tmp_path, wav):
    peaks = []
    for minutes in (2, 120):
        path = wav(tmp_path / "a.wav", np.zeros(minutes * 60 * 4000), 4000, 1)
        tracemalloc.start()
        for piece in sound.pieces(path, [(k * 10.0, k * 10.0 + 3) for k in range(minutes * 6)]):
            assert len(piece.samples) == 3 * sound.RATE
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < peaks[0] * 1.5 + 2_000_000


@pytest.mark.parametrize("kind", ["missing", "empty", "text", "cut", "no samples", "a picture"])
def test_a_file_that_is_no_sound_is_refused(tmp_path, wav, make_tone, make_png, kind):
    path = tmp_path / "a.wav"
    if kind in ("cut", "no samples"):
        wav(path, make_tone(1.0 if kind == "cut" else 0.0))
        path.write_bytes(path.read_bytes()[:20] if kind == "cut" else path.read_bytes())
    elif kind != "missing":
        path.write_bytes({"empty": b"", "text": b"no sound at all\n" * 40, "a picture": make_png.png()}[kind])
    with pytest.raises(PastepotError) as caught:
        whole(path)
    problem = caught.value.problems[0]
    assert problem.what.startswith("The sound can't be used. ")
    assert problem.file == "track/a.wav"
