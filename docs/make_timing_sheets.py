"""Draws docs/pictures/timing-*.jpg from the example film: the same frames smooth, stepped plainly, and handmade.

    pastepot demo --draft -o build/kettle-pond
    python docs/make_timing_sheets.py build/kettle-pond/scenes/waiting.blend

Each row is a frame after the other. A bar above a frame says that its picture is new; the thin lines do not move.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import bpy
from pastepot.cli import main
from PIL import Image, ImageDraw, ImageFont

PICTURES = Path(__file__).resolve().parent / "pictures"
ROWS: tuple[tuple[str, list[str]], ...] = (
    ("Smooth", []),
    ("Stepped", ["--feel", "still as stone", "--pattern", "2"]),
    ("Handmade", ["--feel", "quick hands", "--pattern", "2"]),
)
SHEETS = {  # name: first frame, last frame, part of the picture that is shown (left, bottom, right, top; 0 to 1)
    "timing-look-up": (85, 90, (0.14, 0.6, 0.48, 0.98)),
    "timing-nod": (109, 114, (0.36, 0.36, 0.54, 0.66)),
}
WIDTH, MARGIN, HEADING, BAR = 190, 6, 18, 4


def frames(scene_file: Path, first: int, last: int, part: tuple[float, ...], folder: Path) -> list[Image.Image]:
    """The frames of a scene, cropped to a part of the picture."""
    bpy.ops.wm.open_mainfile(filepath=str(scene_file))
    render = bpy.context.scene.render
    render.use_border = render.use_crop_to_border = True
    render.border_min_x, render.border_min_y, render.border_max_x, render.border_max_y = part
    render.resolution_percentage = round(100 * WIDTH / (render.resolution_x * (part[2] - part[0])))
    render.use_persistent_data = True
    bpy.context.scene.cycles.samples = 8
    out = []
    for frame in range(first, last + 1):
        bpy.context.scene.frame_set(frame)
        render.filepath = str(folder / "frame.png")
        bpy.ops.render.render(write_still=True)
        with Image.open(folder / "frame.png") as picture:
            out.append(picture.convert("RGB"))
    return out


def sheet(rows: dict[str, list[Image.Image]], first: int) -> Image.Image:
    """Rows of frames with their names, frame numbers and bars."""
    width, height = next(iter(rows.values()))[0].size
    count = len(next(iter(rows.values())))
    across, down = width + MARGIN, height + HEADING + BAR + MARGIN
    out = Image.new("RGB", (count * across + MARGIN, len(rows) * down + MARGIN), "white")
    draw, font = ImageDraw.Draw(out), ImageFont.load_default(13)
    for line, (name, pictures) in enumerate(rows.items()):
        for place, picture in enumerate(pictures):
            x, y = MARGIN + place * across, MARGIN + line * down
            draw.text((x, y), f"{name}, frame {first}" if place == 0 else str(first + place), "black", font)
            if place == 0 or picture.tobytes() != pictures[place - 1].tobytes():
                draw.rectangle((x, y + HEADING, x + width - 1, y + HEADING + BAR - 2), "black")
            out.paste(picture, (x, y + HEADING + BAR))
            for share in (1 / 3, 2 / 3):
                draw.line((x + width * share, y + HEADING + BAR, x + width * share, y + down - MARGIN - 1), "white")
    return out


def draw(scene_file: Path) -> None:
    """Both sheets."""
    # beside the folder of the scene, so that what is made from it finds the film
    with tempfile.TemporaryDirectory(dir=scene_file.parent.parent) as temporary:
        folder = Path(temporary)
        smooth = folder / "Smooth.blend"
        scenes = {"Smooth": smooth}
        orders = [["retime", str(scene_file), "--fps", "24", "-o", str(smooth)]]
        for name, words in ROWS:
            scenes[name] = folder / f"{name}.blend"
            orders += [["handmade", str(smooth), *words, "-o", str(scenes[name])]] if words else []
        if any(main(order) for order in orders):
            raise SystemExit(1)
        for name, (first, last, part) in SHEETS.items():
            rows = {row: frames(scenes[row], first, last, part, folder) for row in scenes}
            sheet(rows, first).save(PICTURES / f"{name}.jpg", quality=82, optimize=True)


if __name__ == "__main__":
    draw(Path(sys.argv[1]).resolve())
