"""The heron from the side, looking right: patient, upright, not impressed. Its feet stand at y = 0."""

import numpy as np
from collage import Collage
from figure import Cutout
from heron import BEAKS, EYES, dashes, eye, longer
from scissors import curve, oval, ribbon, shape, shifted

HIP, SHOULDER, NECK, NAPE, SKULL = (0.0, -52.0), (6.0, -72.0), (13.0, -70.0), (15.5, -93.0), (20.0, -112.0)
GAPE, EYE, CREST = (33.0, -114.5), (26.0, -117.5), (13.0, -118.0)


def parts(seed: int) -> list[Cutout]:
    body = "heron-body-side"
    head = "heron-head-side"
    cuts = [
        Cutout(_leg_side(seed, "far", 8.0), "leg", (8.0, -52.0), 30, "side", body),
        Cutout(_leg_side(seed, "near", 0.0), "leg", HIP, 31, "side", body),
        Cutout(_neck_lower(seed), "neck", NECK, 32, "side", body),
        Cutout(_body(seed), "body", HIP, 33, "side"),
        Cutout(_wing(seed), "wing", SHOULDER, 34, "side", body),
        Cutout(_neck_upper(seed), "neck", NAPE, 35, "side", "heron-neck-lower-side"),
        Cutout(_crest(seed), "crest", CREST, 36, "side", head),
        Cutout(_head(seed), "head", SKULL, 38, "side", "heron-neck-upper-side"),
    ]
    for variant, mouth in BEAKS.items():
        beak = _beak(seed, variant)
        cuts.append(Cutout(beak, "mouth", GAPE, 37, "side", head, "heron-mouth-side", mouth))
    for variant in EYES:
        disc = eye(Collage(f"heron-eye-{variant}-side", seed), EYE, variant, (1.0, 0.2))
        cuts.append(Cutout(disc, "eye", EYE, 39, "side", head, "heron-eye-side"))
    return cuts


def _leg_side(seed: int, which: str, x: float) -> Collage:
    c = Collage(f"heron-leg-{which}-side", seed)
    shade = -0.30 if which == "far" else 0.0
    for tip in ((15.5, -0.6), (11.5, -2.6), (-6.5, -0.6)):
        toe = curve((x + 1, -2.0), (x + tip[0] * 0.5, tip[1] - 1.6), (x + tip[0], tip[1]))
        c.glue("mustard", ribbon(toe, 2.4, 2.0, 0.8), shade=shade)
    shin = ribbon(curve((x - 2.4, -27), (x - 0.6, -14), (x + 1, -1.6)), 2.6, 2.2, 2.8)
    c.glue("mustard", shin, shade=shade)
    c.glue("mustard", ribbon(curve((x, -50), (x - 1.2, -38), (x - 2.4, -26)), 4.0, 2.8, 2.8), shade=shade)
    c.glue("mustard", oval(x - 2.5, -26.5, 2.3, 2.6), lift=0.6, shade=shade)
    thigh = shape((x - 5.5, -54), (x - 0.5, -58), (x + 5.2, -53), (x + 3.6, -45), (x - 0.6, -37, 1), (x - 4.4, -45))
    c.glue("slate", thigh, shade=-0.12 if which == "far" else -0.03)
    c.pen(*[curve((x + dx, -48), (x + dx * 0.6 - 0.4, -42)) for dx in (-2.5, 0.0, 2.4)], width=0.4, sheet="night")
    rings = [curve((x - 1.6 + dy * 0.02, -22 + dy), (x + 0.6 + dy * 0.02, -21.6 + dy)) for dy in (0, 3, 6, 9, 12, 15)]
    c.pen(*rings, width=0.35, sheet="bark", strength=0.6)
    return c


