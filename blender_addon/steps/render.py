"""Step: the scene becomes frames in a folder, each picture rendered once."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import bpy
from pastepot.errors import Misuse, PastepotError, Problem, raise_if_any
from pastepot.render import frames
from pastepot.render.estimate import Estimate
from pastepot.render.fingerprint import digest, fingerprint
from pastepot.render.plan import Plan, every_frame

from .. import host, ids
from ..scene import external, held, rendering
from .background import BackgroundOperator, Voice, is_free, tell
from .build import film_folder


@dataclass(frozen=True)
class Order:
    """What to render.

    folder:      where the frames go
    first, last: the frames; None: as the scene has them
    every_frame: render each frame, whatever is known to be the same
    content:     the digest of a scene file with exactly what is to be rendered; '': of the opened file
    """

    folder: Path
    first: int | None = None
    last: int | None = None
    every_frame: bool = False
    overrides: rendering.Overrides = field(default_factory=rendering.Overrides)
    content: str = ""


def render(scene: bpy.types.Scene, order: Order, say: Any) -> dict[str, Any]:
    """Render what is missing in the folder; gives what was done. Raises PastepotError before the first picture if the
    scene cannot be rendered or the folder holds somebody else's frames.
    """
    raise_if_any([*rendering.scene_problems(scene), *external.missing()])
    with rendering.set_up(scene, order.overrides) as settings:
        plan = _plan(scene, order)
        for problem in plan.refusals:
            say.problem(problem)
        job = frames.Job(plan, _fingerprint(order, settings), rendering.fps(scene), rendering.size(scene))
        with frames.opened(order.folder, job) as folder:
            _render_missing(scene, folder, say)
            folder.finish()
    return _answer(order.folder, plan, folder.counts)


def _plan(scene: bpy.types.Scene, order: Order) -> Plan:
    first = scene.frame_start if order.first is None else order.first
    last = scene.frame_end if order.last is None else order.last
    if last < first:
        raise Misuse(
            Problem(
                f"The frames {first} to {last} are none.", f"The scene has {scene.frame_start} to {scene.frame_end}."
            )
        )
    return every_frame(first, last) if order.every_frame else held.plan(scene, first, last)


def _fingerprint(order: Order, settings: Mapping[str, object]) -> str:
    try:
        return fingerprint(order.content or digest(Path(bpy.data.filepath)), external.sources(), settings)
    except OSError as error:
        raise PastepotError(
            Problem(
                f"A file of the scene cannot be read: {error.strerror}.", "Check its permissions.", str(error.filename)
            )
        ) from error


def _render_missing(scene: bpy.types.Scene, folder: frames.FrameFolder, say: Any) -> None:
    todo = folder.missing()
    kept, total = folder.counts.kept, folder.counts.kept + len(todo)
    estimate = Estimate()
    for done, picture in enumerate(todo):
        start = time.monotonic()
        say.progress(kept + done, total, f"Rendering{estimate.left(len(todo) - done)}")
        try:
            rendering.render(scene, picture, folder.draft(picture))
        except PastepotError as error:
            full = frames.full_disk(folder.folder)
            if full is None:
                raise
            raise PastepotError(full) from error
        folder.take(picture)
        estimate.add(time.monotonic() - start, first=not done)
    say.progress(total, total, "Rendering")


def _answer(folder: Path, plan: Plan, counts: frames.Counts) -> dict[str, Any]:
    held_frames = len(plan.frames) - len(plan.pictures)
    text = f"{len(plan.frames)} frames in {folder}: {counts.rendered} pictures rendered"
    text += f", {counts.kept} kept from before" if counts.kept else ""
    text += f", {held_frames} frames held" if held_frames else ""
    return {
        "text": f"{text}.",
        "folder": str(folder),
        "frames": len(plan.frames),
        "pictures": len(plan.pictures),
        "rendered": counts.rendered,
        "kept": counts.kept,
        "linked": counts.linked,
        "copied": counts.copied,
        "refusals": [problem.as_dict() for problem in plan.refusals],
    }


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """`pastepot render`: render the opened file; nothing is saved into it."""
    order = Order(
        Path(params["output"]),
        params.get("first"),
        params.get("last"),
        params.get("every_frame", False),
        rendering.Overrides(params.get("engine", ""), params.get("samples"), params.get("percent")),
        _opened(params.get("content", "")),
    )
    return render(bpy.context.scene, order, say)


def _opened(wanted: str) -> str:
    """The opened file's digest. PastepotError if it is not what the person asked for: then somebody saved it while
    Blender was starting, and what was opened may be either.
    """
    path = Path(bpy.data.filepath)
    found = digest(path)
    if wanted and found != wanted:
        raise PastepotError(Problem("The scene was saved while the render was starting.", "Start it again.", str(path)))
    return found


# ── in the sidebar ─────────────────────────────────────────────────────────────────────────────────────────────────


class PastepotRender(bpy.types.PropertyGroup):
    """How this scene is rendered from the sidebar."""

    folder: bpy.props.StringProperty(
        name="Frames",
        description="The folder the frames go into; empty: renders, in the film folder, under the scene's name",
        subtype="DIR_PATH",
        options=host.RELATIVE_PATH,
    )
    every_frame: bpy.props.BoolProperty(
        name="Every frame",
        description="Render each frame, also where frames show the same picture",
        default=False,
    )


def frames_folder(scene: bpy.types.Scene) -> Path:
    """Where the frames of this scene go."""
    here = Path(bpy.data.filepath)
    chosen = scene.pastepot_render.folder
    if chosen:
        return Path(bpy.path.abspath(chosen)).resolve()
    return (film_folder(scene) or here.parent) / "renders" / here.stem


class PASTEPOT_OT_render_pictures(BackgroundOperator, bpy.types.Operator):
    """Render the saved scene, each picture once, while you go on working. Started again, it goes on where it was"""

    bl_idname = ids.RENDER
    bl_label = "Render the Frames"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not is_free(cls):
            return False
        if not bpy.data.filepath:
            cls.poll_message_set("Save the scene first: the saved file is what gets rendered")
        elif bpy.data.is_dirty and not bpy.app.background:  # without a window Blender does not keep track of this
            cls.poll_message_set("Save your changes first: the saved file is what gets rendered")
        else:
            return True
        return False

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not bpy.app.binary_path or context.window is None:
            return self.execute(context)
        order = {
            "output": str(frames_folder(context.scene)),
            "every_frame": context.scene.pastepot_render.every_frame,
            "content": digest(Path(bpy.data.filepath)),
        }
        return self.begin(context, "render", order, Path(bpy.data.filepath))

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Render in this process, without a window to keep alive."""
        scene = context.scene
        with tempfile.TemporaryDirectory(prefix="pastepot-") as folder:
            # What is open may be newer than the saved file: what counts is a copy of just this.
            content = Path(folder) / "scene.blend"
            bpy.ops.wm.save_as_mainfile(filepath=str(content), copy=True, compress=False, relative_remap=False)
            order = Order(frames_folder(scene), every_frame=scene.pastepot_render.every_frame, content=digest(content))
            try:
                answer = render(scene, order, Voice(self))
            except PastepotError as error:
                return tell(self, error.problems)
        self.report({"INFO"}, answer["text"])
        return {"FINISHED"}


CLASSES = (PastepotRender, PASTEPOT_OT_render_pictures)


def register() -> None:
    """Give every scene its render settings."""
    bpy.types.Scene.pastepot_render = bpy.props.PointerProperty(
        type=PastepotRender, description="How this scene is rendered from the sidebar"
    )


def unregister() -> None:
    """Undo register()."""
    del bpy.types.Scene.pastepot_render
