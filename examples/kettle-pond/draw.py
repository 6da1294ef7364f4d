"""Draw the demo film's parts and write its parts.toml and film.toml.

    python draw.py FILM_FOLDER [--scale 0.25] [--seed 7] [--replace]

The scripts of this folder find each other because Python puts a script's own folder first on its search path; run them
as scripts, from anywhere. The same seed gives the same bytes on every run. Files that are there already and would
come out different are left alone, and nothing is written, unless --replace is given.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import heron_front
import heron_side
import pond
import props
import snail
import teapot
from collage import Picture
from figure import Cutout

SEED = 7


def cutouts(seed: int = SEED) -> list[Cutout]:
    """Every part of the film, from the sky to the nearest reed."""
    sheets = (pond, props, heron_side, heron_front, snail, teapot)
    return [cut for sheet in sheets for cut in sheet.parts(seed)]


def pictures(cuts: list[Cutout], scale: float = 1.0) -> dict[str, Picture]:
    """Part name -> its picture; scale 0.25 draws at a quarter of the density, for tests."""
    return {cut.name: cut.collage.picture(round(cut.px_per_m * scale)) for cut in cuts}


# ---------------------------------------------------------------- parts.toml and film.toml

HEAD = """\
# The parts of the film: one [[part]] block for every piece of cut paper.
#
# All lengths are millimetres of real paper. On an image they are measured from its upper left corner, x to the right
# and y down. Change a number, build the scene again, and the part moves; the names must stay, because everything an
# animator does hangs on them.
#
#   image      the picture, a PNG with transparency
#   px_per_mm  how many of its pixels are one millimetre (11.811 is 300 dpi, 5.906 is 150 dpi)
#   pivot_mm   the point on this image that the part turns about
#   parent     the part it is fastened to
#   joint_mm   where on the parent's image that pivot is pinned
#   layer      place in the stack, higher is nearer the camera
#   replaces   parts with the same word here stand in for each other: one of them is shown at a time
#   [part.mouth]  what a mouth looks like, so that a track reading can choose it
schema = 1
"""

GROUPS = {
    ("pond", "backdrop"): "The backdrops: sheets that reach right across the stage, the sky at the very back.",
    ("pond", "prop"): "The props: the stop with its clock, the luggage, lily pads and reeds. Each stands by itself.",
    ("heron", "side"): "The heron from the side. Its neck bends in two places; legs, wing and crest are pinned on.",
    ("heron", "front"): "The heron from the front. Show either this view or the one from the side.",
    ("snail", "side"): "The snail from the side. Each eye sits on its own stalk, so each has its own replacements.",
    ("snail", "front"): "The snail from the front.",
    ("teapot", "side"): "The bus. Its lid hops, its wheels turn, and three puffs of steam replace each other.",
}

FILM = """\
# The settings of the film.
schema = 1
title = "Waiting for the Teapot"

# Twelve pictures a second: every picture is one new arrangement of the paper.
fps = 12
size = [960, 540]

# Every random number in the film comes from this seed. Another seed, another pair of hands.
seed = {seed}

# "lit" puts a lamp over the table, so that the papers throw shadows on each other; "flat" shows their colours only.
look = "lit"

# How far one layer of paper lies above the next, and how much of the table the picture shows at first, mm.
layer_gap_mm = 0.35
frame_width_mm = 320.0

# The shots, first and last frame included.
[[shot]]
name = "waiting"
start = 1
end = 120
"""


def _pair(x: float, y: float) -> str:
    return f"[{x:.3f}, {y:.3f}]"


def _block(cut: Cutout, made: dict[str, Picture]) -> str:
    here = made[cut.name]
    lines = [
        "[[part]]",
        f'name = "{cut.name}"',
        f'character = "{cut.character}"',
        f'type = "{cut.type}"',
        *([f'view = "{cut.view}"'] if cut.view else []),
        f'image = "parts/{cut.name}.png"',
        f"px_per_mm = {here.px_per_m / 1000:.3f}",
        f"pivot_mm = {_pair(cut.pivot[0] - here.origin[0], cut.pivot[1] - here.origin[1])}",
    ]
    if cut.parent:
        corner = made[cut.parent].origin
        lines += [f'parent = "{cut.parent}"', f"joint_mm = {_pair(cut.pivot[0] - corner[0], cut.pivot[1] - corner[1])}"]
    lines.append(f"layer = {cut.layer}")
    if cut.replaces:
        lines.append(f'replaces = "{cut.replaces}"')
    if cut.mouth:
        mouth = cut.mouth
        lines += ["[part.mouth]", f'lips = "{mouth.lips}"', f"open = {mouth.open}", f"round = {mouth.round}"]
        lines.append(f"tongue = {str(mouth.tongue).lower()}")
    return "\n".join(lines) + "\n"


def parts_toml(cuts: list[Cutout], made: dict[str, Picture]) -> str:
    """The text of parts.toml, with a remark before each group of parts."""
    blocks, last = [HEAD], None
    for cut in cuts:
        group = (cut.character, cut.view or cut.type)
        if group != last:
            rule = "-" * 100
            blocks.append(f"# {rule}\n# {GROUPS[group]}\n# {rule}\n")
            last = group
        blocks.append(_block(cut, made))
    return "\n".join(blocks)


# ---------------------------------------------------------------- writing


def draw(film: Path, scale: float = 1.0, seed: int = SEED, replace: bool = False) -> list[str]:
    """Draw everything into a film folder. Returns the files that stood in the way; nothing is written if there are any.

    A second run with the same settings finds its own files, equal to the byte, and leaves them.
    """
    cuts = cutouts(seed)
    made = pictures(cuts, scale)
    with tempfile.TemporaryDirectory(prefix=".drawing-", dir=_made(film)) as corner:
        fresh = Path(corner)
        (fresh / "parts").mkdir()
        for name, picture in made.items():
            picture.write(fresh / "parts" / f"{name}.png")
        (fresh / "parts.toml").write_text(parts_toml(cuts, made), encoding="utf-8", newline="\n")
        (fresh / "film.toml").write_text(FILM.format(seed=seed), encoding="utf-8", newline="\n")
        files = sorted(p.relative_to(fresh) for p in fresh.rglob("*") if p.is_file())
        changed = [f for f in files if not _same(fresh / f, film / f)]
        in_the_way = [f.as_posix() for f in changed if (film / f).exists()]
        if in_the_way and not replace:
            return in_the_way
        _made(film / "parts")
        for file in changed:
            (fresh / file).replace(film / file)
    return []


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _same(one: Path, other: Path) -> bool:
    return other.is_file() and one.read_bytes() == other.read_bytes()


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Draw the demo film's parts into a film folder.")
    parser.add_argument("film", type=Path, help="the film folder")
    parser.add_argument("--scale", type=float, default=1.0, help="density: 1 is 300 dpi for the cast, 0.25 for tests")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--replace", action="store_true", help="write over files that would come out different")
    asked = parser.parse_args(arguments)
    in_the_way = draw(asked.film, asked.scale, asked.seed, asked.replace)
    if in_the_way:
        print(f"{len(in_the_way)} files in {asked.film} are not as this drawing would make them, for example:")
        print("  " + "\n  ".join(in_the_way[:5]))
        print("Nothing was written. Choose another folder, or write over them with --replace.")
        return 1
    print(f"The parts are in {asked.film / 'parts'}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
