"""Runs a job of the Blender side in a process of its own and listens to what it says.

The job gets one JSON object on standard input. It answers with lines on standard output that start with MARK, each a
JSON object with a 'kind': progress {done, total, text} · note {text} · problem {a Problem's fields} · result {any
values}. All other output is Blender's own chatter and is kept only to explain a crash.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pastepot import places
from pastepot.errors import Cancelled, Misuse, PastepotError, Problem

MARK = "\x1epastepot "
# The extension may have been installed into any of the person's repositories: ask which one is enabled.
_START = (
    "import bpy, importlib; names = bpy.context.preferences.addons.keys(); "
    "name = next((n for n in names if n.rpartition('.')[2] == 'pastepot'), 'bl_ext.user_default.pastepot'); "
    "importlib.import_module(name + '.job').main()"
)

Progress = Callable[[int, int, str], None]


class BlenderStopped(PastepotError):
    """Blender itself ended in the middle of a job, without a word of ours."""


@dataclass
class Outcome:
    """What a job answered: its result, the warnings it gave, its remarks, and whether the order itself was wrong."""

    result: dict[str, Any] = field(default_factory=dict)
    warnings: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    misuse: bool = False


def host_command(blender: str | None = None) -> list[str]:
    """The command that starts the Blender side: a Blender program if one is named, else this Python's bpy, else PATH.

    A Blender program runs the extension installed in it; with bpy the code beside this core runs.
    """
    program = blender or os.environ.get("PASTEPOT_BLENDER")
    if not program and importlib.util.find_spec("bpy") is not None:
        return [sys.executable, str(places.blender_side() / "job.py")]
    found = shutil.which(program or "blender")
    if found is None and program:
        raise PastepotError(
            Problem(f"There is no program {program}.", "Give the path of Blender's program, with --blender PATH.")
        )
    if found is None:
        raise PastepotError(
            Problem(
                "No Blender was found: this Python has no bpy, and there is no program 'blender'.",
                "Install bpy (pip install 'pastepot[blender]'), or name Blender with --blender PATH.",
            )
        )
    return [found, "-b", "--disable-autoexec", "--python-exit-code", "1", "--python-expr", _START]


def run_job(
    job: str,
    params: dict[str, Any],
    *,
    blend: Path | None = None,
    blender: str | None = None,
    progress: Progress | None = None,
    started: Callable[[subprocess.Popen[str]], None] | None = None,
) -> Outcome:
    """Run `job` on the .blend (None: an empty scene) and wait for it.

    Raises PastepotError with all its problems, Misuse for a wrong order.

    started: is given the process as soon as it runs, so that another thread can end it
    """
    order = json.dumps({"job": job, "blend": str(blend) if blend else "", "params": params})
    outcome, errors, chatter = Outcome(), list[Problem](), deque[str](maxlen=40)
    with _process(host_command(blender), order) as process:
        assert process.stdout is not None
        if started is not None:
            started(process)
        for line in process.stdout:
            said, mark, message = line.partition(MARK)  # Blender may have left a line of its own unfinished
            if mark:
                _take(json.loads(message), outcome, errors, progress)
            if said.strip():
                chatter.append(said.rstrip())
    if errors:
        raise (Misuse if outcome.misuse else PastepotError)(*errors)
    if process.returncode:
        raise BlenderStopped(
            Problem(
                f"Blender stopped unexpectedly (code {process.returncode}).", "Its last words:\n" + "\n".join(chatter)
            )
        )
    return outcome


class Running:
    """A job on its way beside the caller, who looks in from time to time. Nothing here waits but `outcome`."""

    def __init__(
        self, job: str, params: dict[str, Any], *, blend: Path | None = None, blender: str | None = None
    ) -> None:
        """Start it; arguments as for run_job."""
        self.latest = (0, 0, "")
        """How far it is: done, of how many, in words."""
        self._answer: Outcome | None = None
        self._error: Exception | None = None
        self._process: subprocess.Popen[str] | None = None
        self._cancelled = False

        def work() -> None:
            try:
                self._answer = run_job(
                    job, params, blend=blend, blender=blender, progress=self._hear, started=self._started
                )
            except Exception as error:
                self._error = error

        self._thread = threading.Thread(target=work, daemon=True)
        self._thread.start()

    @property
    def done(self) -> bool:
        """Whether it has ended, in whatever way."""
        return not self._thread.is_alive()

    def cancel(self) -> None:
        """End it; what it has finished stays."""
        self._cancelled = True
        if self._process is not None:
            self._process.terminate()

    def outcome(self) -> Outcome:
        """What it answered, once it has ended. Raises its PastepotError, or Cancelled."""
        self._thread.join()
        if self._answer is not None:
            return self._answer
        if self._cancelled:
            raise Cancelled("Stopped. What was finished is kept.") from self._error
        assert self._error is not None
        raise self._error

    def _started(self, process: subprocess.Popen[str]) -> None:
        self._process = process
        if self._cancelled:
            process.terminate()

    def _hear(self, done: int, total: int, text: str) -> None:
        self.latest = (done, total, text)


@contextlib.contextmanager
def _process(command: list[str], order: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    )
    try:
        assert process.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # it has died already: its code and last words tell why
            process.stdin.write(order)
            process.stdin.flush()
        with contextlib.suppress(BrokenPipeError):
            process.stdin.close()
        yield process
        process.wait()
    finally:
        if process.poll() is None:  # we are leaving early (Ctrl+C, a broken message): take the job along
            process.terminate()
            process.wait()
        if process.stdout is not None:
            process.stdout.close()


def _take(message: dict[str, Any], outcome: Outcome, errors: list[Problem], progress: Progress | None) -> None:
    kind = message.pop("kind")
    if kind == "progress" and progress is not None:
        progress(message["done"], message["total"], message["text"])
    elif kind == "misuse":
        outcome.misuse = True
    elif kind == "note":
        outcome.notes.append(message["text"])
    elif kind == "result":
        outcome.result.update(message)
    elif kind == "problem":
        problem = Problem(**message)
        (errors if problem.severity == "error" else outcome.warnings).append(problem)