def _body(seed: int) -> Collage:
    c = Collage("heron-body-side", seed)
    for tip, bend in (((-44, -39.5), -48), ((-41, -37.5), -46), ((-37.5, -36.5), -44)):
        c.glue("night", ribbon(curve((-14, -54), (-28, bend), tip), 9, 6.5, 2.5), lift=0.5)
    c.glue(
        "slate",
        shape(
            (10, -79),
            (-4, -79),
            (-20, -70),
            (-32, -57),
            (-40, -43.5, 1),
            (-24, -42),
            (-6, -41),
            (9, -45),
            (20, -55),
            (22.5, -67),
            (18, -76),
        ),
    )
    c.glue(
        "mist",
        shape((24, -60), (16, -46), (0, -38), (-22, -40), (-10, -46), (6, -51), (15, -61)),
        inside=True,
        lift=0.6,
    )
    c.rub("night", oval(-16, -46, 18, 4, -8), strength=0.28, dry=0.55, soft=1.6)
    for start, tip in (
        ((19, -69), (18, -46)),
        ((16.5, -68), (12.5, -48)),
        ((21, -70), (23, -50)),
        ((19, -71), (20.5, -54)),
    ):
        mid = ((start[0] + tip[0]) / 2 + 1.6, (start[1] + tip[1]) / 2)
        c.glue("milk", ribbon(curve(start, mid, tip), 4.2, 3.6, 0.5), lift=0.5)
    barbs = [curve((17.6 + k, -63 + 2 * k), (17.2 + k * 0.8, -55 + 2 * k)) for k in (-2.4, 0.4, 2.8)]
    c.pen(*barbs, width=0.35, sheet="night", strength=0.5)
    return c


