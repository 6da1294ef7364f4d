"""The contact sheet: layout by random libraries, and real sheets read back."""

from __future__ import annotations

import json
import re
import sys
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pastepot import cli, film
from pastepot.errors import MissingExtra, Misuse, PastepotError
from pastepot.film import Film
from pastepot.library import contact
from pastepot.library.contact_layout import PLATE_MM, lay_out
from pastepot.library.contact_paint import Letters, Painter
from pastepot.library.contact_values import A4_MM, Box, Head, Page, Picture, Sheet, shorten
from pastepot.library.parts import Library, Part
from PIL import Image, ImageDraw

DENSITY = 35 / 4


def letters_of_one_width(text: str, size: float) -> float:
    return 0.6 * size * len(text)


def part(name: str, image: str = "", **other: object) -> Part:
    given = {"character": "heron", "type": "head", "px_per_mm": 10.0, "pivot_mm": (1.0, 2.0), "view": "front"} | other
    return Part(name=name, image=image, **given)  # type: ignore[arg-type]


def film_of(folder: Path) -> Film:
    return Film(folder, "Waiting at the pond", Fraction(12), (640, 360))


def paper(folder: Path, name: str, size: tuple[int, int] = (200, 120), colour: tuple[int, ...] = (200, 90, 60)) -> str:
    """A picture with a clear border."""
    image = Image.new("RGBA", size, (*colour, 0))
    ImageDraw.Draw(image).rectangle((4, 4, size[0] - 5, size[1] - 5), fill=(*colour, 255))
    (folder / "parts").mkdir(exist_ok=True)
    image.save(folder / "parts" / f"{name}.png")
    return f"parts/{name}.png"


# Layout ------------------------------------------------------------------------------------------------------------

names = st.text(st.characters(codec="utf-8"), max_size=60)
millimetres = st.floats(-50, 800)


@st.composite
def pictures(draw: st.DrawFn) -> list[Picture]:
    """Libraries of all sorts: many or few types, parts from a speck to a wall, some without a picture."""
    found = []
    for number in range(draw(st.integers(0, 40))):
        made = part(
            f"{number}{draw(names)}",
            character=draw(st.sampled_from(["heron", "snail", "", "bus"])),
            type=draw(st.sampled_from(["head", "wing", "eye", ""])),
            px_per_mm=draw(st.floats(0.5, 60)),
            pivot_mm=(draw(millimetres), draw(millimetres)),
            replaces=draw(st.sampled_from(["", "heron-eye"])),
        )
        size = draw(st.none() | st.tuples(st.integers(1, 9000), st.integers(1, 9000)))
        found.append(Picture(made, size, "" if size else "The picture is missing."))
    return found


def pages_of(found: list[Picture], height: float | None) -> list[Page]:
    head = Head("Waiting at the pond", "3 May 2026", len(found))
    return lay_out(head, found, Sheet(height, DENSITY), letters_of_one_width)


def overlap(a: Box, b: Box) -> bool:
    slack = 1e-9
    return a.x + slack < b.x + b.w and b.x + slack < a.x + a.w and a.y + slack < b.y + b.h and b.y + slack < a.y + a.h


def within(inner: Box, outer: Box) -> bool:
    slack = 1e-9
    return (
        inner.x >= outer.x - slack
        and inner.y >= outer.y - slack
        and inner.x + inner.w <= outer.x + outer.w + slack
        and inner.y + inner.h <= outer.y + outer.h + slack
    )


@pytest.mark.parametrize("height", [A4_MM[1], None])
@given(found=pictures())
@settings(max_examples=60, deadline=None)
def test_every_part_has_one_cell_inside_its_page_and_apart_from_the_others(
    height: float | None, found: list[Picture]
) -> None:
    pages = pages_of(found, height)
    assert sorted(c.part.name for p in pages for c in p.cells) == sorted(p.part.name for p in found)
    for page in pages:
        assert all(within(c.box, Box(0, 0, page.width, page.height)) for c in page.cells)
        assert not any(overlap(a.box, b.box) for a, b in combinations(page.cells, 2))


