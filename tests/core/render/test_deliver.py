"""Delivering: what is refused and why, and that a refusal touches nothing. The files themselves: tests/outside."""

from __future__ import annotations

import json
import os
import struct
import sys
import wave
import zlib
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pastepot import cli
from pastepot.errors import MissingExtra, PastepotError
from pastepot.render import deliver as module
from pastepot.render.deliver import Order, deliver
from pastepot.render.frames import Job, opened
from pastepot.render.pictures import decode, listed, runs
from pastepot.render.plan import Plan
from PIL import Image

SIZE = (32, 18)


def render(folder: Path, count: int = 6, size: tuple[int, int] = SIZE, first: int = 1, **listing: Any) -> Path:
    """A folder as the render step leaves it: each frame a plain colour of its own."""
    folder.mkdir()
    names = {}
    for n in range(first, first + count):
        names[str(n)] = f"frame_{n:04}.png"
        Image.new("RGB", size, (40 * (n % 6), 90, 120)).save(folder / names[str(n)])
    values = {"schema": 1, "fps": "12", "size": size, "first": first, "last": first + count - 1, "frames": names}
    (folder / "frames.json").write_text(json.dumps(values | listing))
    return folder


def beep(path: Path, seconds: float = 0.5, rate: int = 48000) -> Path:
    samples = (8000 * np.sin(np.arange(round(seconds * rate)) * 0.06)).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())
    return path


def state(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def refusal(order: Order, folder: Path) -> str:
    """What the refused order says, once it is sure that it touched nothing."""
    before = state(folder)
    with pytest.raises(PastepotError) as caught:
        deliver(order)
    assert state(folder) == before
    assert all(p.fix for p in caught.value.problems)
    return "\n".join(map(str, caught.value.problems))


def drop(folder: Path, *numbers: int) -> None:
    for n in numbers:
        (folder / f"frame_{n:04}.png").unlink()


def save_alpha(folder: Path, value: int) -> None:
    Image.new("RGBA", SIZE, (90, 90, 90, value)).save(folder / "frame_0002.png")


def cut(folder: Path) -> None:
    data = (folder / "frame_0003.png").read_bytes()
    (folder / "frame_0003.png").write_bytes(data[:-20])


def flip(folder: Path) -> None:
    data = bytearray((folder / "frame_0003.png").read_bytes())
    data[60] ^= 1
    (folder / "frame_0003.png").write_bytes(data)


def relist(folder: Path, **values: Any) -> None:
    path = folder / "frames.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | values))


@pytest.mark.parametrize(
    ("harm", "message"),
    [
        (lambda f: drop(f, 2), "frame 2 are missing"),
        (lambda f: drop(f, 2, 3, 5), "frames 2-3 and 5 are missing"),
        (cut, "frame_0003.png: The file is cut off"),
        (flip, "frame_0003.png: The picture data are damaged"),
        (lambda f: (f / "frame_0004.png").write_text("hello"), "frame_0004.png: The file is not a PNG"),
        (
            lambda f: Image.new("RGB", (30, 18)).save(f / "frame_0002.png"),
            "frame 2 are 30 x 18 pixels instead of 32 x 18",
        ),
        (lambda f: save_alpha(f, 254), "frame 2 have see-through pixels"),
        (lambda f: (f / "frames.json").unlink(), "no finished render"),
        (lambda f: (f / "frames.json").write_text("{"), "can't be read"),
        (lambda f: relist(f, schema=2), "schema 2"),
        (lambda f: relist(f, fps="0"), "does not make sense"),
        (lambda f: relist(f, fps="1/0"), "does not make sense"),
        (lambda f: relist(f, frames=[1, 2]), "does not make sense"),
        (lambda f: relist(f, frames={}), "does not make sense"),
        (lambda f: relist(f, frames={"1": "../a.png"}), "not a file of the folder"),
        (lambda f: relist(f, last=9), "The list lacks frames 7-9"),
    ],
)
def test_pictures_that_make_no_film_are_refused(tmp_path: Path, harm: Any, message: str) -> None:
    frames = render(tmp_path / "frames")
    harm(frames)
    assert message in refusal(Order(frames, tmp_path / "film.mp4"), tmp_path)


@pytest.mark.parametrize(("size", "advice"), [((31, 18), "32 x 18"), ((32, 17), "32 x 18"), ((31, 17), "32 x 18")])
def test_odd_sizes_are_refused_with_the_next_even_one(tmp_path: Path, size: tuple[int, int], advice: str) -> None:
    said = refusal(Order(render(tmp_path / "frames", size=size), tmp_path / "film.mp4"), tmp_path)
    assert "4:2:0" in said
    assert f"Render at {advice}." in said


@pytest.mark.parametrize(
    ("film", "wanted", "shown"),
    [
        ("12", "30", "2.5 frames"),
        ("24", "12", "0.5 frames"),
        ("12", "24000/1001", "1.998 frames"),
        ("24", "25", "1.04167"),
    ],
)
def test_rates_that_are_no_whole_multiple_are_refused(tmp_path: Path, film: str, wanted: str, shown: str) -> None:
    frames = render(tmp_path / "frames", fps=film)
    assert shown in refusal(Order(frames, tmp_path / "film.mp4", fps=Fraction(wanted)), tmp_path)


def silent_video(path: Path) -> Path:
    deliver(Order(render(path.parent / "other"), path))
    return path


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda p: p, "missing"),
        (lambda p: p.write_text("no sound") and p, "can't be read"),
        (lambda p: p.write_bytes(b"") or p, "can't be read"),
        (silent_video, "holds no sound"),
        (lambda p: beep(p, 0), "holds no sound"),
    ],
)
def test_sound_that_cannot_be_used_is_refused(tmp_path: Path, make: Any, message: str) -> None:
    sound = make(tmp_path / "sound.wav" if make is not silent_video else tmp_path / "sound.mp4")
    assert message in refusal(Order(render(tmp_path / "frames"), tmp_path / "film.mp4", sound=sound), tmp_path)


