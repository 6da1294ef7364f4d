"""Pictures and sound become a film file: H.264 and AAC in an MP4 that players and hosts take as it is meant.

The colours are BT.709 (ITU-R BT.709-6, limited range) and say so; the rate is constant; every half second a group of
pictures begins that needs none before it; the index stands before the pictures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pastepot.errors import MissingExtra, PastepotError, Problem, raise_if_any
from pastepot.output import output_problems, replacing
from pastepot.render import sound
from pastepot.render.pictures import Pictures, Progress, decode, listed, same_file
from pastepot.render.pictures import problems as picture_problems
from pastepot.render.probe import probe
from pastepot.review.cells import cells
from pastepot.review.flash import FlashCheck, Report, problems_of

if TYPE_CHECKING:
    from av.container import OutputContainer

CRF = 16
"""x264's constant quality: 16 is hardly to be told from the pictures."""
SOUND_BITS = 192_000
"""Of AAC, a second."""

_BT709, _LIMITED = 1, 1  # ITU-T H.273: primaries, transfer and matrix 1; FFmpeg's number for limited range
_TOLD_SAMPLES = sound.RATE // 1000  # less than a millisecond too long is not worth a word


@dataclass(frozen=True)
class Order:
    """What to deliver.

    frames:      a folder that a render finished
    sound:       a sound file, None for a silent film
    fps:         the file's rate, a whole multiple of the film's; None for the film's own
    sound_frame: the frame on which the sound begins; None for the first picture's
    """

    frames: Path
    out: Path
    sound: Path | None = None
    fps: Fraction | None = None
    sound_frame: int | None = None
    overwrite: bool = False


@dataclass(frozen=True)
class Delivered:
    """What was written, read back from the file (see probe.probe), the frame the sound begins on, flashes in it, and
    warnings.
    """

    found: dict[str, Any]
    sound_frame: int
    flashes: Report
    warnings: tuple[Problem, ...]


@dataclass(frozen=True)
class _Work:
    """What an order comes to: each picture is on show for `times` frames, and the sound's first sample, heard on frame
    `sound_frame` of the film, is sample `sound_start` of the file (48 kHz; may be negative).
    """

    pictures: Pictures
    times: int
    sound: Path | None
    sound_frame: int
    sound_start: int

    @property
    def fps(self) -> Fraction:
        return self.pictures.fps * self.times

    @property
    def frames(self) -> int:
        return len(self.pictures.files) * self.times

    @property
    def samples(self) -> int:
        """The film's length in samples of sound."""
        return round(self.frames / self.fps * sound.RATE)


def deliver(order: Order, progress: Progress = lambda done, total, text: None) -> Delivered:
    """Write the film. Raises PastepotError with every problem found, before anything is written.

    A film that is not finished leaves nothing behind, and one that exists is only replaced when the new one is whole.
    Raises MissingExtra without PyAV.
    """
    try:
        import av  # noqa: F401
    except ImportError as error:
        raise MissingExtra("film", "av", "Delivering a film") from error
    found = _out_problems(order)
    try:
        pictures = listed(order.frames)
    except PastepotError as error:
        raise PastepotError(*error.problems, *found) from None
    work = _work(order, pictures)
    found += _rate_problems(pictures.fps, order.fps)
    found += _size_problems(pictures.size)
    found += picture_problems(pictures, progress)
    found += _sound_problems(work)
    raise_if_any([*found, *_in_the_way(order.out, pictures)])
    with replacing(order.out, overwrite=order.overwrite) as draft:
        flashes = _encode(work, draft, progress)
        read_back = probe(draft)
    return Delivered(read_back, work.sound_frame, flashes, (*found, *problems_of(flashes)))


def _work(order: Order, pictures: Pictures) -> _Work:
    times = max(1, int((order.fps or pictures.fps) / pictures.fps))
    sound_frame = pictures.first if order.sound_frame is None else order.sound_frame
    start = round((sound_frame - pictures.first) / pictures.fps * sound.RATE)
    return _Work(pictures, times, order.sound, sound_frame, start)


def _out_problems(order: Order) -> list[Problem]:
    place = order.out.resolve()
    if order.sound is not None and place == order.sound.resolve():
        return [Problem(f"{order.out} is the sound.", "Choose another name for the film.")]
    if place.suffix.lower() == ".png" and place.parent == order.frames.resolve():
        return [Problem(f"{order.out} has the name of a picture.", "Choose another name for the film.")]
    if order.out.suffix.lower() != ".mp4":
        return [Problem(f"The film is an MP4 and can't be called '{order.out.name}'.", "End its name with .mp4.")]
    return output_problems(order.out, order.overwrite)


