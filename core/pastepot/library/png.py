"""What a PNG says about itself, and whether it is whole, without decoding a pixel.

After ISO/IEC 15948 (Portable Network Graphics): clause 5 (signature, chunks, CRC), 8.2 (interlace passes), 10
(compression), 11 (chunks). Memory stays at a few pieces of `_PIECE` bytes, whatever the file claims or holds.
"""

from __future__ import annotations

import stat
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from pastepot.errors import Problem

SIGNATURE = b"\x89PNG\r\n\x1a\n"

MOST_PIXELS = 1 << 29
"""More than this is refused before anything is inflated: A1 paper at 600 dpi has about half as many."""

_PIECE = 1 << 18
_LONGEST_CHUNK = 2**31 - 1
_SAMPLES = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
# x start, y start, x step, y step of Adam7's passes (clause 8.2)
_ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
_KEPT = {b"IHDR": 13, b"PLTE": 768, b"tRNS": 256, b"pHYs": 9, b"gAMA": 4, b"sRGB": 1, b"iCCP": 80}

_AGAIN = "Save or copy the picture again."


class PngError(ValueError):
    """The file is missing, is no PNG, or is not whole."""

    def __init__(self, what: str, fix: str = _AGAIN) -> None:
        self.what, self.fix = what, fix
        super().__init__(f"{what} {fix}")

    def problem(self, file: str = "", row: int = 0, part: str = "", field: str = "") -> Problem:
        """The same as a Problem at a place."""
        return Problem(self.what, self.fix, file, row, part, field)


@dataclass(frozen=True)
class Info:
    """What the chunks before the picture data say.

    colour_type: 0 grey, 2 RGB, 3 palette, 4 grey with alpha, 6 RGB with alpha; bit_depth: of one sample
    has_alpha:   an alpha channel, or transparent colours (tRNS)
    px_per_m:    from pHYs when its unit is the metre, x and y; None without
    srgb:        the rendering intent of an sRGB chunk, icc: the name of an embedded profile, gamma: of gAMA (0.45455)
    """

    width: int
    height: int
    bit_depth: int
    colour_type: int
    interlaced: bool
    has_alpha: bool
    px_per_m: tuple[int, int] | None
    srgb: int | None
    icc: str | None
    gamma: float | None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.width, self.height

    @property
    def px_per_mm(self) -> float | None:
        """Pixels per millimetre across, from pHYs; None if the file does not say."""
        return self.px_per_m[0] / 1000 if self.px_per_m else None


def read(path: Path) -> Info:
    """What the file says before its picture data. PngError if it is missing or no PNG; see `verify` for wholeness."""
    return _open(path, whole=False)


def verify(path: Path) -> Info:
    """The same, once the whole file has been proved: every CRC, the inflated size to the byte, the end chunk.

    PngError says what is wrong, OSErrors included. Pixels are not decoded, so filter types and palette indices are not
    looked at.
    """
    return _open(path, whole=True)


def _open(path: Path, whole: bool) -> Info:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):  # opening a pipe would wait for ever
            raise PngError("This is not a file.", "Put a PNG picture in its place.")
        with path.open("rb") as file:
            return _examine(file, status.st_size, whole)
    except FileNotFoundError:
        raise PngError("The file is missing.", "Put it in its place, or correct the path.") from None
    except (OSError, ValueError) as error:
        if isinstance(error, PngError):
            raise
        said = (error.strerror if isinstance(error, OSError) else None) or str(error)
        raise PngError(f"The file cannot be read ({said}).", "Look at its name and permissions.") from None


def _examine(file: BinaryIO, size: int, whole: bool) -> Info:
    if size == 0:
        raise PngError("The file is empty.")
    if file.read(8) != SIGNATURE:
        raise PngError("The file is not a PNG picture.", "Save the picture as PNG, with transparency.")
    kept: dict[bytes, bytes] = {}
    picture: _Picture | None = None
    last = b""
    for kind, length in _chunks(file, size):
        if (kind == b"IHDR") != (last == b""):
            raise PngError("The file's header (IHDR) is not where it belongs.")
        pieces = _pieces(file, kind, length)
        if kind == b"IDAT":
            if picture is None:
                info = _info(kept)
                if not whole:
                    return info
                picture = _Picture(_inflated_size(info))
            elif last != b"IDAT":
                raise PngError("The picture data (IDAT) are not in one run.")
            for piece in pieces:
                picture.add(piece)
        elif kind == b"IEND":
            if length or picture is None:
                raise PngError("The file ends (IEND) without a picture.")
            _drain(pieces)
            picture.finish()
            return info
        else:
            _other(kind, length, pieces, kept, before_picture=picture is None)
        last = kind
    raise PngError(f"The file is cut off after {size} bytes.")


def _chunks(file: BinaryIO, size: int) -> Iterator[tuple[bytes, int]]:
    """Type and length of each chunk that fits into the file; the caller reads its data and CRC before the next."""
    position = len(SIGNATURE)
    while position < size:
        head = file.read(8)
        if len(head) < 8:
            return
        length, kind = int.from_bytes(head[:4], "big"), head[4:]
        if length > _LONGEST_CHUNK or not (kind.isascii() and kind.isalpha()):
            raise PngError(f"The file is damaged at byte {position}: no chunk begins there.")
        position += 12 + length
        if position > size:
            return
        yield kind, length