def _wing(seed: int) -> Collage:
    c = Collage("heron-wing-side", seed)
    for k, tip in enumerate(((-46, -41), (-42, -40.5), (-37, -41), (-31, -42))):
        path = curve((-6, -62 + k * 1.5), (-24 + 2 * k, -54 + k * 1.2), tip)
        c.glue("night", ribbon(path, 9, 8, 2.2), lift=0.5, shade=0.05 * (k % 2))
        c.pen(path[len(path) // 3 : -6], width=0.35, sheet="slate", strength=0.55)
    c.glue(
        "slate",
        shape((11, -73), (3, -77.5), (-12, -72), (-27, -58), (-31, -49, 1), (-18, -47.5), (-2, -52), (9, -62)),
        shade=-0.05,
    )
    for row, (sheet, count) in enumerate((("slate", 5), ("mist", 4), ("slate", 4))):
        c_row = _scallops(row, count)
        for k, (x, y, r) in enumerate(c_row):
            c.glue(
                sheet,
                oval(x, y, r * 1.22, r, -38),
                inside=False,
                lift=0.55,
                shade=0.03 * ((k + row) % 2) - (0.13, 0.0, 0.06)[row],
            )
            quill = curve((x + r * 0.5, y - r * 0.4), (x - r * 0.55, y + r * 0.42))
            c.pen(quill, width=0.4, sheet="night", strength=0.55)
    c.glue("night", shape((13, -68), (9.5, -75.5), (1, -78.2, 1), (4.5, -73.5), (10, -65.5, 1)), lift=0.5)
    return c


def _scallops(row: int, count: int) -> list[tuple[float, float, float]]:
    start = np.array([(-21.0, -54.0), (-13.0, -59.0), (-5.0, -64.5)][row])
    end = np.array([(1.5, -55.5), (4.5, -60.5), (6.5, -66.5)][row])
    r = (5.4, 5.0, 4.4)[row]
    return [
        (*(start + (end - start) * k / (count - 1) + (0, 2.0 * np.sin(np.pi * k / (count - 1)))), r)
        for k in range(count)
    ]


def _neck_lower(seed: int) -> Collage:
    c = Collage("heron-neck-lower-side", seed)
    path = curve(NECK, (21.5, -77), (21.5, -86), NAPE)
    c.glue("mist", ribbon(path, 16, 13.5, 11, 10.4))
    c.glue("milk", ribbon(longer(shifted(path, 3.8, 0.6), 5), 7.5, 6, 5, 5), inside=True, lift=0.4)
    dashes(c, shifted(path, 2.6, 0.4))
    return c


def _neck_upper(seed: int) -> Collage:
    c = Collage("heron-neck-upper-side", seed)
    path = curve(NAPE, (12.0, -99), (13.5, -106.5), SKULL)
    c.glue("mist", ribbon(path, 10.2, 9.0, 8.6, 9.4))
    c.glue("milk", ribbon(longer(shifted(path, 3.2, 0.6), 6), 5, 5, 4.6, 5), inside=True, lift=0.4)
    dashes(c, shifted(path, 1.9, 0.9))
    return c


def _head(seed: int) -> Collage:
    c = Collage("heron-head-side", seed)
    c.glue(
        "milk",
        shape(
            (9.5, -117),
            (14.5, -124),
            (23, -126.5),
            (31, -122.5),
            (36.5, -115.5),
            (33, -110.5),
            (25, -107.3),
            (15, -107.6),
            (10, -111.5),
        ),
    )
    cap = shape(
        (7, -117.5), (13, -126), (22, -129), (27, -125), (24.5, -121.5), (18.5, -119), (13.5, -113.5), (9, -112.5)
    )
    c.glue("night", cap, inside=True, lift=0.5)
    c.glue("night", shape((26.5, -119.6), (30, -120.4), (36, -117, 1), (31, -117.4)), inside=True, lift=0.4)
    c.rub("blush", oval(22.5, -112.2, 3.0, 2.0), strength=0.55, dry=0.55, soft=0.8)
    c.pen(
        *[curve((14.6 + k, -112.6 + k * 0.6), (13.8 + k, -109.6 + k * 0.5)) for k in (0, 1.6, 3.2)],
        width=0.32,
        sheet="slate",
        strength=0.7,
    )
    return c


def _crest(seed: int) -> Collage:
    c = Collage("heron-crest-side", seed)
    c.glue("night", ribbon(curve((15, -118), (3, -121), (-8, -115), (-13, -107)), 4.2, 3.2, 2.2, 0.6), lift=0.5)
    c.glue("night", ribbon(curve((15, -117), (4, -117), (-4, -110.5), (-6.5, -104.5)), 4.2, 3.0, 2.0, 0.6), lift=0.5)
    c.pen(curve((9, -119.2), (0, -118.8), (-7, -113.6)), width=0.32, sheet="slate", strength=0.6)
    return c


def _beak(seed: int, variant: str) -> Collage:
    c = Collage(f"heron-mouth-{variant}-side", seed)
    drop = {"closed": 0.0, "ajar": 7.0, "open": 17.0}[variant]
    lower = shape((25, -115.5), (34, -114.6), (50, -112.6), (66, -110.2, 1), (50, -109.6), (34, -108.8), (26, -109.6))
    upper = shape((24, -113), (26, -118.4), (37, -118.8), (52, -114.4), (67.5, -110.4, 1), (52, -111.4), (36, -112.0))
    if drop:
        c.glue(
            "brick", shape((26, -114.5, 1), (43, -112.6, 1), (40.5, -110.8 + drop * 0.22, 1), (27, -110, 1)), lift=0.4
        )
    if variant == "open":
        c.glue("blush", ribbon(curve((30, -112.2), (38, -110.2), (45, -108.8)), 2.4, 1.8, 0.7), lift=0.4)
    c.glue("apricot", lower.turned(drop, GAPE), shade=-0.05)
    c.glue("mustard", upper.turned(-drop * 0.22, GAPE), lift=0.6)
    c.pen(curve((41, -116.0), (43.8, -115.2)), width=0.5, sheet="bark")
    if not drop:
        c.pen(curve((29, -112.6), (46, -112.1), (62, -110.9)), width=0.45, sheet="bark", strength=0.8)
    return c
