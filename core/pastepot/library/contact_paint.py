"""Painting the contact sheet: turns pages (contact_values.py) into pictures, with Pillow."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from pastepot.errors import Misuse, Problem
from pastepot.library.contact_values import NAME, Bar, Box, Cell, Page, Tone, Words, wrapped
from pastepot.library.thumbnail import Rgb, UnreadableError, thumbnail

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

PAPER: Rgb = (252, 251, 248)
GROUND: Rgb = (223, 225, 223)
RULE: Rgb = (205, 200, 190)
TONES: dict[Tone, Rgb] = {"ink": (38, 36, 33), "grey": (122, 117, 108), "accent": (168, 67, 47)}

RING_MM, CROSS_MM, LINE_MM = 1.0, 1.7, 0.14
"""The pivot mark: the ring's radius, half the cross's length, the lines' width."""

SPACING = 0.14
"""Extra room after each spaced capital, as a share of its size."""

Locate = Callable[[str], Path]
"""The path of a part's image. Raises UnreadableError if there is no such place in the film."""


class Letters:
    """Measures and sets text in one typeface: Pillow's own, or the font file given.

    `lacking` collects the characters that the typeface has no picture for. Raises Misuse if the file is no font.
    """

    def __init__(self, density: float, font: Path | None = None) -> None:
        self._density, self._font = density, font
        self._sizes: dict[float, ImageFont.FreeTypeFont] = {}
        self._plain: dict[str, str] = {}
        self.lacking: set[str] = set()
        self._blank = bytes(self._at(NAME).getmask("\uffff"))

    def measure(self, text: str, size: float) -> float:
        """Width in mm of a text set at `size` mm."""
        return self._at(size).getlength(self._settable(text)) / self._density

    def draw(self, on: ImageDraw.ImageDraw, words: Words) -> None:
        """Set a line of text."""
        font, text, d = self._at(words.size), self._settable(words.text), self._density
        at = (words.x * d, round(words.baseline * d))
        if not words.spaced:
            anchor = {"left": "ls", "centre": "ms", "right": "rs"}[words.anchor]
            on.text(at, text, fill=TONES[words.tone], font=font, anchor=anchor)
            return
        x = at[0]
        for letter in text:
            on.text((x, at[1]), letter, fill=TONES[words.tone], font=font, anchor="ls")
            x += font.getlength(letter) + SPACING * words.size * d

    def _at(self, size: float) -> ImageFont.FreeTypeFont:
        from PIL import ImageFont

        if size not in self._sizes:
            pixels = size * self._density
            try:
                made = ImageFont.truetype(str(self._font), pixels) if self._font else ImageFont.load_default(pixels)
            except OSError as error:
                raise Misuse(
                    Problem(f"{self._font} can't be read as a font.", "Name a TrueType or OpenType font file.")
                ) from error
            assert isinstance(made, ImageFont.FreeTypeFont)
            self._sizes[size] = made
        return self._sizes[size]

    def _settable(self, text: str) -> str:
        return "".join(self._plain.get(c) or self._plain.setdefault(c, self._letter(c)) for c in text)

    def _letter(self, letter: str) -> str:
        """The letter, or what stands for it: a space for white space, its base where only the accent is lacking."""
        if letter.isspace():
            return " "
        if not letter.isprintable():
            return "?"
        if self._has(letter):
            return letter
        self.lacking.add(letter)
        base = unicodedata.normalize("NFKD", letter)[0]
        return base if self._has(base) else letter

    def _has(self, letter: str) -> bool:
        return bytes(self._at(NAME).getmask(letter)) != self._blank


