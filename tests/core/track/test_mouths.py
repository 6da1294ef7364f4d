"""Which mouth a sound gets, out of any set."""

from __future__ import annotations

import numpy as np
import pytest
from pastepot.library.parts import MouthShape, Part
from pastepot.track.mouths import MouthSet, distances
from pastepot.track.sounds import SILENCE, SOUNDS, sound


def test_there_are_39_sounds():
    assert len(SOUNDS) == 39


def test_a_small_set_is_used_as_anyone_would(mouths):
    table = mouths().table()
    assert {table[s] for s in "BMP"} == {"rest"} == {table[SILENCE]}
    assert {table["F"], table["V"]} == {"bite"}
    assert (table["AA"], table["IY"], table["UW"], table["W"]) == ("gape", "smile", "pea", "pea")


@pytest.mark.parametrize("count", [2, 3, 5, 8, 12, 30])
def test_every_sound_gets_one_mouth_of_any_set(count):
    rng = np.random.default_rng(count)
    lips = ["closed", "apart", "touching-teeth"]
    shapes = [MouthShape(lips[k % 3 if k < 2 else int(rng.integers(3))], *rng.random(2)) for k in range(count)]
    parts = [Part(f"m{k}", "snail", "mouth", "", 1.0, (0.0, 0.0), mouth=s) for k, s in enumerate(shapes)]
    table = MouthSet("any", tuple(parts)).table()
    assert set(table) == {SILENCE, *SOUNDS}
    assert set(table.values()) <= {p.name for p in parts}
    assert {table[s] for s in "BMP"} == {table["B"]}
    assert dict(zip([p.name for p in parts], shapes, strict=True))[table["M"]].lips == "closed"


def test_two_mouths_open_and_shut(mouths):
    table = mouths("rest", "gape").table()
    assert {table[s] for s in ("M", "B", "P", "F", "V", SILENCE)} == {"rest"}
    assert {table[s] for s in ("AA", "AE", "AH", "OW")} == {"gape"}


def test_the_persons_choice_counts(mouths):
    assert mouths(fixed={"AA": 4}).table()["AA"] == "pea"


def test_what_a_set_lacks_is_said(mouths):
    assert mouths().lacks() == []
    assert len(mouths("gape", "pea").lacks()) == 2


def test_a_shape_is_nearest_to_itself():
    shapes = [s.shape for s in SOUNDS.values()]
    apart = distances(shapes, shapes)
    assert np.all(np.diag(apart) == 0)
    assert np.all(apart >= 0)


def test_stress_does_not_matter():
    assert sound("AH0") is sound("AH1") is sound("AH")
