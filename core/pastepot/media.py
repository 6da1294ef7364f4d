"""Sounds and films opened with PyAV, and told of in words where that fails."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

from pastepot import extras
from pastepot.errors import PastepotError, Problem

_NOTHING = {"audio": "It holds no sound.", "video": "It holds no moving picture."}


@contextlib.contextmanager
def opened(
    path: Path, kind: Literal["audio", "video"], step: str, unusable: Callable[[Path, str], Problem]
) -> Iterator[tuple[Any, Any]]:
    """PyAV's container of a file, and its first stream of this kind.

    unusable: makes a Problem of the path and the reason. Raises PastepotError with it where the file is missing, holds
    no such stream, or fails while it is being read in the block; MissingExtra, for this step, without PyAV.
    """
    av = extras.load("av", "film", step)
    try:
        with path.open("rb") as file, contextlib.closing(av.open(file, "r")) as container:
            streams = getattr(container.streams, kind)
            if not streams:
                raise PastepotError(unusable(path, _NOTHING[kind]))
            yield container, streams[0]
    except FileNotFoundError:
        raise PastepotError(unusable(path, "The file is missing.")) from None
    except (av.FFmpegError, OSError, ValueError) as error:
        reason = getattr(error, "strerror", "") or str(error)
        raise PastepotError(unusable(path, f"It can't be read ({reason}).")) from None
