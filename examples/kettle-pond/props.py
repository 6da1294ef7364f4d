"""What stands about the pond: the stop and its clock, luggage, lily pads, reeds. Each stands at x = 0, y = 0."""

import numpy as np
from collage import Collage
from figure import LARGE, Cutout
from scissors import curve, oval, ribbon, shape

SIGN, CLOCK, TABLE = (0.0, -78.0), (0.0, -104.0), (0.0, -52.0)


def parts(seed: int) -> list[Cutout]:
    pole = "pond-prop-stop-pole"
    cuts = [
        Cutout(_pole(seed), "prop", (0.0, -2.0), 27),
        Cutout(_timetable(seed), "prop", TABLE, 28, parent=pole),
        Cutout(_sign(seed), "prop", SIGN, 28, parent=pole),
        Cutout(_clock(seed), "prop", CLOCK, 28, parent=pole),
        Cutout(_hand(seed, "hour", 5.2, 1.9, 92.0), "prop", CLOCK, 29, parent="pond-prop-clock"),
        Cutout(_hand(seed, "minute", 7.6, 1.4, -18.0), "prop", CLOCK, 30, parent="pond-prop-clock"),
        Cutout(_suitcase(seed), "prop", (0.0, -12.0), 40),
        Cutout(_stone(seed), "prop", (0.0, -5.0), 26),
        Cutout(_flower(seed), "prop", (0.0, -2.0), 14),
    ]
    for letter, layer, size, notch in (("a", 12, 1.0, 20), ("b", 13, 0.75, 150), ("c", 12, 0.6, 60)):
        cuts.append(Cutout(_lily_pad(seed, letter, size, notch), "prop", (0.0, 0.0), layer))
    for which, layer in (("tall", 54), ("bent", 55), ("short", 56), ("far", 15), ("right", 54), ("tuft", 57)):
        cuts.append(Cutout(_reeds(seed, which), "prop", (0.0, -3.0), layer, px_per_m=LARGE))
    return cuts


def _pole(seed: int) -> Collage:
    c = Collage("pond-prop-stop-pole", seed)
    c.glue("bark", ribbon(curve((0.5, 0), (-0.3, -50), (0.1, -106)), 3.8, 3.4, 3.2, round_ends=(False, True)))
    c.glue("mist", shape((-9, 0.6, 1), (-6.5, -4.4), (0, -6.6), (6.5, -4.6), (9.5, 0.6, 1)), lift=0.8, shade=-0.2)
    grain = [curve((x, -10 - k * 13), (x + 0.3, -19 - k * 13)) for k, x in enumerate((-0.8, 0.7, -0.3, 0.8, -0.6, 0.5))]
    c.pen(*grain, width=0.35, sheet="plum", strength=0.5)
    c.pen(curve((-4.5, -2.6), (-2.6, -3.2)), curve((2.4, -2.2), (5, -2.0)), width=0.4, sheet="night", strength=0.6)
    return c


def _sign(seed: int) -> Collage:
    """A round board with a little teapot on it: this is where it stops."""
    c = Collage("pond-prop-stop-sign", seed)
    c.glue("tomato", oval(0, -78, 13.2), shade=-0.01)
    c.glue("cream", oval(0, -78, 10.8), lift=0.5)
    c.glue("deep", ribbon(curve((3.6, -80.4), (7.6, -80.6), (7.2, -76.4), (3.6, -75.4)), 1.3, 1.3, 1.3), lift=0.3)
    c.glue("deep", ribbon(curve((-3.4, -76), (-5.8, -77.4), (-7.4, -80.8)), 3.2, 2.0, 1.3), lift=0.3)
    c.glue(
        "deep", shape((-5, -77.6), (-3.2, -81.8), (0, -82.8), (3.2, -81.8), (5, -77.6), (3, -74), (-3, -74)), lift=0.3
    )
    c.glue("deep", oval(0, -84, 1.1), lift=0.3)
    for x in (-2.6, 2.6):
        c.glue("mustard", oval(x, -73.2, 1.6), lift=0.3)
    c.pen(curve((-5.4, -70.8), (0, -70.4), (5.4, -70.8)), width=0.6, sheet="bark")
    c.spots("bark", oval(-11.9, -78, 0.55), oval(11.9, -78, 0.55))
    return c


def _clock(seed: int) -> Collage:
    c = Collage("pond-prop-clock", seed)
    c.glue("brick", shape((-4.6, -112, 1), (0, -117.5, 1), (4.6, -112, 1)))
    c.glue("deep", oval(0, -104, 11.2), lift=0.7)
    c.glue("milk", oval(0, -104, 9.2), lift=0.5)
    ticks = []
    for k in range(12):
        a = np.radians(30 * k)
        out = np.array([np.sin(a), -np.cos(a)])
        ticks.append(np.linspace(CLOCK + out * (6.6 if k % 3 == 0 else 7.4), CLOCK + out * 8.3, 8))
    c.pen(*ticks, width=0.75, sheet="plum")
    return c


