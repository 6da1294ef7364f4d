"""One line of the table that `make bench` prints."""

from __future__ import annotations

from typing import NamedTuple


class Row(NamedTuple):
    """A figure: our seconds, the baseline measured in the same run, their ratio, the bar, and whether it holds."""

    name: str
    seconds: float
    baseline: str
    ratio: float
    bar: str
    ok: bool