def _in_the_way(out: Path, pictures: Pictures) -> list[Problem]:
    """--overwrite is for films: it never lets one take the place of a picture, whatever that is called."""
    if out.resolve() not in pictures.files:
        return []
    return [Problem(f"{out} is one of the pictures.", "Choose another name for the film.")]


def _rate_problems(film: Fraction, wanted: Fraction | None) -> list[Problem]:
    if wanted is None or (wanted / film).denominator == 1:
        return []
    shown = wanted / film
    return [
        Problem(
            f"The film has {film} frames a second; at {wanted} each would be on show for {float(shown):.6g} frames, "
            "which can't be even.",
            f"Choose a whole multiple, such as {film} or {2 * film}.",
        )
    ]


def _size_problems(size: tuple[int, int]) -> list[Problem]:
    if not (size[0] % 2 or size[1] % 2):
        return []
    even = [n + n % 2 for n in size]
    return [
        Problem(
            f"The pictures are {size[0]} x {size[1]} pixels; a film's colours are kept in blocks of 2 x 2 (4:2:0), so "
            "both numbers have to be even.",
            f"Render at {even[0]} x {even[1]}.",
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


def _encode(work: _Work, draft: Path, progress: Progress) -> Report:
    import av

    check = _Flashes(work.fps)

    try:
        with av.open(str(draft.resolve()), "w", format="mp4", options={"movflags": "+faststart"}) as container:
            video, audio = _video_stream(container, work), _sound_stream(container, work)
            for number, pixels in enumerate(_shown(work)):
                check.add(pixels, number)
                container.mux(video.encode(_frame(pixels, number, work.fps)))
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
    for path in work.pictures.files:
        this = same_file(path)
        if this != last:
            pixels, last = decode(path), this
        for _ in range(work.times):
            yield pixels


def _frame(pixels: NDArray[np.uint8], number: int, fps: Fraction) -> Any:
    """BT.709 limited-range 4:2:0. Matrix and range both have to be asked for: the default matrix is BT.601's."""
    import av

    frame = av.VideoFrame.from_ndarray(pixels, format="rgb24").reformat(
        format="yuv420p",
        dst_colorspace="ITU709",
        dst_color_range="MPEG",
        interpolation="AREA",  # the mean of each 2 x 2, right to the last code; the others ring or round down
    )
    frame.pts, frame.time_base = number, 1 / fps
    return frame


def _video_stream(container: OutputContainer, work: _Work) -> Any:
    group = max(1, round(work.fps) // 2)
    stream = container.add_stream("libx264", rate=work.fps)
    stream.width, stream.height = work.pictures.size
    stream.pix_fmt = "yuv420p"
    stream.options = {
        "crf": str(CRF),
        "profile": "high",
        "x264-params": f"keyint={group}:min-keyint={group}:scenecut=0:open-gop=0",
    }
    context = stream.codec_context
    context.color_primaries = context.color_trc = context.colorspace = _BT709
    context.color_range = _LIMITED
    return stream


def _sound_stream(container: OutputContainer, work: _Work) -> _Sound | None:
    return None if work.sound is None else _Sound(container, work, work.sound)


class _Sound:
    """The sound on its way into the file, handed over alongside the pictures."""

    def __init__(self, container: OutputContainer, work: _Work, path: Path) -> None:
        self._container = container
        self._stream: Any = container.add_stream("aac", rate=sound.RATE, layout="stereo")
        self._stream.bit_rate = SOUND_BITS
        self._blocks = sound.fitted(path, work.sound_start, work.samples)
        self._written = 0

    def until(self, seconds: Fraction) -> None:
        """Hand over what is heard up to a time in the film."""
        while self._written < seconds * sound.RATE and self._add(next(self._blocks, None)):
            pass

    def finish(self) -> None:
        """Hand over the rest and close the stream."""
        for block in self._blocks:
            self._add(block)
        self._container.mux(self._stream.encode(None))

    def _add(self, block: sound.Stereo | None) -> bool:
        import av

        if block is None:
            return False
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
        frame.rate, frame.pts, frame.time_base = sound.RATE, self._written, Fraction(1, sound.RATE)
        self._container.mux(self._stream.encode(frame))
        self._written += block.shape[1]
        return True
