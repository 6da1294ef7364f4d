"""The shot "waiting" as plain values: who stands where, which view they show, and how they act, frames 1 to 120.

The stage is measured in millimetres from the middle of the frame at rest: x to the right, z up. It stands upright
before the camera. An Extreme says how far a part is from its rest pose; along the axes of the part it hangs on, or of
the stage if it hangs on nothing. turn_deg is counter-clockwise as the camera sees it, about the part's pivot. Between
two extremes the part eases from one to the other; two equal extremes in a row are a hold, in which it does not move.

What happens: they wait. The snail looks up at the heron and says its line. The heron considers the clock, and leans
closer, in case that helps. Steam; the bus rolls in, its lid hops. The heron allows that the snail was right, and looks
at it.

This script stands alone: it imports nothing else from this folder, and no Blender.
"""

from typing import NamedTuple


class Extreme(NamedTuple):
    """A part's distance from its rest pose on one frame."""

    frame: int
    x_mm: float = 0.0
    z_mm: float = 0.0
    turn_deg: float = 0.0
    scale: float = 1.0


class CameraExtreme(NamedTuple):
    """Where the middle of the picture lies on the stage, and how much of the stage it shows from left to right."""

    frame: int
    x_mm: float
    z_mm: float
    width_mm: float


class Acting(NamedTuple):
    """Everything about the shot that is not a picture.

    stands:   part that hangs on nothing -> where its pivot stands on the stage at rest (x, z)
    shown:    replacement set -> the part it shows from the first frame on; sets of a hidden view are not listed
    hidden:   parts that are never seen in this shot: the other view of each character
    extremes: part -> its extremes by frame; parts that are not listed never move
    choices:  replacement set -> (frame, part) from which on that part is the one shown
    camera:   its extremes by frame
    sound:    (film-relative file, frame on which it begins)
    """

    stands: dict[str, tuple[float, float]]
    shown: dict[str, str]
    hidden: list[str]
    extremes: dict[str, list[Extreme]]
    choices: dict[str, list[tuple[int, str]]]
    camera: list[CameraExtreme]
    sound: list[tuple[str, int]]


FIRST_FRAME, LAST_FRAME = 1, 120

HERON, SNAIL, BUS = (-80.0, -62.0), (-16.0, -36.9), (99.0, -53.0)
"""Where the heron's feet, the snail's foot (on the suitcase) and the bus's wheels touch."""


def acting() -> Acting:
    """The shot."""
    return Acting(
        stands=_stands(),
        shown={
            "heron-eye-side": "heron-eye-half-side",
            "heron-mouth-side": "heron-mouth-closed-side",
            "snail-eye-near-side": "snail-eye-near-away-side",
            "snail-eye-far-side": "snail-eye-far-away-side",
            "snail-mouth-side": "snail-mouth-rest-side",
            "teapot-steam-side": "teapot-steam-small-side",
        },
        hidden=_front_views(),
        extremes={**_heron(), **_snail(), **_bus(), **_pond()},
        choices=_choices(),
        camera=[
            CameraExtreme(1, 0.0, 0.0, 320.0),
            CameraExtreme(10, 0.0, 0.0, 320.0),
            CameraExtreme(50, -17.0, -1.5, 266.0),
            CameraExtreme(77, -17.0, -1.5, 266.0),
            CameraExtreme(103, 15.0, -2.0, 294.0),
            CameraExtreme(120, 15.0, -2.0, 294.0),
        ],
        sound=[("track/waiting.wav", 1)],
    )


# ---------------------------------------------------------------- places


