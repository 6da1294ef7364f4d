"""Step: the mouths of the dialogue, as the film's track readings have them, on the exposures of this scene."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from pastepot import film as films
from pastepot.errors import PastepotError, Problem
from pastepot.film import Film
from pastepot.library import manifest
from pastepot.library.parts import Library
from pastepot.timing import feel as feels
from pastepot.timing.planning import Wishes, plans
from pastepot.timing.rows import Table
from pastepot.timing.settings import Feel
from pastepot.track import lay, reading, settings
from pastepot.track.mouths import MouthSet
from pastepot.track.reading import LineReading, Reading
from pastepot.units import convert_frames

from .. import host, ids
from ..scene import actions, mouths
from ..scene.targets import targets
from . import words
from .background import tell
from .build import film_folder
from .handmade import rate

Choices = dict[str, dict[int, str]]


@dataclass
class Report:
    """What was laid."""

    sets: list[str] = field(default_factory=list)
    changes: int = 0
    sounds: int = 0
    handmade: bool = False
    warnings: list[Problem] = field(default_factory=list)

    def text(self) -> str:
        """One sentence for the person."""
        if not self.sets:
            return "No mouth was laid."
        return f"{self.changes} changes of mouth in {', '.join(self.sets)}."


def lay_mouths(scene: bpy.types.Scene) -> Report:
    """Key the mouths of every line and place the sounds. PastepotError, with nothing changed, where it cannot be done.

    Mouths that the animator chose between the lines stay. The keys go into the actions that the animator works in.
    """
    folder = film_folder(scene)
    if folder is None:
        raise PastepotError(Problem("The film folder of this scene was not found.", "Choose it again."))
    film, library = films.load(folder), manifest.load(folder)
    chosen = settings.load(folder, library)
    read = _readings(folder)
    starts = _exposures(scene, film)
    report = Report()
    work = [_by_hand(scene, film, r) for r in read]
    for character in dict.fromkeys(line.character for r in read for line in r.lines if line.character):
        for view in _views(library, chosen, character, work):
            _lay_view(scene, view, work, starts, chosen.lead_s, report)
    words.keep(scene, film, read)
    report.sounds = sum(_place_sound(scene, folder, r) for r in work)
    if report.handmade:
        fix = "Press Make It Handmade again to see the new mouths."
        report.warnings.append(Problem("The mouths are in the smooth keys.", fix, severity="warning"))
    return report


def _readings(folder: Path) -> list[Reading]:
    files = sorted((folder / "track").glob(f"*{reading.ENDING}"))
    found = [r for r in map(reading.load, files) if r is not None]
    if not found:
        fix = f"Read it first, in a terminal: pastepot read {folder}"
        raise PastepotError(Problem("The dialogue has not been read yet.", fix))
    return found


def _exposures(scene: bpy.types.Scene, film: Film) -> np.ndarray:
    """When the scene's pictures are taken, by the film's feel and the animator's extremes."""
    feel = feels.load(film.folder / film.feel) if film.feel else Feel()
    rows, _ = actions.read(targets(scene), scene.frame_start, scene.frame_end, may_miss=False)
    table = Table(rate(scene), film.first_frame, film.seed, film.units_per_mm)
    return plans(rows, feel, table, Wishes(frame_width_mm=film.frame_width_mm)).shared


def _by_hand(scene: bpy.types.Scene, film: Film, read: Reading) -> Reading:
    """The reading in the scene's frames, with the exposures that were changed in the scene."""
    fps = rate(scene)

    def frame(n: int) -> int:
        return int(convert_frames(n, read.fps, fps, film.first_frame))

    lines = [
        replace(line, by_hand={name: {frame(f): m for f, m in frames.items()} for name, frames in line.by_hand.items()})
        for line in read.lines
    ]
    # a change in the scene belongs to a frame, whichever line is spoken there
    lines.append(LineReading("", "", "", 0.0, 0.0, "silent", by_hand=choices(scene)))
    return replace(read, fps=fps, first=frame(read.first), lines=tuple(lines))


