"""Step: the library's parts become the cast in the scene."""

from __future__ import annotations

from os.path import normpath
from pathlib import Path, PurePath
from typing import Any

import bpy
from pastepot import film as films
from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.library import check, manifest, png
from pastepot.staging import stage

from .. import ids
from ..scene import setup
from ..scene.cast import Cast, Report
from .background import tell


def build(scene: bpy.types.Scene, folder: Path, progress: Any) -> Report:
    """Bring the scene to the film folder's library. PastepotError, before anything is touched, if that has errors."""
    folder = Path(folder).resolve()
    found = check.check(folder)
    raise_if_any(found)
    film, library = films.load(folder), manifest.load(folder)
    fresh = setup.is_fresh(scene)
    sizes = {part.name: png.read(folder / part.image).size for part in library}
    cast = Cast(scene, film)
    if fresh:
        cast.tree.put_aside(list(scene.objects))  # Blender's own cube, camera and light
    report = cast.build(stage(film, library, lambda part: sizes[part.name]), progress)
    report.warnings[:0] = found
    report.warnings += setup.settle(scene, film, fresh)
    made_camera, changed_look = setup.camera(scene, film, fresh), setup.look(scene, film)
    report.settings_changed |= made_camera or changed_look or fresh
    _remember(scene, folder)
    return report


def film_folder(scene: bpy.types.Scene) -> Path | None:
    """The film folder this scene belongs to; None if none was chosen or it is not there."""
    stored = scene.get(ids.FILM, "")
    if not stored or (stored.startswith("//") and not bpy.data.filepath):
        return None
    folder = Path(bpy.path.abspath(stored)).resolve()
    return folder if (folder / "film.toml").is_file() else None


def folder_name(scene: bpy.types.Scene) -> str:
    """What to call the scene's film folder in a panel, without looking at the disk; '' if none was chosen."""
    return PurePath(normpath(bpy.path.abspath(scene.get(ids.FILM, "")))).name if ids.FILM in scene else ""


def _remember(scene: bpy.types.Scene, folder: Path) -> None:
    if film_folder(scene) != folder:
        stored = bpy.path.relpath(str(folder)) if bpy.data.filepath else str(folder)
        scene[ids.FILM] = stored.replace("\\", "/")


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot scene`: build into the opened file or a new one, and save it if anything changed."""
    output = Path(params["output"])
    scene = bpy.context.scene
    if not bpy.data.filepath:
        # Saved first, empty: paths to images can then be relative, and a place that cannot be written fails at once.
        raise_if_any(_save(output))
    try:
        report = build(scene, Path(params["film"]), say.progress)
    except PastepotError:
        if params["new"]:
            output.unlink(missing_ok=True)
        raise
    for problem in report.warnings:
        say.problem(problem)
    if report.changed or params["new"]:
        if params["new"]:
            bpy.context.preferences.filepaths.save_version = 0  # no backup of the empty file of a moment ago
        raise_if_any(_save(output))
    return {
        "text": report.text(),
        "changed": report.changed,
        "added": report.made,
        "updated": report.updated,
        "returned": report.returned,
        "set_aside": report.set_aside,
    }


def _save(path: Path) -> list[Problem]:
    """Save as `path` (Blender writes beside it and renames)."""
    try:
        bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)
    except RuntimeError as error:
        what = f"The scene could not be saved: {str(error).strip()}"
        return [Problem(what, "Check the folder and the space on its disc.", str(path))]
    return []


class PASTEPOT_OT_build_cast(bpy.types.Operator):
    """Bring the parts of the film folder into this scene, or bring the scene up to date with them"""

    bl_idname = ids.BUILD
    bl_label = "Build the Cast"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if film_folder(context.scene) is None:
            cls.poll_message_set("Choose the film folder first: the one with film.toml in it")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        manager, fresh = context.window_manager, setup.is_fresh(context.scene)
        manager.progress_begin(0, 100)
        try:
            report = build(
                context.scene,
                film_folder(context.scene),
                lambda done, total, _: manager.progress_update(100 * done // max(total, 1)),
            )
        except PastepotError as error:
            return tell(self, error.problems)
        finally:
            manager.progress_end()
        if fresh:
            setup.look_through_camera(context)
        tell(self, report.warnings)
        self.report({"INFO"}, report.text())
        return {"FINISHED"}


class PASTEPOT_OT_choose_folder(bpy.types.Operator):
    """Choose the film folder: the one with film.toml and parts.toml in it"""

    bl_idname = ids.CHOOSE
    bl_label = "Choose Film Folder"
    bl_options = {"REGISTER", "UNDO"}

    directory: bpy.props.StringProperty(
        name="Film folder", description="The folder with film.toml in it", subtype="DIR_PATH"
    )
    filter_folder: bpy.props.BoolProperty(description="Show folders", default=True, options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        folder = Path(bpy.path.abspath(self.directory)).resolve()
        if not (folder / "film.toml").is_file():
            self.report({"ERROR"}, f"There is no film.toml in {folder}. Start a film with: pastepot new FOLDER")
            return {"CANCELLED"}
        _remember(context.scene, folder)
        return {"FINISHED"}


CLASSES = (PASTEPOT_OT_build_cast, PASTEPOT_OT_choose_folder)
