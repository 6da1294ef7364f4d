"""A renderer that needs no Blender: it paints each picture in one grey, so a file tells which picture it is."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from pastepot.render.frames import FrameFolder, Job, opened
from pastepot.render.plan import Plan

SIZE = (4, 3)


def picture(grey: int, size: tuple[int, int] = SIZE) -> bytes:
    """A PNG after ISO/IEC 15948: 8-bit grey, one value."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = (b"\0" + bytes([grey]) * size[0]) * size[1]
    header = struct.pack(">IIBBBBB", *size, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def on_twos(last: int = 6, first: int = 1) -> Plan:
    frames = np.arange(first, last + 1)
    return Plan(frames, frames - (frames - first) % 2)


class Renderer:
    """Renders a plan into a folder; `stop_after` pictures it gives up, as if stopped between two."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rendered: list[int] = []

    def __call__(
        self, plan: Plan, fingerprint: str = "a", *, shade: int = 0, stop_after: int | None = None
    ) -> FrameFolder:
        self.rendered = []
        with opened(self.folder, Job(plan, fingerprint, Fraction(12), SIZE)) as frames:
            for number in frames.missing():
                if len(self.rendered) == stop_after:
                    return frames
                frames.draft(number).write_bytes(picture(number + shade))
                frames.take(number)
                self.rendered.append(number)
            frames.finish()
        return frames

    def frames(self) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in sorted(self.folder.glob("frame_*.png"))}


@pytest.fixture
def render(tmp_path: Path) -> Renderer:
    return Renderer(tmp_path / "frames")


@pytest.fixture
def twos() -> Callable[..., Plan]:
    return on_twos


@pytest.fixture
def png_bytes() -> Callable[..., bytes]:
    return picture
