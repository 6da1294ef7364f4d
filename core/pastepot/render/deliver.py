"""Pictures and sound become a film file that players, hosts and festivals take as it is meant.

The colours are BT.709 (ITU-R BT.709-6, limited range) and say so; the rate is constant; every half second a group of
pictures begins that needs none before it; the index stands before the pictures. formats.py has the kinds of file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pastepot import extras
from pastepot.errors import PastepotError, Problem, raise_if_any
from pastepot.output import output_problems, replacing
from pastepot.render import fit, formats, sound
from pastepot.render.loudness import PEAK_LIMIT, Loudness, measure
from pastepot.render.pictures import Pictures, Progress, decode, listed, same_file
from pastepot.render.pictures import problems as picture_problems
from pastepot.render.probe import probe
from pastepot.review.cells import cells
from pastepot.review.flash import FlashCheck, Report, problems_of

_SLOWEST = Fraction(999, 1000)  # 24 to 24000/1001 leaves out one picture in a thousand
_TOLD_SAMPLES = sound.RATE // 1000  # less than a millisecond too long is not worth a word


@dataclass(frozen=True)
class Order:
    """What to deliver.

    frames:      a folder that a render finished
    sound:       a sound file, None for a silent film
    fps:         the file's rate, a whole multiple of the film's; None for the film's own
    sound_frame: the frame on which the sound begins; None for the first picture's
    uneven:      any rate from the film's own on: some pictures are on show for a frame longer than others
    wide:        make pictures that are narrower than 16:9 that wide
    loudness:    LUFS to bring the sound to, as far as its true peak lets it; None leaves it as it is
    """

    frames: Path
    out: Path
    sound: Path | None = None
    fps: Fraction | None = None
    sound_frame: int | None = None
    overwrite: bool = False
    uneven: bool = False
    wide: fit.Fit | None = None
    loudness: float | None = None


@dataclass(frozen=True)
class Delivered:
    """What was written.

    found: read back from the file (see probe.probe); sound_frame: the frame the sound begins on; loudness: of the sound
    as written, before it was coded, None without; gain: dB it was made louder by
    """

    found: dict[str, Any]
    sound_frame: int
    flashes: Report
    loudness: Loudness | None
    gain: float
    warnings: tuple[Problem, ...]


@dataclass(frozen=True)
class _Work:
    """What an order comes to: the sound's first sample, heard on frame `sound_frame` of the film, is sample
    `sound_start` of the file (48 kHz; may be negative). size: the file's width and height.
    """

    pictures: Pictures
    kind: formats.Format
    fps: Fraction
    size: tuple[int, int]
    sound: Path | None
    sound_frame: int
    sound_start: int

    @property
    def frames(self) -> int:
        return round(len(self.pictures.files) / self.pictures.fps * self.fps)

    def picture(self, number: int) -> Path:
        """What frame `number` of the file shows: the picture that the film has at the time at which it begins."""
        return self.pictures.files[int(number * self.pictures.fps / self.fps)]

    @property
    def samples(self) -> int:
        """The film's length in samples of sound."""
        return round(self.frames / self.fps * sound.RATE)


def deliver(order: Order, progress: Progress = lambda done, total, text: None) -> Delivered:
    """Write the film. Raises PastepotError with every problem found, before anything is written.

    A film that is not finished leaves nothing behind, and one that exists is only replaced when the new one is whole.
    Raises MissingExtra without PyAV.
    """
    extras.load("av", "film", "Delivering a film")
    found = _out_problems(order)
    try:
        pictures = listed(order.frames)
    except PastepotError as error:
        raise PastepotError(*error.problems, *found) from None
    work = _work(order, pictures)
    found += _rate_problems(pictures.fps, order.fps, order.uneven)
    found += _wide_problems(pictures.size, order.wide) or _size_problems(work)
    found += picture_problems(pictures, progress)
    found += _sound_problems(work)
    raise_if_any([*found, *_in_the_way(order.out, pictures)])
    heard, gain = _loudness(work, order.loudness)
    found += _loudness_problems(heard, order.loudness)
    with replacing(order.out, overwrite=order.overwrite) as draft:
        flashes = _encode(work, draft, 10 ** (gain / 20), progress)
        read_back = probe(draft)
    return Delivered(read_back, work.sound_frame, flashes, heard, gain, (*found, *problems_of(flashes)))


