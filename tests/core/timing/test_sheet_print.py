"""The printed exposure sheet, read back with pypdf: page boxes, and the words that have to be on each page."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pypdf
import pytest
from pastepot.errors import Misuse
from pastepot.timing import sheet_layout
from pastepot.timing.chart_values import Drawing, Ring, Stroke
from pastepot.timing.sheet import Cell, Column, Sheet
from pastepot.timing.sheet_files import Wish, write
from PIL import ImageFont

MM = 72 / 25.4


def measure(text: str, size: float) -> float:
    return 0.5 * size * len(text)


def column(name: str, cells: list[Cell], kind: str = "part", character: str = "heron") -> Column:
    return Column(name, kind, tuple(cells), character)


def film(frames: int = 120, parts: int = 3, fps: Fraction = Fraction(12)) -> Sheet:
    half = frames // 2
    wings = [
        column(f"heron-wing-{n}", [Cell(1, half, "1", True), Cell(half + 1, frames - half, "2")]) for n in range(parts)
    ]
    said = Column("dialogue", "dialogue", (Cell(1, 4, ""), Cell(5, frames - 4, "No hurry.")))
    eye = column(
        "eye", [Cell(1, half, "heron-eye-open-side"), Cell(half + 1, frames - half, "heron-eye-shut-side")], "set"
    )
    camera = Column("camera", "camera", (Cell(1, frames, "1"),))
    return Sheet("Waiting", fps, 1, frames, (camera, said, *wings, eye))


def printed(sheet: Sheet, folder: Path, wish: Wish | None = None) -> list[pypdf.PageObject]:
    write(sheet, folder / "a.pdf", [], wish or Wish())
    return list(pypdf.PdfReader(folder / "a.pdf").pages)


# A4 and A3 from ISO 216, Letter 8.5 x 11 in from ANSI/ASME Y14.1; all from memory.
@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("A3", (297, 420)), ("Letter", (215.9, 279.4))])
def test_pages_have_the_size_of_the_paper(paper, size, tmp_path):
    for page in printed(film(), tmp_path, Wish(paper=paper)):
        assert float(page.mediabox.width) == pytest.approx(size[0] * MM, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(size[1] * MM, abs=0.01)


def test_every_page_has_its_number_and_the_headings(tmp_path):
    pages = printed(film(frames=240, parts=20), tmp_path)
    assert len(pages) > 4
    for n, page in enumerate(pages, 1):
        text = page.extract_text()
        assert f"page {n} of {len(pages)}" in text
        assert "Waiting" in text
        assert "dialogue" in text
        assert "heron" in text
    assert sum("camera" in page.extract_text() for page in pages) == 4  # the last page across, four times down


def test_every_frame_and_every_column_is_printed(tmp_path):
    pages = [page.extract_text() for page in printed(film(frames=130, parts=20), tmp_path)]
    down = {first: [p for p in pages if f"frames {first} to" in p] for first in (1, 61, 121)}
    assert sum(map(len, down.values())) == len(pages)
    for first, across in down.items():
        for page in across:
            assert set(map(str, range(first, min(first + 60, 131)))) <= set(re.findall(r"\d+", page))
        for n in range(20):
            assert sum(f"wing-{n}" in page.replace("wing-\n", "wing-").split() for page in across) == 1


def test_the_same_sheet_is_the_same_file(tmp_path):
    write(film(), tmp_path / "a.pdf", [], Wish())
    write(film(), tmp_path / "b.pdf", [], Wish())
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_letters_that_the_typeface_lacks_are_told(tmp_path):
    sheet = film(parts=0)
    warnings = write(Sheet("茶壺", sheet.fps, 1, 120, sheet.columns), tmp_path / "a.pdf", [], Wish())
    assert [w.severity for w in warnings] == ["warning"]
    assert "壺 茶" in warnings[0].what


def test_a_font_of_ones_own_sets_what_it_can(tmp_path):
    """With the typeface that comes inside Pillow, as any font file."""
    (tmp_path / "own.ttf").write_bytes(ImageFont.load_default(10).path.getvalue())
    sheet = film(parts=0)
    warnings = write(
        Sheet("Zvon 茶", sheet.fps, 1, 120, sheet.columns), tmp_path / "a.pdf", [], Wish(font=tmp_path / "own.ttf")
    )
    assert "茶" in warnings[0].what
    page = pypdf.PdfReader(tmp_path / "a.pdf").pages[0]
    assert "Zvon ?" in page.extract_text()
    assert "Helvetica" not in str(page["/Resources"]["/Font"])


def test_a_font_file_that_is_none_is_refused(tmp_path):
    (tmp_path / "a.ttf").write_text("no font")
    with pytest.raises(Misuse, match="can't be read as a font"):
        write(film(), tmp_path / "a.pdf", [], Wish(font=tmp_path / "a.ttf"))
    assert not (tmp_path / "a.pdf").exists()


# Frames on an A4 page: whole seconds at every usual rate.
@pytest.mark.parametrize(
    ("fps", "rows"),
    [("12", 60), ("24", 48), ("25", 50), ("30", 60), ("24000/1001", 48), ("30000/1001", 60), ("60", 60), ("120", 64)],
)
def test_a_page_holds_whole_seconds(fps, rows):
    assert sheet_layout.rows_on_a_page(film(fps=Fraction(fps)), 297.0) == rows


def drawn(sheet: Sheet) -> list[Drawing]:
    return list(sheet_layout.pages(sheet, "A4", measure))


def level_lines(page: Drawing, width: float) -> list[float]:
    """Where the level lines of that weight are, from the top."""
    lines = [s.points for s in page.shapes if isinstance(s, Stroke) and s.width == width]
    return sorted({round(float(p[0, 1]), 4) for p in lines if p[0, 1] == p[1, 1]})


def test_a_heavy_line_is_ruled_at_every_second():
    page = drawn(film())[0]
    heavy = level_lines(page, 0.5)
    frame = {w.text: w.baseline for w in page.words if w.text.isdigit() and w.anchor == "right"}
    row = frame["2"] - frame["1"]
    assert len(heavy) == 6
    assert [b - a for a, b in pairwise(heavy)] == pytest.approx([12 * row] * 5, abs=1e-3)
    assert all(abs(heavy[n] + row / 2 - frame[str(1 + 12 * n)]) < row / 2 for n in range(5))


def test_extremes_are_ringed_where_they_begin():
    pages = drawn(film(frames=120, parts=1))
    rings = [[s for s in page.shapes if isinstance(s, Ring)] for page in pages]
    assert [len(r) for r in rings] == [1, 0]
    ring = rings[0][0]
    label = next(w for w in pages[0].words if w.text == "1" and w.x == pytest.approx(ring.x))
    assert abs(label.baseline - ring.y) < 1.5


def test_a_hold_is_a_line_down_to_its_last_frame():
    page = drawn(film(frames=24, parts=1))[0]
    ring = next(s for s in page.shapes if isinstance(s, Ring))
    hold = [
        s.points for s in page.shapes if isinstance(s, Stroke) and s.points[0, 0] == s.points[1, 0] == ring.x
    ]  # fmt: skip
    frame = {w.text: w.baseline for w in page.words if w.text.isdigit() and w.anchor == "right"}
    row = frame["2"] - frame["1"]
    assert len(hold) == 2
    assert hold[0][0, 1] == pytest.approx(ring.y + row / 2, abs=1e-6)
    assert hold[0][1, 1] == pytest.approx(ring.y + 11.5 * row - 0.9, abs=1e-6)


def test_a_pose_held_over_the_page_is_named_again_in_grey():
    first, second = drawn(film(frames=120, parts=0))[:2]
    assert [w.tone for w in second.words if w.text == "1" and w.anchor == "centre"] == ["grey"]
    assert [w.tone for w in first.words if w.text == "1" and w.anchor == "centre"] == ["ink"]


def test_names_of_replacements_are_cut_to_what_tells_them_apart():
    words = {w.text for page in drawn(film()) for w in page.words}
    assert {"open", "shut"} <= words


def test_what_is_said_runs_down_its_frames():
    page = drawn(film(frames=24))[0]
    assert any("No hurry." in w.text for w in page.words)
    blank = Sheet("a", Fraction(12), 1, 4, (column("eye", [Cell(1, 4, "")], "set"),))
    assert [w.tone for w in drawn(blank)[0].words if w.text == "x"] == ["grey"]


def test_a_sheet_without_columns_still_prints(tmp_path):
    assert len(printed(Sheet("a", Fraction(12), 1, 5, ()), tmp_path)) == 1
