"""Step: the scene as an exposure sheet, and the movement of single pieces for their charts. Changes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from pastepot import film as films
from pastepot.errors import PastepotError, Problem
from pastepot.film import Film
from pastepot.library import manifest
from pastepot.library.parts import Library
from pastepot.timing import sheet_json
from pastepot.timing.handmade import Role, Rows
from pastepot.timing.sheet import Column, Kind, Sheet, checked, one_line
from pastepot.timing.sheet_dialogue import srt_lines
from pastepot.timing.sheet_poses import dialogue_cells, pose_cells, set_cells
from pastepot.track import reading

from .. import host, ids
from ..scene import actions
from ..scene.actions import Channel
from ..scene.collections import ASIDE
from ..scene.targets import Target, targets
from .build import film_folder
from .handmade import rate


@dataclass(frozen=True)
class _Read:
    """Everything animated: as the animator keyed it, and as it is shown now (the two are one while it is smooth)."""

    found: list[Target]
    smooth: Rows
    shown: Rows
    smooth_channels: list[Channel]
    shown_channels: list[Channel]

    def poses(self, number: int) -> np.ndarray:
        """(K, N) what target `number` shows, its visibility left out."""
        return self.shown.values[(self.shown.owner == number) & (self.shown.role != Role.SHOWN)]

    def keyed(self, number: int) -> np.ndarray:
        """(N,) the frames on which the animator posed it."""
        mine = (self.smooth.owner == number) & (self.smooth.role != Role.SHOWN)
        return self.smooth.keyed[mine].any(axis=0)

    def visible(self, number: int) -> np.ndarray:
        """(N,) whether a render shows it."""
        rows = np.flatnonzero((self.shown.owner == number) & (self.shown.role == Role.SHOWN))
        by_path = {self.shown_channels[row].path: self.shown.values[row] for row in rows}
        hidden = by_path.get("hide_render")
        if hidden is not None:
            return hidden < 0.5
        return np.full(self.shown.values.shape[1], not getattr(self.found[number].block, "hide_render", False))


def read(scene: bpy.types.Scene, film: Film) -> tuple[Sheet, _Read, list[Problem]]:
    """The scene's sheet with warnings. PastepotError where nothing is animated or the library makes no sense."""
    found = [t for t in targets(scene) if not _is_aside(t.block)]
    if not found:
        raise PastepotError(
            Problem("Nothing in the film's collections is animated yet.", "Key the extremes first, with smooth curves.")
        )
    first, last = scene.frame_start, scene.frame_end
    smooth, smooth_channels = actions.read(found, first, last, may_miss=True)
    shown, shown_channels = actions.read([_in_use(t) for t in found], first, last, may_miss=False)
    data = _Read(found, smooth, shown, smooth_channels, shown_channels)
    library = manifest.load(film.folder)
    warnings: list[Problem] = []
    columns = [*_dialogue(scene, film), *_cast(scene, library, data, warnings), *_cameras(data)]
    sheet = Sheet(one_line(film.title), rate(scene), first, last - first + 1, _named_apart(columns))
    return checked(sheet), data, warnings


def _in_use(target: Target) -> Target:
    """The target with the handmade action for its own, where that is the one in use."""
    made = target.block.get(ids.HANDMADE_ACTION)
    return replace(target, action=made) if made is not None and target.block.animation_data.action == made else target


def _is_aside(block: bpy.types.ID) -> bool:
    return isinstance(block, bpy.types.Object) and any(c.get(ids.PLACE) == ASIDE for c in block.users_collection)


