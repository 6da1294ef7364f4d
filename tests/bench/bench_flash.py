"""The flash check on 4K, against decoding the same film and doing nothing with it."""

from __future__ import annotations

import tempfile
import time
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from pastepot.review.flash import check
from rows import Row

SIZE, FRAMES = (3840, 2160), 48


def run() -> list[Row]:
    """The one figure; the better of three runs each."""
    with tempfile.TemporaryDirectory() as folder:
        film = _film(Path(folder) / "film.mp4")
        decoding = min(_decoded(film) for _ in range(3))
        checking = min(_checked(film) for _ in range(3))
    return [
        Row(
            f"check {FRAMES} frames of 4K for flashes",
            checking,
            f"decoding them: {decoding:.2f} s, {FRAMES / decoding:.0f} a second",
            decoding / checking,
            "≥ 0.5 × the speed of decoding",
            decoding / checking >= 0.5,
        )
    ]


def _film(path: Path) -> Path:
    """Grainy paper, a card that slides on twos, light that flickers, as `pastepot deliver` tags and codes it."""
    chance = np.random.default_rng(1)
    paper = np.clip(180 + chance.normal(0, 6, (SIZE[1], SIZE[0], 1)) + np.zeros(3), 0, 255)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=24)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.options = {"crf": "16", "preset": "veryfast", "x264-params": "keyint=12:scenecut=0"}
        context = stream.codec_context
        context.color_primaries = context.color_trc = context.colorspace = context.color_range = 1
        for n in range(FRAMES):
            at, picture = n // 2, paper.copy()
            picture[500 + at * 10 : 1200 + at * 10, 300 + at * 20 : 1400 + at * 20] = (60, 90, 120)
            codes = np.clip(picture * (1 + 0.03 * (-1) ** at), 0, 255).astype(np.uint8)
            frame = av.VideoFrame.from_ndarray(codes, format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
            frame.pts, frame.time_base = n, Fraction(1, 24)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _decoded(film: Path) -> float:
    start = time.perf_counter()
    with av.open(str(film)) as container:
        container.streams.video[0].thread_type = "AUTO"
        assert sum(1 for _ in container.decode(video=0)) == FRAMES
    return time.perf_counter() - start


def _checked(film: Path) -> float:
    start = time.perf_counter()
    assert len(check(film).times) == FRAMES
    return time.perf_counter() - start
