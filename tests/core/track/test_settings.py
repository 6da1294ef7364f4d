"""track/mouths.toml: what the person wants otherwise, and what is said where it makes no sense."""

from __future__ import annotations

import pytest
from pastepot.errors import PastepotError
from pastepot.library import manifest
from pastepot.track import settings


@pytest.fixture
def load(pond):
    """Writes the file, and reads it."""

    def run(text: str):
        (pond.path / "track" / "mouths.toml").write_text(text, encoding="utf-8")
        return settings.load(pond.path, manifest.load(pond.path))

    return run


def test_without_the_file_speakers_go_by_their_names(pond):
    library = manifest.load(pond.path)
    plain = settings.load(pond.path, library)
    assert [plain.character(name, library) for name in ("SNAIL", "snail", "Heron")] == ["snail", "snail", ""]
    (mouths,) = plain.mouths(library, "snail")
    assert (mouths.name, len(mouths.mouths)) == ("snail-mouth", 5)


def test_what_the_file_says_counts(pond, load):
    shape = {"lips": "closed", "open": 0.0, "round": 0.0}
    for name in ("sad", "low"):
        pond.part(f"snail-{name}", character="snail", type="mouth", replaces="snail-sad", mouth=shape)
    found = load(
        'schema = 1\nlead_s = 0.04\n[speaker]\n"The Old One" = "snail"\n[line]\nwaiting-2 = "snail-sad"\n'
        '[set.snail-mouth]\nAA = "snail-pea"\nSIL = "snail-smile"\n'
    )
    library = manifest.load(pond.path)
    assert found.lead_s == 0.04
    assert found.character("the old one", library) == "snail"
    plain, sad = (found.mouths(library, "snail", line)[0] for line in ("waiting-1", "waiting-2"))
    assert (plain.name, sad.name) == ("snail-mouth", "snail-sad")
    assert (plain.table()["AA"], plain.table()["SIL"]) == ("snail-pea", "snail-smile")


@pytest.mark.parametrize(
    ("text", "row", "what"),
    [
        ("lead_s = 0\n", 0, "does not begin with its schema number"),
        ("schema = 1\nled_s = 0\n", 2, "'led_s' is not known here"),
        ("schema = 1\nlead_s = 2\n", 2, "The lead is 2."),
        ("schema = 1\nlead_s = true\n", 2, "The lead is True."),
        ('schema = 1\n[speaker]\nX = "frog"\n', 3, "There is no character 'frog'."),
        ('schema = 1\n[line]\na-1 = "frog"\n', 3, "There is no replacement set 'frog'."),
        ('schema = 1\n[set.frog]\nAA = "x"\n', 2, "'frog' is not a replacement set."),
        ('schema = 1\n[set.snail-mouth]\nAA = "frog"\n', 3, "'frog' is not a mouth of 'snail-mouth'."),
        ('schema = 1\n[set.snail-mouth]\nQQ = "snail-pea"\n', 3, "'QQ' is not a sound."),
        ("schema = 1\nspeaker = 3\n", 2, "'speaker' is not a table of names."),
    ],
)
def test_what_makes_no_sense_is_told_with_its_row(load, text, row, what):
    with pytest.raises(PastepotError) as caught:
        load(text)
    assert [(p.row, what in p.what, p.file) for p in caught.value.problems] == [(row, True, "track/mouths.toml")]
