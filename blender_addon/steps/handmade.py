"""Step: smooth keys become exposures set by hand, in actions of their own beside the smooth ones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from pastepot import film as films
from pastepot.errors import PastepotError, Problem
from pastepot.timing import feel as feels
from pastepot.timing.exposures import checked_pattern
from pastepot.timing.feel import Feel
from pastepot.timing.frame import frame_effects
from pastepot.timing.handmade import Table
from pastepot.timing.planning import Wishes, plans
from pastepot.timing.redo import expose_plans

from .. import ids
from ..scene import actions, camera_advice, shown_frame
from ..scene.targets import Target, targets
from .background import tell
from .build import film_folder


@dataclass(frozen=True)
class Settings:
    """What the person asked for; None: as the film says."""

    feel: Feel | None = None
    seed: int | None = None
    pattern: tuple[int, ...] | None = None  # in the scene's own frames


@dataclass(frozen=True)
class Report:
    """What came of it."""

    parts: int
    frames: int
    exposures: int
    keys: int
    warnings: tuple[Problem, ...] = ()

    def text(self) -> str:
        """One sentence for the person."""
        return (
            f"{self.parts} animated pieces set by hand: {self.frames} frames in {self.exposures} exposures, "
            f"{self.keys} keys."
        )


def make(scene: bpy.types.Scene, settings: Settings) -> Report:
    """Time everything animated in the film's collections, and the camera. PastepotError where nothing is keyed."""
    found = targets(scene)
    if not found:
        raise PastepotError(
            Problem("Nothing in the film's collections is animated yet.", "Key the extremes first, with smooth curves.")
        )
    feel, table, width_mm = _film_side(scene, settings)
    rows, channels = actions.read(found, scene.frame_start, scene.frame_end, may_miss=_misses(feel))
    rows = replace(rows, parent=_parents(found))
    made = plans(rows, feel, table, Wishes(pattern=settings.pattern, frame_width_mm=width_mm))
    exposed = expose_plans(rows, made, feel, table)
    effects = frame_effects(exposed.starts, feel, table, scene.frame_end)
    keys, kept = actions.write(channels, exposed, rows.owner)
    told = shown_frame.apply(scene, effects, table.units_per_mm)
    told += camera_advice.pans(scene, found, rows, exposed, table, width_mm)
    scene[ids.TIMING] = "handmade"
    warnings = (*made.problems, *_retouched(kept), *_in_nla(found), *told)
    return Report(len(found), scene.frame_end - scene.frame_start + 1, len(made.shared), keys, warnings)


def _misses(feel: Feel) -> bool:
    """Whether a hand moves channels in which the animator has no keys."""
    return any((feel.offset_mm, feel.turn_deg, feel.arc, feel.nudge, feel.life_mm, feel.life_deg))


def _parents(found: list[Target]) -> np.ndarray:
    """For each target the nearest one that it hangs on, -1 for none."""
    index = {target.block.name: n for n, target in enumerate(found) if isinstance(target.block, bpy.types.Object)}
    out = np.full(len(found), -1, np.intp)
    for n, target in enumerate(found):
        above = getattr(target.block, "parent", None)
        while above is not None and above.name not in index:
            above = above.parent
        if above is not None:
            out[n] = index[above.name]
    return out


def _film_side(scene: bpy.types.Scene, settings: Settings) -> tuple[Feel, Table, float]:
    """The feel, the film's side of the timing, and how wide the picture is in paper millimetres."""
    folder = film_folder(scene)
    if folder is None:
        raise PastepotError(
            Problem("The film folder of this scene was not found.", "Choose it again: the folder with film.toml in it.")
        )
    film = films.load(folder)
    feel = settings.feel or (feels.load(folder / film.feel) if film.feel else Feel())
    seed = film.seed if settings.seed is None else settings.seed
    return feel, Table(rate(scene), film.first_frame, seed, film.units_per_mm), film.frame_width_mm


def rate(scene: bpy.types.Scene) -> Fraction:
    """The scene's frames a second, exact."""
    return scene.render.fps / Fraction(scene.render.fps_base).limit_denominator(1001)