@given(found=pictures())
@settings(max_examples=60, deadline=None)
def test_pictures_lie_on_their_plates_with_no_more_pixels_than_they_have(found: list[Picture]) -> None:
    size = {p.part.name: p.size_px for p in found}
    for cell in (c for page in pages_of(found, A4_MM[1]) for c in page.cells):
        assert (cell.picture is None) == (size[cell.part.name] is None)
        if cell.picture is not None:
            assert within(cell.picture, cell.plate)
            assert cell.picture.w * DENSITY <= size[cell.part.name][0] * (1 + 1e-9)


@given(found=pictures())
@settings(max_examples=60, deadline=None)
def test_words_fit_their_cell_and_keep_clear_of_every_plate(found: list[Picture]) -> None:
    for page in pages_of(found, A4_MM[1]):
        for cell in page.cells:
            assert all(letters_of_one_width(w.text, w.size) <= cell.plate.w + 1e-9 for w in cell.words)
            assert all(cell.plate.y + cell.plate.h < w.baseline - 0.7 * w.size for w in cell.words)
            assert all(w.baseline < cell.box.y + cell.box.h for w in cell.words)
        for words in page.words:
            assert 0 < words.baseline < page.height
            assert not any(c.box.y < words.baseline < c.box.y + c.box.h for c in page.cells)


def test_a_heading_is_followed_by_its_row_on_the_same_page() -> None:
    found = [Picture(part(str(n), type=f"type {n // 5}"), (390, 390)) for n in range(60)]
    pages = pages_of(found, A4_MM[1])
    assert len(pages) > 2
    for page in pages:
        headings = [w.baseline for w in page.words if w.text.startswith("TYPE")]
        assert headings
        assert max(headings) < max(c.box.y for c in page.cells)


def test_parts_of_one_type_share_a_scale_and_one_that_would_vanish_says_its_own() -> None:
    sizes = {"large": (380, 300), "middle": (300, 200), "speck": (30, 20)}
    [page] = pages_of([Picture(part(name), size) for name, size in sizes.items()], None)
    scale = {c.part.name: c.scale for c in page.cells}
    assert scale["large"] == scale["middle"] != scale["speck"]
    said = {c.part.name: [w.text for w in c.words if w.text.startswith("drawn")] for c in page.cells}
    assert said == {"large": [], "middle": [], "speck": ["drawn 1 : 1"]}


def test_wide_backdrops_get_two_columns_and_wide_mouths_do_not() -> None:
    wall, mouth = part("wall", type="backdrop"), part("mouth", type="mouth")
    [page] = pages_of([Picture(wall, (3600, 900)), Picture(mouth, (300, 90))], None)
    widths = {c.part.name: c.plate.w for c in page.cells}
    assert widths["wall"] > 2 * PLATE_MM == 2 * widths["mouth"]


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    [page] = pages_of([Picture(part("wing"), (700, 300))], None)
    [bar] = page.bars
    said = next(re.match(r"([\d.]+) mm · 1 : ([\d.]+)", w.text) for w in page.words if " mm · " in w.text)
    assert said is not None
    assert bar.length == pytest.approx(float(said[1]) / float(said[2]))
    assert page.cells[0].picture.w == pytest.approx(70 / float(said[2]))


@given(text=names, width=st.floats(3, 30))
def test_shortened_text_fits_and_keeps_both_ends(text: str, width: float) -> None:
    short = shorten(text, width, 2.0, letters_of_one_width)
    assert letters_of_one_width(short, 2.0) <= width
    if short != text:
        start, end = short.split("…")[0], short.split("…")[-1]
        assert text.startswith(start)
        assert text.endswith(end)


# Sheets ------------------------------------------------------------------------------------------------------------


def test_the_pdf_has_a4_pages(tmp_path: Path) -> None:
    """ISO 216: A4 is 210 x 297 mm. The points are PDF's, 72 to the inch of 25.4 mm (ISO 32000-1, 8.3.2.3)."""
    library = Library(tuple(part(f"head-{n}", paper(tmp_path, f"head-{n}", (390, 390))) for n in range(24)))
    made = contact.make(film_of(tmp_path), library, tmp_path / "sheet.pdf")
    data = (tmp_path / "sheet.pdf").read_bytes()
    assert int(re.findall(rb"/Count (\d+)", data)[-1]) == made.pages > 1
    boxes = re.findall(rb"/MediaBox \[ ([^\]]+) \]", data)
    assert len(boxes) >= made.pages  # Pillow writes a page's entry anew as it adds the next
    for box in boxes:
        assert [float(v) * 25.4 / 72 for v in box.split()] == pytest.approx([0, 0, 210, 297], abs=1e-3)