def _hand(seed: int, which: str, length: float, width: float, degrees: float) -> Collage:
    c = Collage(f"pond-prop-clock-{which}-hand", seed)
    a = np.radians(degrees)
    out = np.array([np.sin(a), -np.cos(a)])
    path = np.linspace(CLOCK - out * 1.8, CLOCK + out * length, 24)
    c.glue("plum" if which == "hour" else "tomato", ribbon(path, width * 0.8, width, width * 0.45))
    if which == "minute":
        c.glue("mustard", oval(*CLOCK, 1.2), lift=0.4)
    return c


def _timetable(seed: int) -> Collage:
    """A sheet of departures. Nobody has ever been able to read it."""
    c = Collage("pond-prop-timetable", seed)
    c.glue("kraft", shape((-6.6, -60.6, 1), (6.4, -61, 1), (6.8, -43.4, 1), (-6.4, -43, 1)))
    c.glue("milk", shape((-5.4, -59.4, 1), (5.2, -59.8, 1), (5.6, -44.6, 1), (-5.2, -44.2, 1)), lift=0.4)
    for k, y in enumerate((-56.6, -54.2, -51.8, -49.4, -47.0)):
        length = (8.0, 6.4, 7.6, 5.0, 6.8)[k]
        x = np.linspace(-4, -4 + length, 40)
        wave = np.sin(x * 5.2 + k) * 0.45 * np.sin(x * 1.7 + k * 2) ** 2
        c.pen(np.stack([x, y + wave], axis=1), width=0.42, sheet="night", strength=0.8)
    c.glue("tomato", oval(0, -59.4, 0.9), lift=0.4)
    return c


def _suitcase(seed: int) -> Collage:
    c = Collage("pond-prop-suitcase", seed)
    c.glue("plum", ribbon(curve((-5.6, -25), (-4.8, -29.2), (4.8, -29.2), (5.6, -25)), 2.0, 1.8, 2.0))
    c.glue(
        "bark",
        shape(
            (-22, -23, 1),
            (-20.6, -25.4),
            (20.6, -25.4),
            (22, -23, 1),
            (22.4, -1.6, 1),
            (21, 0.4),
            (-21, 0.4),
            (-22.4, -1.6, 1),
        ),
        lift=0.7,
    )
    c.pen(curve((-22, -17.6), (0, -17.2), (22, -17.6)), width=0.6, sheet="plum", strength=0.8)
    for x in (-12.5, 12.5):
        c.glue("mustard", ribbon(curve((x, -28), (x + 0.3, 3)), 3.2, 3.2), inside=True, lift=0.5, shade=-0.06)
        c.glue(
            "milk", shape((x - 2.0, -19.4, 1), (x + 2.2, -19.4, 1), (x + 2.2, -15.4, 1), (x - 2.0, -15.4, 1)), lift=0.4
        )
    for x, s in ((-22.4, 1), (22.4, -1)):
        for y, t in ((-25.6, 1), (0.6, -1)):
            c.glue(
                "kraft",
                shape((x - s * 2, y - t * 2, 1), (x + s * 6, y - t * 2, 1), (x - s * 2, y + t * 6, 1)),
                inside=True,
                lift=0.4,
            )
    c.glue("lagoon", oval(-1.2, -9.2, 5.0, 3.9, -10), lift=0.4)
    c.pen(curve((-4.6, -8.4), (-2.6, -9.4), (-0.8, -8.2), (1.0, -9.2), (2.6, -8.2)), width=0.5, sheet="deep")
    c.glue("cream", shape((4.6, -13.6, 1), (9.6, -12.4, 1), (8.4, -7.2, 1), (3.6, -8.4, 1)), lift=0.4)
    c.spots("tomato", oval(6.6, -10.4, 1.3), dry=0.2)
    c.pen(
        *[curve((x, -13.4 + k), (x + 2.2, -14.2 + k)) for k, x in enumerate((-19, -8.4, 17.2))],
        width=0.3,
        sheet="plum",
        strength=0.5,
    )
    return c


def _stone(seed: int) -> Collage:
    c = Collage("pond-prop-stone", seed)
    c.glue("mist", shape((-17, 0.4, 1), (-15, -8), (-7, -13), (4, -12), (13, -9), (17, 0.4, 1)), shade=-0.2)
    c.glue("moss", shape((-18, -6), (-8, -16), (6, -15), (2, -9.6), (-5, -8.6), (-9, -10)), inside=True, lift=0.4)
    c.rub("slate", oval(6, -3, 9, 3.4), strength=0.5, dry=0.5, soft=1.2)
    c.pen(curve((-8, -4.4), (-4, -3.2), (-1, -4.6)), curve((5, -8), (8, -6.4)), width=0.4, sheet="night", strength=0.6)
    return c