@pytest.mark.parametrize(("frame", "message"), [(7, "begins after the last"), (-5, "ends before the first")])
def test_sound_that_would_never_be_heard_is_refused(tmp_path: Path, frame: int, message: str) -> None:
    order = Order(render(tmp_path / "frames"), tmp_path / "film.mp4", beep(tmp_path / "s.wav", 0.5), sound_frame=frame)
    assert message in refusal(order, tmp_path)


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize(
    ("out", "message"),
    [
        ("frames/frame_0002.png", "has the name of a picture"),
        ("frames/frame_0099.png", "has the name of a picture"),
        ("frames/frames.json", "End its name with .mp4"),
        ("film.avi", "End its name with .mp4"),
        ("nowhere/film.mp4", "does not exist"),
        ("sound.wav", "is the sound"),
    ],
)
def test_places_the_film_never_goes(tmp_path: Path, out: str, message: str, overwrite: bool) -> None:
    frames, sound = render(tmp_path / "frames"), beep(tmp_path / "sound.wav")
    assert message in refusal(Order(frames, tmp_path / out, sound, overwrite=overwrite), tmp_path)


def test_a_picture_called_mp4_is_still_a_picture(tmp_path: Path) -> None:
    frames = render(tmp_path / "frames", 1)
    (frames / "frame_0001.png").rename(frames / "one.mp4")
    relist(frames, frames={"1": "one.mp4"})
    assert "is one of the pictures" in refusal(Order(frames, frames / "one.mp4", overwrite=True), tmp_path)


def test_a_film_that_exists_is_left_alone_unless_told(tmp_path: Path) -> None:
    frames, out = render(tmp_path / "frames"), tmp_path / "film.mp4"
    out.write_bytes(b"mine")
    assert "--overwrite" in refusal(Order(frames, out), tmp_path)
    deliver(Order(frames, out, overwrite=True))
    assert out.read_bytes()[4:8] == b"ftyp"


def test_all_problems_are_told_at_once(tmp_path: Path) -> None:
    frames, out = render(tmp_path / "frames", size=(31, 18)), tmp_path / "film.mp4"
    out.write_bytes(b"mine")
    drop(frames, 2)
    cut(frames)
    said = refusal(Order(frames, out, tmp_path / "no.wav", Fraction(30)), tmp_path)
    for part in ("exists already", "2.5 frames", "4:2:0", "frame 2 are missing", "cut off", "The sound can't be used"):
        assert part in said


