"""Delivered films held against the standards they claim, read back with PyAV and box by box.

Colours: ITU-R BT.709-6, items 3.2 to 3.5 (the matrix; 8-bit codes with black at 16, white at 235, colour 16 to 240).
Tags: ITU-T H.273, tables 2 to 4, where BT.709 is number 1 in each. Boxes: ISO/IEC 14496-12 (moov, mdat, colr nclx).
Key frames: ITU-T H.264 table 7-1, NAL type 5 is an IDR picture, which nothing before it is needed for.
That the index comes first, that the rate is constant, the groups closed and the sound AAC at 48 kHz is what hosts
commonly ask for: common practice, no source.
"""

from __future__ import annotations

import json
import wave
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from av.bitstream import BitStreamFilterContext
from pastepot.render.deliver import Order, deliver
from pastepot.render.probe import nal_types
from PIL import Image

# 100 % bars: R, G, B and the codes Y, Cb, Cr that BT.709 gives them, rounded.
BARS = {
    "white": ((255, 255, 255), (235, 128, 128)),
    "yellow": ((255, 255, 0), (219, 16, 138)),
    "cyan": ((0, 255, 255), (188, 154, 16)),
    "green": ((0, 255, 0), (173, 42, 26)),
    "magenta": ((255, 0, 255), (78, 214, 230)),
    "red": ((255, 0, 0), (63, 102, 240)),
    "blue": ((0, 0, 255), (32, 240, 118)),
    "black": ((0, 0, 0), (16, 128, 128)),
}
AAC_FRAME = 1024
"""Samples in a frame of AAC-LC (ISO/IEC 14496-3)."""


def render(folder: Path, pictures: list[np.ndarray], fps: str = "12", first: int = 1) -> Path:
    folder.mkdir()
    names = {str(first + n): f"frame_{first + n:04}.png" for n in range(len(pictures))}
    for name, picture in zip(names.values(), pictures, strict=True):
        Image.fromarray(picture).save(folder / name)
    height, width, _ = pictures[0].shape
    values = {"schema": 1, "fps": fps, "size": [width, height], "first": first, "last": first + len(pictures) - 1}
    (folder / "frames.json").write_text(json.dumps(values | {"frames": names}))
    return folder


def bars() -> np.ndarray:
    return np.repeat(np.array([rgb for rgb, _ in BARS.values()], np.uint8), 16, axis=0)[None].repeat(48, axis=0)


def greys(count: int) -> list[np.ndarray]:
    """Pictures that can be told apart: each a flat grey eight codes from its neighbours."""
    return [np.full((48, 64, 3), 20 + 8 * (n % 26), np.uint8) for n in range(count)]


def film(folder: Path, pictures: list[np.ndarray], fps: str = "12", wanted: str | None = None, **order: Any) -> Path:
    out = folder / "film.mp4"
    deliver(Order(render(folder / "frames", pictures, fps), out, fps=Fraction(wanted) if wanted else None, **order))
    return out


def shown(path: Path) -> list[np.ndarray]:
    """The luma plane of every frame, as decoded."""
    with av.open(str(path)) as container:
        return [planes(frame)[0] for frame in container.decode(video=0)]


def planes(frame: av.VideoFrame) -> list[np.ndarray]:
    return [
        np.frombuffer(p, np.uint8).reshape(p.height, p.line_size)[:, : p.width].astype(int) for p in frame.planes[:3]
    ]


# Colour ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BARS)
def test_the_bar_table_is_what_bt_709_says(name: str) -> None:
    """The table above by the formulas of BT.709-6: Y = .2126 R + .7152 G + .0722 B, and so on."""
    (r, g, b), codes = BARS[name]
    y = 0.2126 * r / 255 + 0.7152 * g / 255 + 0.0722 * b / 255
    by_formula = (16 + 219 * y, 128 + 224 * (b / 255 - y) / 1.8556, 128 + 224 * (r / 255 - y) / 1.5748)
    assert codes == tuple(round(v) for v in by_formula)


