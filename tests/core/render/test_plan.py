"""Frames that show the same picture are found, and only those."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.render.plan import every_frame, same_pictures


def one_by_one(first: int, rows: list[bytes]) -> list[int]:
    """The definition, slowly: the first frame whose row has the same bytes."""
    return [first + rows.index(row) for row in rows]


def test_held_frames_and_frames_that_come_back_share_a_picture():
    values = np.array([[1, 9], [1, 9], [2, 9], [1, 9]], np.uint32)
    plan = same_pictures(10, values)
    assert plan.frames.tolist() == [10, 11, 12, 13]
    assert plan.picture.tolist() == [10, 10, 12, 10]
    assert plan.pictures.tolist() == [10, 12]
    assert plan.shown_on(10) == [10, 11, 13]


@given(st.integers(-20, 5000), st.integers(1, 40), st.integers(0, 5), st.randoms(use_true_random=False))
def test_classes_are_those_of_the_definition(first, frames, columns, random):
    values = np.array([[random.randrange(2) for _ in range(columns)] for _ in range(frames)], np.uint32)
    values = values.reshape(frames, columns)
    rows = [row.tobytes() for row in values]
    assert same_pictures(first, values).picture.tolist() == one_by_one(first, rows)


@pytest.mark.parametrize(
    ("numbers", "pictures"),
    [
        ([0.0, -0.0], 2),  # differ in one bit, so they are told apart: too many pictures never hurts
        ([np.nan, np.nan], 1),
        ([1.0, np.nextafter(np.float32(1), np.float32(2))], 2),
    ],
)
def test_bits_are_compared_not_numbers(numbers, pictures):
    bits = np.array(numbers, np.float32).view(np.uint32)[:, None]
    assert len(same_pictures(1, bits).pictures) == pictures


def test_nothing_that_changes_is_one_picture():
    assert same_pictures(5, np.empty((3, 0), np.uint32)).picture.tolist() == [5, 5, 5]


def test_every_frame_has_its_own_picture():
    assert every_frame(3, 5).picture.tolist() == [3, 4, 5]


def test_no_frames_is_an_error():
    with pytest.raises(ValueError, match="end at 2, before they start at 3"):
        every_frame(3, 2)
