"""The folder a film's frames go into: a file for each frame, a picture's file shared by all frames that show it.

A picture is rendered under another name, proved whole, told to the journal, and only then gets its place; the frames
that show it too become hard links of it. So a render can be stopped, or the power fail, at any moment: the next one
keeps what is proved and does the rest. What is in the folder and not ours is never replaced.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from pastepot.errors import PastepotError, Problem
from pastepot.library import png
from pastepot.render import journal
from pastepot.render.fingerprint import digest
from pastepot.render.journal import Entry, Journal
from pastepot.render.lock import locked
from pastepot.render.plan import Plan

LIST = "frames.json"
SCHEMA = 1

_DRAFTS = (".frame-*.png", f".{Path(journal.NAME).stem}-*.jsonl", f".{Path(LIST).stem}-*.json")
_NAMED = 8  # so many files are named in a message, the rest counted
_FULL = (errno.ENOSPC, errno.EDQUOT)
_LITTLE = (
    1 << 24
)  # with less space than this left on the disk, a picture that was not written whole needs no other cause


@dataclass(frozen=True)
class Job:
    """What is rendered.

    fingerprint: of all that goes into the pictures
    fps:         frames a second
    size:        width and height in pixels; None where only the renderer knows
    """

    plan: Plan
    fingerprint: str
    fps: Fraction
    size: tuple[int, int] | None = None


@dataclass
class Counts:
    """What has been done: pictures kept from before and rendered now, frames placed as links and as copies."""

    kept: int = 0
    rendered: int = 0
    linked: int = 0
    copied: int = 0


def file_name(frame: int) -> str:
    """A frame's file: frame_0001.png, with more digits from frame 10,000 on."""
    return f"frame_{frame:04d}.png"


