"""The backdrop's tint: contrast of hue, proposals, and what speaks against a backdrop."""

from __future__ import annotations

import numpy as np
import pytest
from pastepot.capture.tint import ALIKE, DARKEST, hue_contrast, judge, propose
from pastepot.srgb import linear

PAPERS = {"red": (190, 40, 40), "green": (70, 140, 70), "white": (236, 233, 225), "black": (35, 33, 32)}


def test_linear_values_are_those_of_the_standard() -> None:
    """IEC 61966-2-1: the curve's two ends, the end of its straight part (0.04045 / 12.92), and middle grey's 0.2140."""
    assert linear([0, 255]) == pytest.approx([0, 1])
    assert linear(0.04045 * 255) == pytest.approx(0.0031308, abs=1e-7)
    assert linear(127.5) == pytest.approx(0.21404, abs=1e-5)


@pytest.mark.parametrize("depth", [1.0, 0.5, 0.1])
def test_a_shadow_has_the_backdrops_hue(depth: float) -> None:
    """A shadow scales all channels alike, so that it never stands out by hue, however deep."""
    backdrop = linear((204, 61, 133))
    assert hue_contrast([backdrop * depth], backdrop) == pytest.approx([0], abs=1e-12)


def test_paper_of_the_backdrops_own_colour_has_no_contrast_and_every_grey_the_same_hue() -> None:
    backdrop = linear((204, 61, 133))
    assert hue_contrast(linear([(204, 61, 133)]), backdrop)[0] == 0
    assert (hue_contrast(linear([(40, 40, 40), (128, 128, 128), (240, 240, 240)]), backdrop) > ALIKE).all()
    assert (hue_contrast(linear([(128, 128, 128)]), linear((236, 236, 236))) < 1e-12).all()


@pytest.mark.parametrize("papers", [(), [(190, 40, 40)], [(205, 60, 150), (90, 190, 200)], list(PAPERS.values())])
def test_the_proposal_is_clear_of_every_paper(papers: list[tuple[int, int, int]]) -> None:
    tint = propose(papers)
    assert linear(tint).min() > DARKEST
    assert judge(linear(tint), {str(n): paper for n, paper in enumerate([*papers, (128, 128, 128)])}) == []


def test_what_speaks_against_a_backdrop() -> None:
    found = judge(linear((40, 110, 180)) * np.array([0.5, 1, 1]), {})
    assert [p.what for p in found] == ["The backdrop's red is 1.1 % of white: in its shadows the hue is lost."]
    assert ["hardly any hue" in p.what for p in judge(linear((200, 200, 200)), {})] == [True]
    alike = judge(linear((70, 170, 90)), PAPERS)
    assert [(p.part, p.severity) for p in alike] == [("green", "warning")]
