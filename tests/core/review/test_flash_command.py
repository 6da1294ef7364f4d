"""`pastepot flash`: films read from files, where and when, the drawing, exit codes, refusals."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import av
import numpy as np
import pytest
from pastepot import cli
from pastepot.errors import PastepotError
from pastepot.review.flash import check, place

SIZE = (512, 288)


def film(path: Path, picture: Callable[[int], np.ndarray], frames: int, fps: int = 12, transfer: int = 1) -> Path:
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=fps)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        context = stream.codec_context
        context.color_primaries = context.colorspace = context.color_range = 1
        context.color_trc = transfer
        for n in range(frames):
            frame = av.VideoFrame.from_ndarray(picture(n), format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
            frame.pts, frame.time_base = n, Fraction(1, fps)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def calm(n: int) -> np.ndarray:
    return np.full((SIZE[1], SIZE[0], 3), 150, np.uint8)


def flashing(n: int) -> np.ndarray:
    """From frame 24 to frame 47 a square at the right flashes."""
    picture = calm(n)
    if 24 <= n < 48:
        picture[100:200, 380:500] = 240 if n % 2 else 40
    return picture


@pytest.mark.parametrize("every_pixel", [False, True])
def test_it_says_when_and_where(tmp_path: Path, every_pixel: bool) -> None:
    report = check(film(tmp_path / "f.mp4", flashing, 72), every_pixel=every_pixel)
    [found] = report.findings
    assert (found.rule, found.swings) == ("general", 12)
    assert (found.start, found.end) == pytest.approx((2.0, 4.0), abs=1e-3)
    assert found.box == pytest.approx((380 / 512, 100 / 288, 120 / 512, 100 / 288), abs=0.01)
    assert place(found.box) == "at the right"
    assert len(report.times) == len(report.counts["general"]) == 72


def test_a_calm_film_passes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["flash", str(film(tmp_path / "f.mp4", calm, 24))]) == 0
    said = capsys.readouterr().out
    assert "no limit is broken" in said
    assert "aid and no certificate" in said


def test_a_flashing_film_exits_with_1_and_says_what_to_change(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["flash", "--json", str(film(tmp_path / "f.mp4", flashing, 72))]) == 1
    said = json.loads(capsys.readouterr().out)
    assert said["most_swings_in_one_second"] == {"general": 12, "red": 0, "screen": 0}
    assert not said["passed"]
    assert any("2 frames or more at 12" in line for line in said["advice"])


def test_the_drawing_is_svg_and_shows_the_passage(tmp_path: Path) -> None:
    source, plot = film(tmp_path / "f.mp4", flashing, 72), tmp_path / "f.svg"
    assert cli.main(["flash", str(source), "--plot", str(plot)]) == 1
    words = " ".join(ElementTree.parse(plot).getroot().itertext())
    assert "0:02.00 to 0:04.00, at the right" in words
    assert cli.main(["flash", str(source), "--plot", str(plot)]) == 1  # it exists now: refused, not replaced
    assert cli.main(["flash", str(source), "--plot", str(plot), "--overwrite"]) == 1


def test_the_drawing_never_takes_the_films_place(tmp_path: Path) -> None:
    source = film(tmp_path / "f.mp4", calm, 12)
    before = source.read_bytes()
    assert cli.main(["flash", str(source), "--plot", str(source), "--overwrite"]) == 1
    assert source.read_bytes() == before


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda p: p, "missing"),
        (lambda p: p.write_text("no film") and p, "can't be read"),
        (lambda p: film(p, calm, 6, transfer=16), "HDR (PQ)"),
    ],
)
def test_what_can_not_be_checked_is_refused(tmp_path: Path, make: Callable[[Path], Path], message: str) -> None:
    with pytest.raises(PastepotError, match=message.replace("(", r"\(").replace(")", r"\)")):
        check(make(tmp_path / "f.mp4"))
