"""The papers that a film is cut from, as far as it has parts already."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pastepot.capture.extra import load
from pastepot.capture.tint import Tint
from pastepot.library import manifest

_SIDE_PX = 64  # enough for a middle colour


def papers(folder: Path) -> dict[str, Tint]:
    """Each part's middle colour in sRGB, by part. PastepotError where the library can't be read.

    Pictures that are missing or broken are left out: `pastepot check` tells of those.
    """
    image = load("PIL.Image", "Pillow")
    found: dict[str, Tint] = {}
    for part in manifest.load(folder):
        try:
            with image.open(folder / part.image) as opened:
                opened.thumbnail((_SIDE_PX, _SIDE_PX))
                pixels = np.asarray(opened.convert("RGBA")).reshape(-1, 4)
        except (OSError, SyntaxError, ValueError):
            continue
        solid = pixels[pixels[:, 3] == 255, :3]
        if len(solid):
            red, green, blue = np.median(solid, axis=0).astype(int)
            found[part.name] = int(red), int(green), int(blue)
    return found