def test_bars_have_the_codes_of_bt_709_to_within_one(tmp_path: Path) -> None:
    with av.open(str(film(tmp_path, [bars()] * 6))) as container:
        y, cb, cr = planes(next(container.decode(video=0)))
    for n, (_, codes) in enumerate(BARS.values()):
        found = (y[24, 16 * n + 8], cb[12, 8 * n + 4], cr[12, 8 * n + 4])
        assert found == pytest.approx(codes, abs=1)


def test_the_stream_itself_is_tagged_bt_709_and_limited(tmp_path: Path) -> None:
    """Its own headers say so, without the file around it: a copy into another container keeps it."""
    bare = av.CodecContext.create("h264", "r")
    with av.open(str(film(tmp_path, greys(6)))) as container:
        stream = container.streams.video[0]
        unwrapped = BitStreamFilterContext("h264_mp4toannexb", stream)
        for packet in container.demux(stream):
            for plain in unwrapped.filter(packet if packet.size else None):
                bare.decode(plain)
        assert (stream.codec_context.profile, stream.codec_context.pix_fmt) == ("High", "yuv420p")
    assert (bare.color_primaries, bare.color_trc, bare.colorspace, bare.color_range) == (1, 1, 1, 1)


def test_the_file_is_tagged_by_a_colr_box(tmp_path: Path) -> None:
    """ISO/IEC 14496-12, 12.1.5: 'nclx', primaries, transfer and matrix in two bytes each, then the full-range bit."""
    data = film(tmp_path, greys(6)).read_bytes()
    at = data.index(b"colrnclx")
    assert data[at + 8 : at + 15] == bytes([0, 1, 0, 1, 0, 1, 0])


# File --------------------------------------------------------------------------------------------------------------


def test_the_index_stands_before_the_pictures(tmp_path: Path) -> None:
    data, at, kinds = film(tmp_path, greys(6)).read_bytes(), 0, []
    while at < len(data):
        kinds.append(data[at + 4 : at + 8].decode())
        at += int.from_bytes(data[at : at + 4], "big")
    assert kinds[0] == "ftyp"
    assert kinds.index("moov") < kinds.index("mdat")
    assert at == len(data)


@pytest.mark.parametrize(
    ("fps", "wanted", "group"),
    [
        ("12", None, 6),
        ("12", "24", 12),
        ("12", "48", 24),
        ("15", "30", 15),
        ("24", None, 12),
        ("25", None, 12),
        ("24000/1001", None, 12),
        ("12000/1001", "24000/1001", 12),
        ("30000/1001", None, 15),
    ],
)
def test_the_rate_is_exact_and_constant_and_each_half_second_starts_anew(
    tmp_path: Path, fps: str, wanted: str | None, group: int
) -> None:
    rate = Fraction(wanted or fps)
    count = 30 * int(rate / Fraction(fps))
    with av.open(str(film(tmp_path, greys(30), fps, wanted))) as container:
        stream = container.streams.video[0]
        prefix = (stream.codec_context.extradata[4] & 3) + 1
        packets = sorted((p for p in container.demux(stream) if p.size), key=lambda p: p.pts)
        assert stream.average_rate == rate
        assert stream.duration * stream.time_base == count / rate
        assert [(p.pts - packets[0].pts) * stream.time_base * rate for p in packets] == list(range(count))
        assert [n for n, p in enumerate(packets) if p.is_keyframe] == list(range(0, count, group))
        assert [n for n, p in enumerate(packets) if 5 in nal_types(bytes(p), prefix)] == list(range(0, count, group))


def test_every_group_of_pictures_decodes_without_the_one_before(tmp_path: Path) -> None:
    path = film(tmp_path, greys(24))
    whole = shown(path)
    with av.open(str(path)) as container:
        container.seek(round(1.0 * av.time_base), backward=True)
        late = [planes(frame)[0] for frame in container.decode(video=0)]
    assert len(late) == 12
    assert all((a == b).all() for a, b in zip(late, whole[12:], strict=True))


