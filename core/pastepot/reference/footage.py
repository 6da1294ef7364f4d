"""The film that is to be matched, read one picture at a time: only its light, small, without black borders.

Whatever its length, only the pictures that are being worked on are in memory.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pastepot import media
from pastepot.errors import PastepotError, Problem
from pastepot.reference.borders import Box, borders, comb_share

Light = NDArray[np.float32]

WIDE = 320
"""About so many pixels across are kept: sub-pixel moves still show, and grain averages out."""

BLOCK = 8
"""Pixels of a small picture to the side of a block; its sides are whole multiples of this."""

_LOOKED = 240  # pictures at the film's beginning from which borders and fields are told
_COMBED = 0.04  # a film with more combed pictures than this is read by one field


@dataclass(frozen=True)
class Look:
    """What the film is, told from its beginning.

    size:    width and height of the file's pictures, pixels
    rate:    pictures a second, as the file says
    box:     where the picture is inside black borders
    combed:  share of pictures in which two moments are woven together, line by line
    field:   only every other line is read, because of that
    factor:  pixels of the file for one of the small picture, to the side
    expected: number of pictures that the file announces, 0 if it does not
    """

    size: tuple[int, int]
    rate: Fraction
    box: Box
    combed: float
    field: bool
    factor: int
    expected: int


class Picture(NamedTuple):
    """A picture's number, its time from the film's first picture in seconds, and its light: 0..255, small."""

    number: int
    seconds: float
    light: Light


@dataclass
class Read:
    """What has been read so far: pictures, and pieces of the file that could not be decoded."""

    pictures: int = 0
    damaged: int = 0


def look(path: Path, *, one_field: bool | None = None) -> Look:
    """What the film is. one_field: overrules what its beginning tells. PastepotError if it holds no pictures."""
    with _opened(path) as (container, stream):
        size = (int(stream.codec_context.width), int(stream.codec_context.height))
        rate = Fraction(stream.average_rate or stream.guessed_rate or 25)
        expected = int(stream.frames) or _announced(container, rate)
        brightest: Light | None = None
        combed: list[float] = []
        for frame in itertools.islice(_frames(container, stream, Read()), _LOOKED):
            whole = frame.to_ndarray(format="gray")
            small = whole.astype(np.float32)
            if brightest is None or brightest.shape == small.shape:
                brightest = small if brightest is None else np.maximum(brightest, small)
            combed.append(comb_share(whole))
            size = (whole.shape[1], whole.shape[0])
    if brightest is None:
        raise PastepotError(_unusable(path, "Not one picture in it can be read."))
    share = float(np.mean(np.array(combed) > 0))
    box = borders(brightest)
    factor = max(1, round(box.width / WIDE))
    return Look(size, rate, box, share, share > _COMBED if one_field is None else one_field, factor, expected)


def pictures(path: Path, seen: Look, read: Read | None = None) -> Iterator[Picture]:
    """Every picture that can be decoded, in the order shown. What can't is counted in `read` and left out."""
    read = Read() if read is None else read
    zero: float | None = None
    with _opened(path) as (container, stream):
        for frame in _frames(container, stream, read):
            whole = frame.to_ndarray(format="gray")
            if whole.shape != (seen.size[1], seen.size[0]):
                raise PastepotError(_unusable(path, f"Its picture size changes after {read.pictures} pictures."))
            at = float(frame.time) if frame.time is not None else read.pictures / float(seen.rate)
            zero = at if zero is None else zero
            number, read.pictures = read.pictures, read.pictures + 1
            yield Picture(number, at - zero, small(whole, seen))


def small(whole: NDArray[np.uint8], seen: Look) -> Light:
    """(h, w) float32: the picture inside its borders, each pixel the mean of a square of the file's."""
    box, wide = seen.box, seen.factor
    inside = whole[box.top : box.bottom, box.left : box.right]
    high = wide
    if seen.field:
        inside, high = inside[::2], max(1, wide // 2)
    rows, columns = (n // BLOCK * BLOCK for n in (inside.shape[0] // high, inside.shape[1] // wide))
    inside = inside[: rows * high, : columns * wide]
    if high == wide == 1:
        return inside.astype(np.float32)
    # Strided sums run several times faster than a mean over four axes.
    total = np.zeros((rows, columns), np.float32)
    for y, x in itertools.product(range(high), range(wide)):
        total += inside[y::high, x::wide]
    return total / np.float32(high * wide)


def _announced(container: Any, rate: Fraction) -> int:
    return round(float(container.duration) / 1e6 * rate) if container.duration else 0


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    with media.opened(path, "video", "Measuring a film", _unusable) as (container, stream):
        stream.thread_type = "AUTO"
        yield container, stream


def _frames(container: Any, stream: Any, read: Read) -> Iterator[Any]:
    import av

    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
            decoded = packet.decode()
        except StopIteration:
            return
        except av.EOFError:
            return
        except av.FFmpegError:
            read.damaged += 1
            if read.damaged > 1000 + read.pictures:
                return
            continue
        yield from decoded


def _unusable(path: Path, why: str) -> Problem:
    return Problem(f"The film can't be measured. {why}", "Choose another copy of it.", path.name)
