"""The snail: small, scarfed, an optimist by temperament. Side view looking left, and front view. Its foot is y = 0."""

import numpy as np
from collage import Collage
from figure import Cutout, Mouth
from scissors import curve, oval, ribbon, shape, shifted

MOUTHS = {
    "rest": Mouth("closed", 0.0, 0.3),
    "pressed": Mouth("closed", 0.0, 0.6),
    "teeth-on-lip": Mouth("touching-teeth", 0.15, 0.3),
    "narrow": Mouth("apart", 0.25, 0.2),
    "wide": Mouth("apart", 0.5, 0.0),
    "open": Mouth("apart", 1.0, 0.35),
    "small-round": Mouth("apart", 0.35, 1.0),
    "large-round": Mouth("apart", 0.75, 0.85),
    "tongue-up": Mouth("apart", 0.5, 0.25, tongue=True),
}
SKIN, SHELL, RIM = "straw", "plum", "blush"
NECK, SHELL_SEAT, LIPS = (-14.5, -21.5), (7.0, -9.0), (-21.0, -23.2)
STALKS = {"near": ((-20.0, -31.0), (-24.5, -43.5)), "far": ((-12.5, -32.0), (-11.5, -45.0))}
STALKS_FRONT = {"left": ((-5.0, -31.5), (-9.0, -44.5)), "right": ((5.0, -31.5), (9.0, -44.5))}
EYES = ("open", "away", "half", "shut")


def parts(seed: int) -> list[Cutout]:
    return [*side(seed), *front(seed)]


# ---------------------------------------------------------------- side view


def side(seed: int) -> list[Cutout]:
    body, head = "snail-body-side", "snail-head-side"
    cuts = [
        Cutout(_body(seed), "body", (0.0, -3.0), 46, "side"),
        Cutout(_shell(seed), "shell", SHELL_SEAT, 47, "side", body),
        Cutout(_scarf(seed), "scarf", (-14.5, -17.0), 48, "side", body),
        Cutout(_head(seed), "head", NECK, 49, "side", body),
    ]
    for which, layer, gaze in (("far", 42, (-1.1, -0.5)), ("near", 44, (-1.2, -0.5))):
        base, tip = STALKS[which]
        stalk = f"snail-stalk-{which}-side"
        cuts.append(Cutout(_stalk(seed, stalk, base, tip), "stalk", base, layer, "side", head))
        for variant in EYES:
            eye = _eye(seed, f"snail-eye-{which}-{variant}-side", tip, variant, gaze)
            cuts.append(Cutout(eye, "eye", tip, layer + 1, "side", stalk, f"snail-eye-{which}-side"))
    for variant, mouth in MOUTHS.items():
        c = _mouth(seed, f"snail-mouth-{variant}-side", LIPS, variant, lean=-4.0)
        cuts.append(Cutout(c, "mouth", LIPS, 50, "side", head, "snail-mouth-side", mouth))
    return cuts


def _body(seed: int) -> Collage:
    c = Collage("snail-body-side", seed)
    c.glue(
        SKIN,
        shape(
            (29, -0.4, 1),
            (20, -5.0),
            (8, -9.5),
            (-3, -11.5),
            (-7.5, -18),
            (-10.5, -25),
            (-15, -28),
            (-20, -25),
            (-21.2, -17),
            (-20.6, -9),
            (-23, -4.0),
            (-22.4, 0, 1),
            (-8, 0.4),
            (12, 0.3),
        ),
    )
    c.glue(
        "kraft",
        shape((30, 1), (31, -1.2), (14, -2.4), (-4, -3.4), (-18, -3.2), (-26, -2.4), (-26, 1)),
        inside=True,
        lift=0.4,
    )
    c.pen(
        *[curve((x, -2.6), (x - 0.8, -0.4)) for x in np.arange(-19, 25, 3.4)], width=0.35, sheet="bark", strength=0.55
    )
    c.rub("apricot", oval(-18.5, -14, 2.2, 6, 0), strength=0.5, dry=0.5, soft=1.0)
    c.pen(
        *[curve((x, y), (x + 1.5, y - 0.7)) for x, y in ((-10, -8), (-5, -7), (-14, -6.4), (15, -5), (20, -3.8))],
        width=0.4,
        sheet="bark",
        strength=0.45,
    )
    return c