def _retouched(kept: list[str]) -> list[Problem]:
    what = "You had retouched this handmade action."
    fix = "It is kept as '{}'; assign it again to go back to it."
    return [Problem(what, fix.format(name), severity="warning") for name in kept]


def _in_nla(found: list[Target]) -> list[Problem]:
    what, fix = "The tracks in its NLA editor were not timed.", "Bake them into keys first."
    tracks = [(t.owner, t.block.animation_data.nla_tracks) for t in found]
    return [Problem(what, fix, part=n, severity="warning") for n, some in tracks if any(len(t.strips) for t in some)]


def feel_called(name: str) -> Feel:
    """The feel in a file, or the one that comes along under this name."""
    return feels.load(Path(name)) if name.endswith(feels.SUFFIX) else feels.preset(name)


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot handmade`: time the opened scene and save it."""
    scene = bpy.context.scene
    settings = Settings(
        feel_called(params["feel"]) if params["feel"] else None,
        params["seed"],
        checked_pattern(params["pattern"]) if params["pattern"] else None,
    )
    if params["smooth"]:
        text, values = f"{_switch(scene, False)} animated pieces are smooth again.", {}
    else:
        report = make(scene, settings)
        for problem in report.warnings:
            say.problem(problem)
        text = report.text()
        values = {"pieces": report.parts, "frames": report.frames, "exposures": report.exposures, "keys": report.keys}
    bpy.ops.wm.save_as_mainfile(filepath=params["output"], compress=True)
    return {"text": text, **values}


def _switch(scene: bpy.types.Scene, handmade: bool) -> int:
    count = sum(actions.switch(t.block, handmade) for t in targets(scene))
    if count:
        shown_frame.switch(scene, handmade)
        scene[ids.TIMING] = "handmade" if handmade else "smooth"
    return count


_FILMS_OWN = "film"


class PASTEPOT_OT_make_handmade(bpy.types.Operator):
    """Turn the smooth keys into exposures set by hand. The smooth keys are kept and can be edited again"""

    bl_idname = ids.HANDMADE
    bl_label = "Make It Handmade"
    bl_options = {"REGISTER", "UNDO"}

    feel: bpy.props.EnumProperty(
        name="Feel",
        description="What the hand is like",
        items=[
            (_FILMS_OWN, "As the film says", "The feel that film.toml names, or the usual one"),
            *((name, name.capitalize(), f"The feel '{name}' that comes with Pastepot") for name in feels.presets()),
        ],
    )
    another_seed: bpy.props.IntProperty(
        name="Another seed", description="Let the hand miss differently; 0 uses the film's seed", default=0, min=0
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if film_folder(context.scene) is None:
            cls.poll_message_set("Choose the film folder and build the cast first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            feel = None if self.feel == _FILMS_OWN else feels.preset(self.feel)
            report = make(context.scene, Settings(feel=feel, seed=self.another_seed or None))
        except PastepotError as error:
            return tell(self, error.problems)
        tell(self, report.warnings)
        self.report({"INFO"}, report.text())
        return {"FINISHED"}


class _Switch:
    bl_options = {"REGISTER", "UNDO"}
    handmade: bool

    def execute(self, context: bpy.types.Context) -> set[str]:
        count = _switch(context.scene, self.handmade)
        if not count:
            self.report({"WARNING"}, "Nothing has been made handmade yet")
            return {"CANCELLED"}
        return {"FINISHED"}


class PASTEPOT_OT_use_smooth(_Switch, bpy.types.Operator):
    """Go back to the smooth keys, to edit them"""

    bl_idname = ids.SMOOTH
    bl_label = "Smooth"
    handmade = False


class PASTEPOT_OT_use_handmade(_Switch, bpy.types.Operator):
    """Show the exposures set by hand"""

    bl_idname = ids.USE_HANDMADE
    bl_label = "Handmade"
    handmade = True


CLASSES = (PASTEPOT_OT_make_handmade, PASTEPOT_OT_use_smooth, PASTEPOT_OT_use_handmade)
