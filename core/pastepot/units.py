"""Lengths, frames and clocks: millimetres and pixels, frame rates, ticks, and SMPTE timecode.

Rates are exact `fractions.Fraction`s of frames per second; frames are integers; a time in seconds is a Fraction too.
"""

from __future__ import annotations

import re
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

MM_PER_INCH = Fraction(254, 10)
"""The international inch of 1959: exactly 25.4 mm."""

TICKS_PER_SECOND = 600
"""A tick is 1/600 s: a whole number of them lasts one frame at 12, 24, 25, 30, 50 and 60 frames a second."""

_MOST_TIMECODE_FPS = 60
_TIMECODE = re.compile(r"(\d\d):(\d\d):(\d\d)([:;])(\d\d)", re.ASCII)


def mm_to_px(mm: ArrayLike, px_per_mm: float) -> NDArray[np.float64]:
    """Pixels for lengths in millimetres, same shape, not rounded. Raises ValueError unless px_per_mm > 0."""
    return np.asarray(mm, np.float64) * _positive(px_per_mm, "px_per_mm")


def px_to_mm(px: ArrayLike, px_per_mm: float) -> NDArray[np.float64]:
    """Millimetres for lengths in pixels, same shape. Raises ValueError unless px_per_mm > 0."""
    return np.asarray(px, np.float64) / _positive(px_per_mm, "px_per_mm")


def dpi_to_px_per_mm(dpi: float) -> float:
    """Pixels per millimetre for a scanner's dots per inch. Raises ValueError unless dpi > 0."""
    return _positive(dpi, "dpi") / float(MM_PER_INCH)


def px_per_mm_to_dpi(px_per_mm: float) -> float:
    """Dots per inch for pixels per millimetre. Raises ValueError unless px_per_mm > 0."""
    return _positive(px_per_mm, "px_per_mm") * float(MM_PER_INCH)


def _positive(value: float, name: str) -> float:
    if not (value > 0 and np.isfinite(value)):
        raise ValueError(f"{name} is {value!r}; it must be a number above 0.")
    return value


def nominal(fps: Fraction) -> int:
    """The whole rate that a rate counts as: 24 for 24000/1001, 30 for 30000/1001. Raises ValueError below 1."""
    rate = round(fps)
    if rate < 1:
        raise ValueError(f"A rate of {fps} frames a second is too slow; it must be at least 1.")
    return rate


def seconds(frames: int, fps: Fraction) -> Fraction:
    """How long so many frames last at exactly this rate, in seconds."""
    nominal(fps)
    return Fraction(frames) / fps


def convert_frames(frames: ArrayLike, old: Fraction, new: Fraction, first_frame: int = 1) -> NDArray[np.int64]:
    """The frame that is on show at rate `new` when each frame of rate `old` begins; both rates count from first_frame.

    Going up to a multiple keeps every start (12 to 24: 1, 2, 3 -> 1, 3, 5); an uneven ratio gives the uneven run that
    it has to (12 to 30: 1, 2, 3 -> 1, 3, 6). The arithmetic is exact. Raises ValueError for frames that are not whole
    or rates below 1.
    """
    nominal(old), nominal(new)
    ratio = new / old
    return _whole(frames, first_frame) * ratio.numerator // ratio.denominator + first_frame


def tick(frame: ArrayLike, fps: Fraction, first_frame: int = 1) -> NDArray[np.int64]:
    """When each frame's exposure starts, in ticks of 1/600 s since the film's first frame began; same shape as frame.

    The nominal rate counts, so that the same drawing has the same tick at 24 and at 24000/1001, and frame n at 12
    frames a second has the tick of frame 2n - 1 at 24. A rate that does not divide 600 rounds down, which keeps every
    frame's tick its own up to 600 frames a second. Raises ValueError for frames that are not whole, or a rate outside
    1 to 600.
    """
    rate = nominal(fps)
    if rate > TICKS_PER_SECOND:
        raise ValueError(f"A rate of {fps} frames a second is too fast; {TICKS_PER_SECOND} is the most.")
    return _whole(frame, first_frame) * TICKS_PER_SECOND // rate


