"""Masters, rates, shapes and loudness held against the standards they claim, read back with PyAV and byte by byte.

Colours: ITU-R BT.709-6, 10-bit codes (black 64, white 940, colour 64 to 960). ProRes 422 HQ: 'apch', 10-bit 4:2:2
(Apple's white paper on ProRes, from memory). colr 'nclc': QuickTime File Format, three numbers of ITU-T H.273. FFV1:
RFC 9043; what a lossless coder gives back is what it was given. Loudness: EBU Tech 3341, minimum requirements, signals
1 to 5, within 0.1 LU (signals from memory), and the 0 dBFS 997 Hz tone of ITU-R BS.1770 in one channel, -3.01 LUFS.
"""

from __future__ import annotations

import json
import wave
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import opentimelineio as otio
import pytest
from pastepot.render.deliver import Delivered, Order, deliver
from pastepot.render.loudness import Loudness, measure
from PIL import Image

BARS = {
    "white": (255, 255, 255),
    "yellow": (255, 255, 0),
    "cyan": (0, 255, 255),
    "green": (0, 255, 0),
    "magenta": (255, 0, 255),
    "red": (255, 0, 0),
    "blue": (0, 0, 255),
    "black": (0, 0, 0),
}
RATE = 48000


def render(folder: Path, pictures: Sequence[np.ndarray], fps: str = "12") -> Path:
    folder.mkdir()
    names = {str(1 + n): f"frame_{1 + n:04}.png" for n in range(len(pictures))}
    saved: dict[int, Path] = {}
    for name, picture in zip(names.values(), pictures, strict=True):
        if id(picture) in saved:
            (folder / name).hardlink_to(saved[id(picture)])
        else:
            Image.fromarray(picture).save(folder / name)
            saved[id(picture)] = folder / name
    height, width, _ = pictures[0].shape
    values = {"schema": 1, "fps": fps, "size": [width, height], "first": 1, "last": len(pictures)}
    (folder / "frames.json").write_text(json.dumps(values | {"frames": names}))
    return folder


def bars() -> np.ndarray:
    return np.repeat(np.array(list(BARS.values()), np.uint8), 16, axis=0)[None].repeat(48, axis=0)


def greys(count: int, size: tuple[int, int] = (64, 48)) -> list[np.ndarray]:
    return [np.full((size[1], size[0], 3), 20 + 8 * (n % 26), np.uint8) for n in range(count)]


def film(folder: Path, name: str, pictures: Sequence[np.ndarray], made_at: str = "12", **order: Any) -> Delivered:
    return deliver(Order(render(folder / "frames", pictures, made_at), folder / name, **order))