def choices(scene: bpy.types.Scene) -> Choices:
    """The mouths that were changed by hand in this scene: set -> frame -> mouth."""
    stored = json.loads(scene.get(ids.MOUTHS, "{}"))
    return {name: {int(frame): mouth for frame, mouth in frames.items()} for name, frames in stored.items()}


def _views(
    library: Library, chosen: settings.Settings, character: str, work: Iterable[Reading]
) -> Iterator[dict[str, tuple[MouthSet, set[str]]]]:
    """For each view of a character: its sets that are spoken with, each with the lines it has."""
    views: dict[str, dict[str, tuple[MouthSet, set[str]]]] = {}
    for read in work:
        for line in read.lines:
            if line.character != character:
                continue
            for found in chosen.mouths(library, character, line.id):
                sets = views.setdefault(found.mouths[0].view, {})
                sets.setdefault(found.name, (found, set()))[1].add(line.id)
    yield from views.values()


def _lay_view(
    scene: bpy.types.Scene,
    view: dict[str, tuple[MouthSet, set[str]]],
    work: Sequence[Reading],
    starts: np.ndarray,
    lead_s: float,
    report: Report,
) -> None:
    first, last = scene.frame_start, scene.frame_end
    lengths = np.diff(np.append(starts, last + 1))
    shown, own = {}, {}
    for name, (found, ids_) in view.items():
        objects = mouths.members(scene, found)
        if objects is None:
            fix = "Build the cast again, so that every mouth is in the scene."
            report.warnings.append(Problem("A mouth of this set is missing.", fix, part=name, severity="warning"))
            return
        index, belongs = np.full(len(starts), found.rest), np.zeros(len(starts), bool)
        for read in work:
            lines = [x if x.id in ids_ else replace(x, sounds=(), rough=()) for x in read.lines]
            where = (found, starts, last, read.fps, read.first, lead_s)
            mine = lay.spoken(lines, *where)
            index = np.where(mine, lay.lay(lines, *where), index)
            belongs |= mine
        shown[name] = (found, objects, np.repeat(index, lengths), np.repeat(belongs, lengths))
        own[name] = np.array([mouths.visible(o, first, last) for o in objects])
    any_line = np.any([belongs for *_, belongs in shown.values()], axis=0)
    for name, (found, objects, index, belongs) in shown.items():
        before = own[name]
        face = mouths.visible(objects[0].parent, first, last) if objects[0].parent else np.ones(len(index), bool)
        if not face.any() or not (before.any() or (face & belongs).any()):
            continue  # a view that this scene does not show
        speaking = np.arange(len(objects))[:, None] == index
        undecided = before.sum(axis=0) > 1  # nobody has chosen yet: all the paper lies there
        at_rest = np.arange(len(objects))[:, None] == np.full(len(index), found.rest)
        quiet = np.where(undecided, at_rest, before) & ~(any_line & ~belongs)
        after = np.where(belongs, speaking & face, quiet)
        report.changes += int(np.count_nonzero(np.diff(np.where(belongs, index, -1))))
        report.sets.append(name)
        for obj, row in zip(objects, after, strict=True):
            report.handmade |= mouths.is_handmade(obj)
            mouths.show(obj, row, first)