class FrameFolder:
    """A render on its way into a folder; made by `opened`. OSErrors come out as PastepotErrors with what to do."""

    def __init__(self, folder: Path, job: Job) -> None:
        self.folder, self.job = folder, job
        self.counts = Counts()
        self._digests: dict[tuple[int, ...], str] = {}
        self._size = job.size
        self._listed = _listed(folder)
        known = self._known()
        self._refuse_foreign(known)
        mine = known.entries if known.fingerprint == job.fingerprint else {}
        self._entries = {e.frame: self._seen_again(e) for e in mine.values() if self._holds(e.file, e.sha256)}
        self._before = self._listed_before(known)
        self._begin(known)
        kept = [self._entries[int(p)] for p in job.plan.pictures if int(p) in self._entries]
        for entry in kept:
            self._place(entry)
        self.counts.kept = len(kept)

    def missing(self) -> list[int]:
        """The pictures that still have to be rendered, in order."""
        return [int(p) for p in self.job.plan.pictures if int(p) not in self._entries]

    def draft(self, picture: int) -> Path:
        """Where to render a picture to."""
        return self.folder / f".frame-{picture}.png"

    def take(self, picture: int) -> None:
        """Prove the picture's draft whole and put it in its place, and in that of every frame that shows it."""
        draft = self.draft(picture)
        try:
            size = png.verify(draft).size
        except png.PngError as error:
            raise PastepotError(full_disk(self.folder) or _not_whole(self.folder, picture, error.what)) from None
        self._size = self._size or size
        if size != self._size:
            raise PastepotError(_wrong_size(picture, size, self._size))
        with disk_problems(self.folder):
            _sync(draft)
            shown = tuple(file_name(frame) for frame in self.job.plan.shown_on(picture))
            entry = Entry(picture, file_name(picture), digest(draft), draft.stat().st_size, shown)
            self._journal.add(entry)  # before any file has its name: a file the journal does not know is not ours
            draft.replace(self.folder / entry.file)
            self._entries[picture] = entry
            self._place(entry)
        self.counts.rendered += 1

    def finish(self) -> None:
        """Write frames.json, once every picture is there."""
        plan = self.job.plan
        picture = self._before | {int(f): int(p) for f, p in zip(plan.frames, plan.picture, strict=True)}
        frames = sorted(picture)
        values = {
            "schema": SCHEMA,
            "fps": str(self.job.fps),
            "size": self._size or png.read(self.folder / file_name(frames[0])).size,
            "first": frames[0],
            "last": frames[-1],
            "frames": {str(frame): file_name(frame) for frame in frames},
            "pictures": {str(frame): picture[frame] for frame in frames},
            "sha256": {str(p): self._entries[p].sha256 for p in sorted(set(picture.values()))},
            "fingerprint": self.job.fingerprint,
        }
        with disk_problems(self.folder):
            journal.write_whole(self.folder / LIST, json.dumps(values, indent=1) + "\n")

    def close(self) -> None:
        """Let go of the journal."""
        self._journal.close()

    def _known(self) -> Journal:
        """What we ever wrote here: by the journal, and by frames.json where the journal is gone."""
        known = journal.read(self.folder)
        if self._listed is not None:
            for frame, picture in self._listed["pictures"].items():
                known.know(file_name(int(frame)), str(self._listed["sha256"][str(picture)]))
        return known

    def _refuse_foreign(self, known: Journal) -> None:
        """PastepotError if a file we would replace is not as we left it: somebody made or changed it."""
        names = [file_name(int(frame)) for frame in self.job.plan.frames]
        foreign = [name for name in names if not self._replaceable(name, known)]
        if (self.folder / LIST).exists() and self._listed is None:
            foreign.append(LIST)
        if foreign:
            raise PastepotError(_foreign(self.folder, foreign))

    def _replaceable(self, name: str, known: Journal) -> bool:
        """Whether nothing is lost if the file goes: it is as we wrote it, or a piece of it that a power cut left."""
        path = self.folder / name
        if not os.path.lexists(path):
            return True
        if path.is_symlink() or not path.is_file():
            return False
        if self._digest(path) in known.ours.get(name, ()):
            return True
        return name in known.ours and not _whole(path)

    def _holds(self, name: str, sha256: str) -> bool:
        path = self.folder / name
        return path.is_file() and not path.is_symlink() and self._digest(path) == sha256

    def _digest(self, path: Path) -> str:
        """The file's bytes as one value; links of one file are read once."""
        status = path.stat()
        key = (status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)
        if not status.st_ino or key not in self._digests:  # a file system without such numbers gives 0
            self._digests[key] = digest(path)
        return self._digests[key]

    def _seen_again(self, entry: Entry) -> Entry:
        """The entry with the files of this plan, which may show the picture on other frames than the last one did."""
        now = [file_name(frame) for frame in self.job.plan.shown_on(entry.frame)]
        return Entry(entry.frame, entry.file, entry.sha256, entry.bytes, tuple(dict.fromkeys([*now, *entry.shown])))

    def _begin(self, known: Journal) -> None:
        """Start the journal with what stays, then clear away drafts and the list of another job's frames."""
        covered = {(name, e.sha256) for e in self._entries.values() for name in (e.file, *e.shown)}
        every = {(name, sha256) for name, all_of_it in known.ours.items() for sha256 in all_of_it}
        earlier = [pair for pair in sorted(every - covered) if os.path.lexists(self.folder / pair[0])]
        self._journal = journal.Writer(self.folder, self.job.fingerprint, self._entries.values(), earlier)
        for pattern in _DRAFTS:
            for draft in self.folder.glob(pattern):
                draft.unlink(missing_ok=True)
        if self._listed is not None and self._listed["fingerprint"] != self.job.fingerprint:
            (self.folder / LIST).unlink()

    def _place(self, entry: Entry) -> None:
        """Let every frame of this plan that shows the picture have it."""
        source = self.folder / entry.file
        for frame in self.job.plan.shown_on(entry.frame):
            target = self.folder / file_name(frame)
            if target == source or self._holds_same(target, source):
                continue
            if _link(source, target, self.draft(frame)):
                self.counts.linked += 1
            else:
                self.counts.copied += 1

    def _holds_same(self, target: Path, source: Path) -> bool:
        if not target.is_file():
            return False
        if target.samefile(source):
            return True
        return self._digest(target) == self._digest(source)

    def _listed_before(self, known: Journal) -> dict[int, int]:
        """The picture of each frame outside this plan that the same job has put here before and that is still so."""
        if self._listed is None or self._listed["fingerprint"] != self.job.fingerprint:
            return {}
        planned = {int(frame) for frame in self.job.plan.frames}
        listed = {int(frame): int(picture) for frame, picture in self._listed["pictures"].items()}
        return {
            frame: picture
            for frame, picture in listed.items()
            if frame not in planned
            and picture in self._entries
            and self._holds(file_name(frame), self._entries[picture].sha256)
        }


