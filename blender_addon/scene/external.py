"""The files outside the .blend that its pictures are made of, and those that are missing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy
from pastepot.errors import Problem
from pastepot.render.fingerprint import Source, numbered

_MANY = ("SEQUENCE", "TILED")
_FROM_FILES = ("FILE", "SEQUENCE", "MOVIE", "TILED")

# What only shows an image in the window, never in a picture: reference images and background images, and interface.
_WINDOW_ONLY = (bpy.types.Object, bpy.types.Camera, bpy.types.Screen, bpy.types.Brush, bpy.types.WorkSpace)


def sources() -> list[Source]:
    """Every file the opened scene reads and that is not packed into it; sounds are no matter of pictures."""
    files = {Path(path) for path in bpy.utils.blend_paths(absolute=True)}
    files -= {_path(sound) for sound in bpy.data.sounds}
    found = {path for path in files if not _comes_with_blender(path)}
    for image in bpy.data.images:
        if image.source in _MANY and not image.packed_file:
            found |= set(numbered(_path(image)))
    for block in (*bpy.data.volumes, *bpy.data.cache_files, *bpy.data.movieclips):
        if getattr(block, "is_sequence", False) or getattr(block, "source", "") == "SEQUENCE":
            found |= set(numbered(_path(block)))
    return [Source(_name(path), path) for path in sorted(found)]


def missing() -> list[Problem]:
    """Every image, library, font or cache that a picture needs and that is not where the file looks for it."""
    return [*_missing_files(), *_missing_blocks()]


def _missing_files() -> Iterator[Problem]:
    for library in bpy.data.libraries:
        if not library.packed_file and not _there(library):
            yield _gone(library, "library", "Put it back, or relocate it in the outliner's Blender File view.")
    users = bpy.data.user_map(subset=list(bpy.data.images)) if len(bpy.data.images) else {}
    for image in bpy.data.images:
        from_file = image.source in _FROM_FILES and not image.packed_files
        if from_file and _in_pictures(users.get(image, ())) and not _there(image):
            yield _gone(image, "image", "Put it back, or correct its path; File > External Data can search for it.")
    for font in bpy.data.fonts:
        if font.users and font.filepath != "<builtin>" and not font.packed_file and not _there(font):
            yield _gone(font, "font", "Put it back, or choose another one.")
    for cache in (*bpy.data.volumes, *bpy.data.cache_files):
        if cache.users and not getattr(cache, "packed_file", None) and not _there(cache):
            yield _gone(cache, "cache", "Put it back, or correct its path.")


def _missing_blocks() -> Iterator[Problem]:
    for block in _linked():
        if block.is_missing:
            name = block.name
            yield Problem(
                f"'{name}' is not in the library any more.",
                "Bring it back there, or delete it here.",
                file=_name(_path(block.library)),
            )


def _linked() -> Iterator[bpy.types.ID]:
    for library in bpy.data.libraries:
        yield from (block for block in library.users_id if block.users)


def _in_pictures(users: Any) -> bool:
    return any(not isinstance(user, _WINDOW_ONLY) for user in users)


def _gone(block: bpy.types.ID, kind: str, fix: str) -> Problem:
    return Problem(f"The {kind} '{block.name}' is missing.", fix, file=_name(_path(block)))


def _there(block: bpy.types.ID) -> bool:
    path = _path(block)
    return bool(numbered(path)) if getattr(block, "source", "") in _MANY else path.is_file()


def _path(block: bpy.types.ID) -> Path:
    # A library's own path is relative to the opened file, not to the library that brought it in.
    library = None if isinstance(block, bpy.types.Library) else block.library
    return Path(bpy.path.abspath(block.filepath, library=library))


def _name(path: Path) -> str:
    """The path as the .blend would write it, with '/' between: the same wherever the film folder lies."""
    try:
        return bpy.path.relpath(str(path)).replace("\\", "/")
    except ValueError:  # on another drive
        return path.as_posix()


def _comes_with_blender(path: Path) -> bool:
    places = (bpy.utils.resource_path(kind) for kind in ("LOCAL", "SYSTEM"))
    return any(place and path.is_relative_to(place) for place in places)