def _stands() -> dict[str, tuple[float, float]]:
    return {
        "pond-backdrop-sky": (0.0, 40.0),
        "pond-backdrop-cloud-long": (-18.0, 79.0),
        "pond-backdrop-cloud-round": (92.0, 74.0),
        "pond-backdrop-hills-far": (0.0, 6.0),
        "pond-backdrop-hills-near": (0.0, 0.0),
        "pond-backdrop-water-far": (0.0, -14.0),
        "pond-backdrop-water-near": (0.0, -28.0),
        "pond-backdrop-lane": (0.0, -58.0),
        "pond-backdrop-bank": (0.0, -88.0),
        "pond-prop-lily-pad-a": (66.0, -31.0),
        "pond-prop-lily-pad-b": (-50.0, -33.0),
        "pond-prop-lily-pad-c": (42.0, -25.0),
        "pond-prop-lily-flower": (70.0, -29.5),
        "pond-prop-reeds-far": (-116.0, -41.0),
        "pond-prop-stone": (-128.0, -52.0),
        "pond-prop-stop-pole": (25.0, -55.0),
        "pond-prop-suitcase": (SNAIL[0], HERON[1] + 12.0),
        "pond-prop-reeds-tall": (-150.0, -82.0),
        "pond-prop-reeds-bent": (-132.0, -86.0),
        "pond-prop-reeds-short": (-112.0, -85.0),
        "pond-prop-reeds-right": (163.0, -84.0),
        "pond-prop-reeds-tuft": (58.0, -82.0),
        "heron-body-side": (HERON[0], HERON[1] + 52.0),
        "heron-body-front": (HERON[0], HERON[1] + 52.0),
        "snail-body-side": (SNAIL[0], SNAIL[1] + 3.0),
        "snail-body-front": (SNAIL[0], SNAIL[1] + 3.0),
        "teapot-body-side": (BUS[0], BUS[1] + 30.0),
    }


def _front_views() -> list[str]:
    pairs = [f"{part}-{side}" for part in ("heron-leg", "heron-wing", "snail-stalk") for side in ("left", "right")]
    single = ["heron-body", "heron-neck-lower", "heron-neck-upper", "heron-head"]
    single += ["snail-body", "snail-shell", "snail-scarf", "snail-head"]
    heron = [f"heron-eye-{v}" for v in ("open", "down", "half", "shut")]
    heron += [f"heron-mouth-{v}" for v in ("closed", "ajar", "open")]
    snail = [f"snail-eye-{s}-{v}" for s in ("left", "right") for v in ("open", "away", "half", "shut")]
    mouths = ("rest", "pressed", "teeth-on-lip", "narrow", "wide", "open", "small-round", "large-round", "tongue-up")
    snail += [f"snail-mouth-{v}" for v in mouths]
    return [f"{name}-front" for name in [*single, *pairs, *heron, *snail]]


# ---------------------------------------------------------------- acting
# Tables of poses, a few to a line in the order of their frames.
# fmt: off


def _turns(*poses: tuple[int, float]) -> list[Extreme]:
    """Extremes of a part that only turns: (frame, degrees)."""
    return [Extreme(frame, turn_deg=degrees) for frame, degrees in poses]


def _heron() -> dict[str, list[Extreme]]:
    """It looks down when spoken to, then slowly up at the clock, leans, and at last has to look at the snail again."""
    lean = [(1, 0), (71, 0), (74, 1), (80, -7), (92, -7), (94, -8), (100, 0.8), (103, 0), (120, 0)]
    return {
        "heron-body-side": _turns(*lean),
        # The legs hang on the body but stand on the lane: they turn back as far as it turns.
        "heron-leg-near-side": _turns(*((f, -d) for f, d in lean)),
        "heron-leg-far-side": [
            Extreme(1), Extreme(71), Extreme(74, z_mm=-0.14, turn_deg=-1), Extreme(80, z_mm=0.98, turn_deg=7),
            Extreme(92, z_mm=0.98, turn_deg=7), Extreme(94, z_mm=1.12, turn_deg=8),
            Extreme(100, z_mm=-0.12, turn_deg=-0.8), Extreme(103), Extreme(120),
        ],
        "heron-neck-lower-side": _turns(
            (1, 0), (33, 0), (39, -3), (62, -3), (65, -4), (72, 2), (74, 2), (80, -11), (92, -11), (94, -12),
            (101, 0), (120, 0),
        ),
        "heron-neck-upper-side": _turns(
            (1, 0), (34, 0), (40, -5), (62, -5), (65, -6), (73, 3), (74, 3), (81, -5), (92, -5), (101, 1), (104, 0),
            (106, 0), (110, -4), (120, -4),
        ),
        "heron-head-side": _turns(
            (1, 0), (32, 0), (34, 2), (40, -11), (43, -10), (61, -10), (64, -13), (72, 7), (74, 5), (77, 5),
            (82, 22), (92, 22), (96, -2), (99, 0), (105, 0), (107, 1.5), (112, -11), (120, -11),
        ),
        "heron-crest-side": _turns(
            (1, 0), (34, 0), (37, -6), (42, 5), (46, 0), (64, 0), (68, -9), (74, 5), (77, 0), (79, -5), (85, 3),
            (89, 0), (93, 0), (96, -8), (101, 5), (105, 0), (108, 0), (110, -5), (114, 3), (120, 3),
        ),
        "heron-wing-side": _turns((1, 0), (74, 0), (76, -2), (81, 4), (93, 4), (98, -3), (103, 0), (120, 0)),
    }