def _work(order: Order, pictures: Pictures) -> _Work:
    sound_frame = pictures.first if order.sound_frame is None else order.sound_frame
    start = round((sound_frame - pictures.first) / pictures.fps * sound.RATE)
    kind = formats.of(order.out) or formats.FORMATS[".mp4"]
    size = pictures.size if order.wide is None else fit.fitted_size(pictures.size, order.wide)
    return _Work(pictures, kind, order.fps or pictures.fps, size, order.sound, sound_frame, start)


def _loudness(work: _Work, target: float | None) -> tuple[Loudness | None, float]:
    """How loud the sound will be, and the dB that are added for it."""
    if work.sound is None:
        return None, 0.0
    heard = measure(sound.fitted(work.sound, work.sound_start, work.samples))
    gain = 0.0 if target is None else heard.gain_to(target)
    return heard.louder(gain), gain


def _loudness_problems(heard: Loudness | None, target: float | None) -> list[Problem]:
    """Warnings: a target that was not reached, peaks that players may clip."""
    if heard is None or heard.lufs is None:
        return []
    if target is not None and heard.lufs < target - 0.05:
        return [
            Problem(
                f"The sound has {heard.lufs:.1f} LUFS and not {target:g}: louder, its peaks would go over "
                f"{PEAK_LIMIT:g} dBTP.",
                "Even its loud and quiet places out in a sound program if it matters.",
                severity="warning",
            )
        ]
    if heard.peak > 0:
        said = f"The sound's true peak is {heard.peak:+.1f} dBTP: players may distort it."
        return [Problem(said, "Make it quieter, or say --loudness -23.", severity="warning")]
    return []


def _out_problems(order: Order) -> list[Problem]:
    place = order.out.resolve()
    if order.sound is not None and place == order.sound.resolve():
        return [Problem(f"{order.out} is the sound.", "Choose another name for the film.")]
    if place.suffix.lower() == ".png" and place.parent == order.frames.resolve():
        return [Problem(f"{order.out} has the name of a picture.", "Choose another name for the film.")]
    if formats.of(order.out) is None:
        ends = " or ".join(f"{kind.suffix} ({kind.name})" for kind in formats.FORMATS.values())
        return [Problem(f"A film can't be called '{order.out.name}'.", f"End its name with {ends}.")]
    return output_problems(order.out, order.overwrite)


def _in_the_way(out: Path, pictures: Pictures) -> list[Problem]:
    """--overwrite is for films: it never lets one take the place of a picture, whatever that is called."""
    if out.resolve() not in pictures.files:
        return []
    return [Problem(f"{out} is one of the pictures.", "Choose another name for the film.")]


def _rate_problems(film: Fraction, wanted: Fraction | None, uneven: bool) -> list[Problem]:
    if wanted is None or (wanted / film).denominator == 1:
        return []
    if uneven and wanted >= film * _SLOWEST:
        return []
    shown = wanted / film
    fix = f"Choose a whole multiple, such as {film} or {2 * film}"
    more = "; or say --uneven, and some are on show for a frame longer than others." if wanted > film else "."
    return [
        Problem(
            f"The film has {film} frames a second; at {wanted} each would be on show for {float(shown):.6g} frames, "
            "which can't be even.",
            fix + more,
        )
    ]