def _whole(frames: ArrayLike, first_frame: int) -> NDArray[np.int64]:
    """Frames since the first one, as int64."""
    array = np.asarray(frames)
    if array.size and array.dtype.kind not in "iu":
        raise ValueError(f"Frames must be whole numbers of an integer type, not {array.dtype}.")
    return array.astype(np.int64) - first_frame


def timecode(frame: int, fps: Fraction, drop: bool = False) -> str:
    """The SMPTE ST 12-1 label of a frame counted from 0: 'HH:MM:SS:FF', or 'HH:MM:SS;FF' in drop frame.

    Raises ValueError for drop frame at a rate other than 30000/1001 and 60000/1001, for a rate above 60, and for a
    frame before 0 or past the 24 hours that the labels cover.
    """
    rate = _timecode_rate(fps, drop)
    skip = _skipped_labels(rate, drop)
    last = 24 * 6 * (600 * rate - 9 * skip) - 1
    if not 0 <= frame <= last:
        raise ValueError(f"Frame {frame} has no timecode at {fps} frames a second; the labels cover 0 to {last}.")
    tens, rest = divmod(frame, 600 * rate - 9 * skip)
    # In each ten minutes the first minute has all its labels and the other nine lack the first `skip` of theirs.
    later_minutes = max(0, rest - skip) // (60 * rate - skip)
    label = tens * 600 * rate + rest + skip * later_minutes
    total_seconds, ff = divmod(label, rate)
    minutes, ss = divmod(total_seconds, 60)
    hh, mm = divmod(minutes, 60)
    return f"{hh:02}:{mm:02}:{ss:02}{';' if drop else ':'}{ff:02}"


def frame_of_timecode(label: str, fps: Fraction) -> int:
    """The frame, counted from 0, that an SMPTE ST 12-1 label names; ';' before the frames means drop frame.

    Raises ValueError for a label that is malformed, out of range, or one of those that drop frame leaves out.
    """
    match = _TIMECODE.fullmatch(label.strip())
    if not match:
        raise ValueError(f"'{label}' is not timecode; write HH:MM:SS:FF, or HH:MM:SS;FF for drop frame.")
    hh, mm, ss, ff = (int(match[i]) for i in (1, 2, 3, 5))
    drop = match[4] == ";"
    rate = _timecode_rate(fps, drop)
    for value, top, name in ((hh, 23, "hours"), (mm, 59, "minutes"), (ss, 59, "seconds"), (ff, rate - 1, "frames")):
        if value > top:
            raise ValueError(f"Timecode '{label}' has {value} {name}; {top} is the most at {fps} frames a second.")
    skip = _skipped_labels(rate, drop)
    if skip and ss == 0 and ff < skip and mm % 10:
        raise ValueError(
            f"Timecode '{label}' does not exist: drop frame leaves out frames 00 to {skip - 1:02} of this minute. "
            f"Its first frame is {hh:02}:{mm:02}:00;{skip:02}."
        )
    minutes = hh * 60 + mm
    return (minutes * 60 + ss) * rate + ff - skip * (minutes - minutes // 10)


def _timecode_rate(fps: Fraction, drop: bool) -> int:
    rate = nominal(fps)
    if rate > _MOST_TIMECODE_FPS:
        raise ValueError(f"{fps} frames a second has no SMPTE ST 12-1 timecode; {_MOST_TIMECODE_FPS} is the most.")
    if drop and fps not in (Fraction(30000, 1001), Fraction(60000, 1001)):
        raise ValueError(f"Drop frame exists at 30000/1001 and 60000/1001 frames a second only, not at {fps}.")
    return rate


def _skipped_labels(rate: int, drop: bool) -> int:
    """How many labels a minute leaves out, save every tenth: two per 30 frames of rate."""
    return rate // 15 if drop else 0
