"""Columns out of values: poses numbered, replacements named, subtitles laid on frames."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from pastepot.timing.sheet import Cell, Column, Sheet, problems
from pastepot.timing.sheet_dialogue import srt_lines
from pastepot.timing.sheet_poses import dialogue_cells, pose_cells, set_cells


def sheet_of(cells: tuple[Cell, ...], first: int, frames: int) -> Sheet:
    return Sheet("a", Fraction(12), first, frames, (Column("a", "part", cells),))


def test_a_pose_that_comes_back_keeps_its_number():
    values = np.array([[0, 0, 1, 2, 2, 0], [5, 5, 5, 5, 5, 5]], np.float32)
    shown = np.ones(6, bool)
    keyed = np.array([1, 0, 0, 0, 1, 0], bool)
    assert pose_cells(values, shown, keyed, 10) == (
        Cell(10, 2, "1", True),
        Cell(12, 1, "2"),
        Cell(13, 2, "3", True),
        Cell(15, 1, "1"),
    )


def test_a_hidden_piece_has_no_pose():
    values = np.array([[0, 1, 2, 2]], np.float32)
    cells = pose_cells(values, np.array([0, 0, 1, 1], bool), np.ones(4, bool), 1)
    assert cells == (Cell(1, 2, ""), Cell(3, 2, "1", True))


@given(st.data())
def test_cells_say_exactly_what_the_values_say(data):
    """Numbers stand for equal poses: two frames have one number if and only if their values are equal."""
    frames = data.draw(st.integers(1, 20))
    whole = st.integers(-1, 1)
    values = data.draw(arrays.arrays(np.float32, (data.draw(st.integers(1, 3)), frames), elements=whole))
    shown = data.draw(arrays.arrays(bool, frames))
    cells = pose_cells(values, shown, np.zeros(frames, bool), 7)
    assert list(problems(sheet_of(cells, 7, frames))) == []
    label = [cell.label for cell in cells for _ in range(cell.frames)]
    for a in range(frames):
        assert (label[a] == "") == (not shown[a])
        for b in range(a):
            if shown[a] and shown[b]:
                assert (label[a] == label[b]) == (values[:, a] == values[:, b]).all()
    numbers = [int(n) for n in dict.fromkeys(label) if n]
    assert numbers == list(range(1, len(numbers) + 1))


def test_the_part_of_a_set_that_is_shown_is_named():
    cells, crowded = set_cells(
        {"open": np.array([1, 1, 0, 0, 1], bool), "shut": np.array([0, 0, 1, 0, 1], bool)},
        1,
    )
    assert [(c.start, c.frames, c.label) for c in cells] == [
        (1, 2, "open"), (3, 1, "shut"), (4, 1, ""), (5, 1, "open + shut"),
    ]  # fmt: skip
    assert crowded == [5]


@given(
    st.integers(0, 50),
    st.integers(1, 40),
    st.lists(st.tuples(st.integers(-10, 100), st.integers(0, 30), st.sampled_from(["a", "b b", "c\nc"]))),
)
def test_dialogue_always_makes_a_whole_column(first, frames, lines):
    cells = dialogue_cells([(s, s + n, t) for s, n, t in lines], first, first + frames - 1)
    assert list(problems(sheet_of(cells, first, frames))) == []


def test_lines_keep_their_frames_and_silence_lies_between_them():
    cells = dialogue_cells([(9, 10, "b"), (3, 5, "a")], 1, 12)
    assert [(c.start, c.frames, c.label) for c in cells] == [
        (1, 2, ""), (3, 3, "a"), (6, 3, ""), (9, 2, "b"), (11, 2, ""),
    ]  # fmt: skip


# Times of frames at 12 a second as SubRip writes them, computed with exact fractions and rounded half to even.
@pytest.mark.parametrize(
    ("frame", "time"),
    [(1, "00:00:00,083"), (2, "00:00:00,167"), (7, "00:00:00,583"), (12, "00:00:01,000"), (2469, "00:03:25,750")],
)
def test_subtitle_times_come_back_to_their_frames(frame, time):
    (line,) = srt_lines(f"1\n{time} --> 01:00:00,000\nHello\n", Fraction(12), 1)
    assert line == (frame + 1, 43200, "Hello")


def test_subtitles_as_they_are_found_in_the_wild():
    text = (
        "\ufeff1\r\n00:00:01,000 --> 00:00:02,000 X1:40\r\n<i>SNAIL:</i> No\r\nhurry.\r\n\r\n"
        "00:00:03.500 --> 00:00:03.510\n{\\an8}It boils.\n\n\n3\n00:00:05,000 --> 00:00:06,000\n\n4\nnonsense\n"
    )
    assert list(srt_lines(text, Fraction(24), 1)) == [(25, 48, "SNAIL: No hurry."), (85, 85, "It boils.")]
