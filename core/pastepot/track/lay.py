"""The mouths of a character for a run of exposures, from the readings of all its lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pastepot.timing.exposures import Frames
from pastepot.track import choose
from pastepot.track.choose import Seen
from pastepot.track.mouths import MouthSet
from pastepot.track.reading import LineReading

_APART_S = 0.5  # lines further apart than this do not know of each other
_AROUND = 2  # exposures before and after, in which the mouth opens and comes to rest


def lay(
    lines: Sequence[LineReading],
    mouths: MouthSet,
    starts: Frames,
    last: int,
    fps: Fraction,
    first: int,
    lead_s: float = 0.0,
) -> NDArray[np.int64]:
    """(E,) index of the mouth on each exposure of a plan; at rest where no line is spoken.

    starts: (E,) frames on which exposures begin, last: the last frame; first: the frame on which the sound begins
    """
    chosen = np.full(len(starts), mouths.rest, np.int64)
    at = (starts - first) / float(fps) + lead_s
    final = (last + 1 - first) / float(fps) + lead_s
    for group in _groups(lines):
        speech = [seen for line in group for seen in speech_of(line, mouths)]
        if not speech:
            continue
        begin, end = min(s.start for s in speech), max(s.end for s in speech)
        if end <= at[0] or begin >= final:
            continue
        i = max(int(np.searchsorted(at, begin, "right")) - 1 - _AROUND, 0)
        j = min(int(np.searchsorted(at, end, "left")) + _AROUND, len(starts))
        until = int(starts[j]) - 1 if j < len(starts) else last
        chosen[i:j] = choose.choose(starts[i:j] - first, until - first, fps, speech, mouths, lead_s)
    _by_hand(chosen, lines, mouths, starts, last)
    return chosen


def speech_of(line: LineReading, mouths: MouthSet) -> list[Seen]:
    """What is to be seen of one line."""
    found = choose.seen(line.sounds, mouths)
    for rough in line.rough:
        found += choose.seen_roughly(rough.start, rough.step, rough.opens)
    return found


def _groups(lines: Sequence[LineReading]) -> Iterator[list[LineReading]]:
    """Lines that touch or nearly do, together."""
    group: list[LineReading] = []
    until = float("-inf")
    for line in sorted(lines, key=lambda x: x.start):
        if group and line.start > until + _APART_S:
            yield group
            group = []
        group.append(line)
        until = max(until, line.end)
    if group:
        yield group


def _by_hand(
    chosen: NDArray[np.int64], lines: Sequence[LineReading], mouths: MouthSet, starts: Frames, last: int
) -> None:
    """Put in what the person chose; a mouth that the set has no longer is passed over."""
    index = {part.name: n for n, part in enumerate(mouths.mouths)}
    for line in lines:
        for frame, name in line.by_hand.get(mouths.name, {}).items():
            if name in index and starts[0] <= frame <= last:
                chosen[int(np.searchsorted(starts, frame, "right")) - 1] = index[name]


def changes(chosen: NDArray[np.int64], starts: Frames, mouths: MouthSet) -> dict[int, str]:
    """Frame -> mouth, where the mouth becomes another."""
    differs = np.flatnonzero(np.diff(chosen, prepend=-1))
    return {int(starts[e]): mouths.mouths[int(chosen[e])].name for e in differs}


def spoken(
    lines: Sequence[LineReading],
    mouths: MouthSet,
    starts: Frames,
    last: int,
    fps: Fraction,
    first: int,
    lead_s: float = 0.0,
) -> NDArray[np.bool_]:
    """(E,) the exposures that belong to lines: from a line's first sound to its last, and one at rest after it."""
    belongs = np.zeros(len(starts), bool)
    begin = (starts - first) / float(fps) + lead_s
    end = (np.append(starts[1:], last + 1) - first) / float(fps) + lead_s
    for line in lines:
        speech = speech_of(line, mouths)
        if speech:
            a, b = min(s.start for s in speech), max(s.end for s in speech)
            belongs |= (end > a) & (begin < b)
    belongs[1:] |= belongs[:-1]
    for line in lines:
        for frame in line.by_hand.get(mouths.name, {}):
            if starts[0] <= frame <= last:
                belongs[int(np.searchsorted(starts, frame, "right")) - 1] = True
    return belongs