def _snail() -> dict[str, list[Extreme]]:
    """Looks up with everything it has, speaks with small nods, and settles, sure of its case."""
    return {
        "snail-head-side": [
            Extreme(1), Extreme(17), Extreme(19, z_mm=-0.7, turn_deg=4), Extreme(23, z_mm=0.9, turn_deg=-13),
            Extreme(25, z_mm=0.6, turn_deg=-11), Extreme(29, z_mm=0.6, turn_deg=-11),
            Extreme(31, turn_deg=-8), Extreme(34, z_mm=0.9, turn_deg=-14), Extreme(38, z_mm=0.6, turn_deg=-11),
            Extreme(42, z_mm=0.6, turn_deg=-11), Extreme(44, turn_deg=-8), Extreme(47, z_mm=0.8, turn_deg=-13),
            Extreme(50, z_mm=0.4, turn_deg=-10), Extreme(54, turn_deg=-7), Extreme(57, z_mm=1.2, turn_deg=-15),
            Extreme(62, z_mm=0.5, turn_deg=-11), Extreme(68, z_mm=0.5, turn_deg=-11),
            Extreme(71, z_mm=-0.4, turn_deg=-7), Extreme(75), Extreme(85), Extreme(87, z_mm=-0.6, turn_deg=2),
            Extreme(90, z_mm=1.2, turn_deg=-4), Extreme(93, z_mm=0.8, turn_deg=-3), Extreme(109, z_mm=0.8, turn_deg=-3),
            Extreme(113, z_mm=0.6, turn_deg=-9), Extreme(120, z_mm=0.6, turn_deg=-9),
        ],
        "snail-stalk-near-side": _turns(
            (1, -4), (18, -4), (21, 8), (25, -6), (28, 0), (33, 0), (36, -5), (40, 0), (46, 0), (49, -4), (52, 0),
            (56, 3), (59, -6), (64, 0), (70, 0), (73, -8), (76, -5), (86, -5), (88, -12), (92, -8), (111, -8),
            (114, 0), (120, 0),
        ),
        "snail-stalk-far-side": _turns(
            (1, -5), (19, -5), (22, 9), (26, -5), (29, 2), (34, 2), (37, -3), (41, 2), (47, 2), (50, -2), (53, 2),
            (57, 5), (60, -4), (65, 2), (71, 2), (74, -9), (77, -6), (87, -6), (89, -15), (93, -10), (112, -10),
            (115, 2), (120, 2),
        ),
        "snail-scarf-side": _turns((1, 0), (21, 0), (24, -3), (27, 0), (89, 0), (92, -3), (95, 0), (120, 0)),
        "snail-shell-side": _turns(
            (1, 0), (19, 0), (22, 1), (25, -1.5), (28, 0), (56, 0), (58, -1.5), (61, 0), (120, 0),
        ),
    }


