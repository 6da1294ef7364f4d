"""Whatever goes into a picture changes the fingerprint; where the film lies does not."""

from __future__ import annotations

import hashlib

import pytest
from pastepot.render.fingerprint import Source, digest, fingerprint, numbered

SETTINGS = {"engine": "CYCLES", "samples": 8}


@pytest.fixture
def film(tmp_path):
    def make(name: str) -> tuple:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "a.blend").write_bytes(b"scene")
        (folder / "heron.png").write_bytes(b"heron")
        return folder / "a.blend", [Source("//heron.png", folder / "heron.png")]

    return make


def test_the_digest_is_sha_256(tmp_path):
    """FIPS 180-4's example: the SHA-256 of 'abc'."""
    (tmp_path / "abc").write_bytes(b"abc")
    assert digest(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest(tmp_path / "abc") == hashlib.sha256(b"abc").hexdigest()


def of(scene, sources, settings=SETTINGS):
    return fingerprint(digest(scene), sources, settings)


def test_a_moved_film_keeps_it(film):
    assert of(*film("here")) == of(*film("there"))


def test_order_and_repetition_of_files_do_not_matter(film):
    scene, sources = film("here")
    more = [*sources, Source("//gone.png", scene.parent / "gone.png")]
    assert of(scene, more) == of(scene, [*more[::-1], *sources])


@pytest.mark.parametrize("change", ["scene", "picture", "settings", "missing", "name"])
def test_every_change_changes_it(film, change):
    scene, sources = film("here")
    before = of(scene, sources)
    settings = SETTINGS
    if change == "scene":
        scene.write_bytes(b"scene2")
    elif change == "picture":
        sources[0].path.write_bytes(b"Heron")
    elif change == "missing":
        sources[0].path.unlink()
    elif change == "name":
        sources = [Source("//snail.png", sources[0].path)]
    else:
        settings = SETTINGS | {"samples": 9}
    assert of(scene, sources, settings) != before


@pytest.mark.parametrize(
    ("named", "found"),
    [
        ("mouth_0001.png", ["mouth_0001.png", "mouth_0002.png", "mouth_10.png"]),
        ("mouth_0007.png", ["mouth_0001.png", "mouth_0002.png", "mouth_10.png"]),
        ("wall.<UDIM>.png", ["wall.1001.png", "wall.1002.png"]),
        ("wall.<UVTILE>.png", ["wall.u1_v1.png"]),
        ("heron.png", ["heron.png"]),
        ("gone.png", []),
        ("nowhere/mouth_0001.png", []),
    ],
)
def test_all_files_of_a_sequence_are_found(tmp_path, named, found):
    there = ["mouth_0001.png", "mouth_0002.png", "mouth_10.png", "mouth_0001.jpg", "mouth_x.png", "heron.png"]
    for name in [*there, "wall.1001.png", "wall.1002.png", "wall.u1_v1.png"]:
        (tmp_path / name).touch()
    assert [path.name for path in numbered(tmp_path / named)] == found