@contextlib.contextmanager
def opened(folder: Path, job: Job) -> Iterator[FrameFolder]:
    """The folder, made if it is missing and locked for this process, with everything from before looked through.

    Raises PastepotError if another render is running into it, or if it holds frame files that are not ours.
    """
    with contextlib.ExitStack() as stack:
        with disk_problems(folder):
            folder.mkdir(parents=True, exist_ok=True)
            stack.enter_context(locked(folder))
            frames = FrameFolder(folder, job)
        stack.callback(frames.close)
        yield frames


@contextlib.contextmanager
def disk_problems(folder: Path) -> Iterator[None]:
    """Turn an OSError on the way into a PastepotError that says what to do."""
    try:
        yield
    except OSError as error:
        if error.errno in _FULL:
            raise PastepotError(_full(folder)) from error
        said = error.strerror or str(error)
        raise PastepotError(
            Problem(f"The frames could not be written: {said}.", "Check the folder and its permissions.", str(folder))
        ) from error


def full_disk(folder: Path) -> Problem | None:
    """Whether a full disk is why a picture was not written."""
    with contextlib.suppress(OSError):
        if shutil.disk_usage(folder).free < _LITTLE:
            return _full(folder)
    return None


def _full(folder: Path) -> Problem:
    return Problem(
        "The disk is full.",
        "Make room on it and render again: the finished pictures are kept, only the rest is rendered.",
        str(folder),
    )


def _foreign(folder: Path, names: list[str]) -> Problem:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    these = ", ".join(names[:_NAMED]) + more
    return Problem(
        f"There are files here that this render did not write, or that were changed since: {these}.",
        "Nothing was touched. Choose another folder with -o, or move these files away.",
        str(folder),
    )


def _not_whole(folder: Path, picture: int, said: str) -> Problem:
    return Problem(
        f"The picture of frame {picture} was not written whole: {said}",
        "Render again: what is finished is kept. If it stays so, check the disk.",
        str(folder),
    )


def _wrong_size(picture: int, size: tuple[int, int], wanted: tuple[int, int]) -> Problem:
    return Problem(
        f"The picture of frame {picture} came out {size[0]} × {size[1]} pixels instead of {wanted[0]} × {wanted[1]}.",
        "Take keys and drivers off the scene's resolution, and render again.",
    )


def _listed(folder: Path) -> dict[str, Any] | None:
    """What frames.json says; None if it is not there or not ours."""
    try:
        values = json.loads((folder / LIST).read_bytes())
        complete = values["schema"] == SCHEMA and bool(values["fingerprint"])
        for frame, picture in values["pictures"].items():
            complete &= values["frames"][frame] == file_name(int(frame)) and bool(values["sha256"][str(picture)])
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return values if complete else None


def _whole(path: Path) -> bool:
    try:
        png.verify(path)
    except png.PngError:
        return False
    return True


def _sync(path: Path) -> None:
    """Have the file's bytes on the disk, not only in memory."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _link(source: Path, target: Path, draft: Path) -> bool:
    """Give the file a second name; False if the file system will not and a copy was made. Replaces what is there."""
    linked = True
    try:
        os.link(source, draft)
    except OSError as error:
        if error.errno in _FULL:
            raise
        linked = False
        shutil.copyfile(source, draft)
        _sync(draft)
    draft.replace(target)
    return linked