@pytest.mark.parametrize("failure", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_a_film_that_is_not_finished_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: Any
) -> None:
    frames, out = render(tmp_path / "frames"), tmp_path / "film.mp4"
    out.write_bytes(b"mine")
    real, count = module.decode, iter(range(99))

    def failing(path: Path) -> Any:
        if next(count) == 3:
            raise failure
        return real(path)

    monkeypatch.setattr(module, "decode", failing)
    before = state(tmp_path)
    with pytest.raises((KeyboardInterrupt, PastepotError)) as caught:
        deliver(Order(frames, out, beep(tmp_path / "s.wav"), overwrite=True))
    assert state(tmp_path) == before | {"s.wav": (tmp_path / "s.wav").read_bytes()}
    if isinstance(failure, OSError):
        assert "No space left" in str(caught.value)


def test_a_held_picture_is_decoded_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    frames = render(tmp_path / "frames")
    drop(frames, 2, 3, 6)
    for held, shown in ((2, 1), (3, 1), (6, 5)):
        os.link(frames / f"frame_{shown:04}.png", frames / f"frame_{held:04}.png")
    read: list[str] = []
    monkeypatch.setattr(module, "decode", lambda path: read.append(path.name) or decode(path))
    made = deliver(Order(frames, tmp_path / "film.mp4", fps=Fraction(24)))
    assert read == ["frame_0001.png", "frame_0004.png", "frame_0005.png"]
    assert made.found["video"]["frames"] == 12


def test_sound_past_the_end_is_a_warning_that_says_how_much(tmp_path: Path) -> None:
    sound = beep(tmp_path / "s.wav", 0.625)
    made = deliver(Order(render(tmp_path / "frames"), tmp_path / "film.mp4", sound))
    [warning] = made.warnings
    assert warning.severity == "warning"
    assert "goes on for 0.125 s after the last picture" in warning.what


@pytest.mark.parametrize("full", [255, 65535])
def test_alpha_is_accepted_where_it_hides_nothing(tmp_path: Path, full: int) -> None:
    frames = render(tmp_path / "frames")
    picture = np.full((SIZE[1], SIZE[0], 4), full)
    png_of(frames / "frame_0002.png", picture, full)
    assert deliver(Order(frames, tmp_path / "film.mp4")).found["video"]["frames"] == 6
    picture[3, 4, 3] -= 1
    png_of(frames / "frame_0002.png", picture, full)
    assert "see-through" in refusal(Order(frames, tmp_path / "other.mp4"), tmp_path)


def test_progress_covers_the_check_and_the_film(tmp_path: Path) -> None:
    told: list[tuple[int, int, str]] = []
    deliver(
        Order(render(tmp_path / "frames"), tmp_path / "film.mp4", fps=Fraction(24)),
        lambda *all_of_it: told.append(all_of_it),
    )
    assert told[5] == (6, 6, "Checking pictures")
    assert told[-1] == (12, 12, "Writing the film")


def test_without_pyav_it_says_which_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(MissingExtra, match=r"pastepot\[film\]"):
        deliver(Order(tmp_path, tmp_path / "film.mp4"))