def _place_sound(scene: bpy.types.Scene, folder: Path, read: Reading) -> int:
    """Put the sound into the sequencer where it begins, unless it is there; 1 if it was put there."""
    path = folder / read.sound
    if not path.is_file() or not host.HAS_SOUND:
        return 0
    editor = scene.sequence_editor or scene.sequence_editor_create()
    strips = host.strips(editor)
    for strip in strips:
        if strip.type == "SOUND" and Path(bpy.path.abspath(strip.sound.filepath)).resolve() == path.resolve():
            return 0
    taken = {strip.channel for strip in strips}
    channel = next(n for n in range(1, 1000) if n not in taken)
    stored = bpy.path.relpath(str(path)) if bpy.data.filepath else str(path)
    strips.new_sound(name=path.stem, filepath=stored, channel=channel, frame_start=read.first)
    if scene.sync_mode == "NONE":  # Blender's own: every picture is played, and the sound runs ahead of them
        scene.sync_mode = "AUDIO_SYNC"
    return 1


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot read --scene`: lay the mouths in the opened scene and save it."""
    report = lay_mouths(bpy.context.scene)
    for problem in report.warnings:
        say.problem(problem)
    bpy.ops.wm.save_as_mainfile(filepath=params["output"], compress=True)
    return {"text": report.text(), "sets": report.sets, "changes": report.changes, "sounds": report.sounds}


def set_at(context: bpy.types.Context) -> MouthSet | None:
    """The replacement set of mouths that the active part belongs to; None if it belongs to none."""
    obj, folder = context.object, film_folder(context.scene)
    if obj is None or ids.PART not in obj or folder is None:
        return None
    library = manifest.load(folder)
    if obj[ids.PART] not in library:
        return None
    part = library[obj[ids.PART]]
    if part.mouth is None or not part.replaces:
        return None
    return settings.load(folder, library).mouth_set(library, part.character, part.replaces)


def change(scene: bpy.types.Scene, set_name: str, frame: int, mouth: str) -> Report:
    """Show another mouth on the exposure of a frame ('' takes that back), and lay the mouths anew."""
    changed = choices(scene)
    frames = changed.setdefault(set_name, {})
    frames.pop(frame, None)
    if mouth:
        frames[frame] = mouth
    before = scene.get(ids.MOUTHS)
    scene[ids.MOUTHS] = json.dumps(changed)
    try:
        return lay_mouths(scene)
    except PastepotError:
        if before is None:
            del scene[ids.MOUTHS]
        else:
            scene[ids.MOUTHS] = before
        raise


class PASTEPOT_OT_lay_mouths(bpy.types.Operator):
    """Give every exposure of the dialogue its mouth, as the track readings have them, and place the sound"""

    bl_idname = ids.LAY_MOUTHS
    bl_label = "Lay the Mouths"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        folder = film_folder(context.scene)
        if folder is None:
            cls.poll_message_set("Choose the film folder and build the cast first")
            return False
        if not any((folder / "track").glob(f"*{reading.ENDING}")):
            cls.poll_message_set("Read the dialogue first, in a terminal: pastepot read, and the film folder")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            report = lay_mouths(context.scene)
        except PastepotError as error:
            return tell(self, error.problems)
        tell(self, report.warnings)
        self.report({"INFO"}, report.text())
        return {"FINISHED"}


_shown: list[tuple[str, str, str, int, int]] = []  # Blender keeps no copy of these texts


def _mouths(_operator: bpy.types.Operator, context: bpy.types.Context | None) -> list[tuple[str, str, str, int, int]]:
    """The set's mouths with their pictures."""
    found = set_at(context) if context is not None else None
    icons = {image[ids.PART]: image for image in bpy.data.images if ids.PART in image}
    _shown[:] = [("-", "As it is read", "Take a change on this exposure back", 0, 0)]
    for number, part in enumerate(found.mouths if found else (), 1):
        image = icons.get(part.name)
        preview = image.preview_ensure() if image is not None else None
        _shown.append((part.name, part.name, "Show this mouth", preview.icon_id if preview else 0, number))
    return _shown


class PASTEPOT_OT_change_mouth(bpy.types.Operator):
    """Show another mouth on this one exposure. It stays when the dialogue is read and laid again"""

    bl_idname = ids.CHANGE_MOUTH
    bl_label = "Change the Mouth"
    bl_options = {"REGISTER", "UNDO"}

    mouth: bpy.props.EnumProperty(name="Mouth", description="The mouth to show on this exposure", items=_mouths)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        obj = context.object
        if obj is None or ids.PART not in obj:
            cls.poll_message_set("Select one of a character's mouths first")
            return False
        return PASTEPOT_OT_lay_mouths.poll(context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.template_icon_view(self, "mouth", show_labels=True)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            found = set_at(context)
            if found is None:
                self.report({"ERROR"}, "Select one of a character's mouths first")
                return {"CANCELLED"}
            mouth = "" if self.mouth == "-" else self.mouth
            report = change(context.scene, found.name, context.scene.frame_current, mouth)
        except PastepotError as error:
            return tell(self, error.problems)
        tell(self, report.warnings)
        return {"FINISHED"}


CLASSES = (PASTEPOT_OT_lay_mouths, PASTEPOT_OT_change_mouth)
