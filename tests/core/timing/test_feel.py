"""Feel files: written, read, and every mistake in one told at once."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from pastepot.errors import PastepotError
from pastepot.timing import feel as feels
from pastepot.timing.feel import Feel


def test_a_feel_survives_its_file(tmp_path: Path) -> None:
    feel = Feel(pattern=(2, 2, 3), anchor="grid", camera="ones", offset_mm=0.4, turn_deg=1.0)
    path = tmp_path / "quick hands.feel.toml"
    path.write_text(feels.dumps(feel), encoding="utf-8")
    assert feels.load(path) == feel


def test_what_a_feel_leaves_out_has_its_usual_value(tmp_path: Path) -> None:
    path = tmp_path / "a.feel.toml"
    path.write_text("schema = 1\nturn_deg = 2\n", encoding="utf-8")
    assert feels.load(path) == Feel(turn_deg=2)


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "bad.feel.toml"
    path.write_text('pattern = [0]\nanchor = "loose"\noffset_mm = -1\nturn_deg = true\nwobble = 3\n', encoding="utf-8")
    with pytest.raises(PastepotError) as caught:
        feels.load(path)
    told = {p.field: str(p) for p in caught.value.problems}
    assert told.keys() == {"schema", "pattern", "anchor", "offset_mm", "turn_deg", "wobble"}
    assert "bad.feel.toml anchor: The value 'loose' does not fit. Write one of: extremes, grid." in told["anchor"]
    assert "Known are: anchor, arc" in told["wobble"]


@pytest.mark.parametrize(
    ("content", "message"), [(b"pattern = [1", "not valid TOML"), (b"\xff\xfe", "not UTF-8"), (None, "cannot be read")]
)
def test_files_that_are_no_feel(tmp_path: Path, content: bytes | None, message: str) -> None:
    path = tmp_path / "x.feel.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(PastepotError, match=message):
        feels.load(path)


def test_a_pattern_is_counted_at_twelve() -> None:
    assert Feel(pattern=(1,)).pattern_at(Fraction(12)) == (1,)
    assert Feel(pattern=(1,)).pattern_at(Fraction(24000, 1001)) == (2,)


@pytest.mark.parametrize(
    ("fps", "pattern"),
    [
        (Fraction(30), (2, 3)),
        (Fraction(30000, 1001), (2, 3)),
        (Fraction(60), (5,)),
        (Fraction(25), (2,) * 11 + (3,)),  # one frame more in each second
        (Fraction(6), (1,)),
    ],
)
def test_a_pattern_keeps_its_time_where_its_lengths_are_not_whole(fps: Fraction, pattern: tuple[int, ...]) -> None:
    assert Feel(pattern=(1,)).pattern_at(fps) == pattern
    seconds = Fraction(sum(pattern), round(fps))
    assert (seconds * 12).denominator == 1