def _shell(seed: int) -> Collage:
    """A disc of plum paper, with the coil glued on as a strip and growth lines in pen."""
    c = Collage("snail-shell-side", seed)
    x, y, r = 8.5, -20.5, 16.5
    c.glue(SHELL, oval(x, y, r, r * 0.96, -8))
    a = np.linspace(0, 4.9 * np.pi, 420)
    reach = r * (0.90 - 0.80 * (a / a[-1]) ** 0.86)
    coil = np.stack([x + reach * np.cos(a + 0.7), y + 0.96 * reach * np.sin(a + 0.7)], axis=1)
    c.glue(RIM, ribbon(coil, 4.6, 4.2, 3.2, 2.4, 1.6), inside=True, lift=0.8, snip=2.2)
    for start in range(12, 330, 15):
        here, ahead = coil[start], coil[start + 4]
        across = np.array([-(ahead - here)[1], (ahead - here)[0]])
        across /= np.linalg.norm(across)
        half = np.interp(start, [0, 420], [1.5, 0.5])
        line = curve(here - across * half, here + (ahead - here) * 0.5, here + across * half)
        c.pen(line, width=0.42, sheet="brick", strength=0.7)
    c.crayon("blush", coil[:150] + (coil[:150] - (x, y)) * 0.155, width=0.9, strength=0.4, dry=0.6)
    c.glue("mustard", oval(coil[-1][0], coil[-1][1], 1.5), lift=0.4)
    return c


def _shell_front(seed: int) -> Collage:
    """Seen from the front it is a round plum back with one arch of the coil."""
    c = Collage("snail-shell-front", seed)
    c.glue(SHELL, oval(0, -21.5, 16.5, 16))
    arch = curve((-12.6, -10), (-14.2, -22), (-8.5, -32.4), (2, -34.2), (11.5, -28.6), (13.6, -18), (11.5, -10))
    c.glue(RIM, ribbon(arch, 3.0, 3.8, 4.2, 3.8, 3.0), inside=True, lift=0.7)
    for spot in arch[8:-8:14]:
        out = (spot - (0, -21.5)) / np.linalg.norm(spot - (0, -21.5))
        line = curve(spot - out * 1.2, shifted(spot, 0.5, 0.2), spot + out * 1.2)
        c.pen(line, width=0.42, sheet="brick", strength=0.7)
    return c


def _scarf(seed: int) -> Collage:
    c = Collage("snail-scarf-side", seed)
    _scarf_tail(c, curve((-9.5, -18), (-5.5, -13), (-5.8, -5)))
    c.glue(
        "deep",
        shape((-22.6, -21.5), (-15, -18.6), (-7.6, -21.0), (-6.2, -16.6), (-14.5, -13.0), (-22.8, -15.8)),
        lift=0.8,
    )
    for x in (-19.6, -14.8, -10.0):
        c.glue("mustard", ribbon(curve((x, -23), (x - 0.6, -11)), 1.6, 1.6), inside=True, lift=0.3)
    return c


def _head(seed: int) -> Collage:
    c = Collage("snail-head-side", seed)
    c.glue(
        SKIN,
        shape(
            (-27.5, -26.5),
            (-24.5, -33),
            (-17.5, -36),
            (-10.2, -33),
            (-7.2, -26),
            (-10.0, -19.8),
            (-16.5, -18.2),
            (-24, -20),
        ),
        shade=0.02,
    )
    c.rub("blush", oval(-12.2, -24.4, 2.6, 1.9), strength=0.75, dry=0.5, soft=0.7)
    c.pen(curve((-26.6, -28.6), (-25.2, -29.2)), width=0.4, sheet="bark", strength=0.6)
    return c


def _stalk(seed: int, name: str, base: tuple[float, float], tip: tuple[float, float]) -> Collage:
    c = Collage(name, seed)
    bend = ((base[0] + tip[0]) / 2 + (0.9 if tip[0] < base[0] else -0.9), (base[1] + tip[1]) / 2)
    foot = (base[0] + (base[0] - tip[0]) * 0.12, base[1] + 2.2)
    path = curve(foot, bend, tip)
    c.glue(SKIN, ribbon(path, 5.2, 3.6, 3.4), shade=-0.03 if "far" in name else 0.0)
    rings = [path[int(len(path) * t)] for t in (0.38, 0.52, 0.66)]
    c.pen(*[curve(shifted(p, -0.9, 0.1), shifted(p, 0.9, 0.3)) for p in rings], width=0.35, sheet="bark", strength=0.5)
    return c