def _cast(scene: bpy.types.Scene, library: Library, data: _Read, warnings: list[Problem]) -> Iterator[Column]:
    """By character, in the order of the library: the whole figure, then its parts and sets from the back layer on."""
    characters = list(dict.fromkeys(part.character for part in library))
    order: list[tuple[tuple[int, int, int], Column]] = []
    for number, target in enumerate(data.found):
        if target.exact:
            continue
        block, name = target.block, target.owner
        character, rank, kind = "", (len(characters), 0, number), "part"
        if ids.CHARACTER in block:
            character, kind, name = str(block[ids.CHARACTER]), "character", str(block[ids.CHARACTER])
            rank = (_place(characters, character), -(2**31), 0)
        elif (part := str(block.get(ids.PART, ""))) in library:
            character = library[part].character
            rank = (_place(characters, character), library[part].layer, library.parts.index(library[part]))
        if column := _posed(data, number, name, kind, character):
            order.append((rank, column))
    for name, members in library.replacement_sets().items():
        cells = _choices(scene, [p.name for p in members], data, name, warnings)
        if cells:
            rank = (_place(characters, members[0].character), min(p.layer for p in members), -1)
            order.append((rank, Column(name, "set", cells, members[0].character)))
    return iter([column for _, column in sorted(order, key=lambda pair: pair[0])])


def _place(names: list[str], name: str) -> int:
    return names.index(name) if name in names else len(names)


def _posed(data: _Read, number: int, name: str, kind: Kind, character: str) -> Column | None:
    """A piece's poses; None where it has none or is never seen."""
    poses, visible = data.poses(number), data.visible(number)
    if not len(poses) or not visible.any():
        return None
    return Column(name, kind, pose_cells(poses, visible, data.keyed(number), data.shown.first), character)


def _choices(scene: bpy.types.Scene, names: list[str], data: _Read, set_name: str, warnings: list[Problem]) -> Any:
    """Which part of a set is shown; nothing where that never changes."""
    numbers = {t.owner: n for n, t in enumerate(data.found)}
    swapped = {n for n, t in enumerate(data.found) if (data.shown.role[data.shown.owner == n] == Role.SHOWN).any()}
    if not any(numbers.get(name) in swapped for name in names):
        return ()
    objects = {str(o[ids.PART]): o for o in scene.objects if ids.PART in o and not _is_aside(o)}
    count = data.shown.values.shape[1]
    shown = {
        name: data.visible(numbers[name]) if name in numbers else np.full(count, not objects[name].hide_render)
        for name in names
        if name in numbers or name in objects
    }
    cells, crowded = set_cells(shown, data.shown.first)
    if crowded:
        frames = ", ".join(map(str, crowded[:8])) + (" …" if len(crowded) > 8 else "")
        what = f"Several parts of the replacement set are shown at once from frame {frames} on."
        warnings.append(Problem(what, "Hide all but one.", part=set_name, severity="warning"))
    return cells


def _cameras(data: _Read) -> Iterator[Column]:
    """One column for each camera that moves: where it is, and what its lens does."""
    by_camera: dict[str, list[int]] = {}
    for number, target in enumerate(data.found):
        if target.exact:
            by_camera.setdefault(target.owner.removesuffix(" lens"), []).append(number)
    for owner, numbers in by_camera.items():
        poses = np.concatenate([data.poses(n) for n in numbers])
        if len(poses):
            keyed = np.logical_or.reduce([data.keyed(n) for n in numbers])
            name = "camera" if len(by_camera) == 1 else owner
            cells = pose_cells(poses, np.ones(poses.shape[1], bool), keyed, data.shown.first)
            yield Column(name, "camera", cells)


def _dialogue(scene: bpy.types.Scene, film: Film) -> Iterator[Column]:
    """What is said: the words that were read, or the subtitles, of sound strips or shots; else the strips' names."""
    strips = []
    if scene.sequence_editor is not None:
        strips = [s for s in host.strips(scene.sequence_editor) if s.type == "SOUND" and not s.mute]
    begins = [(Path(bpy.path.abspath(s.sound.filepath)).stem, round(host.strip_begins(s))) for s in strips if s.sound]
    lines = [line for stem, begin in begins for line in _subtitles(scene, film, stem, begin)]
    if not strips:
        lines = [line for shot in film.shots for line in _subtitles(scene, film, shot.name, shot.start)]
    if not lines:
        lines = [(*host.strip_frames(s), s.name) for s in strips]
    if lines:
        yield Column("dialogue", "dialogue", dialogue_cells(lines, scene.frame_start, scene.frame_end))


