"""The demo film's artwork: drawn the same every time, its pictures well made, its parts fitting together."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from pastepot.library.check import check

pytest.importorskip("scipy", reason="the demo film needs pip install 'pastepot[example]'")
from scipy.ndimage import binary_dilation, maximum_filter, minimum_filter

Run = Callable[..., subprocess.CompletedProcess[str]]
Load = Callable[[str], ModuleType]


def test_the_same_seed_draws_the_same_bytes(scale: float, film: Path, tmp_path: Path, run: Run) -> None:
    assert run("draw.py", tmp_path / "again", "--scale", scale).returncode == 0
    files = sorted(p.relative_to(film) for p in film.rglob("*") if p.is_file())
    assert len(files) > 100
    differing = [f for f in files if (film / f).read_bytes() != (tmp_path / "again" / f).read_bytes()]
    assert differing == []


def test_another_seed_cuts_otherwise(load: Load) -> None:
    scissors = load("scissors")
    disc = scissors.oval(0, 0, 10)
    one, same, other = (scissors.snip(np.random.default_rng(seed), disc) for seed in (7, 7, 8))
    assert np.array_equal(one, same)
    assert one.shape != other.shape or not np.allclose(one, other)


def test_scissors_cut_in_straight_snips_close_to_the_shape(load: Load) -> None:
    scissors = load("scissors")
    cut = scissors.snip(np.random.default_rng(1), scissors.oval(0, 0, 20), slips=0)
    radius = np.hypot(*cut.T)
    assert 0.05 < np.ptp(radius) < 1.5


def test_drawing_leaves_a_changed_file_alone_unless_told_to_replace_it(
    scale: float, film: Path, tmp_path: Path, run: Run
) -> None:
    folder = tmp_path / "film"
    shutil.copytree(film, folder)
    drawn = (folder / "parts.toml").read_bytes()
    (folder / "parts.toml").write_text("# mine\n", encoding="utf-8")
    refused = run("draw.py", folder, "--scale", scale)
    assert refused.returncode == 1
    assert "parts.toml" in refused.stdout
    assert "--replace" in refused.stdout
    assert (folder / "parts.toml").read_text(encoding="utf-8") == "# mine\n"
    assert run("draw.py", folder, "--scale", scale, "--replace").returncode == 0
    assert (folder / "parts.toml").read_bytes() == drawn


def test_srgb_curve_against_the_standard(load: Load) -> None:
    """IEC 61966-2-1: 0.5 is 0.21404 of the light, and the straight part ends at 0.04045 / 12.92."""
    paper = load("paper")
    assert paper.to_linear(np.array(0.5)) == pytest.approx(0.21404, abs=1e-5)
    assert paper.to_linear(np.array(0.04045)) == pytest.approx(0.04045 / 12.92, abs=1e-7)
    levels = np.arange(256) / 255
    assert np.allclose(paper.to_srgb(paper.to_linear(levels)), levels, atol=1e-6)


def test_no_sheet_in_the_drawer_is_pure_black_or_white(load: Load) -> None:
    colours = np.array([sheet.rgb for sheet in load("paper").DRAWER.values()])
    assert colours.max() <= 242
    assert colours.min() >= 38


def physical_size(png: bytes) -> tuple[int, int, int]:
    """The pHYs chunk (PNG specification, third edition, 11.3.4.3): pixels per unit in x and y, and the unit."""
    at = png.index(b"pHYs") + 4
    return int.from_bytes(png[at : at + 4], "big"), int.from_bytes(png[at + 4 : at + 8], "big"), png[at + 8]


def test_pictures_say_their_true_size(film: Path, parts: dict[str, dict[str, Any]]) -> None:
    for part in parts.values():
        x, y, unit = physical_size((film / part["image"]).read_bytes())
        assert (x, y, unit) == (round(part["px_per_mm"] * 1000), x, 1), part["name"]


def test_densities_are_300_and_150_dpi(parts: dict[str, dict[str, Any]], scale: float) -> None:
    """One inch is 25.4 mm exactly (ISO 31-1)."""
    density = {part["px_per_mm"] for part in parts.values()}
    assert density == {round(dpi / 0.0254 * scale) / 1000 for dpi in (150, 300)}


def test_the_library_has_no_problems(film: Path) -> None:
    assert [str(problem) for problem in check(film)] == []


def test_pictures_have_an_empty_rim_of_eight_pixels(pixels: dict[str, np.ndarray]) -> None:
    for name, rgba in pixels.items():
        assert rgba.shape[2] == 4, name
        alpha = rgba[..., 3].copy()
        alpha[8:-8, 8:-8] = 0
        assert not alpha.any(), name


def _range_of_seen(rgba: np.ndarray, seen: np.ndarray, reach: int) -> tuple[np.ndarray, np.ndarray]:
    """The lowest and highest colour among the seen pixels within reach, for every pixel."""
    colour = rgba[..., :3].astype(int)
    size = (2 * reach + 1, 2 * reach + 1, 1)
    low = minimum_filter(np.where(seen[..., None], colour, 255), size)
    high = maximum_filter(np.where(seen[..., None], colour, 0), size)
    return low, high


def test_edge_colour_goes_on_under_alpha_0(pixels: dict[str, np.ndarray]) -> None:
    for name, rgba in pixels.items():
        seen = rgba[..., 3] >= 64
        hidden = binary_dilation(rgba[..., 3] > 0, iterations=4) & (rgba[..., 3] == 0)
        low, high = _range_of_seen(rgba, seen, 7)
        assert hidden.any(), name
        assert (rgba[hidden][:, :3] >= low[hidden]).all(), name
        assert (rgba[hidden][:, :3] <= high[hidden]).all(), name


def test_alpha_is_straight(pixels: dict[str, np.ndarray]) -> None:
    """Half-covered edge pixels have a paper's full colour; multiplied by alpha they would be far too dark."""
    right = []
    for rgba in pixels.values():
        alpha = rgba[..., 3]
        low, _ = _range_of_seen(rgba, alpha == 255, 2)
        judged = (alpha > 0) & (alpha < 128) & (low[..., 0] < 255)
        right.append((rgba[judged][:, :3] >= low[judged] - 40).all(axis=1))
    assert sum(map(len, right)) > 5000
    assert np.concatenate(right).mean() > 0.98


