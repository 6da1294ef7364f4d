"""The PNG reader against Pillow, which writes every kind of PNG and is the reference for what can be opened.

Scale: pHYs is whole pixels per metre (ISO/IEC 15948, 11.3.5.3), so 300 dpi is 11811 and comes back as 299.9994 dpi.
"""

from __future__ import annotations

import io
import zlib
from pathlib import Path

import numpy as np
import pytest
from pastepot.library import png
from PIL import Image, PngImagePlugin

MODES = {"1": (0, 1), "L": (0, 8), "LA": (4, 8), "I;16": (0, 16), "P": (3, 8), "RGB": (2, 8), "RGBA": (6, 8)}


def picture(mode: str, size: tuple[int, int] = (37, 23)) -> Image.Image:
    noise = Image.effect_noise(size, 80)
    if mode == "I;16":
        return Image.fromarray(np.asarray(noise).astype(np.uint16) * 257)
    return noise.convert("RGBA").convert(mode)


def saved(image: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", **options)
    return out.getvalue()


def put(folder: Path, data: bytes) -> Path:
    path = folder / "a.png"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("level", [0, 6])
@pytest.mark.parametrize("size", [(37, 23), (1, 1), (700, 500)])
def test_every_mode_that_pillow_writes_is_whole(tmp_path, mode, level, size):
    path = put(tmp_path, saved(picture(mode, size), compress_level=level))
    info = png.verify(path)
    assert info.size == size
    assert (info.colour_type, info.bit_depth) == MODES[mode]
    with Image.open(path) as opened:
        assert info.has_alpha == opened.has_transparency_data


@pytest.mark.parametrize("bits", [1, 2, 4, 8])
def test_palettes_of_every_depth(tmp_path, bits):
    image = picture("RGB").quantize(2**bits)
    info = png.verify(put(tmp_path, saved(image, bits=bits, transparency=0)))
    assert (info.colour_type, info.bit_depth, info.has_alpha) == (3, bits, True)


@pytest.mark.parametrize(
    ("dpi", "px_per_m", "back_dpi"),  # check values computed with Pillow, as ISO/IEC 15948 rounds
    [
        (72, 2835, 72.009),
        (96, 3780, 96.012),
        (150, 5906, 150.0124),
        (300, 11811, 299.9994),
        (600, 23622, 599.9988),
        (1200, 47244, 1199.9976),
    ],
)
def test_the_scale_is_what_pillow_wrote(tmp_path, dpi, px_per_m, back_dpi):
    path = put(tmp_path, saved(picture("RGBA"), dpi=(dpi, dpi)))
    info = png.read(path)
    assert info.px_per_m == (px_per_m, px_per_m)
    assert info.px_per_mm * 25.4 == pytest.approx(back_dpi, abs=1e-4)
    with Image.open(path) as opened:
        assert opened.info["dpi"][0] == pytest.approx(info.px_per_mm * 25.4, abs=1e-9)


def test_what_pillow_says_of_colour_is_read(tmp_path):
    extra = PngImagePlugin.PngInfo()
    extra.add(b"gAMA", (45455).to_bytes(4, "big"))
    extra.add(b"sRGB", b"\0")
    path = put(tmp_path, saved(picture("RGB"), pnginfo=extra))
    with Image.open(path) as opened:
        assert (
            (opened.info["gamma"], opened.info["srgb"]) == (png.read(path).gamma, png.read(path).srgb) == (0.45455, 0)
        )


def test_an_embedded_profile_is_seen(tmp_path):
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert png.read(put(tmp_path, saved(picture("RGB"), icc_profile=profile))).icc == "ICC Profile"


def chunk_starts(data: bytes) -> list[int]:
    starts, position = [], 8
    while position < len(data):
        starts.append(position)
        position += 12 + int.from_bytes(data[position : position + 4], "big")
    return starts


@pytest.mark.parametrize("mode", MODES)
def test_a_cut_at_or_in_any_chunk_is_noticed(tmp_path, mode):
    data = saved(picture(mode, (300, 200)), dpi=(300, 300))
    starts = chunk_starts(data)
    assert len(starts) >= 4
    for start in starts:
        for cut in (start, start + 3, start + 7, start + 8, start + 11):
            if cut < len(data):
                with pytest.raises(png.PngError):
                    png.verify(put(tmp_path, data[:cut]))


def adam7(pixels: np.ndarray) -> bytes:
    """An interlaced PNG of RGBA pixels (height, width, 4), by the table of passes in ISO/IEC 15948, 8.2."""
    height, width = pixels.shape[:2]
    rows = bytearray()
    for y, x, dy, dx in (
        (0, 0, 8, 8),
        (0, 4, 8, 8),
        (4, 0, 8, 4),
        (0, 2, 4, 4),
        (2, 0, 4, 2),
        (0, 1, 2, 2),
        (1, 0, 2, 1),
    ):
        for row in pixels[y::dy, x::dx]:
            rows += b"\0" + row.tobytes() if row.size else b""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    header = width.to_bytes(4, "big") + height.to_bytes(4, "big") + b"\x08\x06\0\0\1"
    return b"".join(
        (png.SIGNATURE, chunk(b"IHDR", header), chunk(b"IDAT", zlib.compress(bytes(rows))), chunk(b"IEND", b""))
    )


@pytest.mark.parametrize("width", range(1, 18))
def test_interlaced_pictures_of_every_small_size(tmp_path, width):
    for height in range(1, 18):
        pixels = np.random.default_rng(width * 100 + height).integers(0, 256, (height, width, 4), dtype=np.uint8)
        path = put(tmp_path, adam7(pixels))
        with Image.open(path) as opened:  # Pillow sees the same pixels, so the file is a right one
            assert np.array_equal(np.asarray(opened), pixels)
        info = png.verify(path)
        assert info.interlaced
        assert info.size == (width, height)
