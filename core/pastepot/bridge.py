"""Runs a job of the Blender side in a process of its own and listens to what it says.

The job gets one JSON object on standard input. It answers with lines on standard output that start with MARK, each a
JSON object with a 'kind': progress {done, total, text} · note {text} · problem {a Problem's fields} · result {any
values}. All other output is Blender's own chatter and is kept only to explain a crash.
"""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pastepot import places
from pastepot.errors import PastepotError, Problem

MARK = "\x1epastepot "
Progress = Callable[[int, int, str], None]


@dataclass
class Outcome:
    """What a job answered: its result, the warnings it gave, and its remarks."""

    result: dict[str, Any] = field(default_factory=dict)
    warnings: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def host_command(blender: str | None = None) -> list[str]:
    """The command that starts the Blender side: a Blender program if one is named, else this Python's bpy, else PATH.

    A Blender program runs the extension installed in it; with bpy the code beside this core runs.
    """
    program = blender or os.environ.get("PASTEPOT_BLENDER")
    if not program and importlib.util.find_spec("bpy") is not None:
        return [sys.executable, str(places.blender_side() / "job.py")]
    program = shutil.which(program or "blender")
    if program is None:
        raise PastepotError(
            Problem(
                "No Blender was found: this Python has no bpy, and there is no program of that name.",
                "Install bpy (pip install 'pastepot[blender]'), or name Blender with --blender PATH.",
            )
        )
    start = "from bl_ext.user_default.pastepot import job; job.main()"
    return [program, "-b", "--disable-autoexec", "--python-exit-code", "1", "--python-expr", start]


def run_job(
    job: str,
    params: dict[str, Any],
    *,
    blend: Path | None = None,
    blender: str | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Run `job` on the .blend (None: an empty scene) and wait for it. Raises PastepotError with all its problems."""
    order = json.dumps({"job": job, "blend": str(blend) if blend else "", "params": params})
    outcome, errors, chatter = Outcome(), list[Problem](), deque[str](maxlen=40)
    with _process(host_command(blender), order) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith(MARK):
                _take(json.loads(line[len(MARK) :]), outcome, errors, progress)
            else:
                chatter.append(line.rstrip())
    if errors:
        raise PastepotError(*errors)
    if process.returncode:
        raise PastepotError(
            Problem(f"Blender stopped unexpectedly (code {process.returncode}).", "Its last words:\n" + "\n".join(chatter))
        )
    return outcome


@contextmanager
def _process(command: list[str], order: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8",
        errors="replace",
    )
    try:
        assert process.stdin is not None
        process.stdin.write(order)
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
    elif kind == "note":
        outcome.notes.append(message["text"])
    elif kind == "result":
        outcome.result.update(message)
    elif kind == "problem":
        problem = Problem(**message)
        (errors if problem.severity == "error" else outcome.warnings).append(problem)
