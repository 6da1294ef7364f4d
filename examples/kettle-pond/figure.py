"""A figure is a handful of cut-outs drawn in one common space, as they lie together at rest.

Because a limb and the body it hangs on are drawn in the same space, the point where the limb is pinned is one point:
`pivot`. draw.py turns it into the pivot on the limb's image and the joint on the parent's image.
"""

from dataclasses import dataclass

from collage import Collage

SMALL, LARGE = 11811, 5906
"""Pixels per metre as PNG counts: 300 dpi for the cast, 150 dpi for props and backdrops."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Mouth:
    """What a mouth looks like, in the words of parts.toml."""

    lips: str
    open: float
    round: float
    tongue: bool = False


@dataclass(frozen=True)
class Cutout:
    """One part of the library: its collage, and what parts.toml says about it. Points in the figure's own mm."""

    collage: Collage
    type: str
    pivot: Point
    layer: int
    view: str = ""
    parent: str = ""
    replaces: str = ""
    mouth: Mouth | None = None
    px_per_m: int = SMALL

    @property
    def name(self) -> str:
        return self.collage.name

    @property
    def character(self) -> str:
        return self.name.split("-", 1)[0]