def _eye(
    seed: int, name: str, at: tuple[float, float], variant: str, gaze: tuple[float, float], r: float = 4.1
) -> Collage:
    c = Collage(name, seed)
    x, y = at
    if variant == "shut":
        c.glue(SKIN, oval(x, y, r), lift=0.6)
        c.pen(curve((x - r * 0.72, y + 0.5), (x, y + 1.9), (x + r * 0.72, y + 0.4)), width=0.75)
        return c
    gx, gy = {"open": gaze, "away": (1.4 if gaze[0] < 0.5 else -1.4, -0.1), "half": (gaze[0], 0.5)}[variant]
    c.glue("milk", oval(x, y, r), lift=0.6)
    c.spots("ink", oval(x + gx, y + gy, r * 0.46, r * 0.5), strength=0.95, dry=0)
    c.spots("milk", oval(x + gx - 0.55, y + gy - 0.75, r * 0.14), strength=0.95, dry=0)
    lid = {"open": -0.66, "away": -0.72, "half": -0.02}[variant] * r
    top = shape(
        (x - r - 1, y + lid, 1),
        (x, y + lid - 0.3),
        (x + r + 1, y + lid, 1),
        (x + r + 1, y - r - 1, 1),
        (x - r - 1, y - r - 1, 1),
    )
    c.glue(SKIN, top, inside=True, lift=0.4)
    return c


def _mouth(seed: int, name: str, at: tuple[float, float], variant: str, lean: float = 0.0) -> Collage:
    """One mouth, cut from plum paper, with teeth and tongue glued into it."""
    c = Collage(name, seed)
    x, y = at

    def hole(*points: tuple[float, ...]) -> None:
        c.glue("plum", shape(*((x + p[0], y + p[1], *p[2:]) for p in points)).turned(lean, at), lift=0.35)

    def strip(sheet: str, *points: tuple[float, float], width: float, inside: bool = True) -> None:
        path = curve(*((x + px, y + py) for px, py in points))
        c.glue(sheet, ribbon(path, width * 0.7, width, width * 0.7).turned(lean, at), inside=inside, lift=0.3)

    if variant == "rest":
        strip("plum", (-3.6, -0.9), (-1.8, 0.5), (0.8, 0.8), (3.8, -1.1), width=1.15, inside=False)
    elif variant == "pressed":
        strip("plum", (-2.5, 0.15), (0, -0.25), (2.6, 0.2), width=1.25, inside=False)
    elif variant == "teeth-on-lip":
        hole((-3.4, -1.3), (0, -1.7), (3.4, -1.3), (2.8, 1.0), (0, 1.4), (-2.8, 1.0))
        strip("milk", (-3, -0.7), (0, -0.9), (3, -0.7), width=1.7)
        strip("blush", (-3, 1.2), (0, 1.3), (3, 1.2), width=1.3)
    elif variant == "narrow":
        hole((-3.2, -0.7), (0, -1.2), (3.2, -0.7), (2.2, 1.1), (0, 1.6), (-2.2, 1.1))
        strip("blush", (-2, 1.4), (0, 1.2), (2, 1.4), width=1.0)
    elif variant == "wide":
        hole((-4.9, -1.5), (0, -1.9), (4.9, -1.7), (3.6, 1.4), (0, 2.3), (-3.5, 1.5))
        strip("milk", (-4.6, -1.2), (0, -1.5), (4.6, -1.3), width=1.5)
        strip("blush", (-3, 2.1), (0, 1.7), (3, 2.1), width=1.6)
    elif variant == "open":
        hole((-3.9, -2.4), (0, -3.0), (3.9, -2.5), (3.5, 1.8), (0, 4.2), (-3.4, 1.9))
        strip("milk", (-3.6, -2.2), (0, -2.6), (3.6, -2.3), width=1.3)
        strip("blush", (-2.6, 3.6), (0, 2.9), (2.6, 3.5), width=3.2)
    elif variant == "small-round":
        c.glue("plum", oval(x, y, 1.7, 2.0), lift=0.35)
    elif variant == "large-round":
        c.glue("plum", oval(x, y, 2.7, 3.2), lift=0.35)
        strip("blush", (-1.8, 2.9), (0, 2.3), (1.8, 2.8), width=2.0)
    elif variant == "tongue-up":
        hole((-3.8, -1.9), (0, -2.4), (3.8, -2.0), (3.0, 1.5), (0, 2.7), (-3.0, 1.5))
        strip("blush", (0, 2.6), (0.2, 0.6), (0, -1.2), width=2.9)
        strip("milk", (-3.6, -1.8), (0, -2.2), (3.6, -1.9), width=1.1)
    return c


