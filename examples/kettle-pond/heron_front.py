"""The heron from the front: the same bird, now aware of you. Its feet stand at y = 0."""

from collage import Collage
from figure import Cutout
from heron import BEAKS, EYES, dashes, eye, longer
from scissors import Outline, curve, oval, ribbon, shape, shifted


def parts(seed: int) -> list[Cutout]:
    body, head, pair = "heron-body-front", "heron-head-front", (("left", -1), ("right", 1))
    cuts = [Cutout(_leg_front(seed, w, s), "leg", (s * 6.0, -50.0), 30, "front", body) for w, s in pair]
    cuts += [
        Cutout(_neck_front(seed, "lower"), "neck", (0.0, -76.0), 35, "front", body),
        Cutout(_body_front(seed), "body", (0.0, -52.0), 33, "front"),
        Cutout(_neck_front(seed, "upper"), "neck", (0.0, -94.0), 36, "front", "heron-neck-lower-front"),
        Cutout(_head_front(seed), "head", (0.0, -110.0), 37, "front", "heron-neck-upper-front"),
    ]
    cuts += [Cutout(_wing_front(seed, w, s), "wing", (s * 14.0, -72.0), 34, "front", body) for w, s in pair]
    for variant, mouth in BEAKS.items():
        beak = _beak_front(seed, variant)
        cuts.append(Cutout(beak, "mouth", (0.0, -114.0), 39, "front", head, "heron-mouth-front", mouth))
    for variant in EYES:
        c = Collage(f"heron-eye-{variant}-front", seed)
        eye(c, (-6.6, -118.5), variant, (0.7, 0.3), 4.0)
        eye(c, (6.6, -118.5), variant, (-0.7, 0.3), 4.0)
        cuts.append(Cutout(c, "eye", (0.0, -118.5), 38, "front", head, "heron-eye-front"))
    return cuts


def _leg_front(seed: int, which: str, s: int) -> Collage:
    c = Collage(f"heron-leg-{which}-front", seed)
    x = 6.0 * s
    for tip in ((-5.5, 0.2), (0.3, 1.4), (5.8, 0.0)):
        c.glue("mustard", ribbon(curve((x, -3), (x + tip[0] * 0.6, -1.6), (x + tip[0], tip[1] - 0.6)), 2.2, 2.0, 0.9))
    c.glue("mustard", ribbon(curve((x - 0.4 * s, -26), (x, -2)), 2.6, 2.2, 2.6))
    c.glue("mustard", ribbon(curve((x, -50), (x - 0.4 * s, -26)), 3.8, 2.8))
    c.glue("mustard", oval(x - 0.4 * s, -26, 2.3, 2.5), lift=0.6)
    c.glue("slate", shape((x - 5, -50), (x, -55), (x + 5, -50), (x + 3, -43), (x, -37, 1), (x - 3, -43)), shade=-0.05)
    c.pen(
        *[curve((x - 1.1, y), (x + 1.1, y + 0.3)) for y in (-21, -18, -15, -12, -9, -6)],
        width=0.35,
        sheet="bark",
        strength=0.6,
    )
    return c


def _body_front(seed: int) -> Collage:
    c = Collage("heron-body-front", seed)
    c.glue(
        "slate",
        shape(
            (0, -83),
            (11, -79),
            (18, -68),
            (18.5, -55),
            (12, -45),
            (0, -41.5),
            (-12, -45),
            (-18.5, -55),
            (-18, -68),
            (-11, -79),
        ),
    )
    c.glue(
        "mist",
        shape((0, -74), (10, -66), (11.5, -54), (7, -46), (0, -43.5), (-7, -46), (-11.5, -54), (-10, -66)),
        inside=True,
        lift=0.6,
    )
    return c


