"""The kinds of film file: how pictures and sound are coded in each, and the streams for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pastepot.render import sound

if TYPE_CHECKING:
    from av.container import OutputContainer

CRF = 16
"""x264's constant quality: 16 is hardly to be told from the pictures."""
SOUND_BITS = 192_000
"""Of AAC, a second."""

_BT709, _RGB, _LIMITED, _FULL = 1, 0, 1, 2  # ITU-T H.273: BT.709 and RGB; FFmpeg's numbers for the ranges


@dataclass(frozen=True)
class Format:
    """One kind of file.

    name:   in words; suffix: what its files' names end with; container, picture, pixels, sound: FFmpeg's names
    blocks: pixels across and down that share one colour: the picture's size has to be a multiple
    rgb:    the pictures' own RGB is kept, nothing is converted to BT.709's limited range
    """

    name: str
    suffix: str
    container: str
    picture: str
    pixels: str
    sound: str
    blocks: tuple[int, int]
    rgb: bool = False
    options: Mapping[str, str] = field(default_factory=dict)
    file_options: Mapping[str, str] = field(default_factory=dict)


FORMATS: dict[str, Format] = {
    made.suffix: made
    for made in (
        Format(
            "H.264",
            ".mp4",
            "mp4",
            "libx264",
            "yuv420p",
            "aac",
            (2, 2),
            options={"crf": str(CRF), "profile": "high"},
            file_options={"movflags": "+faststart"},
        ),
        Format(
            "ProRes 422 HQ",
            ".mov",
            "mov",
            "prores_ks",
            "yuv422p10le",
            "pcm_s24le",
            (2, 1),
            options={"profile": "hq", "vendor": "apl0"},
            file_options={"movflags": "+faststart+write_colr"},
        ),
        Format(
            "FFV1",
            ".mkv",
            "matroska",
            "ffv1",
            "bgr0",
            "pcm_s24le",
            (1, 1),
            rgb=True,
            options={"level": "3", "g": "1", "slices": "4", "slicecrc": "1"},
        ),
    )
}
"""By the end of the file's name."""


def of(path: Path) -> Format | None:
    """The format that a file's name asks for."""
    return FORMATS.get(path.suffix.lower())


def video_stream(container: OutputContainer, kind: Format, size: tuple[int, int], fps: Fraction) -> Any:
    """The stream of pictures, tagged BT.709; in groups of half a second that need none before them."""
    stream: Any = container.add_stream(kind.picture, rate=fps)
    stream.width, stream.height = size
    stream.pix_fmt = kind.pixels
    options = dict(kind.options)
    if kind.picture == "libx264":
        group = max(1, round(fps) // 2)
        options["x264-params"] = f"keyint={group}:min-keyint={group}:scenecut=0:open-gop=0"
    stream.options = options
    context = stream.codec_context
    context.color_primaries = context.color_trc = _BT709
    context.colorspace = _RGB if kind.rgb else _BT709
    context.color_range = _FULL if kind.rgb else _LIMITED
    return stream


def frame(kind: Format, pixels: NDArray[np.uint8], number: int, fps: Fraction) -> Any:
    """A frame of the film. Matrix and range both have to be asked for: the default matrix is BT.601's."""
    import av

    made = av.VideoFrame.from_ndarray(pixels, format="rgb24")
    if kind.rgb:
        made = made.reformat(format=kind.pixels)
    else:
        made = made.reformat(
            format=kind.pixels,
            dst_colorspace="ITU709",
            dst_color_range="MPEG",
            interpolation="AREA",  # the mean of each block, right to the last code; the others ring or round down
        )
    made.pts, made.time_base = number, 1 / fps
    return made


class SoundTrack:
    """The sound on its way into the file, handed over alongside the pictures; `gain` multiplies its samples."""

    def __init__(
        self, container: OutputContainer, kind: Format, path: Path, span: tuple[int, int], gain: float = 1.0
    ) -> None:
        self._container = container
        stream: Any = container.add_stream(kind.sound, rate=sound.RATE, layout="stereo")
        if kind.sound == "aac":
            stream.bit_rate = SOUND_BITS
        self._stream = stream
        self._blocks = sound.fitted(path, *span)
        self._gain = np.float32(gain)
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
        made = av.AudioFrame.from_ndarray(block * self._gain, format="fltp", layout="stereo")
        made.rate, made.pts, made.time_base = sound.RATE, self._written, Fraction(1, sound.RATE)
        self._container.mux(self._stream.encode(made))
        self._written += block.shape[1]
        return True
