"""Charts as SVG, parsed: well-formed, strokes at the right places, nothing that hangs on colour alone."""

from __future__ import annotations

import io
from fractions import Fraction
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from pastepot.timing import chart, chart_png, chart_svg
from pastepot.timing.chart_motion import Motion, passages
from pastepot.timing.chart_scale import neat, ticks
from pastepot.timing.chart_timing import _APART, _spread
from pastepot.timing.chart_values import INKS, Drawing, Ring, Stroke
from pastepot.timing.sheet import Cell, Column, Sheet
from PIL import Image

SVG = "{http://www.w3.org/2000/svg}"

# cubic-bezier(.42, 0, .58, 1), 'ease-in-out' of the W3C's CSS Easing Functions, at these shares of the time; the
# values were solved by bisection, and Blender's own curves agree to 1e-6.
EASE_IN_OUT = {
    "ten": {0.1: 0.019722, 0.5: 0.5, 0.9: 0.980278},
    "twelve": {0.25: 0.129162, 1 / 3: 0.231775, 0.5: 0.5, 2 / 3: 0.768225, 0.75: 0.870838},
}


def motion(handmade: np.ndarray, keys: set[int], smooth: np.ndarray | None = None, reach=(0.0, 0.0)) -> Motion:
    """A piece on ones; handmade: (3, N) or (N,) to the right only; keys: frames from 1 that are extremes."""
    values = np.asarray(handmade, float)
    if values.ndim == 1:
        values = np.vstack([values, np.zeros((2, values.size))])
    cells = tuple(Cell(f, 1, str(f), f in keys) for f in range(1, values.shape[1] + 1))
    column = Column("heron-wing", "part", cells, "heron")
    return Motion(column, 1, values if smooth is None else smooth, values, reach)


def eased(frames: int, table: dict[float, float], length: float = 40.0) -> Motion:
    """`frames` steps along a straight line, at the table's places where it has one, between them anyhow."""
    times, places = [0.0, *table, 1.0], [0.0, *table.values(), 1.0]
    return motion(np.interp(np.arange(frames + 1) / frames, times, places) * length, {1, frames + 1})


def sheet_of(given: Motion, fps: int = 12, first: int = 1) -> Sheet:
    return Sheet("Waiting <&> co", Fraction(fps), first, given.smooth.shape[1], (given.column,))


def svg(given: Motion, first: int = 1) -> ElementTree.Element:
    drawing = chart.draw(given, sheet_of(given, first=first))
    return ElementTree.fromstring(chart_svg.to_svg(drawing, 'a "title" & more'))


def colour(ink: str) -> str:
    return "#{:02x}{:02x}{:02x}".format(*INKS[ink])


def lines(root: ElementTree.Element, ink: str) -> list[np.ndarray]:
    """The points of every path in that colour."""
    found = [e.get("d") for e in root.iter(f"{SVG}path") if e.get("stroke") == colour(ink)]
    return [np.array([p.split() for p in d[1:].split("L")], float) for d in found]


@pytest.mark.parametrize(("frames", "table"), [(10, EASE_IN_OUT["ten"]), (12, EASE_IN_OUT["twelve"])])
def test_strokes_of_the_timing_chart_lie_where_the_way_is_behind_the_pose(frames, table):
    root = svg(eased(frames, table))
    axis = next(p for p in lines(root, "ink") if p[0, 0] == p[1, 0] and abs(p[1, 1] - p[0, 1]) == pytest.approx(44))
    level = [p for p in lines(root, "hand") if len(p) == 2 and p[0, 0] == axis[0, 0] and p[0, 1] == p[1, 1]]
    shares = sorted((p[0, 1] - axis[0, 1]) / 44 for p in level)
    assert len(shares) == frames - 1
    for time, place in table.items():
        assert shares[round(time * frames) - 1] == pytest.approx(place, abs=2e-5)  # SVG has thousandths of a mm


def test_marks_of_the_spacing_chart_are_as_far_apart_as_the_moves():
    table = EASE_IN_OUT["twelve"]
    root = svg(eased(12, table))
    marks = [p for p in lines(root, "hand") if len(p) == 2 and p[0, 0] == p[1, 0]]  # upright, across a level path
    x = np.sort([p[0, 0] for p in marks])
    rings = sorted(float(e.get("cx")) for e in root.iter(f"{SVG}circle") if e.get("r") == "1.15")
    assert len(x) == 11
    for time, place in table.items():
        at = (x[round(time * 12) - 1] - rings[0]) / (rings[-1] - rings[0])
        assert at == pytest.approx(place, abs=1e-4)