def test_the_png_says_its_true_size(tmp_path: Path) -> None:
    contact.make(film_of(tmp_path), Library((part("head", paper(tmp_path, "head")),)), tmp_path / "sheet.png")
    with Image.open(tmp_path / "sheet.png") as image:
        assert image.width / image.info["dpi"][0] * 25.4 == pytest.approx(210, abs=0.2)


@pytest.mark.parametrize("pivot", [(3.05, 4.25), (15.4, 2.5), (10.0, 9.9)])
def test_the_pivot_is_marked_where_it_is_on_the_picture(tmp_path: Path, pivot: tuple[float, float]) -> None:
    """A dark dot is painted at the pivot; a sheet with the mark and one without tell where each of them lies."""
    image = Image.new("RGB", (200, 120), "white")
    x, y = pivot[0] * 10, pivot[1] * 10
    ImageDraw.Draw(image).ellipse((x - 3.5, y - 3.5, x + 2.5, y + 2.5), fill="black")
    image.save(tmp_path / "dot.png")
    marked, plain = (
        plate_pixels(tmp_path, part("dot", "dot.png", pivot_mm=at), f"{n}.png")
        for n, at in enumerate((pivot, (-90.0, 0.0)))
    )
    assert centre(np.abs(marked - plain).sum(axis=2)) == pytest.approx(centre_of_dot(plain), abs=1.0)


def plate_pixels(folder: Path, of: Part, name: str) -> np.ndarray:
    """The sheet's only plate."""
    contact.make(film_of(folder), Library((of,)), folder / name)
    [page] = pages_of([Picture(of, (200, 120))], None)
    plate = page.cells[0].plate
    left, top, right, bottom = (round(v * DENSITY) for v in (plate.x, plate.y, plate.x + plate.w, plate.y + plate.h))
    with Image.open(folder / name) as image:
        return np.asarray(image.convert("RGB").crop((left, top, right, bottom))).astype(float)


def centre(weights: np.ndarray) -> tuple[float, float]:
    y, x = np.indices(weights.shape)
    return float((x * weights).sum() / weights.sum()), float((y * weights).sum() / weights.sum())


def centre_of_dot(pixels: np.ndarray) -> tuple[float, float]:
    return centre(np.clip(128 - pixels.max(axis=2), 0, None))


@pytest.mark.parametrize("suffix", [".png", ".pdf"])
def test_the_same_call_gives_the_same_bytes(tmp_path: Path, suffix: str) -> None:
    library = Library(tuple(part(f"head-{n}", paper(tmp_path, f"head-{n}")) for n in range(5)))
    first, second = (tmp_path / f"{n}{suffix}" for n in "ab")
    for out in (first, second):
        contact.make(film_of(tmp_path), library, out, date="3 May 2026")
    data = first.read_bytes()
    assert data == second.read_bytes()
    assert b"CreationDate" not in data
    assert b"tIME" not in data


def broken(folder: Path, kind: str) -> str:
    image = paper(folder, kind)
    path = folder / image
    if kind == "text":
        path.write_text("not a picture")
    elif kind == "cut":
        path.write_bytes(path.read_bytes()[:120])
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "away":
        path.unlink()
    elif kind == "folder":
        path.unlink()
        path.mkdir()
    return "../outside.png" if kind == "outside" else "" if kind == "unnamed" else image


@pytest.mark.parametrize("suffix", [".png", ".pdf"])
@pytest.mark.parametrize(
    ("kind", "reason"),
    [
        ("away", "The picture is missing."),
        ("text", "The file can't be read as a picture."),
        ("empty", "The file can't be read as a picture."),
        ("folder", "The file can't be read as a picture."),
        ("cut", "The picture is damaged or cut short."),
        ("outside", "The picture lies outside the film folder."),
        ("unnamed", "No picture is named."),
    ],
)
def test_a_picture_that_cannot_be_shown_is_a_warning_and_the_rest_is_drawn(
    tmp_path: Path, kind: str, reason: str, suffix: str
) -> None:
    library = Library((part("good", paper(tmp_path, "good")), part("bad", broken(tmp_path, kind), row=12)))
    made = contact.make(film_of(tmp_path), library, tmp_path / f"sheet{suffix}")
    [warning] = made.warnings
    assert (warning.what, warning.part, warning.row, warning.severity) == (reason, "bad", 12, "warning")


