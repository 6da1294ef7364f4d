"""What both views of the heron share: the shapes of its beak, its eyes, and the flecks on its throat."""

import numpy as np
from collage import Collage
from figure import Mouth
from scissors import curve, oval, shape, shifted

BEAKS = {
    "closed": Mouth("closed", 0.0, 0.3),
    "ajar": Mouth("apart", 0.3, 0.3),
    "open": Mouth("apart", 0.9, 0.4, tongue=True),
}
EYES = ("open", "down", "half", "shut")


def eye(c: Collage, at: tuple[float, float], variant: str, gaze: tuple[float, float], r: float = 4.3) -> Collage:
    """One eye of the heron: a pale disc, and a lid that is usually on its way down."""
    x, y = at
    if variant == "down":
        gaze = (gaze[0] * 0.9, 1.5)
    c.glue("milk" if variant != "shut" else "slate", oval(x, y, r), lift=0.7)
    if variant == "shut":
        c.pen(curve((x - r * 0.75, y + 0.8), (x, y + 2.2), (x + r * 0.78, y + 0.6)), width=0.75)
        return c
    c.glue("mustard", oval(x + gaze[0], y + gaze[1], r * 0.60), lift=0.3, inside=True)
    c.spots("ink", oval(x + gaze[0] * 1.25, y + gaze[1] * 1.25, r * 0.34), strength=0.96, dry=0)
    c.spots("milk", oval(x + gaze[0] * 1.25 - 0.6, y + gaze[1] * 1.25 - 0.7, r * 0.10), strength=0.95, dry=0)
    lid = {"open": -0.52, "down": -0.34, "half": 0.02}[variant] * r
    top = shape(
        (x - r - 1, y + lid - 0.5, 1),
        (x, y + lid + 0.3),
        (x + r + 1, y + lid + 0.2, 1),
        (x + r + 1, y - r - 1, 1),
        (x - r - 1, y - r - 1, 1),
    )
    c.glue("slate", top, inside=True, lift=0.45)
    c.pen(
        curve((x - r * 0.95, y + lid - 0.1), (x, y + lid + 0.45), (x + r * 0.95, y + lid + 0.3)),
        width=0.4,
        sheet="night",
        strength=0.8,
    )
    return c


def longer(path: np.ndarray, by: float) -> np.ndarray:
    """The path carried on straight at both ends, so that a stripe runs off the edge of the paper under it."""
    first, last = (path[0] - path[4], path[-1] - path[-5])
    start, end = path[0] + first / np.linalg.norm(first) * by, path[-1] + last / np.linalg.norm(last) * by
    return np.concatenate([np.linspace(start, path[0], 8)[:-1], path, np.linspace(path[-1], end, 8)[1:]])


def dashes(c: Collage, path: np.ndarray) -> None:
    """The row of dark flecks down a heron's throat."""
    for k, spot in enumerate(path[8:-8:13]):
        side = 0.9 if k % 2 else -0.7
        c.pen(
            curve(shifted(spot, side, -1.1), shifted(spot, side + 0.2, 1.1)), width=0.75, sheet="night", strength=0.85
        )
