"""Photographs as files: turned, with a profile, and broken in many ways."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from pastepot.capture.photo import read_photo
from pastepot.errors import PastepotError
from PIL import Image, ImageCms

PICTURE = np.zeros((20, 30, 3), np.uint8)
PICTURE[:, :15] = (200, 30, 30)
PICTURE[:10, 15:] = (40, 180, 60)


def saved(path: Path, **options: object) -> Path:
    Image.fromarray(PICTURE).save(path, **options)
    return path


@pytest.mark.parametrize(
    ("orientation", "undo"),
    [(1, lambda p: p), (3, lambda p: np.rot90(p, 2)), (6, lambda p: np.rot90(p, -1)), (8, lambda p: np.rot90(p, 1))],
)
def test_exif_orientation_is_obeyed(orientation: int, undo, tmp_path: Path) -> None:
    """Exif 2.3, tag 0x0112: 6 means that the picture's top is at the camera's right."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    read = read_photo(saved(tmp_path / "a.png", exif=exif.tobytes()))
    assert (read == undo(PICTURE)).all()


def test_an_embedded_profile_is_converted(tmp_path: Path) -> None:
    """The same code values in linear light (a profile made by LittleCMS) are brighter in sRGB."""
    grey = np.full((4, 4, 3), 55, np.uint8)
    curve = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    Image.fromarray(grey).save(tmp_path / "a.png", icc_profile=curve.tobytes())
    assert (read_photo(tmp_path / "a.png") == grey).all()
    Image.fromarray(grey).save(tmp_path / "b.png", icc_profile=b"no profile at all")
    assert (read_photo(tmp_path / "b.png") == grey).all()


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "RGBA", "1"])
def test_every_kind_of_picture_becomes_colour(mode: str, tmp_path: Path) -> None:
    path = tmp_path / ("a.tif" if mode == "CMYK" else "a.png")
    Image.fromarray(PICTURE).convert(mode).save(path)
    assert read_photo(path).shape == PICTURE.shape


def test_what_is_no_photograph_is_refused_with_its_name(tmp_path: Path) -> None:
    whole = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 255, (200, 200, 3), np.uint8)).save(whole, "JPEG")
    files = {
        "empty.jpg": b"",
        "text.jpg": b"a heron and a snail",
        "cut.jpg": whole.getvalue()[: len(whole.getvalue()) // 2],
    }
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
        with pytest.raises(PastepotError, match="cannot be read") as caught:
            read_photo(tmp_path / name)
        assert caught.value.problems[0].file.endswith(name)
    with pytest.raises(PastepotError, match="no such photograph"):
        read_photo(tmp_path / "none.jpg")
    Image.fromarray(np.zeros((4, 4), np.uint16)).save(tmp_path / "deep.png")
    with pytest.raises(PastepotError, match="more than 8 bits"):
        read_photo(tmp_path / "deep.png")
