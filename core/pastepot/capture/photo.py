"""A photograph as the camera meant it: upright, and in sRGB."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot import extras
from pastepot.errors import PastepotError, Problem

MOST_PIXELS = 200_000_000
"""More than this is refused before it is decoded."""


def read_photo(path: Path) -> NDArray[np.uint8]:
    """(H, W, 3) of 8-bit sRGB: Exif orientation obeyed, an embedded colour profile converted.

    PastepotError for what is no picture, not whole, or too large; MissingExtra without Pillow.
    """
    extras.load("PIL.Image", "photo", "Reading a photograph", "Pillow")
    from PIL import Image, ImageOps

    try:
        with Image.open(path) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                what = f"The photograph has {opened.width} x {opened.height} pixels, more than can be worked with."
                raise PastepotError(Problem(what, "Save it smaller.", str(path)))
            if opened.mode in ("I;16", "I", "F"):
                what = "This photograph has one channel of more than 8 bits."
                raise PastepotError(Problem(what, "Save it as an 8-bit JPEG, PNG or TIFF in colour.", str(path)))
            profile = opened.info.get("icc_profile")
            upright = ImageOps.exif_transpose(opened)
            return np.asarray(_in_srgb(upright, profile), np.uint8)
    except FileNotFoundError:
        raise PastepotError(Problem("There is no such photograph.", "Correct the path.", str(path))) from None
    except Image.DecompressionBombError as error:
        raise PastepotError(
            Problem("The photograph is too large to work with.", "Save it smaller.", str(path))
        ) from error
    except (OSError, SyntaxError, ValueError) as error:  # what Pillow raises for files that are broken or no pictures
        what = f"The photograph cannot be read ({error})."
        raise PastepotError(Problem(what, "Save it as a JPEG, PNG or TIFF, or copy it again.", str(path))) from error


def _in_srgb(picture: Any, profile: bytes | None) -> Any:
    """The picture's colours in sRGB; a profile that makes no sense counts as none."""
    from PIL import ImageCms

    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            return ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass
    return picture.convert("RGB")
