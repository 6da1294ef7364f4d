"""The flash check as a drawing: for each rule, how many swings the busiest place has in each second, and the limit."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pastepot.library.contact_values import Words
from pastepot.review.flash import CAUTION, RULES, TOO_MANY, Finding, Report, Rule, clock, place
from pastepot.timing.chart_png import letters, paint
from pastepot.timing.chart_scale import ticks
from pastepot.timing.chart_svg import to_svg
from pastepot.timing.chart_values import Block, Drawing, Stroke

NAMES: dict[Rule, str] = {
    "general": "Light, WCAG 2.2",
    "red": "Red, WCAG 2.2",
    "screen": "Light, ITU-R BT.1702",
}
_WIDTH, _MARGIN, _AXIS = 260.0, 10.0, 8.0
_PANEL, _STEP, _TOP = 34.0, 50.0, 26.0
_THUMB = (26.0, 14.6)
_LISTED = 12


def save(report: Report, title: str, path: Path) -> None:
    """Write the chart as SVG, or as PNG where the name ends so. Raises MissingExtra for a PNG without Pillow."""
    page = drawing(report, title)
    if path.suffix.lower() == ".png":
        paint(page, letters()).save(path)
    else:
        path.write_text(to_svg(page, title), encoding="utf-8")


def drawing(report: Report, title: str) -> Drawing:
    """The chart on one page."""
    listed = report.findings[:_LISTED]
    below = _TOP + _STEP * len(RULES) + 4
    page = Drawing(_WIDTH, below + len(listed) * (_THUMB[1] + 4) + 10)
    verdict = "No limit is broken." if report.passed else f"Limits are broken in {len(report.findings)} passages."
    page.write(Words(_MARGIN, 12, title, 5.0))
    page.write(Words(_MARGIN, 18.5, f"{verdict} {CAUTION}", 3.2, "grey"))
    for n, rule in enumerate(RULES):
        _panel(page, report, rule, _TOP + n * _STEP)
    for n, finding in enumerate(listed):
        _row(page, finding, below + n * (_THUMB[1] + 4))
    if len(report.findings) > _LISTED:
        page.write(Words(_MARGIN, page.height - 6, f"and {len(report.findings) - _LISTED} more", 3.0, "grey"))
    return page


def _panel(page: Drawing, report: Report, rule: Rule, top: float) -> None:
    counts = np.array(report.counts[rule], np.float64)
    times = np.array(report.times)
    end = float(times[-1] + 1 / report.fps)
    high = max(8.0, float(counts.max()) * 1.08)
    left, wide, bottom = _MARGIN + _AXIS, _WIDTH - 2 * _MARGIN - _AXIS, top + 4 + _PANEL

    def across(seconds: float) -> float:
        return left + seconds / end * wide

    def up(count: float) -> float:
        return bottom - count / high * _PANEL

    page.write(Words(_MARGIN, top + 1.5, f"{NAMES[rule]}: swings in one second, at most {report.most(rule)}", 3.2))
    for finding in report.findings:
        if finding.rule == rule:
            begin = across(finding.start)
            page.shapes.append(Block(begin, top + 4, max(0.3, across(finding.end) - begin), _PANEL, "shade"))
    for value in ticks(0, high, 5):
        page.line(left, up(value), left + wide, up(value), 0.1, "rule")
        page.write(Words(left - 1.5, up(value) + 0.8, f"{value:g}", 2.2, "grey", "right"))
    page.line(left, up(TOO_MANY), left + wide, up(TOO_MANY), 0.3, "extreme")
    page.write(Words(left + wide, up(TOO_MANY) - 0.8, f"{TOO_MANY}: too many", 2.4, "accent", "right"))
    for value in ticks(0, end, 12):
        page.write(Words(across(value), bottom + 3.2, f"{value:g} s", 2.2, "grey", "centre"))
    edges = np.repeat(np.append(times, end) / end * wide + left, 2)[1:-1]
    page.shapes.append(Stroke(np.column_stack([edges, np.repeat(bottom - counts / high * _PANEL, 2)]), 0.4, "hand"))


def _row(page: Drawing, finding: Finding, top: float) -> None:
    """A small frame with the place in it, and what is found there."""
    width, height = _THUMB
    page.shapes.append(Block(_MARGIN, top, width, height, "shade"))
    left, upper, wide, tall = finding.box
    page.shapes.append(
        Block(_MARGIN + left * width, top + upper * height, wide * width, tall * height, "extreme"),
    )
    page.write(Words(_MARGIN + width + 4, top + 6, headline(finding), 3.2))
    page.write(Words(_MARGIN + width + 4, top + 11, f"{finding.swings} swings in one second", 2.8, "grey"))


def headline(finding: Finding) -> str:
    """Rule, time and place of a passage in one line."""
    return f"{NAMES[finding.rule]}: {clock(finding.start)} to {clock(finding.end)}, {place(finding.box)}"