def _wing_front(seed: int, which: str, s: int) -> Collage:
    c = Collage(f"heron-wing-{which}-front", seed)

    def at(*points: tuple[float, ...]) -> Outline:
        outline = shape(*points)
        return outline if s > 0 else outline.mirrored()

    c.glue("night", at((14, -62), (20, -58), (20, -48), (15.5, -38.5, 1), (11.5, -48)), lift=0.5)
    c.glue(
        "slate",
        at((11, -74), (16, -77), (21.5, -70), (22.5, -58), (18.5, -47, 1), (13.5, -54), (11.5, -64)),
        shade=-0.04,
    )
    for k, y in enumerate((-56, -61.5, -67)):
        for x in (15.2, 19.0):
            c.glue(
                "mist" if k == 1 else "slate",
                oval(s * x, y + (x - 15) * 0.3, 2.6, 3.6),
                lift=0.5,
                shade=0.05 * k - 0.12 * (k == 0),
            )
    c.glue("night", at((10.5, -71, 1), (13, -77), (17, -78), (21.4, -71.5, 1), (16.5, -74.4)), lift=0.5)
    return c


def _neck_front(seed: int, which: str) -> Collage:
    c = Collage(f"heron-neck-{which}-front", seed)
    if which == "lower":
        path, widths = curve((0, -76), (0.8, -85), (0, -94)), (17, 12.5, 10.6)
        for x, tip in ((-9, -60), (9, -61), (-5.5, -54), (5.6, -55), (0, -50)):
            c.glue("milk", ribbon(curve((x * 0.55, -77), (x * 0.95, -67), (x * 0.8, tip)), 5.4, 4.4, 0.6), lift=0.5)
        c.pen(*[curve((x, -66), (x * 0.95, -58)) for x in (-4.6, 0.2, 4.8)], width=0.35, sheet="night", strength=0.5)
    else:
        path, widths = curve((0, -94), (-0.6, -102), (0, -110)), (10.4, 9, 10)
    c.glue("mist", ribbon(path, *widths))
    c.glue("milk", ribbon(longer(path, 8), *(w * 0.5 for w in widths)), inside=True, lift=0.4)
    dashes(c, shifted(path, 1.4, 0))
    dashes(c, shifted(path, -1.6, 1.4))
    return c


def _head_front(seed: int) -> Collage:
    c = Collage("heron-head-front", seed)
    for s in (-1, 1):
        c.glue("night", ribbon(curve((s * 7, -120), (s * 15, -119), (s * 19, -112)), 4, 2.8, 0.6), lift=0.5)
    c.glue(
        "milk",
        shape(
            (0, -128),
            (8, -126),
            (12.2, -119.5),
            (10.5, -111.5),
            (5, -106.5),
            (0, -105.5),
            (-5, -106.5),
            (-10.5, -111.5),
            (-12.2, -119.5),
            (-8, -126),
        ),
    )
    for s in (-1, 1):
        band = shape((2.6, -130), (9, -128), (14, -119), (10, -116.5), (6.5, -123))
        c.glue("night", band if s > 0 else band.mirrored(), inside=True, lift=0.5)
        c.rub("blush", oval(s * 7.4, -111.6, 2.4, 1.7), strength=0.5, dry=0.55, soft=0.8)
    return c


def _beak_front(seed: int, variant: str) -> Collage:
    c = Collage(f"heron-mouth-{variant}-front", seed)
    drop = {"closed": 0.0, "ajar": 2.6, "open": 6.5}[variant]
    if drop:
        c.glue("brick", shape((-3.2, -112, 1), (3.2, -112, 1), (2.6, -106 + drop, 1), (-2.6, -106 + drop, 1)), lift=0.4)
    if variant == "open":
        c.glue("blush", oval(0, -105.5 + drop * 0.4, 1.5, 2.6), lift=0.4)
    c.glue(
        "apricot",
        shape((-3.2, -109 + drop), (3.2, -109 + drop), (2.0, -102 + drop), (0, -97.5 + drop, 1), (-2, -102 + drop)),
        shade=-0.05,
    )
    c.glue(
        "mustard",
        shape((0, -116.5), (3.6, -113.6), (3.4, -107.5), (0, -98.5 - drop * 0.6, 1), (-3.4, -107.5), (-3.6, -113.6)),
        lift=0.7,
    )
    c.pen(curve((-1.5, -112.2), (-1.1, -110.8)), curve((1.5, -112.2), (1.1, -110.8)), width=0.45, sheet="bark")
    c.pen(curve((0, -109), (0.1, -101)), width=0.3, sheet="bark", strength=0.5)
    return c