class Painter:
    """Paints pages one at a time; `warnings` collects what could not be shown."""

    def __init__(self, density: float, letters: Letters, locate: Locate) -> None:
        self._density, self._letters, self._locate = density, letters, locate
        self._mark = _pivot_mark_maker(density)
        self.warnings: list[Problem] = []

    def paint(self, page: Page, done: Callable[[], None]) -> Image.Image:
        """The page as an RGB image; `done` is called after each part."""
        from PIL import Image, ImageDraw

        size = (round(page.width * self._density), round(page.height * self._density))
        image = Image.new("RGB", size, PAPER)
        draw = ImageDraw.Draw(image)
        for rule in page.rules:
            draw.rectangle(self._hairline(rule), fill=RULE)
        for bar in page.bars:
            self._bar(draw, bar)
        for words in page.words:
            self._letters.draw(draw, words)
        for at in page.marks:
            self._mark(image, (at[0] * self._density, at[1] * self._density))
        for cell in page.cells:
            self._cell(image, draw, cell)
            done()
        return image

    def picture_pixels(self, picture: Box) -> tuple[int, int, int, int]:
        """Left, top, width and height in whole pixels of a picture's place on the page."""
        left, top, w, h = (round(v * self._density) for v in (picture.x, picture.y, picture.w, picture.h))
        return left, top, max(1, w), max(1, h)

    def _cell(self, image: Image.Image, draw: ImageDraw.ImageDraw, cell: Cell) -> None:
        for words in cell.words:
            self._letters.draw(draw, words)
        if cell.picture is None:
            self._empty(draw, cell, cell.trouble)
            return
        left, top, w, h = self.picture_pixels(cell.picture)
        try:
            small = thumbnail(self._locate(cell.part.image), (w, h), GROUND)
        except UnreadableError as reason:
            self._empty(draw, cell, str(reason))
            return
        draw.rectangle(self._pixels(cell.plate), fill=GROUND)
        image.paste(small, (left + (w - small.width) // 2, top + (h - small.height) // 2))
        if cell.pivot is not None:
            # By the picture's own pixels: those were moved to whole ones, and the mark has to move with them.
            x = left + (cell.pivot[0] - cell.picture.x) / cell.picture.w * w
            y = top + (cell.pivot[1] - cell.picture.y) / cell.picture.h * h
            self._mark(image, (x, y))

    def _empty(self, draw: ImageDraw.ImageDraw, cell: Cell, reason: str) -> None:
        draw.rectangle(self._pixels(cell.plate), outline=RULE, width=self._line())
        for words in wrapped(reason, cell.plate, self._letters.measure):
            self._letters.draw(draw, words)
        self.warnings.append(
            Problem(
                reason,
                "Put the picture in its place, or correct 'image' in parts.toml.",
                "parts.toml",
                cell.part.row,
                cell.part.name,
                "image",
                "warning",
            )
        )

    def _bar(self, draw: ImageDraw.ImageDraw, bar: Bar) -> None:
        """A line with an upright at either end."""
        width = self._line()
        left, right = round(bar.x * self._density), round((bar.x + bar.length) * self._density) - 1
        y, tall = round(bar.y * self._density), round(0.7 * self._density)
        draw.rectangle((left, y, right, y + width - 1), fill=TONES["grey"])
        for x in (left, right - width + 1):
            draw.rectangle((x, y - tall, x + width - 1, y + width - 1 + tall), fill=TONES["grey"])

    def _line(self) -> int:
        return max(1, round(LINE_MM * self._density))

    def _pixels(self, box: Box) -> tuple[int, int, int, int]:
        left, top, right, bottom = (round(v * self._density) for v in (box.x, box.y, box.x + box.w, box.y + box.h))
        return left, top, right - 1, bottom - 1

    def _hairline(self, rule: Box) -> tuple[int, int, int, int]:
        left, top, right, _ = self._pixels(rule)
        return left, top, right, top + self._line() - 1


def _pivot_mark_maker(density: float) -> Callable[[Image.Image, tuple[float, float]], None]:
    """Paints a cross in a ring whose middle is at (x, y) in pixels, pale-edged so that it shows on any paper."""
    from PIL import Image, ImageDraw

    fine = 8  # drawn this much larger and averaged down: smooth lines, and places between pixels
    reach = round((CROSS_MM + 0.5) * density) + 2

    def stencil(at: tuple[float, float], width: float) -> Image.Image:
        big = Image.new("L", ((2 * reach + 1) * fine,) * 2, 0)
        draw = ImageDraw.Draw(big)
        x, y = ((reach + part) * fine for part in at)
        half = width * density * fine / 2
        long, ring = CROSS_MM * density * fine, RING_MM * density * fine
        draw.rectangle((x - long, y - half, x + long, y + half), fill=255)
        draw.rectangle((x - half, y - long, x + half, y + long), fill=255)
        draw.ellipse(
            (x - ring - half, y - ring - half, x + ring + half, y + ring + half), outline=255, width=round(2 * half)
        )
        return big.reduce(fine)

    def paint(image: Image.Image, at: tuple[float, float]) -> None:
        whole = (int(at[0]), int(at[1]))
        between = (at[0] - whole[0], at[1] - whole[1])
        corner = (whole[0] - reach, whole[1] - reach)
        for width, colour, strength in ((3.6 * LINE_MM, PAPER, 0.85), (1.2 * LINE_MM, TONES["ink"], 1.0)):
            mask = stencil(between, width).point([round(v * strength) for v in range(256)])
            image.paste(colour, (*corner, corner[0] + mask.width, corner[1] + mask.height), mask)

    return paint
