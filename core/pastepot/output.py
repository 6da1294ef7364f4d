"""Writing files so that nothing is ever half there: a new file is finished beside its place, then moved in."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pastepot.errors import PastepotError, Problem


def output_problems(path: Path, overwrite: bool) -> list[Problem]:
    """Why `path` can't be written: its folder is missing, it is a folder, or it exists and may not be replaced."""
    if not path.parent.is_dir():
        return [Problem(f"The folder {path.parent} does not exist.", "Make it first, or correct the output's path.")]
    if path.is_dir():
        return [Problem(f"{path} is a folder.", "Name a file to write.")]
    if path.exists() and not overwrite:
        return [Problem(f"{path} exists already.", "Choose another name, or say --overwrite to replace it.")]
    return []


@contextmanager
def replacing(path: Path, *, overwrite: bool) -> Iterator[Path]:
    """A fresh path beside `path` to write to; moved to `path` when the block ends well, else removed.

    The suffix is kept, so writers that go by it work. Without `overwrite`, a file that turned up at `path` in the
    meantime is left alone and PastepotError is raised.
    """
    draft = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(4)}{path.suffix}")
    try:
        yield draft
        problems = output_problems(path, overwrite)
        if problems:
            raise PastepotError(*problems)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
