"""Work that goes on beside the window: a job in a Blender of its own, its progress shown, and a way to stop it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
from pastepot.bridge import Running
from pastepot.errors import Cancelled, PastepotError

from .. import ids


@dataclass
class Watch:
    """The job that is running beside this window, for the panels and for whoever stops it."""

    running: Running | None = None
    job: str = ""

    def text(self) -> str:
        """How far it is, in words; '' where none is running."""
        if self.running is None:
            return ""
        done, total, words = self.running.latest
        return f"{words} {done}/{total}" if total else "Opening the scene"

    def share(self) -> float:
        """How far it is, from 0 to 1."""
        done, total, _ = self.running.latest if self.running else (0, 0, "")
        return done / total if total else 0.0


watch = Watch()


def is_free(cls: type[bpy.types.Operator]) -> bool:
    """Whether another job can be started; says why not."""
    if watch.running is not None:
        cls.poll_message_set("Another step is still running; wait for it, or stop it")
        return False
    return True


def tell(operator: bpy.types.Operator, problems: Iterable[Any]) -> set[str]:
    """Report every problem in Blender's own way; gives {'CANCELLED'} for an operator to return on errors."""
    for problem in problems:
        operator.report({"WARNING" if problem.severity == "warning" else "ERROR"}, str(problem))
    return {"CANCELLED"}


class BackgroundOperator:
    """An operator that starts a job, lets the person go on, and tells when it is done."""

    def begin(self, context: bpy.types.Context, job: str, order: dict[str, Any], blend: Path | None) -> set[str]:
        """Start the job; to be returned from invoke()."""
        watch.running, watch.job = Running(job, order, blend=blend, blender=bpy.app.binary_path), job
        self._timer = context.window_manager.event_timer_add(0.25, window=context.window)
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Look in from time to time."""
        running = watch.running
        if running is None:  # the add-on was turned off
            return self._leave(context, {"CANCELLED"})
        if event.type == "ESC" and event.value == "PRESS":
            running.cancel()
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if not running.done:
            context.workspace.status_text_set(f"{watch.text()}   Esc: stop, what is finished is kept")
            _redraw(context)
            return {"PASS_THROUGH"}
        watch.running = None
        return self._leave(context, self._tell(running))

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender takes the operator away: another file is opened, or it quits."""
        stop()
        self._leave(context, set())

    def _tell(self, running: Running) -> set[str]:
        try:
            outcome = running.outcome()
        except Cancelled as stopped:
            self.report({"INFO"}, str(stopped))
            return {"CANCELLED"}
        except PastepotError as error:
            return tell(self, error.problems)
        tell(self, outcome.warnings)
        self.report({"INFO"}, outcome.result["text"])
        return {"FINISHED"}

    def _leave(self, context: bpy.types.Context, result: set[str]) -> set[str]:
        context.window_manager.event_timer_remove(self._timer)
        context.workspace.status_text_set(None)
        _redraw(context)
        return result


class Voice:
    """A job's voice inside an operator."""

    def __init__(self, operator: bpy.types.Operator) -> None:
        self._operator = operator

    def progress(self, done: int, total: int, text: str) -> None:
        """Nobody is watching."""

    def problem(self, problem: Any) -> None:
        """Something the person should know."""
        tell(self._operator, [problem])


class PASTEPOT_OT_stop(bpy.types.Operator):
    """Stop what is running. What is finished is kept, and the same button goes on from there"""

    bl_idname = ids.STOP
    bl_label = "Stop"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if watch.running is None:
            cls.poll_message_set("Nothing is running")
        return watch.running is not None

    def execute(self, context: bpy.types.Context) -> set[str]:
        watch.running.cancel()
        return {"FINISHED"}


def stop() -> None:
    """End the job that is running, if one is, and forget it."""
    if watch.running is not None:
        watch.running.cancel()
        watch.running = None


def _redraw(context: bpy.types.Context) -> None:
    """Let the sidebar show how far it is."""
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


CLASSES = (PASTEPOT_OT_stop,)


def unregister() -> None:
    """Leave no job behind."""
    stop()
