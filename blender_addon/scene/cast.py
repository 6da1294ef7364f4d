"""Brings the cast in the scene to what the library says: adds, updates in place, sets aside; never deletes."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import bpy
from pastepot.errors import Problem
from pastepot.film import Film
from pastepot.library.parts import Part
from pastepot.staging import Stage, Stand
from pastepot.unchanged import once_per_content

from .. import ids
from . import outlines, paper, planes
from .collections import ASIDE, Tree
from .ownership import Ours

Progress = Callable[[int, int, str], None]


@dataclass
class Report:
    """What a build did, part by part."""

    made: list[str] = field(default_factory=list)
    updated: list[str] = field(default_factory=list)
    returned: list[str] = field(default_factory=list)
    set_aside: list[str] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    settings_changed: bool = False

    @property
    def changed(self) -> bool:
        """Whether the scene is another than before."""
        return bool(self.made or self.updated or self.returned or self.set_aside or self.settings_changed)

    def text(self) -> str:
        """One sentence for the person."""
        counts = (
            (len(self.made), "added"),
            (len(self.updated), "updated"),
            (len(self.returned), "brought back"),
            (len(self.set_aside), "set aside"),
        )
        said = ", ".join(f"{n} {what}" for n, what in counts if n)
        return f"Parts: {said}." if said else "The cast is as the library says; nothing to do."


class Cast:
    """The film's objects in one scene, found by the part they show and not by name."""

    def __init__(self, scene: bpy.types.Scene, film: Film) -> None:
        self.scene, self.film = scene, film
        self.tree = Tree(scene, film.title)
        self.report = Report()
        self._shown: dict[str, list[bpy.types.Object]] = {}
        self._controllers: dict[str, bpy.types.Object] = {}
        for obj in scene.objects:
            if obj.library is not None:
                continue
            if ids.PART in obj:
                self._shown.setdefault(obj[ids.PART], []).append(obj)
            elif ids.CHARACTER in obj:
                self._controllers.setdefault(obj[ids.CHARACTER], obj)

    def build(self, stage: Stage, progress: Progress) -> Report:
        """Bring everything to the stage's plan."""
        for character, at in stage.controllers.items():
            self._ensure_controller(character, at)
        for number, stand in enumerate(stage.stands):
            progress(number, len(stage.stands), "placing parts")
            self._settle(stand)
        progress(len(stage.stands), len(stage.stands), "placing parts")
        self._set_aside({s.part.name for s in stage.stands})
        return self.report

    def _settle(self, stand: Stand) -> None:
        part = stand.part
        source = self.film.folder / part.image
        digest = _digest(source)
        picture, new_image, alpha = paper.image(part.name, source, digest, self.film.folder / "scenes" / "bled")
        surface, new_material = paper.material(part.name, picture)
        shape, new_shape, kept = planes.mesh(
            stand, digest, lambda: outlines.paper(digest, outlines.folder(self.film.folder), alpha)
        )
        if kept:
            self.report.warnings.append(_own_shape(part))
        target = self.tree.of(part.character, part.type)
        objects = self._shown.get(part.name, [])
        if not objects:
            made = planes.plane(stand, shape, surface)
            target.objects.link(made)
            self._note_home(made, target)
            self._shown[part.name] = objects = [made]
            self.report.made.append(part.name)
        elif new_image or new_material or new_shape:
            self.report.updated.append(part.name)
        self._hang_all(stand, objects)
        for obj in objects:
            self._go_home(obj, target, part.name)

    def _hang_all(self, stand: Stand, objects: list[bpy.types.Object]) -> None:
        parent = self._parent(stand.part)
        for obj in objects:
            ours = planes.hang(obj, parent, stand.offset)
            if ours.changed and stand.part.name not in (*self.report.made, *self.report.updated):
                self.report.updated.append(stand.part.name)
            self.report.warnings += [_kept(stand.part, obj, name) for name in ours.kept]

    def _parent(self, part: Part) -> bpy.types.Object:
        return self._shown[part.parent][0] if part.parent else self._controllers[part.character]

    def _ensure_controller(self, character: str, at: tuple[float, float, float]) -> None:
        if character not in self._controllers:
            made = planes.controller(character, at, size=10.0 * self.film.units_per_mm)
            self.tree.character(character).objects.link(made)
            self._controllers[character] = made
            self.report.settings_changed = True

    def _note_home(self, obj: bpy.types.Object, home: bpy.types.Collection) -> None:
        ours = Ours(obj)
        ours.remember("home", home[ids.PLACE])
        ours.save()

    def _go_home(self, obj: bpy.types.Object, home: bpy.types.Collection, name: str) -> None:
        """Into its type's collection when the library moved it there, or when it comes back from aside."""
        ours = Ours(obj)
        if "home" in ours and ours["home"] == home[ids.PLACE]:
            return
        returning = "home" in ours and ours["home"] == ASIDE
        if self.tree.move(obj, home):
            (self.report.returned if returning else self.report.updated).append(name)
        self._note_home(obj, home)

    def _set_aside(self, wanted: set[str]) -> None:
        for name in sorted(self._shown.keys() - wanted):
            for obj in self._shown[name]:
                if "home" in (ours := Ours(obj)) and ours["home"] == ASIDE:
                    continue
                self.tree.move(obj, self.tree.aside())
                self._note_home(obj, self.tree.aside())
                self.report.set_aside.append(name)
                self.report.warnings.append(_gone(name))


@once_per_content
def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _gone(name: str) -> Problem:
    return Problem(
        "This part is no longer in the library.",
        "It waits, with its keys, in the collection 'Set aside'; delete it there if you are sure.",
        "parts.toml",
        part=name,
        severity="warning",
    )


def _own_shape(part: Part) -> Problem:
    return Problem(
        "Its new outline was not taken up, because you changed the mesh in the scene.",
        "Delete the mesh's own points, shape keys or weights if the library is right, or leave it as you made it.",
        "parts.toml",
        part.row,
        part.name,
        severity="warning",
    )


def _kept(part: Part, obj: bpy.types.Object, name: str) -> Problem:
    return Problem(
        f"The library's new {name} was not applied to '{obj.name}', whose {name} you changed in the scene.",
        "Undo that change in the scene if the library is right.",
        "parts.toml",
        part.row,
        part.name,
        severity="warning",
    )
