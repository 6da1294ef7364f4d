"""One value that stands for everything a picture depends on: if it is the same, finished pictures may be kept."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from pastepot.render import plan


@dataclass(frozen=True)
class Source:
    """A file that goes into the pictures.

    name: what the scene calls it, relative to the scene where possible: a film folder may move to another place
    path: where it lies now
    """

    name: str
    path: Path


# What stands for the changing piece of a name, and what that piece looks like.
_CHANGING = ((r"<UDIM>", r"\d{4}"), (r"<UVTILE>", r"u\d+_v\d+"), (r"\d+(?=\D*$)", r"\d+"))


def numbered(path: Path) -> list[Path]:
    """The files of a sequence or of a tiled image, given one of them or a name with <UDIM> in it; [] where none is."""
    for piece, looks in _CHANGING:
        place = re.search(piece, path.name)
        if place is not None and path.parent.is_dir():
            like = re.compile(re.escape(path.name[: place.start()]) + looks + re.escape(path.name[place.end() :]))
            return sorted(other for other in path.parent.iterdir() if like.fullmatch(other.name) and other.is_file())
    return [path] if path.is_file() else []


def digest(path: Path) -> str:
    """The file's SHA-256 in hex. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def fingerprint(scene: str, sources: Iterable[Source], settings: Mapping[str, object]) -> str:
    """SHA-256 over the scene file's digest, every source's bytes and the settings (plain JSON). Raises OSError.

    A source that is not there counts too: once it turns up, the pictures are others. A scene saved again without a
    change may get another fingerprint; its pictures are then rendered again, which is slow but never wrong.
    """
    parts = {
        "plan": plan.SCHEMA,
        "scene": scene,
        "sources": sorted((s.name, digest(s.path) if s.path.is_file() else "") for s in set(sources)),
        "settings": dict(settings),
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()
