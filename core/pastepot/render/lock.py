"""One render at a time in a folder.

The operating system holds the lock and lets go of it when the process ends, however it ends: a lock left behind by a
crash is free again, and no process number has to be trusted. The number in the file is only for the message.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from pastepot.errors import PastepotError, Problem

NAME = "render.lock"

_BUSY = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
_FAR = 1 << 30  # Windows keeps others from reading what is locked: lock a byte that is not there


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder for this process. PastepotError if another one has it."""
    path = folder / NAME
    handle = _open(path)
    try:
        yield
    finally:
        if sys.platform != "win32":  # removed while still locked, so that nobody can be waiting on a file that is gone
            path.unlink(missing_ok=True)
        os.close(handle)
        if sys.platform == "win32":
            with contextlib.suppress(OSError):  # somebody else has it open by now
                path.unlink()


def _open(path: Path) -> int:
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _take(handle)
        except OSError as error:
            owner = os.read(handle, 20).decode("ascii", "replace").strip()
            os.close(handle)
            if error.errno in _BUSY:
                raise PastepotError(_busy(path, owner)) from None
            raise
        if _still_there(handle, path):
            os.ftruncate(handle, 0)
            os.write(handle, f"{os.getpid()}\n".encode())
            return handle
        os.close(handle)  # its last owner removed it between our opening and our locking


def _busy(path: Path, owner: str) -> Problem:
    who = f"process {owner}" if owner else "another process"
    return Problem(
        f"A render into this folder is running ({who}).",
        "Wait for it or stop it, or choose another folder.",
        str(path.parent),
    )


def _still_there(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        os.lseek(handle, _FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        finally:
            os.lseek(handle, 0, os.SEEK_SET)

else:
    import fcntl

    def _take(handle: int) -> None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno not in (errno.ENOLCK, errno.ENOTSUP):
                raise
            # A file system without locks: rendering goes on, only two renders at once are not kept apart.
