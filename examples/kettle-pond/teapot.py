"""The bus, which is a teapot. It drives to the left, spout first, on two slices of lemon. The road is y = 0."""

import numpy as np
from collage import Collage
from figure import Cutout
from scissors import curve, oval, ribbon, shape

WHEELS = {"fore": (-21.0, -10.8), "aft": (21.0, -10.8)}
SPOUT_ROOT, SPOUT_TIP, LID, TAG = (-30.0, -35.0), (-55.5, -62.0), (0.0, -64.0), (17.0, -62.0)


def parts(seed: int) -> list[Cutout]:
    body, spout = "teapot-body-side", "teapot-spout-side"
    cuts = [
        Cutout(_handle(seed), "handle", (33.0, -40.0), 20, "side", body),
        Cutout(_spout(seed), "spout", SPOUT_ROOT, 20, "side", body),
        Cutout(_lid(seed), "lid", LID, 21, "side", body),
        Cutout(_body(seed), "body", (0.0, -30.0), 22, "side"),
        Cutout(_tag(seed), "tag", TAG, 23, "side", body),
    ]
    for which, centre in WHEELS.items():
        cuts.append(Cutout(_wheel(seed, which, centre), "wheel", centre, 24, "side", body))
    for variant in ("small", "middling", "large"):
        cuts.append(Cutout(_steam(seed, variant), "steam", SPOUT_TIP, 19, "side", spout, "teapot-steam-side"))
    return cuts


def _body(seed: int) -> Collage:
    c = Collage("teapot-body-side", seed)
    pot = shape(
        (-37, -40),
        (-32, -56),
        (-17, -65),
        (0, -67),
        (17, -65),
        (32, -56),
        (37, -40),
        (33.5, -24),
        (23, -14),
        (0, -12),
        (-23, -14),
        (-33.5, -24),
    )
    c.glue("tomato", pot)
    c.rub("brick", oval(6, -17, 30, 6), oval(30, -34, 5, 16, 8), strength=0.5, dry=0.5, soft=2.4)
    c.rub("blush", oval(-22, -55, 9, 4, -34), strength=0.4, dry=0.55, soft=1.6)
    c.glue(
        "milk", shape((-45, -37), (0, -34.4), (45, -37), (45, -25.4), (0, -22.6), (-45, -25.4)), inside=True, lift=0.5
    )
    c.pen(
        curve((-36.5, -34.8), (0, -32.6), (36.5, -34.8)),
        curve((-35, -26.4), (0, -24.2), (35, -26.4)),
        width=0.5,
        sheet="deep",
        strength=0.8,
    )
    for x in (-27, -9, 9):
        _cup(c, x, -27.0 + abs(x) * -0.06)
    for x in (-18, 0, 31.5):
        _sprig(c, x, -27.4 + abs(x) * -0.06)
    for x, w in ((-21.5, 9.5), (-7.2, 11), (7.2, 11)):
        _window(c, x, w)
    _door(c, 23.0)
    for x, _ in WHEELS.values():
        c.glue(
            "brick",
            shape((x - 13.4, -11.6, 1), (x - 11, -19.4), (x, -23.8), (x + 11, -19.4), (x + 13.4, -11.6, 1)),
            lift=0.7,
        )
    c.glue("brick", ribbon(curve((-8, -12.6), (0, -12.2), (8, -12.6)), 3.2, 3.2), lift=0.5)
    c.glue("brick", ribbon(curve((-17.5, -64), (0, -66), (17.5, -64)), 3.6, 4.2, 3.6), lift=0.6)
    c.glue("mustard", oval(-35.0, -40.5, 2.7, 3.2), lift=0.7)
    c.glue("cream", oval(-35.5, -40.7, 1.5, 1.9), lift=0.3)
    return c


