"""A film folder with many overlapping parts: soft-edged figures of paper, no two alike."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image


def draw(folder: Path, parts: int, size_px: int, px_per_mm: float, frame: tuple[int, int] = (960, 540)) -> None:
    """Write film.toml, parts.toml and one image a part into the empty `folder`, all of one character, piled up."""
    (folder / "parts").mkdir()
    random = np.random.default_rng(4)
    y, x = np.mgrid[:size_px, :size_px].astype(np.float32) + 0.5 - size_px / 2
    radius, angle = np.hypot(x, y), np.arctan2(y, x)
    text = ["schema = 1\n"]
    for number in range(parts):
        edge = size_px * (0.26 + 0.2 * np.cos((number % 5 + 2) * (angle - random.uniform(0, 6))) ** 2) * 0.9
        hole = size_px * (0.08 if number % 3 == 0 else 0.0)
        pixels = np.empty((size_px, size_px, 4), np.uint8)
        pixels[..., :3] = random.integers(60, 200, 3) + random.integers(0, 8, (size_px, size_px, 1))
        pixels[..., 3] = 255 * np.clip(np.minimum(edge - radius, radius - hole) / 1.5 + 0.5, 0, 1)
        Image.fromarray(pixels).save(folder / "parts" / f"part-{number}.png", compress_level=1)
        middle = size_px / px_per_mm / 2
        parent, joint = "", ""
        if number:
            across, up = random.uniform(-0.9, 0.9, 2) * (middle, middle / 2)
            parent, joint = 'parent = "part-0"\n', f"joint_mm = [{middle + across:.1f}, {middle + up:.1f}]\n"
        text.append(
            f'[[part]]\nname = "part-{number}"\ncharacter = "heap"\ntype = "leaf"\nlayer = {number}\n{parent}{joint}'
            f'image = "parts/part-{number}.png"\npx_per_mm = {px_per_mm}\npivot_mm = [{middle:.1f}, {middle:.1f}]\n'
        )
    (folder / "parts.toml").write_text("\n".join(text), encoding="utf-8")
    film = f'schema = 1\ntitle = "Heap"\nfps = 12\nsize = [{frame[0]}, {frame[1]}]\nframe_width_mm = 200.0\n'
    (folder / "film.toml").write_text(film, encoding="utf-8")