def png_of(path: Path, values: np.ndarray, full: int = 65535) -> Path:
    """A PNG of 8 or 16 bits, RGB or RGBA (ISO/IEC 15948); Pillow writes no deep colour."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    height, width, channels = values.shape
    rows = b"".join(b"\0" + row.astype(">u2" if full > 255 else "u1").tobytes() for row in values)
    head = struct.pack(">IIBBBBB", width, height, 16 if full > 255 else 8, {3: 2, 4: 6}[channels], 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    )
    return path


def test_sixteen_bit_pictures_are_rounded(tmp_path: Path) -> None:
    values = np.random.default_rng(1).integers(0, 65536, (9, 70, 3))
    assert (decode(png_of(tmp_path / "p.png", values)) == np.floor(values / 257 + 0.5)).all()


@pytest.mark.parametrize("mode", ["L", "LA", "RGB", "RGBA", "P", "1"])
def test_every_kind_of_png_is_decoded_to_its_colours(tmp_path: Path, mode: str) -> None:
    image = Image.fromarray(np.random.default_rng(2).integers(0, 256, (20, 30, 3)).astype(np.uint8)).convert(mode)
    image.save(tmp_path / "p.png")
    assert (decode(tmp_path / "p.png") == np.asarray(image.convert("RGB"))).all()


@pytest.mark.parametrize(
    ("frames", "words"),
    [([3], "frame 3"), ([1, 2, 3], "frames 1-3"), ([9, 1, 2, 4], "frames 1-2, 4 and 9"), ([1, 3], "frames 1 and 3")],
)
def test_frame_numbers_in_words(frames: list[int], words: str) -> None:
    assert runs(frames) == words


def test_many_runs_are_cut_short() -> None:
    assert runs(range(0, 100, 2)).endswith("22 and 38 more runs")


def test_the_list_is_read_exactly(tmp_path: Path) -> None:
    pictures = listed(render(tmp_path / "frames", first=25, fps="24000/1001"))
    assert (pictures.fps, pictures.size, pictures.first) == (Fraction(24000, 1001), SIZE, 25)
    assert [p.name for p in pictures.files[:2]] == ["frame_0025.png", "frame_0026.png"]


def test_what_the_render_step_leaves_can_be_delivered(tmp_path: Path) -> None:
    """The two steps know each other only by this folder."""
    numbers = np.arange(25, 31)
    job = Job(Plan(numbers, numbers - (numbers - 25) % 2), "a fingerprint", Fraction(12), SIZE)
    with opened(tmp_path / "frames", job) as folder:
        for number in folder.missing():
            Image.new("RGB", SIZE, (8 * number, 90, 120)).save(folder.draft(number))
            folder.take(number)
        folder.finish()
    made = deliver(Order(tmp_path / "frames", tmp_path / "film.mp4", beep(tmp_path / "s.wav"), Fraction(24)))
    assert (made.found["video"]["frames"], made.found["video"]["rate"], made.sound_frame) == (12, "24", 25)
    assert made.found["sound"]["samples"] == 24000


# The command -------------------------------------------------------------------------------------------------------


def test_the_command_says_what_it_wrote(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    frames, sound = render(tmp_path / "frames"), beep(tmp_path / "s.wav")
    code = cli.main(
        ["deliver", str(frames), "--sound", str(sound), "--fps", "24", "-o", str(tmp_path / "film.mp4"), "--json"]
    )
    said = json.loads(capsys.readouterr().out)
    assert code == 0
    assert (said["video"]["frames"], said["video"]["rate"], said["sound"]["samples"]) == (12, "24", 24000)
    assert (said["moov_first"], said["sound_frame"], said["problems"]) == (True, 1, [])


@pytest.mark.parametrize("rate", ["23.976", "0", "-12", "24/0", "x", "٢٤"])
def test_rates_that_are_not_exact_are_misuse(tmp_path: Path, rate: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["deliver", str(tmp_path), "-o", "film.mp4", f"--fps={rate}"]) == 2
    assert "write 24 or 24000/1001" in capsys.readouterr().err


def test_problems_exit_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["deliver", str(tmp_path), "-o", str(tmp_path / "film.mp4")]) == 1
    assert "no finished render" in capsys.readouterr().err


def test_a_film_that_flashes_is_delivered_with_a_warning(tmp_path: Path) -> None:
    """Every delivery is checked; the film is the person's, so it is written all the same."""
    frames = render(tmp_path / "frames", count=24)
    for n in range(1, 25):
        Image.new("RGB", SIZE, (240,) * 3 if n % 2 else (20,) * 3).save(frames / f"frame_{n:04}.png")
    made = deliver(Order(frames, tmp_path / "film.mp4", fps=Fraction(24)))
    assert not made.flashes.passed
    assert made.flashes.most("general") == 12
    assert any("seizures" in p.what and p.severity == "warning" for p in made.warnings)
    assert (tmp_path / "film.mp4").exists()


def test_a_calm_film_is_delivered_without_one(tmp_path: Path) -> None:
    made = deliver(Order(render(tmp_path / "frames"), tmp_path / "film.mp4"))
    assert made.flashes.passed
    assert made.warnings == ()
