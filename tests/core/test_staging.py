"""Where parts go: true scale, joints, depths of their own, one view and one of each set shown."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.film import Film
from pastepot.library.parts import Library, Part
from pastepot.staging import Stage, stage

FILM = Film(Path(), "Pond", Fraction(12), (1280, 720))


def part(name: str, **fields: object) -> Part:
    usual = {
        "character": "heron",
        "type": "arm",
        "image": f"parts/{name}.png",
        "px_per_mm": 10.0,
        "pivot_mm": (2.0, 3.0),
    }
    return Part(name, **(usual | fields))  # type: ignore[arg-type]


def staged(*parts: Part, size: tuple[int, int] = (100, 200)) -> Stage:
    return stage(FILM, Library(parts), lambda _: size)


def test_a_plane_has_the_papers_true_size_about_its_pivot() -> None:
    """100 x 200 px at 10 px/mm is 10 x 20 mm; a millimetre is 0.01 Blender units; the pivot is 2 mm in, 3 mm down."""
    (stand,) = staged(part("wing")).stands
    flat = [c for corner in stand.corners for c in corner]
    assert flat == pytest.approx([-0.02, -0.17, 0.08, -0.17, 0.08, 0.03, -0.02, 0.03])


def test_a_child_hangs_from_its_joint() -> None:
    body, wing = staged(
        part("body", pivot_mm=(5.0, 18.0), layer=10), part("wing", parent="body", joint_mm=(7.0, 8.0), layer=12)
    ).stands
    assert wing.offset == pytest.approx((0.02, -0.02, 0.10))
    assert body.offset == pytest.approx((0.0, -0.10, 0.0))


def test_without_a_joint_pivot_lies_on_pivot() -> None:
    _, wing = staged(part("body"), part("wing", parent="body")).stands
    assert (wing.offset[0], wing.offset[2]) == (0.0, 0.0)


def test_parents_come_first_whatever_the_order_of_the_file() -> None:
    names = [s.part.name for s in staged(part("hand", parent="arm"), part("arm", parent="body"), part("body")).stands]
    assert names == ["body", "arm", "hand"]


@given(st.lists(st.integers(-3, 3), min_size=1, max_size=80))
def test_no_two_parts_share_a_depth_and_layers_keep_their_order(layers: list[int]) -> None:
    stands = staged(*(part(f"p{n}", layer=layer) for n, layer in enumerate(layers))).stands
    order = sorted(stands, key=lambda s: -s.offset[1])
    assert len({s.offset[1] for s in stands}) == len(layers)
    assert [s.part.layer for s in order] == sorted(layers)


def test_one_view_and_one_of_each_set_is_shown() -> None:
    stands = staged(
        part("head-side", view="side"),
        part("head-front", view="front"),
        part("eyes-open", view="front", replaces="eyes"),
        part("eyes-shut", view="front", replaces="eyes"),
        part("eyes-side", view="side", replaces="eyes"),
        part("hat"),
    ).stands
    assert {s.part.name for s in stands if s.shown} == {"head-front", "eyes-open", "hat"}


def test_characters_stand_side_by_side() -> None:
    places = staged(part("a", character="heron"), part("b", character="snail"), part("c", character="pond")).controllers
    xs = [places[c][0] for c in ("heron", "snail", "pond")]
    # each is 10 mm wide with its pivot 2 mm in; 20 mm lie between; the row is centred
    assert xs == pytest.approx([-0.33, -0.03, 0.27])
