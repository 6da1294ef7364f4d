"""Round trip: a shot with a known feel is rendered, and plain registration finds the feel in the pictures.

Only 8-bit pictures go in, and nothing of ours measures them but a straight line through the values: scikit-image 0.26,
`phase_cross_correlation` (M. Guizar-Sicairos, S. T. Thurman, J. R. Fienup, Opt. Lett. 33, 156, 2008) for slides, the
same on `warp_polar` pictures for turns, and for light the curve of IEC 61966-2-1. A standard deviation of N values
of this bell is itself off by sqrt((kurtosis - 1) / N) / 2, 4 % for 260 of them; the bar is 10 %.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import bpy
import numpy as np
import pytest
from pastepot.timing.feel import Feel
from pastepot_blender import host, ids
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, make
from PIL import Image
from scipy.ndimage import gaussian_filter
from skimage.registration import phase_cross_correlation
from skimage.transform import warp_polar

SIDE_PX, SIDE_MM = 96, 48.0
PX_PER_MM = SIDE_PX / SIDE_MM
COUNT = 264  # exposures: slides have two values each, turns and light one
STILL = {"offset_mm": 0.0, "turn_deg": 0.0}
BAR = 0.10

pytestmark = pytest.mark.slow


@pytest.fixture
def scene(tmp_path: Path) -> bpy.types.Scene:
    """A sheet wider than the picture with a leaf on it, both of spotted paper, at 24 frames a second."""
    film = f'schema = 1\ntitle = "T"\nfps = 24\nsize = [{SIDE_PX}, {SIDE_PX}]\nframe_width_mm = {SIDE_MM}\nseed = 11\n'
    parts = ["schema = 1"]
    (tmp_path / "parts").mkdir()
    chance = np.random.default_rng(5)
    for name, mm, layer in (("sheet", 80, 1), ("leaf", 24, 5)):
        spots = gaussian_filter(chance.standard_normal((mm * 4, mm * 4)), 5, mode="wrap")
        grey = np.clip(128 + 45 * spots / spots.std(), 40, 230).astype(np.uint8)
        Image.fromarray(np.dstack([grey, grey, grey, np.full_like(grey, 255)])).save(tmp_path / f"parts/{name}.png")
        parts.append(
            f'[[part]]\nname = "{name}"\ncharacter = "pond"\ntype = "backdrop"\nimage = "parts/{name}.png"\n'
            f"px_per_mm = 4.0\npivot_mm = [{mm / 2}, {mm / 2}]\nlayer = {layer}\n"
        )
    (tmp_path / "film.toml").write_text(film, encoding="utf-8")
    (tmp_path / "parts.toml").write_text("\n".join(parts), encoding="utf-8")
    scene = bpy.context.scene
    build(scene, tmp_path, lambda *_: None)
    bpy.context.view_layer.update()
    scene.camera.location[0] = part("leaf").matrix_world.translation[0]
    scene.cycles.samples, scene.cycles.use_adaptive_sampling = 8, False
    scene.render.use_persistent_data = True
    scene.frame_start = 1
    host.use_png(scene.render.image_settings)
    return scene


def part(name: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == name)


def linear_keys(obj: bpy.types.Object, path: str, index: int, begin: float, end: float, last: int) -> None:
    """A move at an even speed between two extremes."""
    for frame, value in ((1, begin), (last, end)):
        getattr(obj, path)[index] = value
        obj.keyframe_insert(path, index=index, frame=frame)
    for curve in host.fcurves(obj.animation_data.action):
        for point in curve.keyframe_points:
            point.interpolation = "LINEAR"


def rendered(scene: bpy.types.Scene, frames: Iterable[int], folder: Path) -> np.ndarray:
    """(F, H, W) codes."""
    out = []
    for frame in frames:
        scene.frame_set(frame)
        scene.render.filepath = str(folder / "frame.png")
        bpy.ops.render.render(write_still=True)
        out.append(np.asarray(Image.open(folder / "frame.png").convert("L")).astype(float))
    return np.array(out)


def slides_mm(pictures: np.ndarray) -> np.ndarray:
    """(F, 2) right and up from the first picture."""
    found = [
        phase_cross_correlation(picture, pictures[0], upsample_factor=50, normalization=None)[0] for picture in pictures
    ]
    return np.array(found)[:, ::-1] * (1, -1) / PX_PER_MM


def turns_deg(pictures: np.ndarray) -> np.ndarray:
    """(F,) anticlockwise about the middle from the first picture."""
    polar = [warp_polar(p, radius=SIDE_PX // 2 - 2, output_shape=(720, SIDE_PX // 2 - 2)) for p in pictures]
    found = [phase_cross_correlation(p, polar[0], upsample_factor=20, normalization=None)[0][0] for p in polar]
    return -np.array(found) / 2


def off_the_line(values: np.ndarray) -> float:
    """The standard deviation about an even move; values (N,) or (N, 2)."""
    columns = np.stack([np.ones(len(values)), np.arange(len(values))], -1)
    fitted, *_ = np.linalg.lstsq(columns, values, rcond=None)
    return float((values - columns @ fitted).std())


def on_show(pattern: tuple[int, ...], last: int) -> list[int]:
    """Where exposures begin if a pattern of lengths is simply counted off."""
    starts, n = [1], 0
    while starts[-1] + pattern[n % len(pattern)] <= last:
        starts.append(starts[-1] + pattern[n % len(pattern)])
        n += 1
    return starts


def test_the_exposures_and_the_misses_of_a_slide(scene, tmp_path: Path) -> None:
    pattern, last = (2, 1, 3), 2 * COUNT
    part("sheet").hide_render = True
    scene.frame_end = last
    linear_keys(part("leaf"), "location", 0, -0.05, 0.05, last)
    make(scene, Settings(feel=Feel(offset_mm=0.5, turn_deg=0.0), pattern=pattern))
    pictures = rendered(scene, range(1, last + 1), tmp_path)
    new = np.flatnonzero((pictures[1:] != pictures[:-1]).any(axis=(1, 2))) + 2
    expected = [start for start in on_show(pattern, last) if last - start >= min(pattern)]
    assert [1, *new.tolist()] == [*expected, last]
    shown = pictures[np.array([0, *(new - 1)])][1:-1]
    assert off_the_line(slides_mm(shown)) == pytest.approx(0.5, rel=BAR)


def test_the_misses_of_a_turn(scene, tmp_path: Path) -> None:
    part("sheet").hide_render = True
    scene.frame_end = COUNT
    linear_keys(part("leaf"), "rotation_euler", 1, 0.2, -0.2, COUNT)
    make(scene, Settings(feel=Feel(offset_mm=0.0, turn_deg=1.0), pattern=(1,)))
    found = turns_deg(rendered(scene, range(2, COUNT), tmp_path))
    assert off_the_line(found) == pytest.approx(1.0, rel=BAR)
    assert found[-1] - found[0] == pytest.approx(np.degrees(0.4), abs=4.0)


@pytest.mark.parametrize(
    ("asked", "measure"), [("weave_mm", slides_mm), ("weave_deg", turns_deg)], ids=["weave_mm", "weave_deg"]
)
def test_the_weave_of_the_frame(scene, tmp_path: Path, asked: str, measure) -> None:
    scene.frame_end = COUNT
    linear_keys(part("leaf"), "location", 1, 0.0, 1e-3, COUNT)  # something has to be animated: toward the camera
    make(scene, Settings(feel=Feel(**STILL, **{asked: 0.6}), pattern=(1,)))
    found = measure(rendered(scene, range(1, COUNT + 1), tmp_path))
    assert found.std(axis=0).mean() == pytest.approx(0.6, rel=BAR)


def test_the_flicker_of_the_light(scene, tmp_path: Path) -> None:
    scene.frame_end = COUNT
    linear_keys(part("leaf"), "location", 1, 0.0, 1e-3, COUNT)
    make(scene, Settings(feel=Feel(**STILL, flicker_stops=0.02), pattern=(1,)))
    codes = rendered(scene, range(1, COUNT + 1), tmp_path) / 255
    light = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4).mean(axis=(1, 2))
    assert np.log2(light / light.mean()).std() == pytest.approx(0.02, rel=BAR)