def _subtitles(scene: bpy.types.Scene, film: Film, stem: str, begin: int) -> list[tuple[int, int, str]]:
    """The words as they were read, where they were; else the lines."""
    read = reading.load(film.folder / "track" / f"{stem}{reading.ENDING}")
    if read is not None:
        return read.on_frames(rate(scene), begin)
    path = film.folder / "track" / f"{stem}.srt"
    if not path.is_file():
        return []
    return list(srt_lines(path.read_text(encoding="utf-8", errors="replace"), rate(scene), begin))


def _named_apart(columns: list[Column]) -> tuple[Column, ...]:
    """The columns with names that are all different: a set may be called like a part of it."""
    taken: set[str] = set()
    out = []
    for column in columns:
        name = one_line(column.name)
        for suffix in ("", f" ({column.kind})", *(f" ({column.kind} {n})" for n in range(2, len(columns) + 2))):
            if name + suffix not in taken:
                break
        taken.add(name + suffix)
        out.append(replace(column, name=name + suffix, character=one_line(column.character)))
    return tuple(out)


def motion(data: _Read, number: int, film: Film) -> dict[str, Any]:
    """A piece's movement as plain values: (3, N) right and up in paper mm and turn in degrees, smooth and as shown."""
    target = data.found[number]
    smooth = _slides(data.smooth, data.smooth_channels, number, None, target.block)
    shown = _slides(data.shown, data.shown_channels, number, smooth, target.block)
    scale = np.array([[1 / film.units_per_mm], [1 / film.units_per_mm], [180 / np.pi]])
    corners = np.array(target.block.bound_box)[:, [0, 2]] * [target.block.scale[0], target.block.scale[2]]
    far = corners[np.argmax(np.hypot(*corners.T))] / film.units_per_mm
    return {
        "smooth": (smooth * scale).round(6).tolist(),
        "handmade": (shown * scale).round(6).tolist(),
        "reach_mm": far.round(4).tolist(),
    }


def _slides(rows: Rows, channels: list[Channel], number: int, otherwise: np.ndarray | None, obj: Any) -> np.ndarray:
    """(3, N) the piece's slides and turn; where a channel has no row, what `otherwise` or the piece itself has."""
    if otherwise is None:
        rest = np.array([obj.location[0], obj.location[2], obj.rotation_euler[1]])
        otherwise = np.repeat(rest[:, None], rows.values.shape[1], axis=1)
    out = otherwise.astype(np.float64)
    for row in np.flatnonzero(rows.owner == number):
        if rows.role[row] in (Role.SLIDE_X, Role.SLIDE_Z, Role.TURN):
            out[rows.role[row]] = rows.values[row]
    return out


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot sheet`: the opened scene's sheet; params['part']: a column whose movement is wanted too, or ''."""
    scene = bpy.context.scene
    folder = film_folder(scene)
    if folder is None:
        raise PastepotError(
            Problem("The film folder of this scene was not found.", "Choose it again: the folder with film.toml in it.")
        )
    film = films.load(folder)
    sheet, data, warnings = read(scene, film)
    for problem in warnings:
        say.problem(problem)
    shots = [[s.name, s.start, s.end] for s in film.shots]
    answer: dict[str, Any] = {"sheet": sheet_json.values(sheet), "shots": shots}
    if params["part"]:
        answer["motion"] = motion(data, _charted(sheet, data, params["part"]), film)
    return answer


def _charted(sheet: Sheet, data: _Read, name: str) -> int:
    """The target whose movement a column shows."""
    able = {
        c.name: n
        for c in sheet.columns
        if c.kind in ("part", "character")
        for n, t in enumerate(data.found)
        if c.name in (t.owner, str(t.block.get(ids.CHARACTER, "")))
    }
    if name not in able:
        raise PastepotError(Problem(f"There is no animated part '{name}'.", f"Name one of: {', '.join(able)}."))
    return able[name]
