"""A film folder to break, and PNGs written chunk by chunk so that each can be broken in its own way."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest
from pastepot import film
from pastepot.errors import Problem
from pastepot.library import check
from pastepot.tomledit import literal

SIGNATURE = b"\x89PNG\r\n\x1a\n"


def chunk(kind: bytes, data: bytes = b"") -> bytes:
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")


def header(width: int = 60, height: int = 80, depth: int = 8, colour: int = 6, rest: bytes = b"\0\0\0") -> bytes:
    return chunk(b"IHDR", width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes((depth, colour)) + rest)


def density(x: int, y: int | None = None, unit: int = 1) -> bytes:
    return chunk(b"pHYs", x.to_bytes(4, "big") + (x if y is None else y).to_bytes(4, "big") + bytes((unit,)))


def png(width: int = 60, height: int = 80, colour: int = 6, extra: bytes = density(11811)) -> bytes:
    """A whole 8-bit PNG of black pixels."""
    rows = bytes(height * (1 + width * {0: 1, 2: 3, 6: 4}[colour]))
    return SIGNATURE + header(width, height, 8, colour) + extra + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND")


class FilmFolder:
    """A film folder; `part` adds a good part unless told otherwise, `problems` is what `check` finds."""

    def __init__(self, path: Path) -> None:
        self.path = path
        film.create(path, "Waiting for the Teapot", 12, (1920, 1080))
        self.parts_toml = path / "parts.toml"
        self.film_toml = path / "film.toml"
        self.parts_toml.write_text("schema = 1\n")

    def part(self, name: str = "heron-head", picture: bytes | None = None, **fields: object) -> None:
        """Fields of None are left out. The image is written unless it has an unusual path."""
        values: dict[str, object] = {
            "name": name,
            "character": "heron",
            "type": "head",
            "image": f"parts/{name}.png",
            "px_per_mm": 11.811,
            "pivot_mm": [2.0, 3.0],
            **fields,
        }
        mouth = values.pop("mouth", None)
        lines = [f"{key} = {literal(value)}" for key, value in values.items() if value is not None]
        if isinstance(mouth, dict):
            lines += ["[part.mouth]", *(f"{key} = {literal(value)}" for key, value in mouth.items())]
        with self.parts_toml.open("a") as file:
            file.write("\n[[part]]\n" + "\n".join(lines) + "\n")
        if values["image"] == f"parts/{name}.png":
            self.picture(f"{name}.png", png() if picture is None else picture)

    def picture(self, name: str, data: bytes | None = None) -> Path:
        path = self.path / "parts" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(png() if data is None else data)
        return path

    def problems(self) -> list[Problem]:
        return check.check(self.path)


@pytest.fixture
def folder(tmp_path: Path) -> FilmFolder:
    return FilmFolder(tmp_path / "kettle-pond")


@pytest.fixture
def make_png():
    """The functions that write PNGs: .png(...), .chunk(...), .header(...), .density(...), .signature."""

    class Maker:
        signature = SIGNATURE

    Maker.png, Maker.chunk, Maker.header, Maker.density = map(staticmethod, (png, chunk, header, density))
    return Maker