# ---------------------------------------------------------------- front view


def front(seed: int) -> list[Cutout]:
    body, head = "snail-body-front", "snail-head-front"
    cuts = [
        Cutout(_shell_front(seed), "shell", (0.0, -10.0), 41, "front", body),
        Cutout(_body_front(seed), "body", (0.0, -3.0), 46, "front"),
        Cutout(_scarf_front(seed), "scarf", (0.0, -16.0), 48, "front", body),
        Cutout(_head_front(seed), "head", (0.0, -20.5), 49, "front", body),
    ]
    for which, (base, tip) in STALKS_FRONT.items():
        stalk = f"snail-stalk-{which}-front"
        gaze = (0.9 if which == "left" else -0.9, 0.1)
        cuts.append(Cutout(_stalk(seed, stalk, base, tip), "stalk", base, 44, "front", head))
        for variant in EYES:
            eye = _eye(seed, f"snail-eye-{which}-{variant}-front", tip, variant, gaze, 4.3)
            cuts.append(Cutout(eye, "eye", tip, 45, "front", stalk, f"snail-eye-{which}-front"))
    for variant, mouth in MOUTHS.items():
        c = _mouth(seed, f"snail-mouth-{variant}-front", (0.0, -22.8), variant)
        cuts.append(Cutout(c, "mouth", (0.0, -22.8), 50, "front", head, "snail-mouth-front", mouth))
    return cuts


def _body_front(seed: int) -> Collage:
    c = Collage("snail-body-front", seed)
    c.glue(
        SKIN,
        shape(
            (0, -26),
            (6, -24),
            (7.2, -15),
            (9.5, -7),
            (15, -2.6),
            (14.5, 0.2),
            (0, 0.5),
            (-14.5, 0.2),
            (-15, -2.6),
            (-9.5, -7),
            (-7.2, -15),
            (-6, -24),
        ),
    )
    c.glue("kraft", shape((-17, 2), (-17, -2.2), (0, -3.4), (17, -2.2), (17, 2)), inside=True, lift=0.4)
    c.pen(
        *[curve((x, -2.5), (x * 1.03, -0.3)) for x in np.arange(-11, 12, 3.1)], width=0.35, sheet="bark", strength=0.55
    )
    c.rub("apricot", oval(0, -9, 3.4, 4), strength=0.5, dry=0.5, soft=1.0)
    return c


def _scarf_front(seed: int) -> Collage:
    c = Collage("snail-scarf-front", seed)
    c.glue("deep", shape((-8.8, -19.5), (0, -16.8), (8.8, -19.5), (9.2, -14.6), (0, -11.6), (-9.2, -14.6)), lift=0.8)
    for x in (-6.4, -2.0, 2.4, 6.6):
        c.glue("mustard", ribbon(curve((x, -21), (x * 1.05, -10)), 1.6, 1.6), inside=True, lift=0.3)
    _scarf_tail(c, curve((3.2, -14.5), (5.6, -10), (5.0, -4.5)))
    return c


def _scarf_tail(c: Collage, path: np.ndarray) -> None:
    """The loose end: two stripes and a fringe."""
    end = path[-1]
    for k in range(4):
        x = end[0] + (k - 1.5) * 1.55
        c.glue("mustard", ribbon(curve((x, end[1] - 0.8), (x + 0.05 * k, end[1] + 2.2)), 0.9, 0.7), lift=0.3)
    c.glue("deep", ribbon(path, 4.6, 5.6, 6.2, round_ends=(True, False)), lift=0.8)
    for t, half in ((0.5, 2.6), (0.82, 2.8)):
        x, y = path[int(len(path) * t)]
        c.glue(
            "mustard",
            ribbon(curve((x - half, y - 0.2), (x + half, y + 0.3)), 1.5, 1.5, round_ends=(False, False)),
            lift=0.3,
        )


def _head_front(seed: int) -> Collage:
    c = Collage("snail-head-front", seed)
    c.glue(
        SKIN,
        shape(
            (0, -35.5), (7.5, -34), (11.4, -27.5), (9.6, -20.6), (0, -17.4), (-9.6, -20.6), (-11.4, -27.5), (-7.5, -34)
        ),
        shade=0.02,
    )
    for s in (-1, 1):
        c.rub("blush", oval(s * 7.4, -23.8, 2.3, 1.7), strength=0.75, dry=0.5, soft=0.7)
    return c