def _lily_pad(seed: int, letter: str, size: float, notch: float) -> Collage:
    c = Collage(f"pond-prop-lily-pad-{letter}", seed)
    a = np.radians(np.linspace(notch + 14, notch + 346, 9))
    rim = [(13 * size * np.cos(t), 4.0 * size * np.sin(t)) for t in a]
    ring = [(*rim[0], 1), *rim[1:-1], (*rim[-1], 1), (0.0, 0.0, 1)]
    c.glue("moss", shape(*((x, y + 0.7 * size, *flag) for x, y, *flag in ring)), shade=-0.22)
    c.glue("moss", shape(*ring), lift=0.5, shade=0.04)
    c.pen(
        *[curve((x * 0.12, y * 0.12), (x * 0.78, y * 0.78)) for x, y in rim[1:-1:2]],
        width=0.35,
        sheet="fern",
        strength=0.6,
    )
    return c


def _flower(seed: int) -> Collage:
    c = Collage("pond-prop-lily-flower", seed)
    for tip in ((-6.4, -4.4), (6.4, -4.6), (-4.2, -7.4), (4.0, -7.6), (0, -8.8)):
        middle = (tip[0] * 0.62, tip[1] * 0.45)
        sheet = "blush" if abs(tip[0]) > 5 else "milk"
        c.glue(sheet, ribbon(curve((0, -0.5), middle, tip), 2.0, 3.8, 0.5), lift=0.5)
    c.glue("mustard", oval(0, -2.0, 1.7, 1.3), lift=0.4)
    return c


_REEDS = {
    # blades: (foot x, tip x, tip y, width, sheet); cattails: (foot x, head x, head y)
    "tall": (
        (
            (-6, -22, -74, 4.6, "fern"),
            (4, 17, -86, 4.8, "moss"),
            (-1, -9, -104, 4.2, "moss"),
            (7, 27, -52, 4.4, "fern"),
        ),
        ((1.5, 3.0, -96), (-4, -14, -84)),
    ),
    "bent": (((-4, -24, -50, 4.4, "moss"), (3, 10, -72, 4.2, "fern"), (6, 24, -58, 4.6, "moss")), ((0, -4.5, -66),)),
    "short": (((-5, -15, -32, 4.0, "sage"), (0, 1, -44, 4.2, "moss"), (5, 18, -34, 4.0, "fern")), ()),
    "far": (
        ((-5, -9, -22, 2.4, "fern"), (-2, -3, -29, 2.6, "moss"), (3, 6, -25, 2.4, "fern"), (6, 12, -17, 2.2, "moss")),
        ((0, 1.0, -31),),
    ),
    "right": (
        ((-8, -27, -48, 4.4, "moss"), (-3, -12, -70, 4.6, "fern"), (3, 6, -60, 4.4, "moss"), (8, 20, -44, 4.2, "fern")),
        ((0, -3.0, -76), (5, 12, -64)),
    ),
    "tuft": (
        (
            (-9, -17, -13, 3.0, "moss"),
            (-5, -8, -20, 3.0, "fern"),
            (0, 1, -16, 2.8, "sage"),
            (4, 9, -19, 3.0, "moss"),
            (9, 18, -12, 2.8, "fern"),
        ),
        (),
    ),
}


def _reeds(seed: int, which: str) -> Collage:
    c = Collage(f"pond-prop-reeds-{which}", seed)
    blades, cattails = _REEDS[which]
    for foot, x, y in cattails:
        k = abs(y) / 96
        stem = curve((foot, 1), ((foot + x) / 2 - 0.6, y * 0.5), (x, y - 11 * k))
        c.glue("moss", ribbon(stem, 1.7 * k + 0.5, 1.3 * k + 0.4, 0.8), shade=-0.12)
        c.glue("bark", ribbon(curve((x - 0.1, y + 7 * k), (x + 0.1, y - 6 * k)), 5.4 * k, 5.8 * k, 5.2 * k), lift=0.8)
        c.pen(curve((x + 1.0 * k, y + 5 * k), (x + 1.2 * k, y - 4 * k)), width=0.4, sheet="plum", strength=0.4)
    for foot, x, y, width, sheet in blades:
        path = curve((foot, 1.5), (foot + (x - foot) * 0.28, y * 0.55), (x, y))
        c.glue(sheet, ribbon(path, width, width * 0.95, width * 0.6, 0.5), lift=0.7)
        c.pen(path[len(path) // 8 : -len(path) // 6], width=0.4, sheet="deep", strength=0.4)
    return c
