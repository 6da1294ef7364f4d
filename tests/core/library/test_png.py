"""PNGs broken in every way that the standard (ISO/IEC 15948) lets a reader notice without decoding pixels."""

from __future__ import annotations

import os
import tracemalloc
import zlib

import pytest
from pastepot.library import png as pngs
from pastepot.library.png import PngError


@pytest.fixture
def verify(tmp_path):
    """Writes the bytes to a file and verifies it."""

    def write_and_verify(data: bytes):
        path = tmp_path / "a.png"
        path.write_bytes(data)
        return pngs.verify(path)

    return write_and_verify


def refused(verify, data: bytes) -> PngError:
    with pytest.raises(PngError) as caught:
        verify(data)
    return caught.value


def test_what_a_png_says_is_read(verify, make_png):
    m = make_png
    extra = m.chunk(b"gAMA", (45455).to_bytes(4, "big")) + m.chunk(b"sRGB", b"\1") + m.density(11811)
    extra += m.chunk(b"iCCP", b"Paper white\0\0" + zlib.compress(b"profile"))
    info = verify(m.png(extra=extra))
    assert (info.size, info.bit_depth, info.colour_type, info.interlaced) == ((60, 80), 8, 6, False)
    assert info.has_alpha
    assert (info.px_per_m, info.px_per_mm) == ((11811, 11811), 11.811)
    assert (info.gamma, info.srgb, info.icc) == (0.45455, 1, "Paper white")


def test_a_png_that_says_nothing_more(verify, make_png):
    info = verify(make_png.png(colour=2, extra=b""))
    assert not info.has_alpha
    assert (info.px_per_m, info.px_per_mm, info.gamma, info.srgb, info.icc) == (None,) * 5


def test_transparent_colours_count_as_transparency(verify, make_png):
    assert verify(make_png.png(colour=2, extra=make_png.chunk(b"tRNS", bytes(6)))).has_alpha


@pytest.mark.parametrize("unit_or_size", ["unit", "zero", "short", "long"])
def test_a_scale_that_is_no_scale_is_passed_over(verify, make_png, unit_or_size):
    m = make_png
    extra = {
        "unit": m.density(3, unit=0),
        "zero": m.density(0),
        "short": m.chunk(b"pHYs", bytes(8)),
        "long": m.chunk(b"pHYs", m.density(11811)[8:17] + b"\0"),
    }[unit_or_size]
    info = verify(m.png(extra=extra))
    if unit_or_size == "long":
        assert info.px_per_m == (11811, 11811)  # what follows is not looked at
    else:
        assert info.px_per_m is None


def test_reading_stops_at_the_picture_data(tmp_path, make_png):
    path = tmp_path / "a.png"
    path.write_bytes(make_png.png()[:-30] + bytes(30))
    assert pngs.read(path).size == (60, 80)
    with pytest.raises(PngError):
        pngs.verify(path)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(PngError, match="The file is missing"):
        pngs.verify(tmp_path / "gone.png")


@pytest.mark.parametrize("name", ["", "a\0b.png", "x" * 300])
def test_what_is_no_file_is_a_problem_not_a_crash(tmp_path, name):
    with pytest.raises(PngError):
        pngs.verify(tmp_path / name)


def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.png")
    with pytest.raises(PngError, match="This is not a file"):
        pngs.verify(tmp_path / "pipe.png")


def test_the_error_is_a_problem_at_a_place(tmp_path):
    with pytest.raises(PngError) as caught:
        pngs.verify(tmp_path / "gone.png")
    problem = caught.value.problem("renders/0001.png")
    assert str(problem) == "renders/0001.png: The file is missing. Put it in its place, or correct the path."


def test_every_cut_is_noticed(verify, make_png):
    whole = make_png.png(width=3, height=2)
    assert verify(whole).size == (3, 2)
    for length in range(len(whole)):
        refused(verify, whole[:length])


