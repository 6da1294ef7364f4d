"""Edits of a plan: what they do, that they can be done again, and that a plan stays a plan."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse
from pastepot.timing.edits import Edit, at_rate, edited
from pastepot.timing.exposures import ends, plan

TWOS = np.arange(1, 12, 2)  # 1 3 5 7 9 11, up to frame 12


@pytest.mark.parametrize(
    ("edit", "starts"),
    [
        (Edit("lengthen", 3, 1), [1, 3, 6, 7, 9, 11]),
        (Edit("lengthen", 4, 1), [1, 3, 6, 7, 9, 11]),  # the exposure on show at 4 is the one at 3
        (Edit("lengthen", 3, 2), [1, 3, 7, 9, 11]),
        (Edit("lengthen", 3, 3), [1, 3, 8, 9, 11]),
        (Edit("lengthen", 3, 50), [1, 3]),
        (Edit("lengthen", 3, 1, slide=True), [1, 3, 6, 8, 10, 12]),
        (Edit("lengthen", 3, 3, slide=True), [1, 3, 8, 10, 12]),
        (Edit("shorten", 3, 1), [1, 3, 4, 7, 9, 11]),
        (Edit("shorten", 3, 1, slide=True), [1, 3, 4, 6, 8, 10]),
        (Edit("insert", 4), [1, 3, 4, 5, 7, 9, 11]),
        (Edit("insert", 3), [1, 3, 5, 7, 9, 11]),
        (Edit("insert", 3, 2, slide=True), [1, 3, 5, 7, 9, 11]),
        (Edit("insert", 4, 2, slide=True), [1, 3, 4, 6, 7, 9, 11]),
        (Edit("drop", 5), [1, 3, 7, 9, 11]),
        (Edit("drop", 1), [1, 5, 7, 9, 11]),
        (Edit("drop", 5, slide=True), [1, 3, 5, 7, 9]),
        (Edit("drop", 1, slide=True), [1, 3, 5, 7, 9]),
        (Edit("drop", 12, slide=True), [1, 3, 5, 7, 9]),
    ],
)
def test_edits(edit, starts) -> None:
    made, problems = edited(TWOS, 12, [edit])
    assert made.tolist() == starts
    assert problems == []


@pytest.mark.parametrize(
    ("edit", "why"),
    [
        (Edit("shorten", 3, 2), "nothing would be left"),
        (Edit("shorten", 11, 1), "last exposure"),
        (Edit("lengthen", 12, 1), "last exposure"),
        (Edit("drop", 0), "no such frame"),
        (Edit("insert", 13), "no such frame"),
        (Edit("lengthen", 3, 0), "changes no frames"),
    ],
)
def test_edits_that_do_not_fit_are_left_out_and_told(edit, why) -> None:
    made, problems = edited(TWOS, 12, [edit, Edit("drop", 5)])
    assert made.tolist() == [1, 3, 7, 9, 11]
    assert len(problems) == 1
    assert why in problems[0].what


edits = st.builds(
    Edit,
    st.sampled_from(["lengthen", "shorten", "insert", "drop"]),
    st.integers(-2, 70),
    st.integers(0, 9),
    st.booleans(),
)


@given(st.integers(1, 60), st.lists(st.integers(1, 4), min_size=1, max_size=3), st.lists(edits, max_size=8))
def test_a_plan_stays_a_plan(last, pattern, changes) -> None:
    made, _ = edited(plan(1, last, pattern), last, changes)
    assert made[0] == 1
    assert (np.diff(made) > 0).all()
    assert made[-1] <= last
    assert made.dtype == np.int64
    again, _ = edited(plan(1, last, pattern), last, changes)
    assert made.tolist() == again.tolist()


@given(st.integers(20, 60), st.integers(1, 60), st.integers(1, 5), st.booleans())
def test_lengthening_and_shortening_undo_each_other(last, frame, by, slide) -> None:
    starts = plan(1, last, (6,))
    longer, problems = edited(starts, last, [Edit("lengthen", frame, by, slide)])
    if problems or len(longer) < len(starts):
        return
    back, _ = edited(longer, last, [Edit("shorten", frame, by, slide)])
    assert back.tolist() == starts.tolist()


@given(st.integers(1, 30), st.integers(1, 4))
def test_sliding_keeps_the_length_of_what_comes_after(frame, by) -> None:
    starts = plan(1, 30, (2, 3))
    slid, problems = edited(starts, 30, [Edit("lengthen", frame, by, slide=True)])
    before, after = ends(starts, 30) - starts + 1, ends(slid, 30) - slid + 1
    at = int(np.searchsorted(starts, frame, side="right")) - 1
    if not problems:
        assert after[at] == before[at] + by or len(slid) == at + 1
        assert after[at + 1 : -1].tolist() == before[at + 1 : len(after) - 1].tolist()


def test_edits_are_kept_as_plain_values() -> None:
    edit = Edit("insert", 7, 2, slide=True)
    assert Edit.from_dict(edit.as_dict()) == edit
    assert Edit.from_dict({"kind": "drop", "frame": 3}) == Edit("drop", 3)


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"kind": "drop"},
        {"kind": "split", "frame": 1},
        {"kind": "drop", "frame": 1.5},
        {"kind": "drop", "frame": True},
        {"kind": "drop", "frame": 1, "slide": 1},
        {"kind": "drop", "frame": 1, "why": ""},
    ],
)
def test_values_that_are_no_edit(values) -> None:
    with pytest.raises(Misuse, match="no edit"):
        Edit.from_dict(values)


def test_edits_move_between_rates() -> None:
    assert at_rate([Edit("lengthen", 7, 2)], Fraction(12), Fraction(24), 1) == (Edit("lengthen", 13, 4),)
    assert at_rate([Edit("drop", 13, 1, True)], Fraction(24), Fraction(12), 1) == (Edit("drop", 7, 1, True),)