def test_the_bar_is_as_long_as_it_says():
    root = svg(eased(12, EASE_IN_OUT["twelve"], length=40.0))
    rings = sorted(float(e.get("cx")) for e in root.iter(f"{SVG}circle") if e.get("r") == "1.15")
    scale = (rings[-1] - rings[0]) / 40.0
    words = next(e for e in root.iter(f"{SVG}text") if (e.text or "").endswith(" mm") and e.get("font-size") == "2.3")
    bar = next(p for p in lines(root, "ink") if p[0, 0] == 12 and p[0, 1] == pytest.approx(float(words.get("y")) - 0.8))
    assert bar[1, 0] - bar[0, 0] == pytest.approx(scale * float(words.text.split()[0]), abs=2e-3)


def test_the_smooth_path_lies_thin_under_the_steps():
    root = svg(eased(12, EASE_IN_OUT["twelve"]))
    widths = {
        e.get("stroke"): float(e.get("stroke-width")) for e in root.iter(f"{SVG}path") if e.get("d").count("L") > 2
    }
    assert widths[colour("grey")] * 2 < widths[colour("hand")]
    order = [e.get("stroke") for e in root.iter(f"{SVG}path") if e.get("d").count("L") > 10]
    assert order.index(colour("grey")) < order.index(colour("hand"))


def test_steps_hold_each_value_for_its_frame():
    values = np.array([0.0, 0.0, 3.0, 6.0])
    root = svg(motion(values, {1, 4}))
    steps = next(p for p in lines(root, "hand") if len(p) == 8)
    assert (steps[0::2, 1] == steps[1::2, 1]).all()
    height = steps[0::2, 1]
    assert (height[0] - height) / (height[0] - height[-1]) == pytest.approx(values / 6, abs=1e-3)
    assert np.diff(steps[:, 0])[1::2] == pytest.approx([0, 0, 0], abs=1e-9)


def test_extremes_are_told_by_shape_as_well_as_colour():
    root = svg(eased(12, EASE_IN_OUT["twelve"]))
    rings = [e for e in root.iter(f"{SVG}circle")]
    assert {e.get("stroke") for e in rings} == {colour("extreme")}
    assert not [p for p in lines(root, "extreme")]


def test_words_are_text_and_safe():
    root = svg(eased(12, EASE_IN_OUT["twelve"]))
    assert any("Waiting <&> co" in (e.text or "") for e in root.iter(f"{SVG}text"))
    assert min(float(e.get("font-size")) for e in root.iter(f"{SVG}text")) >= 2.0  # 2 mm: about 6 points


def test_the_point_turns_clockwise_to_the_camera():
    turning = motion(np.array([[0.0, 5.0], [0.0, 0.0], [0.0, 90.0]]), {1, 2}, reach=(0.0, 10.0))
    assert turning.path(turning.handmade) == pytest.approx(np.array([[0.0, 10.0], [15.0, 0.0]]))


def test_shares_run_along_an_arc_not_along_its_chord():
    angle = np.linspace(0.0, 120.0, 13)
    turn = np.vstack([np.zeros((2, 13)), angle])
    (passage,) = passages(motion(turn, {1, 13}, reach=(0.0, 50.0)))
    assert passage.shares == pytest.approx(np.linspace(0, 1, 13), abs=1e-6)
    assert passage.length_mm == pytest.approx(50 * np.radians(120), rel=5e-3)  # the polygon is a little shorter


def test_a_passage_ends_at_each_extreme_and_leaves_holds_out():
    values = np.array([0.0, 1, 2, 2, 2, 1, 0, 0, 0])
    found = passages(motion(values, {1, 3, 5, 7, 9}))
    assert [(p.cells[0].start, p.cells[-1].start) for p in found] == [(1, 3), (5, 7)]


