"""The rules of the house, read off the source: who may import whom, and how big things may grow."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CORE = sorted((ROOT / "core").rglob("*.py"))
BLENDER_SIDE = sorted((ROOT / "blender_addon").rglob("*.py"))
BLENDERS = {"bpy", "bpy_extras", "mathutils", "addon_utils", "bl_ext", "bmesh", "gpu"}
OUR_BLENDER_SIDE = {"blender_addon", "pastepot_blender"}
TOP = {
    ".ci",
    ".gitignore",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "blender_addon",
    "core",
    "docs",
    "examples",
    "pyproject.toml",
    "tests",
}
FILES_IN_DRAW = {"open", "Path", "exists", "is_file", "is_dir", "read_text", "read_bytes", "glob", "iterdir", "stat"}


def tracked() -> list[Path]:
    """Every file that git knows, as it is on the disk."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip("this copy of the sources is not a git repository")
    return [path for name in done.stdout.split("\0") if name and (path := ROOT / name).is_file()]


def python_files() -> list[Path]:
    return [path for path in tracked() if path.suffix == ".py"]


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def nodes(path: Path) -> Iterator[ast.AST]:
    yield from ast.walk(ast.parse(path.read_text(encoding="utf-8"), str(path)))


def imported(path: Path) -> Iterator[tuple[str, int]]:
    """Top-level name and line of everything the file imports, wherever it does and however it says so."""
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from ((alias.name.split(".")[0], node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield (node.module or "").split(".")[0], node.lineno
        elif isinstance(node, ast.Call) and called(node) in {"import_module", "__import__"} and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield first.value.split(".")[0], node.lineno


def called(node: ast.Call) -> str:
    """The last name of what is called: 'open' of open(...), 'exists' of path.exists()."""
    function = node.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def test_the_core_knows_no_blender() -> None:
    assert len(CORE) > 10
    found = [f"{name(p)}:{line} {what}" for p in CORE for what, line in imported(p) if what in BLENDERS]
    assert found == []


def test_the_core_knows_nothing_of_our_blender_side() -> None:
    found = [f"{name(p)}:{line} {what}" for p in CORE for what, line in imported(p) if what in OUR_BLENDER_SIDE]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        "import bpy",
        "import bpy.types as t",
        "def f():\n    from bpy import data",
        "import importlib\nimportlib.import_module('bpy.utils')",
        "__import__('bpy')",
    ],
)
def test_every_way_to_import_is_seen(tmp_path: Path, source: str) -> None:
    file = tmp_path / "x.py"
    file.write_text(source, encoding="utf-8")
    assert "bpy" in {what for what, _ in imported(file)}


def test_nobody_imports_the_core_by_its_folder() -> None:
    """With the checkout on the module path, core.pastepot.errors and pastepot.errors would be two modules."""
    found = [f"{name(p)}:{line}" for p in python_files() for what, line in imported(p) if what == "core"]
    assert found == []


def test_blender_versions_are_told_apart_in_one_file() -> None:
    found = [
        f"{name(path)}:{node.lineno}"
        for path in BLENDER_SIDE
        if name(path) != "blender_addon/host.py"
        for node in nodes(path)
        if isinstance(node, ast.Attribute)
        and node.attr == "version"  # the text of it may be written into a record
        and ast.unparse(node.value).endswith("app")
    ]
    assert found == []


def test_a_draw_opens_no_files() -> None:
    draws = [
        (path, node)
        for path in BLENDER_SIDE
        for node in nodes(path)
        if isinstance(node, ast.FunctionDef) and node.name.startswith("draw")
    ]
    assert draws
    found = [
        f"{name(path)}:{node.lineno} {ast.unparse(node.func)}"
        for path, draw in draws
        for node in ast.walk(draw)
        if isinstance(node, ast.Call)
        and (called(node) in FILES_IN_DRAW or ast.unparse(node.func).startswith(("os.", "shutil.")))
    ]
    assert found == []


def test_files_stay_small() -> None:
    long = {name(path): len(path.read_text(encoding="utf-8").splitlines()) for path in python_files()}
    assert {file: lines for file, lines in long.items() if lines > 400} == {}


def test_functions_stay_small() -> None:
    found = {
        f"{name(path)} {node.name}": (node.end_lineno or 0) - node.lineno + 1
        for path in python_files()
        for node in nodes(path)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert {function: lines for function, lines in found.items() if lines > 60} == {}


def test_the_top_of_the_repository_stays_tidy() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in tracked()} <= TOP


# Put together here, so that this file does not find itself.
PLACES = "|".join(
    [
        *(rf"(?<![\w.$}}/-])/{folder}/" for folder in ("root", "home", "work", "Users", "opt")),
        r"\b[A-Z]:\\+Users",
        *(
            re.escape(host)
            for host in ("pypi" + ".org", "python" + "hosted.org", "registry.npm" + "js", "deb.debian" + ".org")
        ),
    ]
)


def test_no_place_of_one_machine_or_registry_is_written_down() -> None:
    texts = {path: text for path in tracked() if (text := text_of(path)) is not None and path != Path(__file__)}
    found = [
        f"{name(path)}:{row} {match[0]}"
        for path, text in texts.items()
        for row, line in enumerate(text.splitlines(), 1)
        for match in [re.search(PLACES, line)]
        if match
    ]
    assert found == []


def text_of(path: Path) -> str | None:
    """The file's text; None if it is no text."""
    try:
        return path.read_bytes().decode()
    except UnicodeDecodeError:
        return None


# Control characters but line feed and tab; marks that are invisible or turn the direction of the text round; a BOM.
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u200b-\u200f\u202a-\u202e\u2028\u2029\u2060-\u206f\ufeff]")


def test_text_files_hold_nothing_unseen() -> None:
    found = [
        f"{name(path)}:{row} U+{ord(match[0]):04X}"
        for path in tracked()
        if (text := text_of(path)) is not None
        for row, line in enumerate(text.split("\n"), 1)
        for match in [UNSEEN.search(line)]
        if match
    ]
    assert found == []