def _bus() -> dict[str, list[Extreme]]:
    """Rolls in from the right, brakes, nods; the lid hops and the label swings on its string."""
    roll = [(1, 150.0), (77, 150.0), (102, -1.6), (106, 0.3), (109, 0.0), (120, 0.0)]
    nod = {102: 1.6, 106: -0.6}
    radius = 10.8
    wheels = [(f, 57.29578 * (150.0 - x) / radius - nod.get(f, 0.0)) for f, x in roll]
    return {
        "teapot-body-side": [Extreme(f, x_mm=x, turn_deg=nod.get(f, 0.0)) for f, x in roll],
        "teapot-wheel-fore-side": _turns(*wheels),
        "teapot-wheel-aft-side": _turns(*wheels),
        "teapot-lid-side": [
            Extreme(1), Extreme(102), Extreme(104, z_mm=-0.6), Extreme(106, x_mm=-1.5, z_mm=7.5, turn_deg=9),
            Extreme(108), Extreme(109, z_mm=2.2, turn_deg=-5), Extreme(111), Extreme(120),
        ],
        "teapot-tag-side": _turns(
            (1, 0), (77, 0), (83, 13), (92, 5), (98, 0), (103, -24), (106, 14), (109, -7), (112, 3), (114, 0),
            (120, 0),
        ),
    }


def _pond() -> dict[str, list[Extreme]]:
    """A breath of wind in the reeds, and the minute hand, which jumps once while it is being looked at."""
    return {
        "pond-prop-reeds-tall": _turns(
            (1, 0), (16, 0), (26, -2), (36, 0.4), (42, 0), (67, 0), (75, -1.6), (85, 0), (120, 0),
        ),
        "pond-prop-reeds-bent": _turns(
            (1, 0), (18, 0), (28, -2.6), (38, 0.6), (44, 0), (69, 0), (77, -2), (87, 0), (120, 0),
        ),
        "pond-prop-reeds-short": _turns((1, 0), (20, 0), (30, -2), (40, 0), (70, 0), (78, -1.6), (89, 0), (120, 0)),
        "pond-prop-reeds-right": _turns(
            (1, 0), (28, 0), (38, -2), (48, 0.4), (54, 0), (91, 0), (98, -3), (107, 0), (120, 0),
        ),
        "pond-prop-clock-minute-hand": _turns((1, 0), (84, 0), (85, -9), (86, -6), (120, -6)),
    }


# fmt: on
# ---------------------------------------------------------------- replacements


def _set(pattern: str, *choices: tuple[int, str]) -> list[tuple[int, str]]:
    return [(frame, pattern.format(word)) for frame, word in choices]


def _choices() -> dict[str, list[tuple[int, str]]]:
    """Blinks are shut for two exposures. Of the mouths only what is not spoken: `pastepot read` lays the lines."""
    # fmt: off
    heron = (
        (9, "shut"), (11, "half"), (37, "shut"), (38, "down"), (50, "shut"), (52, "down"), (66, "shut"),
        (68, "open"), (77, "shut"), (79, "open"), (88, "half"), (93, "shut"), (94, "open"), (108, "shut"),
        (110, "down"),
    )
    snail = (
        (20, "shut"), (22, "open"), (40, "shut"), (42, "open"), (63, "shut"), (65, "half"), (71, "shut"),
        (73, "away"), (112, "shut"), (114, "half"),
    )
    # fmt: on
    steam = [(f, ("middling", "large")[k % 2]) for k, f in enumerate(range(85, 114, 4))]
    return {
        "heron-eye-side": _set("heron-eye-{}-side", *heron),
        "snail-eye-near-side": _set("snail-eye-near-{}-side", *snail),
        "snail-eye-far-side": _set("snail-eye-far-{}-side", *snail),
        "snail-mouth-side": _set("snail-mouth-{}-side", (88, "small-round"), (91, "wide"), (99, "rest")),
        "teapot-steam-side": _set("teapot-steam-{}-side", *steam),
    }