@pytest.mark.parametrize("name", ["フィルム-頭", "Фазан", "زورق", "a\nb\tc", "x" * 400, "\U0001f9c3", "\u202eabc"])
def test_names_in_any_script_are_set_and_unknown_letters_reported(tmp_path: Path, name: str) -> None:
    made = contact.make(
        film_of(tmp_path), Library((part(name, paper(tmp_path, "p"), character=name, type=name),)), tmp_path / "s.png"
    )
    assert bool(made.warnings) == any(ord(c) > 126 and c.isprintable() for c in name)


def test_an_accent_the_typeface_lacks_leaves_its_letter(tmp_path: Path) -> None:
    letters = Letters(DENSITY)
    assert letters.measure("Flügel", 2.5) == letters.measure("Flugel", 2.5)
    assert letters.lacking == {"ü"}


def test_an_empty_library_gives_a_sheet_that_says_so(tmp_path: Path) -> None:
    made = contact.make(film_of(tmp_path), Library(()), tmp_path / "sheet.png")
    assert (made.parts, made.pages, made.warnings) == (0, 1, ())


def test_a_sheet_that_exists_is_left_alone_unless_told(tmp_path: Path) -> None:
    out = tmp_path / "sheet.png"
    out.write_bytes(b"mine")
    with pytest.raises(PastepotError, match="exists already"):
        contact.make(film_of(tmp_path), Library(()), out)
    assert out.read_bytes() == b"mine"
    contact.make(film_of(tmp_path), Library(()), out, overwrite=True)
    assert out.read_bytes() != b"mine"


@pytest.mark.parametrize(
    ("out", "error", "message"),
    [
        ("parts/head.png", PastepotError, "is the picture of a part"),
        ("photos/sheet.png", PastepotError, "camera originals"),
        ("nowhere/sheet.png", PastepotError, "does not exist"),
        ("sheet.jpg", Misuse, "End its name with .png or .pdf"),
    ],
)
def test_places_a_sheet_never_goes_even_with_overwrite(
    tmp_path: Path, out: str, error: type[PastepotError], message: str
) -> None:
    (tmp_path / "photos").mkdir()
    library = Library((part("head", paper(tmp_path, "head")),))
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    with pytest.raises(error, match=message):
        contact.make(film_of(tmp_path), library, tmp_path / out, overwrite=True)
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_stopping_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Painter, "_cell", stopped)
    library = Library((part("head", paper(tmp_path, "head")),))
    with pytest.raises(KeyboardInterrupt):
        contact.make(film_of(tmp_path), library, tmp_path / "sheet.pdf")
    assert [p.name for p in tmp_path.iterdir()] == ["parts"]


def test_without_pillow_it_says_which_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [n for n in sys.modules if n == "PIL" or n.startswith("PIL.")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "PIL", None)
    with pytest.raises(MissingExtra, match=r"pastepot\[photo\]"):
        contact.make(film_of(tmp_path), Library(()), tmp_path / "sheet.png")


def test_a_font_that_is_none_is_misuse(tmp_path: Path) -> None:
    (tmp_path / "font.ttf").write_text("no")
    with pytest.raises(Misuse, match="can't be read as a font"):
        contact.make(film_of(tmp_path), Library(()), tmp_path / "sheet.png", font=tmp_path / "font.ttf")


# The command -------------------------------------------------------------------------------------------------------


def test_the_command_makes_the_sheet_and_reports_warnings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "pond"
    film.create(folder, "Waiting at the pond", 12, (640, 360))
    paper(folder, "heron-head")
    entry = '[[part]]\nname = "{0}"\ncharacter = "heron"\ntype = "head"\nimage = "parts/{0}.png"\n'
    entry += "px_per_mm = 10.0\npivot_mm = [1.0, 2.0]\n"
    text = "schema = 1\n" + entry.format("heron-head") + entry.format("heron-lost")
    (folder / "parts.toml").write_text(text)
    assert cli.main(["contact", str(folder), "-o", str(tmp_path / "sheet.png"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["parts"], said["pages"]) == (2, 1)
    assert [(p["part"], p["severity"]) for p in said["problems"]] == [("heron-lost", "warning")]
