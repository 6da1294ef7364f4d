"""A part's picture made small, on a plain ground. Alpha and averages are taken in linear light, where light adds up."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pastepot.srgb import LINEAR

if TYPE_CHECKING:
    from PIL import Image

Rgb = tuple[int, int, int]

_STRIP_BYTES = 32_000_000  # of float pixels at a time, so that a large scan does not fill the memory


class UnreadableError(Exception):
    """The image can't be shown; the message says why, in a few words."""


def pixel_size(path: Path) -> tuple[int, int]:
    """Width and height by the image's header. Raises UnreadableError."""
    with _opened(path) as image:
        return image.size


def thumbnail(path: Path, size: tuple[int, int], ground: Rgb) -> Image.Image:
    """The image at `size` (never larger than it is; both at least 1) over `ground`, an 8-bit sRGB colour.

    The image is taken as straight-alpha sRGB. Returns an RGB image. Raises UnreadableError.
    """
    from PIL import Image

    with _opened(path) as image:
        size = (min(size[0], image.width), min(size[1], image.height))
        try:
            light, box = _reduced(_eight_bit(image), size)
        except (OSError, SyntaxError, ValueError, EOFError) as error:
            raise UnreadableError("The picture is damaged or cut short.") from error
    planes = [
        np.asarray(Image.fromarray(light[..., n]).resize(size, Image.Resampling.HAMMING, box=box)) for n in range(4)
    ]
    small = np.stack(planes, axis=-1)
    over = small[..., :3] + (1 - small[..., 3:]) * LINEAR[list(ground)]
    return Image.fromarray(_to_srgb(over))


@contextmanager
def _opened(path: Path) -> Iterator[Image.Image]:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # large scans are ordinary here
            image = Image.open(path)
    except FileNotFoundError as error:
        raise UnreadableError("The picture is missing.") from error
    except Image.DecompressionBombError as error:
        raise UnreadableError("The picture is too large to open.") from error
    except (OSError, SyntaxError, ValueError) as error:
        raise UnreadableError("The file can't be read as a picture.") from error
    with image:
        yield image


def _eight_bit(image: Image.Image) -> Image.Image:
    """16-bit greys brought down to 8 bits with rounding; everything else unchanged (Pillow reads it as 8 bits)."""
    from PIL import Image

    if not image.mode.startswith("I"):
        return image
    return Image.fromarray(((np.asarray(image).astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8))


def _reduced(
    image: Image.Image, size: tuple[int, int]
) -> tuple[NDArray[np.float32], tuple[float, float, float, float]]:
    """The image in linear light, alpha multiplied in, averaged over k x k pixels so that at least twice `size` is left.

    Returns (h, w, 4) and the box of it that the picture covers: the last row and column may hold less than k pixels.
    """
    k = max(1, min(image.width // size[0], image.height // size[1]) // 2)
    rows = max(1, _STRIP_BYTES // (16 * image.width * k)) * k
    strips = []
    for top in range(0, image.height, rows):
        strip = image.crop((0, top, image.width, min(top + rows, image.height)))
        strips.append(_block_mean(_linear(np.asarray(strip.convert("RGBA"))), k))
    return np.concatenate(strips), (0.0, 0.0, image.width / k, image.height / k)


def _linear(rgba: NDArray[np.uint8]) -> NDArray[np.float32]:
    out = np.empty(rgba.shape, np.float32)
    out[..., 3] = rgba[..., 3] * np.float32(1 / 255)
    np.multiply(LINEAR[rgba[..., :3]], out[..., 3:], out=out[..., :3])
    return out


def _block_mean(pixels: NDArray[np.float32], k: int) -> NDArray[np.float32]:
    if k == 1:
        return pixels
    for axis in (0, 1):
        length = pixels.shape[axis]
        starts = np.arange(0, length, k)
        counts = np.minimum(k, length - starts).astype(np.float32)
        sums: NDArray[np.float32] = np.add.reduceat(pixels, starts, axis=axis)
        pixels = np.divide(sums, np.expand_dims(counts, (1, 2) if axis == 0 else (0, 2)), dtype=np.float32)
    return pixels


def _to_srgb(light: NDArray[Any]) -> NDArray[np.uint8]:
    v = np.clip(light, 0, 1)
    coded = np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)
    codes: NDArray[np.uint8] = np.floor(coded * 255 + 0.5).astype(np.uint8)
    return codes