def _wide_problems(size: tuple[int, int], wide: fit.Fit | None) -> list[Problem]:
    if wide is None or fit.is_narrow(size):
        return []
    return [Problem(f"The pictures, {size[0]} x {size[1]}, are not narrower than 16:9.", "Leave out --wide.")]


def _size_problems(work: _Work) -> list[Problem]:
    across, down = work.kind.blocks
    if not (work.size[0] % across or work.size[1] % down):
        return []
    width, height = work.size[0] + work.size[0] % across, work.size[1] + work.size[1] % down
    sampling, numbers = ("4:2:0", "both numbers have") if down == 2 else ("4:2:2", "the width has")
    return [
        Problem(
            f"The film would be {work.size[0]} x {work.size[1]} pixels; {work.kind.name} keeps colours in blocks of "
            f"{across} x {down} ({sampling}), so {numbers} to be even.",
            f"Render at {width} x {height}." if work.size == work.pictures.size else "Render at even numbers.",
        )
    ]


def _sound_problems(work: _Work) -> list[Problem]:
    """What is wrong with the sound; a sound that goes on after the film is only a warning."""
    if work.sound is None:
        return []
    try:
        heard = sound.examine(work.sound)
    except PastepotError as error:
        return list(error.problems)
    end = work.sound_start + round(heard.seconds * sound.RATE)
    if end <= 0 or work.sound_start >= work.samples:
        when = "ends before the first picture" if end <= 0 else "begins after the last picture"
        return [Problem(f"The sound {when}.", "Correct --sound-frame, or leave it out.", str(work.sound))]
    if end - work.samples <= _TOLD_SAMPLES:
        return []
    over = (end - work.samples) / sound.RATE
    return [
        Problem(
            f"The sound goes on for {over:.3f} s after the last picture; that much is cut off.",
            "Render more frames, or shorten the sound, if it matters.",
            str(work.sound),
            severity="warning",
        )
    ]


def _encode(work: _Work, draft: Path, gain: float, progress: Progress) -> Report:
    import av

    kind, check = work.kind, _Flashes(work.fps)
    try:
        with av.open(str(draft.resolve()), "w", format=kind.container, options=dict(kind.file_options)) as container:
            video = formats.video_stream(container, kind, work.size, work.fps)
            audio = None
            if work.sound is not None:
                audio = formats.SoundTrack(container, kind, work.sound, (work.sound_start, work.samples), gain)
            for number, pixels in enumerate(_shown(work)):
                check.add(pixels, number)
                container.mux(video.encode(formats.frame(kind, pixels, number, work.fps)))
                if audio is not None:
                    audio.until((number + 1) / work.fps)
                progress(number + 1, work.frames, "Writing the film")
            container.mux(video.encode(None))
            if audio is not None:
                audio.finish()
    except (av.FFmpegError, OSError) as error:
        raise PastepotError(
            Problem(f"The film could not be written ({error.strerror or error}).", "Check the disk and the folder.")
        ) from error
    return check.report()


class _Flashes:
    """The flash check, fed with the pictures as they are encoded; one that is held is measured once."""

    def __init__(self, fps: Fraction) -> None:
        self._check, self._fps = FlashCheck(fps), fps
        self._last: NDArray[np.uint8] | None = None

    def add(self, pixels: NDArray[np.uint8], number: int) -> None:
        import av

        if pixels is not self._last:
            self._last, self._cells = pixels, cells(av.VideoFrame.from_ndarray(pixels, format="rgb24"))
        self._check.add(self._cells, float(number / self._fps))

    def report(self) -> Report:
        return self._check.report()


def _shown(work: _Work) -> Iterator[NDArray[np.uint8]]:
    """The pixels of every frame of the file; a picture that is held is decoded once."""
    last: object = None
    for number in range(work.frames):
        path = work.picture(number)
        this = same_file(path)
        if this != last:
            pixels, last = decode(path), this
            if work.size != work.pictures.size:
                pixels = fit.fitted(pixels, work.size)
        yield pixels