@given(
    arrays.arrays(float, (3, 15), elements=st.floats(-100, 100)),
    st.sets(st.integers(1, 15)),
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
)
def test_any_motion_makes_a_chart_within_its_page(values, keys, reach):
    moved = motion(values, keys, reach=reach)
    page = chart.draw(moved, sheet_of(moved, 24))
    assert all(np.isfinite(s.points).all() for s in page.shapes if isinstance(s, Stroke))
    for shape in page.shapes:
        x = shape.points[:, 0] if isinstance(shape, Stroke) else np.array([shape.x])
        y = shape.points[:, 1] if isinstance(shape, Stroke) else np.array([shape.y])
        assert (x >= -1e-6).all()
        assert (x <= page.width + 1e-6).all()
        assert (y >= -1e-6).all()
        assert (y <= page.height + 1e-6).all()
    for passage in passages(moved):
        assert all(0 <= share <= 1 for share in passage.shares)


@given(st.lists(st.floats(0, 44), min_size=2, max_size=60))
def test_numbers_never_lie_on_each_other(inside):
    at = np.array([0.0, *inside, 44.0])
    placed = _spread(at, 0.0, 44.0)
    shown = np.sort(placed[~np.isnan(placed)])
    assert (np.diff(shown) >= _APART - 1e-9).all()
    assert (shown >= 0).all()
    assert (shown <= 44).all()
    order = np.argsort(at[~np.isnan(placed)], kind="stable")
    assert (np.diff(placed[~np.isnan(placed)][order]) > 0).all()


def test_a_piece_at_rest_says_so():
    words = {e.text for e in svg(motion(np.zeros(5), {1, 5})).iter(f"{SVG}text")}
    assert {"It does not move between two extremes.", "It stays in one place.", "It does not move."} <= words


def test_frames_outside_are_left_out():
    cut = eased(12, EASE_IN_OUT["twelve"]).within(4, 9)
    assert (cut.first, cut.smooth.shape[1]) == (4, 6)
    assert [c.start for c in cut.column.cells] == [4, 5, 6, 7, 8, 9]


def test_seconds_are_counted_from_the_film_not_from_the_chart():
    """A chart of frames 8 to 36 of a film at 12: seconds begin on 13, 25 and 37."""
    given = motion(np.arange(40.0), {1, 40}).within(8, 36)
    upright = [p for p in lines(svg(given), "grey") if p[0, 0] == p[1, 0] and p[1, 1] - p[0, 1] == pytest.approx(34)]
    wide = (297 - 24 - 16) / 29
    assert sorted(p[0, 0] for p in upright) == pytest.approx([28 + wide * n for n in (5, 17, 29)], abs=2e-3)
    numbers = [e.text for e in svg(given).iter(f"{SVG}text") if e.get("font-size") == "2.1"]
    assert {"13", "25"} <= set(numbers)


def test_a_cell_cut_at_the_edge_is_no_extreme_there():
    column = Column("a", "part", (Cell(1, 6, "1", True), Cell(7, 4, "2", True)))
    cut = Motion(column, 1, np.zeros((3, 10)), np.zeros((3, 10)), (0.0, 0.0)).within(3, 8)
    assert cut.column.cells == (Cell(3, 4, "1"), Cell(7, 2, "2", True))


@given(st.floats(1e-6, 1e6))
def test_neat_numbers(value):
    found = neat(value)
    assert found <= value * (1 + 1e-9)
    assert value < found * 2.5 * (1 + 1e-9)
    mantissa = f"{found:.0e}"[0]
    assert mantissa in "125"


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(2, 8))
def test_scales_have_few_neat_marks(low, span, most):
    found = ticks(low, low + span, most)
    assert len(found) <= most
    assert all(low - 1e-6 * span <= v <= low + span * (1 + 1e-6) for v in found)


def test_a_picture_shows_what_the_drawing_says():
    page = Drawing(20.0, 10.0)
    page.line(2.0, 5.0, 18.0, 5.0, 1.0, "hand")
    page.shapes.append(Ring(10.0, 5.0, 2.0, 0.5, "extreme", "paper"))
    image = chart_png.paint(page, chart_png.letters())
    assert image.size == (160, 80)
    assert image.getpixel((24, 40)) == INKS["hand"]
    assert image.getpixel((80, 40)) == INKS["paper"]
    assert image.getpixel((80, 24)) == INKS["extreme"]
    assert image.getpixel((4, 4)) == INKS["paper"]
    saved = io.BytesIO()
    image.save(saved, "PNG")
    assert Image.open(saved).size == (160, 80)