def _pieces(file: BinaryIO, kind: bytes, length: int) -> Iterator[bytes]:
    """A chunk's data bit by bit; PngError at its end if the CRC does not fit."""
    crc = zlib.crc32(kind)
    left = length
    while left:
        piece = file.read(min(left, _PIECE))
        if not piece:
            raise PngError("The file became shorter while it was read.")
        crc = zlib.crc32(piece, crc)
        left -= len(piece)
        yield piece
    if file.read(4) != crc.to_bytes(4, "big"):
        raise PngError(f"The file is damaged: its {kind.decode()} chunk fails its checksum.")


def _drain(pieces: Iterator[bytes]) -> None:
    for _ in pieces:
        pass


def _other(kind: bytes, length: int, pieces: Iterator[bytes], kept: dict[bytes, bytes], before_picture: bool) -> None:
    """Any chunk but IDAT and IEND: keep the few that say something, skip the rest."""
    if kind[0] < 0x60 and kind not in (b"IHDR", b"PLTE"):  # a capital first letter: no decoder may go on without it
        raise PngError(
            f"The file needs an extension of PNG ({kind.decode()}) that is not known.", "Save it as plain PNG."
        )
    if kind in _KEPT and before_picture:
        if kind in (b"IHDR", b"PLTE") and (kind in kept or length > _KEPT[kind]):
            raise PngError(f"The file's {kind.decode()} chunk is there twice, or too long.")
        # Only the start of a profile is wanted, its name; every other kept chunk is one piece.
        kept.setdefault(kind, next(pieces, b"")[: _KEPT[kind]] if length <= _PIECE or kind == b"iCCP" else b"")
    _drain(pieces)


def _info(kept: dict[bytes, bytes]) -> Info:
    """The header and friends as values; auxiliary chunks of a wrong length are passed over, as decoders do."""
    header = kept[b"IHDR"]
    width, height = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:8], "big")
    if len(header) != 13 or not 0 < width <= _LONGEST_CHUNK or not 0 < height <= _LONGEST_CHUNK:
        raise PngError("The file's header (IHDR) does not make sense.")
    depth, colour, compression, filters, interlace = header[8:]
    if depth not in _DEPTHS.get(colour, ()) or compression or filters or interlace > 1:
        raise PngError("The file's header (IHDR) asks for a kind of PNG that does not exist.")
    if width * height > MOST_PIXELS:
        raise PngError(
            f"The picture is {width} × {height} pixels.", f"Save it with at most {MOST_PIXELS} pixels in all."
        )
    palette = kept.get(b"PLTE")
    if (palette is None and colour == 3) or (palette is not None and (colour in (0, 4) or len(palette) % 3)):
        raise PngError("The file's palette (PLTE) does not fit its kind of picture.")
    gamma, intent, profile = kept.get(b"gAMA", b""), kept.get(b"sRGB", b""), kept.get(b"iCCP")
    return Info(
        width,
        height,
        depth,
        colour,
        interlaced=bool(interlace),
        has_alpha=colour in (4, 6) or bool(kept.get(b"tRNS")),
        px_per_m=_density(kept.get(b"pHYs", b"")),
        srgb=intent[0] if len(intent) == 1 else None,
        icc=None if profile is None else profile.split(b"\0")[0].decode("latin-1"),
        gamma=int.from_bytes(gamma, "big") / 100_000 if len(gamma) == 4 else None,
    )


def _density(data: bytes) -> tuple[int, int] | None:
    x, y = int.from_bytes(data[:4], "big"), int.from_bytes(data[4:8], "big")
    in_metres = len(data) == 9 and data[8] == 1
    return (x, y) if in_metres and x and y else None


def _inflated_size(info: Info) -> int:
    """Bytes of the picture data once inflated: one filter byte and whole bytes of samples for each row of each pass."""
    bits = info.bit_depth * _SAMPLES[info.colour_type]
    total = 0
    for x, y, dx, dy in _ADAM7 if info.interlaced else ((0, 0, 1, 1),):
        columns, rows = -(-(info.width - x) // dx), -(-(info.height - y) // dy)
        if columns > 0 and rows > 0:
            total += rows * (1 + (columns * bits + 7) // 8)
    return total


class _Picture:
    """The picture data, inflated a piece at a time and only counted."""

    def __init__(self, expected: int) -> None:
        self.expected, self.count = expected, 0
        self._stream = zlib.decompressobj()

    def add(self, data: bytes) -> None:
        """Inflate the next compressed bytes. PngError as soon as they yield more than the header says."""
        while data and not self._stream.eof:
            self._inflate(data)
            data = self._stream.unconsumed_tail

    def finish(self) -> None:
        """PngError unless exactly the expected bytes came out, with their checksum."""
        while self._inflate(b""):  # what was still inside when the last piece went in
            pass
        if not self._stream.eof or self.count != self.expected:
            raise PngError(f"The picture data are not whole: {self.count} of {self.expected} bytes.")

    def _inflate(self, data: bytes) -> int:
        try:
            size = len(self._stream.decompress(data, _PIECE))
        except zlib.error:
            raise PngError("The picture data are damaged.") from None
        self.count += size
        if self.count > self.expected:
            raise PngError("The picture data hold more than the picture's size allows.")
        return size