def test_every_flipped_bit_is_noticed(verify, make_png):
    whole = make_png.png(width=3, height=2)
    for i in range(8 * len(whole)):
        broken = bytearray(whole)
        broken[i // 8] ^= 1 << (i % 8)
        refused(verify, bytes(broken))


def broken_files(m):
    """What is said, and a file of which it must be said."""
    rows = bytes(80 * (1 + 60 * 4))
    data, end = m.chunk(b"IDAT", zlib.compress(rows)), m.chunk(b"IEND")
    head = m.signature + m.header()

    def with_header(**fields):
        return m.signature + m.header(**fields) + data + end

    def with_rows(rows):
        return head + m.chunk(b"IDAT", zlib.compress(rows)) + end

    half = zlib.compress(rows)[:-9]
    return [
        ("The file is empty.", b""),
        ("The file is not a PNG picture.", b"\xff\xd8\xff\xe0 something else"),
        ("header (IHDR) is not where it belongs", m.signature + data + end),
        ("header (IHDR) is not where it belongs", head + m.header() + data + end),
        ("header (IHDR) does not make sense", with_header(width=0)),
        ("header (IHDR) does not make sense", with_header(height=2**31)),
        ("header (IHDR) does not make sense", with_header(rest=b"\0\0")),
        ("chunk is there twice, or too long", with_header(rest=b"\0\0\0\0")),
        ("a kind of PNG that does not exist", with_header(depth=4)),
        ("a kind of PNG that does not exist", with_header(colour=5)),
        ("a kind of PNG that does not exist", with_header(rest=b"\1\0\0")),
        ("a kind of PNG that does not exist", with_header(rest=b"\0\1\0")),
        ("a kind of PNG that does not exist", with_header(rest=b"\0\0\2")),
        ("palette (PLTE) does not fit", with_header(colour=3)),
        ("palette (PLTE) does not fit", m.signature + m.header(colour=0) + m.chunk(b"PLTE", bytes(3)) + data + end),
        ("palette (PLTE) does not fit", m.signature + m.header(colour=3) + m.chunk(b"PLTE", bytes(4)) + data + end),
        ("chunk is there twice, or too long", head + m.chunk(b"PLTE", bytes(771)) + data + end),
        ("The picture is 65536 × 65536 pixels.", with_header(width=65536, height=65536)),
        ("needs an extension of PNG (FOOB)", head + m.chunk(b"FOOB") + data + end),
        ("no chunk begins there", head + b"\0\0\0\0f\0ob" + bytes(4) + data + end),
        ("no chunk begins there", head + b"\xff\0\0\0IDAT" + bytes(4)),
        ("fails its checksum", head + data[:-1] + b"\0" + end),
        ("The picture data (IDAT) are not in one run.", head + data + m.chunk(b"tEXt", b"a\0b") + data + end),
        ("ends (IEND) without a picture", head + end),
        ("ends (IEND) without a picture", head + data + m.chunk(b"IEND", b"x")),
        ("The file is cut off", head + data),
        ("The file is cut off", head + b"\0\xff\xff\xffIDAT" + bytes(4)),
        ("19279 of 19280 bytes", with_rows(rows[:-1])),
        ("more than the picture's size allows", with_rows(rows + b"\0")),
        ("not whole", head + m.chunk(b"IDAT", half) + end),
        ("The picture data are not whole: 0 of 19280", head + m.chunk(b"IDAT") + end),
        ("The picture data are damaged.", head + m.chunk(b"IDAT", b"\0" * 20) + end),
        ("The picture data are damaged.", head + m.chunk(b"IDAT", zlib.compress(rows)[:-4] + b"\0\0\0\0") + end),
    ]


@pytest.mark.parametrize("number", range(33))
def test_a_broken_file_is_told_how_it_is_broken(verify, make_png, number):
    said, data = broken_files(make_png)[number]
    error = refused(verify, data)
    assert said in error.what
    assert error.fix


def test_all_broken_files_are_tested(make_png):
    assert len(broken_files(make_png)) == 33


def test_picture_data_may_come_in_many_chunks_even_empty_ones(verify, make_png):
    m = make_png
    data = zlib.compress(bytes(80 * 241))
    pieces = b"".join(m.chunk(b"IDAT", data[i : i + 3]) + m.chunk(b"IDAT") for i in range(0, len(data), 3))
    assert verify(m.signature + m.header() + pieces + m.chunk(b"IEND")).size == (60, 80)


def test_what_follows_the_end_is_left_alone(verify, make_png):
    assert verify(make_png.png() + b"more").size == (60, 80)


def bomb(m, size: int) -> bytes:
    """A small file whose data would inflate to `size` bytes, in a picture of 60 × 80."""
    packer = zlib.compressobj(9)
    data = b"".join(packer.compress(bytes(1 << 20)) for _ in range(size >> 20)) + packer.flush()
    return m.signature + m.header() + m.chunk(b"IDAT", data) + m.chunk(b"IEND")


def test_a_file_that_yields_too_much_is_stopped_at_once(verify, make_png, monkeypatch):
    data = bomb(make_png, 64 << 20)
    assert len(data) < 100_000
    inflated: list[int] = []
    inflate = pngs._Picture._inflate
    monkeypatch.setattr(pngs._Picture, "_inflate", lambda self, d: inflated.append(len(d)) or inflate(self, d))
    error = refused(verify, data)
    assert error.what == "The picture data hold more than the picture's size allows."
    assert len(inflated) == 1


def test_memory_stays_small_whatever_is_inflated(tmp_path, make_png):
    m = make_png
    packer = zlib.compressobj(9)
    row = bytes(1 + 16384 * 4)
    data = b"".join(packer.compress(row) for _ in range(1024)) + packer.flush()
    path = tmp_path / "large.png"
    path.write_bytes(m.signature + m.header(16384, 1024) + m.chunk(b"IDAT", data) + m.chunk(b"IEND"))
    tracemalloc.start()
    pngs.verify(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 4 << 20 < 16384 * 1024 * 4


def test_a_large_chunk_of_another_kind_is_not_kept(tmp_path, make_png):
    path = tmp_path / "large.png"
    path.write_bytes(make_png.png(extra=make_png.chunk(b"tEXt", bytes(20 << 20))))
    tracemalloc.start()
    pngs.verify(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 4 << 20
