"""Edits of a plan: values that are kept beside the scene and done again whenever the plan is made anew.

Exposures slide; extremes do not. A key stays on its frame, and an exposure that has slid over it shows it: the picture
changes when the edit says, and what it changes to is still the animator's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any, Literal, get_args

import numpy as np

from pastepot.errors import Misuse, Problem
from pastepot.timing.exposures import Frames
from pastepot.units import convert_frames

Kind = Literal["lengthen", "shorten", "insert", "drop"]


@dataclass(frozen=True)
class Edit:
    """One change to the exposure that is on show at `frame`.

    lengthen: it lasts `frames` longer · shorten: so much shorter · insert: a new exposure begins on `frame`, and lasts
    `frames` where the rest slides · drop: it goes.
    slide: everything after it moves along; else the exposure after it gives or takes the frames (and the one before it
    takes those of a dropped one).
    """

    kind: Kind
    frame: int
    frames: int = 1
    slide: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Plain values, to be kept in a file."""
        return asdict(self)

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Edit:
        """From plain values. Misuse for what is no edit."""
        kinds = get_args(Kind)
        whole = all(type(values.get(name, 1)) is int for name in ("frame", "frames"))
        known = values.keys() <= {"kind", "frame", "frames", "slide"} and "frame" in values
        if not (known and whole and values.get("kind") in kinds and isinstance(values.get("slide", False), bool)):
            raise Misuse(
                Problem(
                    f"{dict(values)} is no edit of a plan.", f"Give kind ({', '.join(kinds)}), frame, frames and slide."
                )
            )
        return cls(**values)


def edited(starts: Frames, last: int, edits: Sequence[Edit]) -> tuple[Frames, list[Problem]]:
    """The plan after all edits, in order, and a warning for each that no longer fits and was left out.

    A plan always covers first..last: what slides beyond `last` is lost, and the last exposure fills what is left.
    """
    problems = []
    for edit in edits:
        new = _done(starts, last, edit)
        if isinstance(new, str):
            what = f"The edit '{edit.kind}' at frame {edit.frame} was left out: {new}"
            problems.append(Problem(what, "Take the edit back, or do it again elsewhere.", severity="warning"))
        else:
            starts = new
    return starts, problems


def at_rate(edits: Sequence[Edit], old: Fraction, new: Fraction, first_frame: int) -> tuple[Edit, ...]:
    """The same edits in a film of another rate, to the nearest frame."""
    frames = convert_frames(np.array([e.frame for e in edits], np.int64), old, new, first_frame).tolist()
    return tuple(
        Edit(e.kind, frame, max(1, round(e.frames * new / old)), e.slide)
        for e, frame in zip(edits, frames, strict=True)
    )


def _done(starts: Frames, last: int, edit: Edit) -> Frames | str:
    """The plan after one edit, or why it can't be done."""
    if not starts[0] <= edit.frame <= last:
        return "the plan has no such frame."
    if edit.frames < 1:
        return "it changes no frames."
    at = int(np.searchsorted(starts, edit.frame, side="right")) - 1
    return _DO[edit.kind](starts, last, at, edit)


def _lengthen(starts: Frames, last: int, at: int, edit: Edit) -> Frames | str:
    if at == len(starts) - 1:
        return "it is the last exposure, and lasts to the end already."
    head, tail = starts[: at + 1], starts[at + 1 :]
    if edit.slide:
        tail = tail + edit.frames
        return np.append(head, tail[tail <= last])
    begin = tail[0] + edit.frames
    if begin > last:
        return head
    # exposures that are covered whole are gone; the one that is covered in part begins later
    beyond = np.searchsorted(np.append(tail[1:], last + 1), begin, side="right")
    return np.concatenate([head, [begin], tail[beyond + 1 :]])


def _shorten(starts: Frames, last: int, at: int, edit: Edit) -> Frames | str:
    if at == len(starts) - 1:
        return "it is the last exposure, and has to last to the end."
    if starts[at + 1] - starts[at] <= edit.frames:
        return "nothing would be left of that exposure."
    out = starts.copy()
    if edit.slide:
        out[at + 1 :] -= edit.frames
    else:
        out[at + 1] -= edit.frames
    return out


def _insert(starts: Frames, last: int, at: int, edit: Edit) -> Frames | str:
    head, tail = starts[starts < edit.frame], starts[starts >= edit.frame]
    if not edit.slide:
        return np.union1d(starts, [edit.frame])
    # what the exposure had left after this frame comes after the new one
    rest = tail if starts[at] == edit.frame else np.append(edit.frame, tail)
    moved = rest + edit.frames
    return np.concatenate([head, [edit.frame], moved[moved <= last]])


def _drop(starts: Frames, last: int, at: int, edit: Edit) -> Frames | str:
    if len(starts) == 1:
        return "it is the only exposure."
    if edit.slide:
        if at == len(starts) - 1:
            return np.asarray(starts[:-1])
        return np.append(starts[:at], starts[at + 1 :] - (starts[at + 1] - starts[at]))
    if at == 0:
        return np.append(starts[:1], starts[2:])  # the one after it begins where it did
    return np.delete(starts, at)


_DO: Mapping[Kind, Callable[[Frames, int, int, Edit], Frames | str]] = {
    "lengthen": _lengthen,
    "shorten": _shorten,
    "insert": _insert,
    "drop": _drop,
}