def test_twelve_becomes_twenty_four_by_showing_each_picture_twice(tmp_path: Path) -> None:
    seen = [float(y.mean()) for y in shown(film(tmp_path, greys(24), "12", "24"))]
    assert len(seen) == 48
    # Eight codes of 255 are 6.9 of the 219 between black and white.
    wanted = np.repeat([16 + 219 * (20 + 8 * n) / 255 for n in range(24)], 2)
    assert seen == pytest.approx(wanted, abs=1)
    assert seen[::2] == pytest.approx(seen[1::2], abs=0.25)


# Sound -------------------------------------------------------------------------------------------------------------


def click(path: Path, at: int, length: int, rate: int, channels: int = 1) -> Path:
    """A sound that is silent but for one sample; after it, a quiet tone would hide the click, so there is none."""
    samples = np.zeros((length, channels), "<i2")
    samples[at] = 30000
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())
    return path


def heard(path: Path) -> tuple[np.ndarray, float]:
    """Both channels as a player presents them, and the time of their first sample."""
    with av.open(str(path)) as container:
        frames = list(container.decode(audio=0))
        assert {f.sample_rate for f in frames} == {48000}
    return np.concatenate([f.to_ndarray() for f in frames], axis=1), frames[0].time


@pytest.mark.parametrize("rate", [22050, 44100, 48000, 96000])
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(("sound_frame", "shift"), [(None, 0.0), (4, 0.25), (-11, -1.0)])
def test_a_click_is_heard_where_it_is_to_the_millisecond(
    tmp_path: Path, rate: int, channels: int, sound_frame: int | None, shift: float
) -> None:
    """The samples that an AAC encoder puts first are taken off again by the file's edit list."""
    sound = click(tmp_path / "s.wav", round(1.3 * rate), 2 * rate, rate, channels)
    samples, start = heard(film(tmp_path, greys(24), sound=sound, sound_frame=sound_frame))
    for side in samples:
        assert start + np.abs(side).argmax() / 48000 == pytest.approx(1.3 + shift, abs=1e-3)


@pytest.mark.parametrize("seconds", [0.4, 1.999, 2.0, 2.001, 5.0])
@pytest.mark.parametrize(("fps", "length"), [("12", 2.0), ("24000/1001", 1.001)])
def test_sound_lasts_as_long_as_the_pictures(tmp_path: Path, seconds: float, fps: str, length: float) -> None:
    sound = click(tmp_path / "s.wav", 100, round(seconds * 44100), 44100)
    path = film(tmp_path, greys(24), fps, sound=sound)
    with av.open(str(path)) as container:
        audio = container.streams.audio[0]
        assert abs(audio.duration * audio.time_base - Fraction(24) / Fraction(fps)) * 48000 <= AAC_FRAME
        assert (audio.codec_context.name, audio.rate, audio.layout.name) == ("aac", 48000, "stereo")
    samples, _ = heard(path)
    assert abs(samples.shape[1] - length * 48000) <= AAC_FRAME


def tone(path: Path, seconds: float, channels: int = 1) -> Path:
    wave_of = 0.25 * 32767 * np.sin(2 * np.pi * 1000 * np.arange(round(seconds * 44100)) / 44100)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(44100)
        file.writeframes(np.repeat(wave_of.astype("<i2")[:, None], channels, axis=1).tobytes())
    return path


@pytest.mark.parametrize("channels", [1, 2])
def test_a_tone_keeps_its_level_and_pitch(tmp_path: Path, channels: int) -> None:
    """A quarter of full scale at 1 kHz comes out as that on both sides, whether it came in on one channel or two."""
    samples, _ = heard(film(tmp_path, greys(24), sound=tone(tmp_path / "s.wav", 2.0, channels)))
    for side in samples:
        spectrum = np.abs(np.fft.rfft(side[24000:72000] * np.hanning(48000)))
        assert spectrum.argmax() == 1000  # one bin is one hertz
        assert np.sqrt(2 * (side[24000:72000] ** 2).mean()) == pytest.approx(0.25, rel=0.02)


def test_silence_fills_the_film_to_its_end(tmp_path: Path) -> None:
    samples, _ = heard(film(tmp_path, greys(24), sound=tone(tmp_path / "s.wav", 0.5)))
    assert np.abs(samples[:, 12000:20000]).max() > 0.2
    assert np.abs(samples[:, 27000:]).max() < 1e-3
