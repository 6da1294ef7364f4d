"""Lines of dialogue out of SubRip subtitles (.srt), on frames."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

_TIME = r"(\d{1,3}):(\d\d):(\d\d)[,.](\d{1,3})"
_TIMES = re.compile(rf"{_TIME}\s*-->\s*{_TIME}", re.ASCII)
_TAG = re.compile(r"</?[a-zA-Z][^<>]*>|\{\\[^{}]*\}")  # <i>, <font …>, {\an8}


def srt_lines(text: str, fps: Fraction, begin: int) -> Iterator[tuple[int, int, str]]:
    """(first frame, last frame, words) of each line; time 0 is the beginning of frame `begin`.

    Times are taken to the nearest frame, since SubRip rounds them to milliseconds. What is no subtitle is passed over.
    """
    for block in re.split(r"\n\s*\n", text.replace("\r\n", "\n").lstrip("\ufeff").strip()):
        rows = block.split("\n")
        for number, row in enumerate(rows[:2]):
            if times := _TIMES.match(row.strip()):
                first, end = (begin + round(_seconds(times, n) * fps) for n in (1, 5))
                words = " ".join(_TAG.sub("", " ".join(rows[number + 1 :])).split())
                if words:
                    yield first, max(end - 1, first), words
                break


def _seconds(times: re.Match[str], at: int) -> Fraction:
    hours, minutes, seconds, part = (times[at + n] for n in range(4))
    return 3600 * int(hours) + 60 * int(minutes) + int(seconds) + Fraction(int(part), 10 ** len(part))
