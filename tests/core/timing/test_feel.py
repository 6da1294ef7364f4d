"""Feel files: written, read, and every mistake in one told at once."""

from __future__ import annotations

from dataclasses import fields
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse, PastepotError
from pastepot.timing import feel as feels
from pastepot.timing.feel import Feel


def test_a_feel_survives_its_file(tmp_path: Path) -> None:
    feel = Feel(pattern=(2, 2, 3), anchor="grid", camera="ones", offset_mm=0.4, turn_deg=1.0)
    path = tmp_path / "quick hands.feel.toml"
    path.write_text(feels.dumps(feel), encoding="utf-8")
    assert feels.load(path) == feel


@given(st.data())
def test_every_feel_survives_its_text(request, data) -> None:
    feel = data.draw(request.getfixturevalue("feels")())
    assert feels.loads(feels.dumps(feel)) == feel


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


def text_of(**settings: str) -> str:
    return "schema = 1\n" + "".join(f"{name} = {value}\n" for name, value in settings.items())


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        *((s.name, value) for s in feels.SETTINGS if s.kind in ("number", "whole") for value in ("nan", "1e9", '"2"')),
        *((s.name, "-1") for s in feels.SETTINGS if s.kind in ("number", "whole")),
        *((s.name, "1.5") for s in feels.SETTINGS if s.kind == "whole"),
        *((s.name, '"other"') for s in feels.SETTINGS if s.kind == "choice"),
        ("pattern", "[]"),
        ("pattern", "[1.0]"),
        ("pattern", "[1001]"),
        ("odds", "[0]"),
        ("odds", "[-1, 2]"),
        ("odds", "[inf]"),
        ("odds", "3"),
        ("unsafe_flicker", "1"),
    ],
)
def test_values_that_do_not_fit_are_refused(name: str, bad: str) -> None:
    with pytest.raises(PastepotError) as caught:
        feels.loads(text_of(**{name: bad}), "a.feel.toml")
    assert [p.field for p in caught.value.problems] == [name]
    assert caught.value.problems[0].fix.startswith("Write")


def test_a_misspelt_setting_is_guessed() -> None:
    with pytest.raises(PastepotError, match="Did you mean smallest_mm"):
        feels.loads(text_of(smalest_mm="1"))


def test_flicker_that_is_not_safe_has_to_be_meant() -> None:
    with pytest.raises(PastepotError, match="seizures"):
        feels.loads(text_of(flicker_stops="0.05"))
    feel = feels.loads(text_of(flicker_stops="0.05", unsafe_flicker="true"))
    assert [p.severity for p in feels.check(feel)] == ["warning"]
    assert feels.check(Feel(flicker_stops=0.02)) == []


def test_every_setting_is_explained_once() -> None:
    assert [s.name for s in feels.SETTINGS] == [f.name for f in fields(Feel)]
    assert len({s.text for s in feels.SETTINGS}) == len(feels.SETTINGS)
    for setting in feels.SETTINGS:
        assert setting.group in feels.GROUPS
        default = list(setting.default) if isinstance(setting.default, tuple) else setting.default
        assert feels.complaint_about(setting, default) is None


def test_nothing_is_on_by_itself_but_the_misses() -> None:
    assert Feel() == Feel(pattern=(1,), anchor="extremes", camera="plan", offset_mm=0.25, turn_deg=0.4)
    off = ("uneven", "hurry", "ease_steps", "smallest_mm", "overshoot", "arc", "offset_share", "turn_share", "nudge")
    off += ("fast_share", "life_mm", "life_deg", "weave_mm", "weave_deg", "flicker_stops", "boil_mm", "bumps")
    assert not any(getattr(Feel(), name) for name in off)


def test_some_feels_come_along() -> None:
    assert {"still as stone", "careful hands", "quick hands", "worn table"} <= set(feels.presets())
    made = [feels.preset(name) for name in feels.presets()]
    assert len(set(made)) == len(made)
    assert all(feels.check(feel) == [] for feel in made)
    with pytest.raises(Misuse, match="Did you mean careful hands"):
        feels.preset("careful hand")


def test_a_feel_is_saved_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "mine.feel.toml"
    feels.save(Feel(arc=0.2), path)
    with pytest.raises(PastepotError, match="exists already"):
        feels.save(Feel(), path)
    assert feels.load(path) == Feel(arc=0.2)
    feels.save(Feel(), path, overwrite=True)
    assert feels.load(path) == Feel()
    with pytest.raises(PastepotError, match="cannot be written"):
        feels.save(Feel(), tmp_path / "nowhere" / "mine.feel.toml")
    assert [p.name for p in tmp_path.iterdir()] == ["mine.feel.toml"]
