"""How long it will take yet: by arithmetic done by hand."""

from __future__ import annotations

import pytest
from pastepot.render.estimate import Estimate, words


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.4, "0 s"), (119, "119 s"), (120, "2 min"), (300, "5 min"), (10800, "3 h")]
)
def test_a_length_of_time_in_words(seconds: float, text: str) -> None:
    assert words(seconds) == text


def test_nothing_is_promised_before_the_first_picture() -> None:
    assert Estimate().left(9) == ""
    assert Estimate().typical is None


def test_the_first_picture_counts_only_while_it_is_alone() -> None:
    estimate = Estimate()
    estimate.add(30, first=True)
    assert estimate.left(3) == ", about 90 s left"
    estimate.add(10)
    assert estimate.left(3) == ", about 30 s left"
    estimate.add(20)
    assert estimate.left(2) == ", about 30 s left"


def test_only_what_was_rendered_lately_counts() -> None:
    estimate = Estimate()
    for seconds in [100] * 40 + [2] * 32:
        estimate.add(seconds)
    assert estimate.typical == 2
