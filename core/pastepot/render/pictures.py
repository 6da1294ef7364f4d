"""The finished pictures of a film, as a render left them: listed, checked all at once, and decoded one by one."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import PastepotError, Problem
from pastepot.library import png
from pastepot.render.frames import LIST, SCHEMA

Progress = Callable[[int, int, str], None]

_RENDER_AGAIN = "Render these frames again, then deliver."


@dataclass(frozen=True)
class Pictures:
    """The pictures of consecutive frames.

    size:  width and height in pixels that every picture should have
    first: the frame that files[0] shows; the files are absolute paths
    unlisted: frames of the range that the list lacks; their place in `files` is taken by a path that is no file
    """

    folder: Path
    fps: Fraction
    size: tuple[int, int]
    first: int
    files: tuple[Path, ...]
    unlisted: tuple[int, ...] = ()

    def frames_of(self) -> dict[Path, list[int]]:
        """Each distinct file, under the path that shows it first, and the frames that show it (hard links are one)."""
        by_file: dict[tuple[int, int] | Path, tuple[Path, list[int]]] = {}
        for frame, path in enumerate(self.files, self.first):
            by_file.setdefault(same_file(path), (path, []))[1].append(frame)
        return dict(by_file.values())


def same_file(path: Path) -> tuple[int, int] | Path:
    """A value that is equal for two paths of one file; the path itself where the file system can't tell."""
    try:
        status = path.stat()
    except OSError:
        return path
    return (status.st_dev, status.st_ino) if status.st_ino else path


def listed(folder: Path) -> Pictures:
    """What the folder's frames.json says. Raises PastepotError if it is not there or not sound."""
    place = str(folder / LIST)
    try:
        values = json.loads((folder / LIST).read_bytes())
    except FileNotFoundError:
        raise PastepotError(
            Problem(
                "There is no finished render here.", "Run pastepot render into this folder until it is done.", place
            )
        ) from None
    except (OSError, ValueError) as error:
        raise PastepotError(Problem(f"The list of frames can't be read ({error}).", "Render again.", place)) from None
    try:
        fps, size, first, last, names = _values(values)
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError) as error:
        said = f"The list of frames does not make sense ({type(error).__name__}: {error})."
        raise PastepotError(Problem(said, "Render again.", place)) from None
    root = folder.resolve()
    files = tuple(root / names.get(n, f"frame {n} is not listed") for n in range(first, last + 1))
    return Pictures(folder, fps, size, first, files, tuple(n for n in range(first, last + 1) if n not in names))


def _values(values: Any) -> tuple[Fraction, tuple[int, int], int, int, dict[int, str]]:
    """The list's fields, or one of the exceptions that the caller turns into words."""
    if values["schema"] != SCHEMA:
        raise ValueError(f"schema {values['schema']!r}, where this version knows {SCHEMA}")
    fps = Fraction(values["fps"])
    width, height = (int(v) for v in values["size"])
    first, last = int(values["first"]), int(values["last"])
    names = {int(number): str(name) for number, name in values["frames"].items()}
    if fps <= 0 or width < 1 or height < 1 or first > last or not names:
        raise ValueError("a rate, size or range that is not above nothing")
    strange = [name for name in names.values() if name != Path(name).name or name in ("", ".", "..")]
    if strange:
        raise ValueError(f"{strange[0]!r} is not a file of the folder itself")
    return fps, (width, height), first, last, names


def problems(pictures: Pictures, progress: Progress) -> list[Problem]:
    """All that keeps these pictures from becoming a film. Each distinct file is read through once."""
    files = pictures.frames_of()
    found: list[Problem] = []
    absent: list[int] = []
    size_off: dict[tuple[int, int], list[int]] = {}
    clear: list[int] = []
    with ThreadPoolExecutor(max_workers=2) as pool:
        for done, (path, answer) in enumerate(zip(files, pool.map(_examined, files), strict=True), 1):
            progress(done, len(files), "Checking pictures")
            if answer == "absent":
                absent += files[path]
            elif isinstance(answer, png.PngError):
                found.append(Problem(answer.what, _RENDER_AGAIN, path.name))
            elif isinstance(answer, png.Info):
                if answer.size != pictures.size:
                    size_off.setdefault(answer.size, []).extend(files[path])
                if answer.has_alpha and not _opaque(path):
                    clear += files[path]
    if pictures.unlisted:
        found.append(Problem(f"The list lacks {runs(pictures.unlisted)}.", _RENDER_AGAIN, LIST))
    absent = sorted(set(absent) - set(pictures.unlisted))
    if absent:
        found.append(Problem(f"The picture files of {runs(absent)} are missing.", _RENDER_AGAIN))
    found += [_wrong_size(frames, size, pictures.size) for size, frames in size_off.items()]
    if clear:
        found.append(
            Problem(
                f"The pictures of {runs(clear)} have see-through pixels, and a film has none.",
                "Render as RGB, without a transparent background; or lay the pictures over a backdrop first.",
            )
        )
    return found


def _examined(path: Path) -> png.Info | png.PngError | str:
    if not path.exists():
        return "absent"
    try:
        return png.verify(path)
    except png.PngError as error:
        return error


def _wrong_size(frames: list[int], size: tuple[int, int], wanted: tuple[int, int]) -> Problem:
    return Problem(
        f"The pictures of {runs(frames)} are {size[0]} x {size[1]} pixels instead of {wanted[0]} x {wanted[1]}.",
        "Render them again at the film's size.",
    )


def runs(frames: Iterable[int]) -> str:
    """Frame numbers in words: 'frame 7', 'frames 1-5, 8 and 11-12'."""
    ordered = np.unique(np.fromiter(frames, np.int64))
    parts = np.split(ordered, np.flatnonzero(np.diff(ordered) > 1) + 1)
    texts = [str(part[0]) if len(part) == 1 else f"{part[0]}-{part[-1]}" for part in parts]
    if len(texts) > 12:
        texts = [*texts[:12], f"{len(texts) - 12} more runs"]
    noun = "frame" if len(ordered) == 1 else "frames"
    return f"{noun} {', '.join(texts[:-1])} and {texts[-1]}" if len(texts) > 1 else f"{noun} {texts[0]}"


def decode(path: Path) -> NDArray[np.uint8]:
    """The picture as (height, width, 3) 8-bit RGB; 16-bit samples are rounded, alpha is left out."""
    pixels = _samples(path)[..., :3]
    if pixels.dtype == np.uint8:
        return np.ascontiguousarray(pixels)
    return ((pixels.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)


def _opaque(path: Path) -> bool:
    alpha = _samples(path)[..., 3:]
    return bool((alpha == np.iinfo(alpha.dtype).max).all())


def _samples(path: Path) -> NDArray[Any]:
    """(height, width, 3 or 4), 8 or 16 bits a sample, as the file has them."""
    import av

    decoder = av.CodecContext.create("png", "r")
    decoder.thread_count = 1  # else it keeps the picture back until the next one
    [frame] = decoder.decode(av.Packet(path.read_bytes()))
    assert isinstance(frame, av.VideoFrame)
    name = frame.format.name
    deep = {"rgb48be": "rgb48be", "gray16be": "gray16be", "rgba64be": "rgba64be", "ya16be": "rgba64be"}
    plain = "rgb24" if name in ("rgb24", "gray", "monob") else "rgba"
    pixels: NDArray[Any] = frame.to_ndarray(format=deep.get(name, plain))
    return np.stack([pixels] * 3, axis=-1) if pixels.ndim == 2 else pixels