def write_wav(path: Path, samples: np.ndarray) -> Path:
    """(n,) or (n, 2) floats at 48 kHz, 16 bits."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1 if samples.ndim == 1 else 2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.rint(samples * 32767).astype("<i2").tobytes())
    return path


# Masters -----------------------------------------------------------------------------------------------------------


def test_prores_is_422_hq_in_ten_bits_and_tagged(tmp_path: Path) -> None:
    found = film(tmp_path, "m.mov", greys(12)).found
    video = found["video"]
    assert (video["codec"], video["profile"], video["pixels"], video["tag"]) == ("prores", "HQ", "yuv422p10le", "apch")
    assert (video["colr"], found["moov_first"]) == ("nclc 1 1 1", True)
    assert video["key_frames"] == list(range(12))
    data = (tmp_path / "m.mov").read_bytes()
    at = data.index(b"colrnclc")
    assert data[at + 8 : at + 14] == bytes([0, 1, 0, 1, 0, 1])


def test_bars_in_prores_have_the_ten_bit_codes_of_bt_709(tmp_path: Path) -> None:
    film(tmp_path, "m.mov", [bars()] * 2)
    with av.open(str(tmp_path / "m.mov")) as container:
        frame = next(container.decode(video=0))
    y, cb, cr = (
        np.frombuffer(p, "<u2").reshape(p.height, p.line_size // 2)[:, : p.width].astype(int) for p in frame.planes
    )
    for n, (red, green, blue) in enumerate(np.array(list(BARS.values())) / 255):
        luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        wanted = (64 + 876 * luma, 512 + 896 * (blue - luma) / 1.8556, 512 + 896 * (red - luma) / 1.5748)
        assert (y[24, 16 * n + 8], cb[24, 8 * n + 4], cr[24, 8 * n + 4]) == pytest.approx(wanted, abs=4)


def test_ffv1_gives_every_pixel_back(tmp_path: Path) -> None:
    chance = np.random.default_rng(5)
    pictures = [chance.integers(0, 256, (47, 63, 3), np.uint8) for _ in range(5)]  # odd sizes are fine here
    video = film(tmp_path, "m.mkv", pictures).found["video"]
    assert (video["codec"], video["pixels"], video["closed_gop"], video["matrix"]) == ("ffv1", "bgr0", True, 0)
    assert (video["primaries"], video["transfer"], video["range"]) == (1, 1, 2)
    with av.open(str(tmp_path / "m.mkv")) as container:
        shown = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert all((a == b).all() for a, b in zip(shown, pictures, strict=True))


@pytest.mark.parametrize("name", ["m.mov", "m.mkv"])
@pytest.mark.parametrize("fps", ["12", "24000/1001"])
def test_sound_of_a_master_is_in_step_to_the_sample_from_end_to_end(tmp_path: Path, name: str, fps: str) -> None:
    """Clicks at the start and the end of two minutes: 24 bits of PCM, nothing before or between."""
    count = round(120 * Fraction(fps))
    length = round(count / Fraction(fps) * RATE)
    samples = np.zeros(length)
    samples[[0, 1000, length - 1000, length - 1]] = 0.5
    made = film(tmp_path, name, greys(1, (16, 16)) * count, fps, sound=write_wav(tmp_path / "s.wav", samples))
    assert (made.found["sound"]["codec"], made.found["sound"]["samples"]) == ("pcm_s24le", length)
    with av.open(str(tmp_path / name)) as container:
        frames = [f.to_ndarray() for f in container.decode(audio=0)]
    heard = np.concatenate([f.reshape(-1, 2) for f in frames])[:, 0] / 2**31
    assert np.flatnonzero(np.abs(heard) > 0.1).tolist() == [0, 1000, length - 1000, length - 1]


@pytest.mark.parametrize("at", [1000, 120 * RATE - 1000])
def test_aac_keeps_step_over_two_minutes(tmp_path: Path, at: int) -> None:
    samples = np.zeros(120 * RATE)
    samples[at] = 0.9
    film(tmp_path, "f.mp4", greys(1, (16, 16)) * 1440, sound=write_wav(tmp_path / "s.wav", samples))
    with av.open(str(tmp_path / "f.mp4")) as container:
        frames = list(container.decode(audio=0))
    heard = np.abs(np.concatenate([f.to_ndarray() for f in frames], axis=1)[0])
    assert round(frames[0].time * RATE) + heard.argmax() == at


# Rates -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["f.mp4", "f.mov", "f.mkv"])
@pytest.mark.parametrize(
    ("fps", "wanted"),
    [("12", "24"), ("12", "25"), ("12", "30"), ("12", "24000/1001"), ("12", "30000/1001"), ("24", "24000/1001")],
)
def test_every_rate_keeps_the_films_time(tmp_path: Path, name: str, fps: str, wanted: str) -> None:
    """Two seconds of film; OpenTimelineIO says how many frames that is, and which picture each of them shows."""
    count, rate = 2 * int(fps), Fraction(wanted)
    video = film(tmp_path, name, greys(count), fps, fps=rate, uneven=True).found["video"]
    length = otio.opentime.RationalTime(count, int(fps)).rescaled_to(float(rate))
    assert (video["frames"], video["rate"]) == (round(length.value), str(rate))
    with av.open(str(tmp_path / name)) as container:
        frames = list(container.decode(video=0))
    seen = [round((f.to_ndarray(format="rgb24").mean() - 20) / 8) for f in frames]
    pictures = [
        int(otio.opentime.RationalTime(n, float(rate)).rescaled_to(int(fps)).value + 1e-6) for n in range(len(seen))
    ]
    assert seen == [n % 26 for n in pictures]
    assert [round(f.pts * f.time_base * 1000) for f in frames] == pytest.approx(
        [n / rate * 1000 for n in range(len(frames))], abs=1
    )


def test_twelve_in_thirty_is_two_and_three_in_turn(tmp_path: Path) -> None:
    film(tmp_path, "f.mkv", greys(12), fps=Fraction(30), uneven=True)
    with av.open(str(tmp_path / "f.mkv")) as container:
        seen = [f.to_ndarray(format="rgb24")[0, 0, 0] for f in container.decode(video=0)]
    assert [seen.count(20 + 8 * n) for n in range(12)] == [3, 2] * 6


# Shape -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wide", "size"), [("bars", (192, 108)), ("crop", (144, 80))])
def test_four_by_three_becomes_wide(tmp_path: Path, wide: Any, size: tuple[int, int]) -> None:
    picture = np.full((108, 144, 3), 200, np.uint8)
    picture[:14], picture[94:] = 90, 90
    assert film(tmp_path, "f.mkv", [picture] * 2, wide=wide).found["video"]["size"] == list(size)
    with av.open(str(tmp_path / "f.mkv")) as container:
        shown = next(container.decode(video=0)).to_ndarray(format="rgb24")
    if wide == "bars":
        assert not shown[:, :24].any()
        assert not shown[:, 168:].any()
        assert (shown[:, 24:168] == picture).all()
    else:
        assert (shown == 200).all()


@pytest.mark.parametrize(
    ("size", "wide", "wanted"),
    [((2880, 2160), "bars", (3840, 2160)), ((1440, 1080), "bars", (1920, 1080)), ((1440, 1080), "crop", (1440, 810))],
)
def test_the_sizes_of_wide_films(size: tuple[int, int], wide: Any, wanted: tuple[int, int]) -> None:
    """16:9 out of 4:3 keeps three quarters of the height, or adds a third to the width: arithmetic."""
    from pastepot.render.fit import fitted_size

    assert fitted_size(size, wide) == wanted


# Loudness ----------------------------------------------------------------------------------------------------------


def tone(*parts: tuple[float, float], hertz: float = 1000) -> np.ndarray:
    """(n, 2) samples of a sine of so many dBFS for so many seconds each, the same on both sides."""
    level = np.concatenate([np.full(round(s * RATE), 10 ** (db / 20)) for db, s in parts])
    sine = level * np.sin(2 * np.pi * hertz * np.arange(level.size) / RATE)
    return np.column_stack([sine, sine])


def loudness(samples: np.ndarray) -> Loudness:
    blocks = np.array_split(samples.T.astype(np.float32), max(1, len(samples) // 4096), axis=1)
    return measure([np.ascontiguousarray(b) for b in blocks])


@pytest.mark.parametrize(
    ("parts", "lufs"),
    [
        pytest.param([(-23, 20)], -23, id="Tech 3341 signal 1"),
        pytest.param([(-33, 20)], -33, id="Tech 3341 signal 2"),
        pytest.param([(-36, 10), (-23, 60), (-36, 10)], -23, id="Tech 3341 signal 3"),
        pytest.param([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23, id="Tech 3341 signal 4"),
        pytest.param([(-26, 20), (-20, 20.1), (-26, 20)], -23, id="Tech 3341 signal 5"),
    ],
)
def test_the_signals_of_ebu_tech_3341(parts: list[tuple[float, float]], lufs: float) -> None:
    assert loudness(tone(*parts)).lufs == pytest.approx(lufs, abs=0.1)


def test_the_range_of_ebu_tech_3342() -> None:
    assert loudness(tone((-20, 20), (-30, 20))).range == pytest.approx(10, abs=1)


def test_a_full_tone_in_one_channel_of_bs_1770() -> None:
    samples = tone((0, 20), hertz=997)
    samples[:, 1] = 0
    assert loudness(samples).lufs == pytest.approx(-3.01, abs=0.1)


def test_a_peak_between_the_samples_is_seen() -> None:
    """12 kHz at 45 degrees: samples reach -9.01 dBFS, the wave -6. Tech 3341 allows +0.2 and -0.4."""
    sine = 10 ** (-6 / 20) * np.sin(2 * np.pi * 12000 * np.arange(4 * RATE) / RATE + np.pi / 4)
    fade = np.minimum(
        1, np.minimum(np.arange(sine.size), np.arange(sine.size)[::-1]) / 4800
    )  # a sudden start overshoots
    sine *= fade
    assert -6.4 <= loudness(np.column_stack([sine, sine])).peak <= -5.8


def test_silence_has_no_loudness() -> None:
    silent = loudness(np.zeros((RATE, 2)))
    assert (silent.lufs, silent.gain_to(-23)) == (None, 0.0)


@pytest.mark.parametrize(("level", "target"), [(-33, -23), (-14, -23), (-20, -16)])
def test_the_film_has_the_loudness_that_was_asked_for(tmp_path: Path, level: float, target: float) -> None:
    sound = write_wav(tmp_path / "s.wav", tone((level, 6)))
    made = film(tmp_path, "f.mkv", greys(1) * 72, sound=sound, loudness=target)
    assert made.gain == pytest.approx(target - level, abs=0.1)
    with av.open(str(tmp_path / "f.mkv")) as container:
        frames = [f.to_ndarray().reshape(-1, 2) / 2**31 for f in container.decode(audio=0)]
    assert loudness(np.concatenate(frames)).lufs == pytest.approx(target, abs=0.1)


def test_the_true_peak_limit_comes_before_the_target(tmp_path: Path) -> None:
    samples = tone((-40, 6))
    samples[RATE : RATE + 20] = 0.5
    made = film(tmp_path, "f.mkv", greys(1) * 72, sound=write_wav(tmp_path / "s.wav", samples), loudness=-14.0)
    assert made.loudness is not None
    assert made.loudness.peak == pytest.approx(-1.0, abs=0.01)
    assert any("would go over -1 dBTP" in p.what for p in made.warnings)


def test_sound_is_left_as_loud_as_it_was_unless_asked(tmp_path: Path) -> None:
    made = film(tmp_path, "f.mkv", greys(1) * 72, sound=write_wav(tmp_path / "s.wav", tone((-30, 6))))
    assert made.gain == 0
    assert made.loudness is not None
    assert made.loudness.lufs == pytest.approx(-30, abs=0.1)
