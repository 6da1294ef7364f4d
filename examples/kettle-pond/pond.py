"""The backdrops, drawn where they lie on the stage: x to the right and y down from the middle of the frame, mm."""

import numpy as np
from collage import Collage
from figure import LARGE, Cutout
from scissors import curve, oval, ribbon, shape, shifted


def parts(seed: int) -> list[Cutout]:
    cuts = []
    for name, draw, pivot, layer in (
        ("sky", _sky, (0.0, -40.0), 0),
        ("cloud-long", _cloud_long, (-18.0, -79.0), 2),
        ("cloud-round", _cloud_round, (92.0, -74.0), 2),
        ("hills-far", _hills_far, (0.0, -6.0), 4),
        ("hills-near", _hills_near, (0.0, 0.0), 6),
        ("water-far", _water_far, (0.0, 14.0), 8),
        ("water-near", _water_near, (0.0, 28.0), 10),
        ("lane", _lane, (0.0, 58.0), 17),
        ("bank", _bank, (0.0, 88.0), 58),
    ):
        c = Collage(f"pond-backdrop-{name}", seed)
        draw(c)
        cuts.append(Cutout(c, "backdrop", pivot, layer, px_per_m=LARGE))
    return cuts


def _strip(top: list[tuple[float, float]], bottom: float) -> tuple[tuple[float, ...], ...]:
    """A strip right across the stage: an edge from left to right, then straight down and back."""
    left, right = (-180.0, top[0][1], 1), (180.0, top[-1][1], 1)
    return left, *top[1:-1], right, (180.0, bottom, 1), (-180.0, bottom, 1)


def _sky(c: Collage) -> None:
    c.glue("cream", shape((-180, -106, 1), (180, -106, 1), (180, 24, 1), (-180, 24, 1)))
    c.glue("straw", oval(58, -22, 35), lift=0.5, shade=0.10)
    c.glue("straw", oval(58, -22, 25), lift=0.5, shade=0.02)
    c.rub("apricot", oval(62, -14, 16, 11, -20), strength=0.5, dry=0.5, soft=3)
    rays = [
        curve((-172 + k * 31, -92 + 7 * np.sin(k * 2.1)), (-160 + k * 31, -92.6 + 7 * np.sin(k * 2.1)))
        for k in range(12)
    ]
    c.crayon("straw", *rays, width=1.0, strength=0.5, dry=0.6)
    band = [(-180, -8), (-120, -13), (-40, -9), (30, -15), (110, -10), (180, -13)]
    c.glue("apricot", shape(*_strip(band, 24)), lift=0.4, shade=0.08)