def test_there_are_enough_parts_in_both_views(parts: dict[str, dict[str, Any]]) -> None:
    assert len(parts) >= 34
    for character in ("heron", "snail"):
        views = {p["view"] for p in parts.values() if p["character"] == character}
        assert views == {"front", "side"}
    assert {p["view"] for p in parts.values() if p["character"] == "teapot"} == {"side"}


@pytest.mark.parametrize("view", ["front", "side"])
def test_mouths_say_what_they_look_like(parts: dict[str, dict[str, Any]], view: str) -> None:
    mouths = [p for p in parts.values() if p.get("replaces") == f"snail-mouth-{view}"]
    assert len(mouths) >= 5
    assert {m["mouth"]["lips"] for m in mouths} == {"closed", "touching-teeth", "apart"}
    assert len({tuple(m["mouth"].values()) for m in mouths}) == len(mouths)


@pytest.mark.parametrize("name", ["heron-eye-side", "heron-eye-front", "snail-eye-near-side", "snail-eye-left-front"])
def test_eyes_can_blink(parts: dict[str, dict[str, Any]], name: str) -> None:
    eyes = [p["name"] for p in parts.values() if p.get("replaces") == name]
    for state in ("open", "half", "shut"):
        assert sum(f"-{state}-" in eye for eye in eyes) == 1


def _inside(point_mm: list[float], part: dict[str, Any], rgba: np.ndarray) -> bool:
    x, y = (round(v * part["px_per_mm"]) for v in point_mm)
    return 0 <= x < rgba.shape[1] and 0 <= y < rgba.shape[0]


def test_pivots_and_joints_lie_on_their_images(parts: dict[str, dict[str, Any]], pixels: dict[str, np.ndarray]) -> None:
    for name, part in parts.items():
        assert _inside(part["pivot_mm"], part, pixels[name]), name
        if "parent" in part:
            assert _inside(part["joint_mm"], parts[part["parent"]], pixels[part["parent"]]), name


def _cover(rgba: np.ndarray, part: dict[str, Any], point_mm: list[float], radius_mm: float) -> float:
    """The share of a disc round a point where there is paper."""
    rows, columns = np.ogrid[: rgba.shape[0], : rgba.shape[1]]
    x, y = (v * part["px_per_mm"] for v in point_mm)
    disc = np.hypot(columns + 0.5 - x, rows + 0.5 - y) <= radius_mm * part["px_per_mm"]
    return float((rgba[..., 3][disc] > 127).mean())


LIMBS = {
    "heron-neck-upper-side": 4.0,
    "heron-head-side": 3.5,
    "heron-leg-near-side": 3.5,
    "heron-leg-far-side": 3.5,
    "heron-wing-side": 3.0,
    "heron-neck-lower-side": 3.5,
    "snail-head-side": 2.5,
    "heron-neck-upper-front": 4.0,
    "heron-head-front": 3.5,
}
"""Limbs and the radius of paper that must lie round their pins, on both papers, so that turning opens no gap."""


@pytest.mark.parametrize("name", LIMBS)
def test_both_papers_reach_round_a_joint(
    name: str, parts: dict[str, dict[str, Any]], pixels: dict[str, np.ndarray]
) -> None:
    limb, parent = parts[name], parts[parts[name]["parent"]]
    assert _cover(pixels[name], limb, limb["pivot_mm"], LIMBS[name]) > 0.9
    assert _cover(pixels[parent["name"]], parent, limb["joint_mm"], LIMBS[name]) > 0.9
