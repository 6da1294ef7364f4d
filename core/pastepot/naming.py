"""Names and film-relative paths that every file system and Blender can take.

The rules for names come from "Naming Files, Paths, and Namespaces" (Microsoft Learn, Win32 apps): reserved device
names, reserved characters, no dot or space at the end. Most file systems allow 255 bytes for one name (POSIX NAME_MAX
on Linux and macOS); 200 leaves room for endings such as '.png' and for frame numbers.
"""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path, PurePosixPath

from pastepot.errors import Problem

NAME_BYTES = 200
"""The longest name of a file or folder, in bytes of UTF-8."""

BLENDER_NAME_BYTES = 63
"""The longest name of anything in Blender 4.2 to 4.5, in bytes of UTF-8 (newer ones take more)."""

_FORBIDDEN = '<>:"/\\|?*'
_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])", re.IGNORECASE)
_DRIVE = re.compile(r"[A-Za-z]:")


def same_name(name: str) -> str:
    """A key that is equal for names which some file system takes for one: case and composition of letters ignored."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def name_fault(name: str, longest: int = BLENDER_NAME_BYTES) -> str:
    """What is wrong with a name, as the end of a sentence ('ends with a space'); '' if nothing is."""
    if not name:
        return "is empty"
    hidden = [c for c in name if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")]
    if hidden:
        return f"holds a character that cannot be seen (U+{ord(hidden[0]):04X})"
    forbidden = [c for c in name if c in _FORBIDDEN]
    if forbidden:
        return f"holds {forbidden[0]}, which file names cannot have on every computer"
    if name in (".", ".."):
        return "means a folder, not a name"
    if name[-1] in ". ":
        return f"ends with a {'dot' if name[-1] == '.' else 'space'}"
    if name[0] == " ":
        return "begins with a space"
    if _RESERVED.fullmatch(name.split(".")[0].rstrip(" ")):
        return "is a name that Windows keeps for itself"
    size = len(name.encode())
    if size > longest:
        return f"is {size} bytes long, and {longest} is the most"
    return ""


def path_fault(path: str) -> str:
    """What is wrong with a film-relative path as text, as the end of a sentence; '' if nothing is."""
    if not path:
        return "is empty"
    if "\\" in path:
        return "is written with \\, where / is needed"
    if path.startswith("/"):
        return "begins at the top of the disc, so it leaves the film folder"
    if _DRIVE.match(path):
        return "begins with a drive letter, so it leaves the film folder"
    pieces = path.split("/")
    if ".." in pieces:
        return "goes up with .., so it may leave the film folder"
    if "" in pieces or "." in pieces:
        return "has an empty or '.' step in it"
    for piece in pieces:
        fault = name_fault(piece, NAME_BYTES)
        if fault:
            return f"has a step, '{printable(piece)}', that {fault}"
    return ""


def path_problem(path: str, field: str, *, file: str, row: int = 0, part: str = "") -> Problem | None:
    """The Problem with a path as text, or None."""
    fault = path_fault(path)
    if not fault:
        return None
    fix = f"Write it from the film folder down with /, as in '{PurePosixPath('parts', 'heron-head-front.png')}'."
    return Problem(f"'{printable(path)}' {fault}.", fix, file, row, part, field)


def leads_out(folder: Path, path: str) -> bool:
    """Whether links on the disc lead a film-relative path out of the film folder."""
    top, real = (Path(os.path.realpath(p)) for p in (folder, Path(folder, path)))
    return not real.is_relative_to(top)


def printable(text: str) -> str:
    """The text with anything that would upset a terminal written as an escape."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode() for c in text)
