"""Small pictures: alpha and averages in linear light (sRGB: IEC 61966-2-1)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pastepot.library.thumbnail import UnreadableError, pixel_size, thumbnail
from PIL import Image

BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def saved(folder: Path, pixels: np.ndarray) -> Path:
    Image.fromarray(pixels).save(folder / "p.png")
    return folder / "p.png"


def small(path: Path, size: tuple[int, int], ground: tuple[int, int, int] = BLACK) -> np.ndarray:
    return np.asarray(thumbnail(path, size, ground))


def test_half_covered_white_over_black_is_188(tmp_path: Path) -> None:
    """Half the light is code 188 (IEC 61966-2-1: 188 is .5029 of the light), not 128."""
    pixels = np.full((8, 8, 4), 255, np.uint8)
    pixels[..., 3] = 128
    assert (small(saved(tmp_path, pixels), (8, 8)) == 188).all()


@pytest.mark.parametrize("size", [(2, 2), (5, 3), (33, 33)])
def test_a_fine_checkerboard_averages_to_half_the_light(tmp_path: Path, size: tuple[int, int]) -> None:
    pixels = np.where(np.indices((132, 132)).sum(axis=0) % 2, 255, 0).astype(np.uint8)
    assert np.abs(small(saved(tmp_path, pixels), size).astype(int) - 188).max() <= 1


def test_colour_under_clear_pixels_does_not_show(tmp_path: Path) -> None:
    pixels = np.zeros((40, 40, 4), np.uint8)
    pixels[..., 1] = 255  # loud green where nothing is
    pixels[:20] = (255, 255, 255, 255)
    shown = small(saved(tmp_path, pixels), (10, 10), WHITE)
    assert (shown == 255).all()


def test_it_never_grows(tmp_path: Path) -> None:
    path = saved(tmp_path, np.zeros((3, 5), np.uint8))
    assert thumbnail(path, (50, 30), WHITE).size == (5, 3)


@pytest.mark.parametrize("shape", [(101, 67), (7, 640), (1, 1)])
def test_sizes_that_do_not_divide_keep_the_geometry(tmp_path: Path, shape: tuple[int, int]) -> None:
    """A ramp across the picture stays a ramp from edge to edge."""
    ramp = np.broadcast_to(np.linspace(0, 255, shape[1]), shape).astype(np.uint8)
    width = max(1, shape[1] // 6)
    shown = small(saved(tmp_path, ramp), (width, max(1, shape[0] // 6)))[0, :, 0].astype(int)
    centres = (np.arange(width) + 0.5) / width * shape[1] - 0.5
    assert np.abs(shown - np.interp(centres, np.arange(shape[1]), ramp[0])).max() <= 8


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_every_kind_of_png_is_shown_in_its_colours(tmp_path: Path, mode: str) -> None:
    Image.new("RGB", (12, 12), "white").convert(mode).save(tmp_path / "p.png")
    assert (small(tmp_path / "p.png", (6, 6)) == 255).all()


def test_sixteen_bit_grey_is_rounded(tmp_path: Path) -> None:
    path = saved(tmp_path, np.full((4, 4), 40000, np.uint16))
    assert (small(path, (4, 4)) == round(40000 / 257)).all()


def test_a_large_scan_is_read_in_strips(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    noise = np.random.default_rng(5).integers(0, 256, (300, 90, 4)).astype(np.uint8)
    path = saved(tmp_path, noise)
    whole = small(path, (9, 30))
    monkeypatch.setattr("pastepot.library.thumbnail._STRIP_BYTES", 20_000)
    assert (small(path, (9, 30)) == whole).all()


def test_what_is_no_picture_says_so(tmp_path: Path) -> None:
    (tmp_path / "p.png").write_text("hello")
    with pytest.raises(UnreadableError, match="can't be read"):
        pixel_size(tmp_path / "p.png")
