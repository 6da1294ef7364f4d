"""Step: the frames and the sound become a film file."""

from __future__ import annotations

import importlib.util
from fractions import Fraction
from itertools import count
from pathlib import Path
from typing import Any

import bpy
from pastepot.errors import PastepotError
from pastepot.render import deliver, frames

from .. import host, ids
from .background import BackgroundOperator, Voice, is_free, tell
from .build import film_folder
from .handmade import rate
from .render import frames_folder


def order(scene: bpy.types.Scene) -> dict[str, Any]:
    """What is delivered from this scene: its frames, its first sound, at 24 frames a second or more."""
    sound, frame = _sound(scene)
    return {
        "frames": str(frames_folder(scene)),
        "out": str(_free(_film_file(scene))),
        "sound": sound,
        "sound_frame": frame,
        "fps": str(_played_at(rate(scene))),
    }


def job(params: dict[str, Any], say: Any) -> dict[str, Any]:
    """Write the film; the opened scene does not matter."""
    made = deliver.deliver(
        deliver.Order(
            frames=Path(params["frames"]),
            out=Path(params["out"]),
            sound=Path(params["sound"]) if params["sound"] else None,
            fps=Fraction(params["fps"]),
            sound_frame=params["sound_frame"],
        ),
        lambda done, total, text: say.progress(done, total, text),
    )
    for problem in made.warnings:
        say.problem(problem)
    return {"text": f"The film is {params['out']}", "film": params["out"]}


def _played_at(fps: Fraction) -> Fraction:
    """Few players like less than 24 frames a second: every frame is then shown twice, or more often."""
    times = next(n for n in count(1) if round(fps) * n >= 24)
    return fps * times


def _film_file(scene: bpy.types.Scene) -> Path:
    here = Path(bpy.data.filepath)
    return (film_folder(scene) or here.parent) / f"{here.stem}.mp4"


def _free(path: Path) -> Path:
    """The path, or with a number where there is a film already: none is ever written over."""
    names = (path if n == 1 else path.with_stem(f"{path.stem}-{n}") for n in count(1))
    return next(p for p in names if not p.exists())


def _sound(scene: bpy.types.Scene) -> tuple[str, int | None]:
    """The file of the first sound in the sequencer and the frame on which it begins."""
    if scene.sequence_editor is None:
        return "", None
    found = [s for s in host.strips(scene.sequence_editor) if s.type == "SOUND" and not s.mute]
    if not found:
        return "", None
    first = min(found, key=host.strip_begins)
    return bpy.path.abspath(first.sound.filepath), round(host.strip_begins(first))


class PASTEPOT_OT_make_film(BackgroundOperator, bpy.types.Operator):
    """Join the frames and the first sound in the sequencer into an MP4 beside the film's other files"""

    bl_idname = ids.DELIVER
    bl_label = "Make the Film"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not is_free(cls):
            return False
        if not bpy.data.filepath:
            cls.poll_message_set("Save the scene and render its frames first")
        elif importlib.util.find_spec("av") is None:
            cls.poll_message_set("This copy of Pastepot has no encoder: install the zip made for your system")
        else:
            return True
        return False

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not (frames_folder(context.scene) / frames.LIST).exists():
            self.report({"ERROR"}, "The frames are not all rendered yet. Press 'Render the Frames' first")
            return {"CANCELLED"}
        if not bpy.app.binary_path or context.window is None:
            return self.execute(context)
        return self.begin(context, "deliver", order(context.scene), None)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write it in this process, without a window to keep alive."""
        try:
            answer = job(order(context.scene), Voice(self))
        except PastepotError as error:
            return tell(self, error.problems)
        self.report({"INFO"}, answer["text"])
        return {"FINISHED"}


CLASSES = (PASTEPOT_OT_make_film,)
