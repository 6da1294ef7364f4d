"""Runs one job without a window: reads an order from standard input, does it, answers in messages (see core's bridge).

Started either as a script by a Python that has bpy, or through main() inside a Blender that has the extension.
"""

from __future__ import annotations

import importlib
import importlib.util
import json
import sys
import traceback
from pathlib import Path

JOBS = {
    "scene": ".steps.build",
    "handmade": ".steps.handmade",
    "retime": ".steps.retime",
    "mouths": ".steps.read",
    "sheet": ".steps.sheet",
    "render": ".steps.render",
    "deliver": ".steps.deliver",
}


class Say:
    """The job's voice: one JSON message a line."""

    def __init__(self, mark: str) -> None:
        self._mark, self._out = mark, sys.stdout

    def _send(self, kind: str, **values: object) -> None:
        self._out.write(self._mark + json.dumps({"kind": kind, **values}) + "\n")
        self._out.flush()

    def progress(self, done: int, total: int, text: str) -> None:
        """How far the work is."""
        self._send("progress", done=done, total=total, text=text)

    def note(self, text: str) -> None:
        """A remark worth reading."""
        self._send("note", text=text)

    def problem(self, problem: object) -> None:
        """A core Problem, error or warning."""
        self._send("problem", **problem.as_dict())

    def misuse(self) -> None:
        """The order was wrong, the film is not to blame for the problems."""
        self._send("misuse")

    def result(self, **values: object) -> None:
        """What came of it."""
        self._send("result", **values)


def main() -> None:
    """Do the ordered job; leaves with 0 when done, 1 when problems were reported."""
    from pastepot.bridge import MARK
    from pastepot.errors import Misuse, PastepotError

    say = Say(MARK)
    order = json.load(sys.stdin)
    code = 0
    try:
        _open(order["blend"])
        module = importlib.import_module(JOBS[order["job"]], __package__)
        say.result(**(module.job(order["params"], say) or {}))
    except PastepotError as error:
        if isinstance(error, Misuse):
            say.misuse()
        for problem in error.problems:
            say.problem(problem)
        code = 1
    except Exception:
        traceback.print_exc()
        code = 1
    _empty_file()  # some versions crash or hang at exit with a scene still open
    sys.stdout.flush()
    if code:
        sys.exit(code)


def _open(path: str) -> None:
    """Open the scene, or an empty one where no path is given."""
    import bpy
    from pastepot.errors import PastepotError, Problem

    if not path:
        _empty_file()
        return
    try:
        bpy.ops.wm.open_mainfile(filepath=path, load_ui=False, use_scripts=False)
    except RuntimeError as error:
        what = f"The scene cannot be opened: {str(error).strip()}"
        raise PastepotError(
            Problem(what, "Check that it is a .blend, whole, and made by this Blender or an older one.", path)
        ) from error


def _empty_file() -> None:
    """An empty scene. Not by factory settings: they turn our extension off, and Blender then deletes its wheels from
    the disk, also under a Blender that is open beside this job.
    """
    import bpy

    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)


def _as_package() -> str:
    """Make this folder importable as a package of its own name, without touching the module search path."""
    folder = Path(__file__).resolve().parent
    name = "pastepot_blender"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(
            name, folder / "__init__.py", submodule_search_locations=[str(folder)]
        )
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return name


if __name__ == "__main__":
    importlib.import_module(f"{_as_package()}.job").main()