def _cup(c: Collage, x: float, y: float) -> None:
    """A little cup and saucer in blue pen."""
    bowl = curve((x - 2.7, y - 2.6), (x - 2.2, y - 0.2), (x, y + 0.7), (x + 2.2, y - 0.2), (x + 2.7, y - 2.6))
    ear = curve((x + 2.6, y - 2.0), (x + 4.1, y - 1.9), (x + 3.9, y - 0.4), (x + 2.2, y - 0.3))
    c.pen(
        bowl,
        curve((x - 2.9, y - 2.6), (x + 2.9, y - 2.7)),
        ear,
        curve((x - 3.4, y + 1.5), (x, y + 2.0), (x + 3.4, y + 1.4)),
        width=0.5,
        sheet="deep",
    )
    c.pen(curve((x - 0.8, y - 3.6), (x - 0.2, y - 4.5), (x - 0.7, y - 5.2)), width=0.35, sheet="deep", strength=0.7)


def _sprig(c: Collage, x: float, y: float) -> None:
    c.pen(curve((x, y + 2.0), (x + 0.3, y - 1.0), (x, y - 3.6)), width=0.4, sheet="deep", strength=0.8)
    leaves = [oval(x + s * 1.3, y + dy, 1.2, 0.55, -s * 32) for s, dy in ((-1, 0.9), (1, 0.1), (-1, -1.0), (1, -1.9))]
    c.spots("deep", *leaves, strength=0.75, dry=0.3)


def _window(c: Collage, x: float, w: float) -> None:
    """A lit window with half a curtain."""
    h, i = w / 2, w / 2 - 1.2
    c.glue("brick", shape((x - h, -38.5, 1), (x - h, -50), (x, -56), (x + h, -50), (x + h, -38.5, 1)), lift=0.6)
    c.glue(
        "straw",
        shape((x - i, -39.8, 1), (x - i, -49.6), (x, -54.6), (x + i, -49.6), (x + i, -39.8, 1)),
        lift=0.3,
        shade=0.06,
    )
    drape = (
        (x + i, -49.0, 1),
        (x + i * 0.5, -47.8),
        (x, -49.4),
        (x - i * 0.5, -47.8),
        (x - i, -49.0, 1),
        (x - i, -49.8),
        (x, -54.6),
        (x + i, -49.8),
    )
    c.glue("mist", shape(*drape), lift=0.25)
    c.pen(curve((x, -48.6), (x + 0.1, -39.6)), width=0.7, sheet="brick", strength=0.95)
    c.pen(curve((x - i, -44.4), (x + i, -44.2)), width=0.6, sheet="brick", strength=0.95)


def _door(c: Collage, x: float) -> None:
    c.glue("deep", shape((x - 5.4, -23, 1), (x - 5.4, -46), (x, -53), (x + 5.4, -46), (x + 5.4, -23, 1)), lift=0.7)
    c.glue("straw", oval(x, -45, 2.6, 3.2), lift=0.4)
    c.pen(
        curve((x - 3, -37), (x + 3, -37)),
        curve((x - 3, -37), (x - 3, -27)),
        curve((x + 3, -37), (x + 3, -27)),
        width=0.4,
        sheet="lagoon",
        strength=0.6,
    )
    c.glue("mustard", oval(x - 3.6, -33, 0.9), lift=0.4)


def _lid(seed: int) -> Collage:
    c = Collage("teapot-lid-side", seed)
    c.glue("mustard", oval(0.3, -80.5, 4.3, 4.6))
    c.glue(
        "tomato",
        shape((-15.5, -62, 1), (-15, -67), (-9.5, -74), (0, -77), (9.5, -74), (15, -67), (15.5, -62, 1), (0, -60.5)),
        lift=0.9,
    )
    c.rub("blush", oval(-7, -71.5, 4, 1.8, -30), strength=0.4, dry=0.55, soft=0.9)
    c.glue("milk", ribbon(curve((-15.5, -67.4), (0, -69.4), (15.5, -67.4)), 1.8, 2.0, 1.8), inside=True, lift=0.4)
    return c


def _spout(seed: int) -> Collage:
    c = Collage("teapot-spout-side", seed)
    c.glue("plum", oval(-56.0, -63.8, 4.7, 2.2, -30))
    path = curve((-26, -32), (-38.5, -35.5), (-45.5, -46), (-49.5, -56), (-55.5, -62))
    c.glue("tomato", ribbon(path, 22, 17, 12, 10, 8.4, round_ends=(True, False)), lift=0.7, shade=-0.02)
    c.rub("brick", oval(-40, -30, 9, 4, 42), strength=0.45, dry=0.5, soft=1.6)
    c.glue("brick", ribbon(curve((-51.6, -65.0), (-57.2, -57.6)), 3.0, 3.0), lift=0.6)
    c.glue("milk", ribbon(curve((-39.5, -48.5), (-49, -42.0)), 2.2, 2.2), inside=True, lift=0.4)
    return c


