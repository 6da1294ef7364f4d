"""Step: smooth keys become exposures set by hand, in actions of their own beside the smooth ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from pastepot import film as films
from pastepot.errors import PastepotError, Problem
from pastepot.timing import feel as feels
from pastepot.timing.exposures import checked_pattern, plan
from pastepot.timing.feel import Feel
from pastepot.timing.handmade import Exposed, Role, Rows, Table, expose

from .. import ids
from ..scene import actions
from ..scene.targets import targets
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
    kept: tuple[str, ...]
    left_smooth: tuple[str, ...]

    def text(self) -> str:
        """One sentence for the person."""
        return (
            f"{self.parts} animated pieces set by hand: {self.frames} frames in {self.exposures} exposures, "
            f"{self.keys} keys."
        )

    def warnings(self) -> list[Problem]:
        """What the animator should know."""
        found = [
            Problem(
                "You had retouched this handmade action.",
                f"It is kept as '{name}'; assign it again to go back to it.",
                severity="warning",
            )
            for name in self.kept
        ]
        left = "The tracks in its NLA editor were not timed."
        found += [Problem(left, "Bake them into keys first.", part=n, severity="warning") for n in self.left_smooth]
        return found


def make(scene: bpy.types.Scene, settings: Settings) -> Report:
    """Time everything animated in the film's collections, and the camera. PastepotError where nothing is keyed."""
    found = targets(scene)
    if not found:
        raise PastepotError(
            Problem("Nothing in the film's collections is animated yet.", "Key the extremes first, with smooth curves.")
        )
    feel, table = _film_side(scene, settings)
    pattern = settings.pattern or feel.pattern_at(table.fps)
    first, last = scene.frame_start, scene.frame_end
    rows, channels = actions.read(found, first, last, may_miss=bool(feel.offset_mm or feel.turn_deg))
    exposed, owner_rows = _exposed(rows, pattern, feel, table)
    keys, kept = 0, []
    for part, chosen in owner_rows:
        written, old = actions.write([channels[r] for r in chosen], part, rows.owner[chosen])
        keys += written
        kept += old
    scene[ids.TIMING] = "handmade"
    return Report(len(found), last - first + 1, len(exposed.starts), keys, tuple(kept), _in_nla(found))


def _exposed(
    rows: Rows, pattern: Sequence[int], feel: Feel, table: Table
) -> tuple[Exposed, list[tuple[Exposed, np.ndarray]]]:
    """The parts' plan, and per plan (parts; camera on ones) the exposures with the rows they belong to."""
    last = rows.first + rows.values.shape[1] - 1
    apart = feel.camera == "ones"
    posed = (rows.role != Role.SHOWN) & ~(rows.exact[rows.owner] & apart)
    columns = rows.keyed[posed].any(axis=0) if feel.anchor == "extremes" else np.zeros(rows.values.shape[1], bool)
    starts = plan(rows.first, last, pattern, (np.flatnonzero(columns) + rows.first).tolist())
    camera = rows.exact[rows.owner]
    if not apart or not camera.any():
        everything = expose(rows, starts, feel, table)
        return everything, [(everything, np.arange(len(rows.owner)))]
    parts = expose(_only(rows, ~camera), starts, feel, table)
    moves = expose(_only(rows, camera), np.arange(rows.first, last + 1), feel, table)
    return parts, [(parts, np.flatnonzero(~camera)), (moves, np.flatnonzero(camera))]


def _only(rows: Rows, chosen: np.ndarray) -> Rows:
    return replace(
        rows, owner=rows.owner[chosen], role=rows.role[chosen], values=rows.values[chosen], keyed=rows.keyed[chosen]
    )


def _film_side(scene: bpy.types.Scene, settings: Settings) -> tuple[Feel, Table]:
    folder = film_folder(scene)
    if folder is None:
        raise PastepotError(
            Problem("The film folder of this scene was not found.", "Choose it again: the folder with film.toml in it.")
        )
    film = films.load(folder)
    feel = settings.feel or (feels.load(folder / film.feel) if film.feel else Feel())
    seed = film.seed if settings.seed is None else settings.seed
    return feel, Table(rate(scene), film.first_frame, seed, film.units_per_mm)


def rate(scene: bpy.types.Scene) -> Fraction:
    """The scene's frames a second, exact."""
    return scene.render.fps / Fraction(scene.render.fps_base).limit_denominator(1001)


def _in_nla(found: list[Any]) -> tuple[str, ...]:
    return tuple(t.owner for t in found if any(len(track.strips) for track in t.block.animation_data.nla_tracks))


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot handmade`: time the opened scene and save it."""
    scene = bpy.context.scene
    settings = Settings(
        feels.load(Path(params["feel"])) if params["feel"] else None,
        params["seed"],
        checked_pattern(params["pattern"]) if params["pattern"] else None,
    )
    if params["smooth"]:
        text, values = f"{_switch(scene, False)} animated pieces are smooth again.", {}
    else:
        report = make(scene, settings)
        for problem in report.warnings():
            say.problem(problem)
        text = report.text()
        values = {"pieces": report.parts, "frames": report.frames, "exposures": report.exposures, "keys": report.keys}
    bpy.ops.wm.save_as_mainfile(filepath=params["output"], compress=True)
    return {"text": text, **values}


def _switch(scene: bpy.types.Scene, handmade: bool) -> int:
    count = sum(actions.switch(t.block, handmade) for t in targets(scene))
    if count:
        scene[ids.TIMING] = "handmade" if handmade else "smooth"
    return count


class PASTEPOT_OT_make_handmade(bpy.types.Operator):
    """Turn the smooth keys into exposures set by hand. The smooth keys are kept and can be edited again"""

    bl_idname = ids.HANDMADE
    bl_label = "Make It Handmade"
    bl_options = {"REGISTER", "UNDO"}

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
            report = make(context.scene, Settings(seed=self.another_seed or None))
        except PastepotError as error:
            return tell(self, error.problems)
        tell(self, report.warnings())
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