def _cloud(c: Collage, strips: tuple[tuple[float, float, float, float], ...]) -> None:
    """Long strips of white paper, laid over each other: left, right, height, width."""
    for k, (left, right, y, width) in enumerate(strips):
        path = curve((left, y + 0.3), ((left + right) / 2, y - 0.4), (right, y + 0.2))
        c.glue("milk", ribbon(path, width * 0.86, width, width * 0.9), lift=0.6, shade=-0.012 * (k % 2))
        c.crayon(
            "mist", shifted(path[len(path) // 5 : -len(path) // 6], 0, width * 0.26), width=width * 0.22, strength=0.55
        )


def _cloud_long(c: Collage) -> None:
    _cloud(c, ((-38, -6, -86.6, 6.4), (-26, 10, -81.6, 6.8), (-52, -16, -80.4, 6.2), (-42, 16, -76.0, 6.6)))


def _cloud_round(c: Collage) -> None:
    _cloud(c, ((82, 104, -80.4, 6.0), (74, 96, -75.6, 6.2), (90, 118, -74.2, 5.8), (70, 108, -70.2, 6.4)))


def _tree(c: Collage, x: float, y: float, size: float, sheet: str, kind: str) -> None:
    c.glue("bark", ribbon(curve((x, y), (x + 0.2, y - 6 * size)), 1.2 * size, 0.9 * size), lift=0.4)
    if kind == "round":
        c.glue(sheet, oval(x, y - 8.5 * size, 4.6 * size, 5.4 * size), lift=0.6)
    elif kind == "leaf":
        c.glue(
            sheet,
            shape(
                (x, y - 18 * size, 1), (x + 3.6 * size, y - 9 * size), (x, y - 3 * size), (x - 3.6 * size, y - 9 * size)
            ),
            lift=0.6,
        )
    else:
        c.glue(
            sheet,
            shape((x, y - 17 * size, 1), (x + 5 * size, y - 2.6 * size, 1), (x - 5 * size, y - 2.6 * size, 1)),
            lift=0.6,
        )
    top = {"round": 12.0, "leaf": 14.0, "fir": 13.0}[kind]
    ribs = [curve((x, y - h * size), (x + s * 1.9 * size, y - (h + 2.0) * size)) for h in (4.6, 7.4) for s in (-1, 1)]
    c.pen(curve((x, y - 3 * size), (x + 0.1, y - top * size)), *ribs, width=0.35, sheet="deep", strength=0.5)


def _hills_far(c: Collage) -> None:
    top = [
        (-180, -16),
        (-140, -25),
        (-100, -27),
        (-58, -17),
        (-20, -11),
        (28, -13),
        (74, -22),
        (118, -25),
        (150, -20),
        (180, -23),
    ]
    for x, y, s, kind in (
        (-128, -25, 0.62, "fir"),
        (-120, -25.6, 0.5, "fir"),
        (-84, -23.4, 0.55, "round"),
        (94, -23.6, 0.55, "round"),
        (104, -24.4, 0.7, "leaf"),
        (136, -22, 0.6, "fir"),
    ):
        _tree(c, x, y + 1, s, "moss", kind)
    c.glue("sage", shape(*_strip(top, 16)), lift=0.6, shade=0.02)
    for y in (-12.0, -5.0):
        rows = [
            curve((x, y + 3 * np.sin(x / 24)), (x + 13, y + 3 * np.sin(x / 24) - 1.4)) for x in range(-170, 170, 21)
        ]
        c.crayon("moss", *rows, width=0.9, strength=0.35, dry=0.6)


def _hills_near(c: Collage) -> None:
    top = [
        (-180, -5),
        (-150, -12),
        (-112, -9),
        (-70, -2),
        (-24, 1),
        (20, -1),
        (60, 1),
        (100, -7),
        (140, -13),
        (180, -9),
    ]
    _tree(c, -152, -10, 1.05, "fern", "fir")
    _tree(c, -142, -10.6, 0.8, "fern", "fir")
    _tree(c, -108, -6.4, 1.0, "mustard", "leaf")
    _tree(c, -96, -4.6, 0.75, "fern", "round")
    _tree(c, 98, -5, 0.7, "fern", "round")
    _tree(c, 146, -11.4, 1.1, "fern", "fir")
    _tree(c, 158, -10.6, 0.8, "mustard", "round")
    _cottage(c, 122, -8.0)
    c.glue("moss", shape(*_strip(top, 20)), lift=0.7, shade=0.05)
    grass = [curve((x, 4 + 4 * np.sin(x / 31)), (x + 1.2, 1.6 + 4 * np.sin(x / 31))) for x in range(-174, 174, 7)]
    c.pen(*grass, width=0.45, sheet="fern", strength=0.6)


def _cottage(c: Collage, x: float, y: float) -> None:
    """A brick cottage on the far side, no bigger than a thumbnail."""
    c.glue(
        "brick", shape((x + 4.4, y - 14, 1), (x + 7.4, y - 14, 1), (x + 7.4, y - 6, 1), (x + 4.4, y - 6, 1)), lift=0.4
    )
    c.glue(
        "blush",
        shape((x - 9, y + 5, 1), (x - 9, y - 6, 1), (x + 9, y - 6, 1), (x + 9, y + 5, 1)),
        lift=0.5,
        shade=-0.06,
    )
    courses = [np.linspace((x - 8.8, y - 4.4 + 1.7 * k), (x + 8.8, y - 4.4 + 1.7 * k), 30) for k in range(5)]
    joints = [
        np.linspace(
            (x - 8 + 3 * j + 1.5 * (k % 2), y - 6.0 + 1.7 * k), (x - 8 + 3 * j + 1.5 * (k % 2), y - 4.4 + 1.7 * k), 8
        )
        for k in range(5)
        for j in range(6)
    ]
    c.pen(*courses, *joints, width=0.28, sheet="cream", strength=0.6)
    c.glue(
        "bark", shape((x - 11, y - 5, 1), (x - 6.4, y - 11.6, 1), (x + 6.4, y - 11.6, 1), (x + 11, y - 5, 1)), lift=0.6
    )
    c.glue(
        "straw", shape((x - 5.4, y - 3, 1), (x - 2.2, y - 3, 1), (x - 2.2, y + 0.6, 1), (x - 5.4, y + 0.6, 1)), lift=0.3
    )
    c.glue(
        "deep", shape((x + 2.4, y - 3.2, 1), (x + 5.6, y - 3.2, 1), (x + 5.6, y + 5, 1), (x + 2.4, y + 5, 1)), lift=0.3
    )


def _water_far(c: Collage) -> None:
    top = [(-180, 6), (-120, 4.6), (-60, 6.4), (0, 5.2), (60, 6.6), (120, 5), (180, 6)]
    c.glue("lagoon", shape(*_strip(top, 36)))
    for x, y, w in ((58, 9.4, 25), (61, 13.4, 19), (56, 17.2, 14), (59, 20.8, 8)):
        c.glue("straw", shape((x - w, y, 1), (x, y - 1.1), (x + w, y + 0.2, 1), (x, y + 1.2)), lift=0.25, shade=0.05)
    for k in range(14):
        x, y, w = -170 + 26 * k + 6 * np.sin(k * 1.9), 10.5 + 9 * abs(np.sin(k * 1.3)), 7 + 4 * np.sin(k)
        if abs(x - 58) > 30:
            c.glue(
                "milk", shape((x - w, y, 1), (x, y - 0.55), (x + w, y + 0.1, 1), (x, y + 0.6)), lift=0.2, shade=-0.04
            )


def _water_near(c: Collage) -> None:
    top = [(-180, 24), (-140, 21.6), (-96, 24.4), (-52, 22), (-8, 24.6), (38, 22.2), (84, 24.6), (130, 22), (180, 24.2)]
    c.glue("pond", shape(*_strip(top, 58)), lift=0.6)
    for k in range(17):
        x, y, w = -174 + 22 * k + 5 * np.sin(k * 2.3), 28 + 7.4 * abs(np.sin(k * 1.7)), 8 + 3.5 * np.sin(k * 1.1)
        c.glue("lagoon", shape((x - w, y, 1), (x, y - 0.7), (x + w, y + 0.2, 1), (x, y + 0.7)), lift=0.25)
    ripples = [
        curve((x, 33 + 2 * np.sin(x)), (x + 5, 32.2 + 2 * np.sin(x)), (x + 10, 33 + 2 * np.sin(x)))
        for x in range(-176, 170, 19)
    ]
    c.crayon("deep", *ripples, width=0.9, strength=0.4, dry=0.55)


def _lane(c: Collage) -> None:
    verge = [(-180, 40), (-140, 38), (-90, 40.6), (-40, 38.6), (10, 40.4), (60, 38.4), (120, 40.6), (180, 39)]
    c.glue("moss", shape(*_strip(verge, 100)), lift=0.7, shade=-0.06)
    blades = [curve((x, 42.6), (x + 1.5 * np.sin(x), 40.2)) for x in np.arange(-176, 176, 3.7)]
    c.pen(*blades, width=0.5, sheet="fern", strength=0.6)
    road = [(-180, 45), (-130, 44), (-70, 45.6), (-10, 44.2), (60, 45.6), (120, 44.4), (180, 45.4)]
    c.glue("kraft", shape(*_strip(road, 100)), lift=0.7, shade=0.10)
    for offset in (0.0, 7.5):
        rut = [curve((x, 50.4 + offset), (x + 16, 50.0 + offset)) for x in range(-176, 160, 23)]
        c.crayon("bark", *rut, width=1.1, strength=0.3, dry=0.6)
    for k in range(30):
        x, y = c.rng.uniform(-174, 174), c.rng.uniform(48, 74)
        c.glue(
            ("mist", "bark", "cream")[k % 3], oval(x, y, c.rng.uniform(0.8, 1.9), c.rng.uniform(0.6, 1.1)), lift=0.35
        )


def _bank(c: Collage) -> None:
    back = [(-180, 72), (-150, 69), (-104, 73.4), (-60, 76), (-10, 74), (44, 76.4), (96, 73), (146, 70), (180, 72)]
    for k, x in enumerate(np.arange(-178, 179, 5.2)):
        foot, lean = 79 + 3 * np.sin(x / 40), c.rng.normal(0, 3.2)
        tall = c.rng.uniform(4, 9) + 5 * np.sin(x / 23) ** 2
        tip = (x + lean, 73.5 + 2.6 * np.sin(x / 37) - tall)
        blade = ribbon(curve((x, foot), (x + lean * 0.2, (foot + tip[1]) / 2), tip), 2.7, 2.2, 0.4)
        c.glue(("fern", "moss", "fern", "sage")[k % 4], blade, lift=0.5, shade=-0.06)
    c.glue("fern", shape(*_strip(back, 112)), lift=0.7)
    front = [(-180, 84), (-130, 80), (-70, 86), (0, 83), (70, 87), (130, 81), (180, 84)]
    c.glue("fern", shape(*_strip(front, 112)), lift=0.7, shade=-0.22)
    for x, y in ((-146, 78), (-88, 81), (34, 81), (112, 78.5), (150, 77)):
        for k, (dx, dy) in enumerate(((-2.0, 0.4), (2.0, 0.2), (0, -2.0), (-1.2, 2.0), (1.3, 2.0))):
            c.glue(("milk", "blush", "mustard")[int(abs(x)) % 3], oval(x + dx, y + dy, 1.35, 1.1, k * 40), lift=0.35)
        c.glue("mustard" if int(abs(x)) % 3 != 2 else "bark", oval(x, y + 0.2, 0.9), lift=0.3)
