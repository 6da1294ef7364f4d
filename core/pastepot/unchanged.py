"""Work on a file's content that is not done twice while the file stays as it is."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")
_Stamp = tuple[int, ...]

# A file written a moment ago could be written again without its times showing it: discs keep them coarsely (FAT: 2 s).
_SETTLED_NS = 2_500_000_000
_MOST = 4096


def once_per_content(work: Callable[[Path], T]) -> Callable[[Path], T]:
    """`work` of a path, remembered in this process until the file's size, times or identity change.

    Errors are not remembered, nor is anything about a file that changed within the last seconds.
    """
    known: dict[Path, tuple[_Stamp, T]] = {}

    @wraps(work)
    def remembering(path: Path) -> T:
        stamp = _stamp(path)
        found = known.get(path)
        if stamp is not None and found is not None and found[0] == stamp:
            return found[1]
        result = work(path)
        if stamp is not None and stamp == _stamp(path) and time.time_ns() - max(stamp[3:]) > _SETTLED_NS:
            if len(known) >= _MOST:
                known.clear()
            known[path] = stamp, result
        return result

    return remembering


def _stamp(path: Path) -> _Stamp | None:
    """Which file is there and when it last changed; None if there is none."""
    try:
        status = path.stat()
    except (OSError, ValueError):
        return None
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns, status.st_ctime_ns