def _handle(seed: int) -> Collage:
    c = Collage("teapot-handle-side", seed)
    path = curve((28, -55), (42, -60.5), (52.5, -52), (51, -38), (42, -28), (29, -27))
    c.glue("tomato", ribbon(path, 7.5, 7.0, 7.0, 6.5, 6.0), shade=-0.03)
    bands = [path[int(len(path) * t)] for t in (0.36, 0.44, 0.52, 0.60)]
    for p in bands:
        out = (p - (39, -44)) / np.linalg.norm(p - (39, -44))
        c.glue("kraft", ribbon(np.linspace(p - out * 4.6, p + out * 4.6, 12), 3.0, 3.2), lift=0.4, inside=True)
    return c


def _tag(seed: int) -> Collage:
    """The label of the tea bag, hanging out under the lid: what other buses would call a destination board."""
    c = Collage("teapot-tag-side", seed)
    c.glue("milk", ribbon(curve((17, -63), (17.7, -59), (17.4, -54.5)), 0.9, 0.9))
    c.glue("cream", shape((13.4, -53.2, 1), (17.4, -56.4, 1), (21.4, -53.2, 1), (21.6, -43.6, 1), (13.2, -43.8, 1)))
    c.spots("moss", oval(17.4, -48.4, 3.0, 1.5, -40), strength=0.9, dry=0.25)
    c.pen(curve((15.2, -46.6), (19.4, -50.4)), width=0.35, sheet="cream")
    c.spots("bark", oval(17.4, -54.0, 0.6))
    return c


def _wheel(seed: int, which: str, centre: tuple[float, float]) -> Collage:
    c = Collage(f"teapot-wheel-{which}-side", seed)
    x, y = centre
    c.glue("mustard", oval(x, y, 10.8))
    c.glue("cream", oval(x, y, 9.3), lift=0.4)
    start = c.rng.uniform(0, 40)
    for k in range(8):
        a = np.radians(start + k * 45)
        spread, near, far = 0.30, 2.2, 8.1
        corners = [(near, 0.0, 1), (far * 0.86, -spread), (far, 0.0), (far * 0.86, spread)]
        wedge = shape(*((x + d * np.cos(a + t), y + d * np.sin(a + t), *flag) for d, t, *flag in corners))
        c.glue("mustard" if k else "apricot", wedge, lift=0.3, shade=0.07)
    c.glue("bark", oval(x, y, 1.7), lift=0.5)
    return c


def _steam(seed: int, variant: str) -> Collage:
    c = Collage(f"teapot-steam-{variant}-side", seed)
    x, y = SPOUT_TIP[0] - 2.0, SPOUT_TIP[1] - 3.0
    puffs = {
        "small": ((1.0, -3.0, 4.2), (4.0, -7.5, 3.4)),
        "middling": ((0.5, -3.5, 4.6), (5.5, -8.5, 5.6), (11.5, -14.5, 4.2)),
        "large": ((0.5, -3.5, 4.4), (6.5, -9.0, 6.6), (15.0, -15.0, 7.6), (25.0, -20.5, 5.2), (9.5, -17.5, 4.0)),
    }[variant]
    c.glue("milk", oval(x + 1.6, y + 0.6, 2.6, 3.4, 20))
    for k, (dx, dy, r) in enumerate(puffs):
        c.glue("milk", oval(x + dx, y + dy, r * 1.08, r * 0.94, -14), lift=0.6, shade=-0.015 * (k % 2))
    for dx, dy, r in puffs[1:]:
        a = np.linspace(0.4, 5.6, 40)
        reach = r * np.linspace(0.62, 0.16, 40)
        c.pen(
            np.stack([x + dx + reach * np.cos(a), y + dy + 0.9 * reach * np.sin(a)], axis=1),
            width=0.5,
            sheet="mist",
            strength=0.9,
        )
    return c
