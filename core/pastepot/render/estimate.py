"""How long a render will take yet, learnt from the pictures that are finished, and when one has taken too long."""

from __future__ import annotations

from collections import deque

_RECENT = 32  # a shot's pictures differ from the next one's: only so many count
_LEAST_PATIENCE = 120.0
_TIMES = 20  # a picture that takes so many times the longest one yet is not coming any more
_PATIENCE_AT_FIRST = 3600.0  # while nothing is known


class Estimate:
    """Seconds of the pictures so far. The first one of a process also loads the scene: it counts only while alone."""

    def __init__(self) -> None:
        self._first: list[float] = []
        self._later: deque[float] = deque(maxlen=_RECENT)
        self._longest = 0.0

    def add(self, seconds: float, *, first: bool = False) -> None:
        """Learn from a finished picture; first: it was its process's first."""
        self._longest = max(self._longest, seconds)
        if first:
            self._first.append(seconds)
        else:
            self._later.append(seconds)

    @property
    def typical(self) -> float | None:
        """Seconds that a picture takes, on average; None while none is finished."""
        known = self._later or self._first
        return sum(known) / len(known) if known else None

    @property
    def patience(self) -> float:
        """Seconds after which a picture is given up."""
        return max(_LEAST_PATIENCE, _TIMES * self._longest) if self._longest else _PATIENCE_AT_FIRST

    def left(self, pictures: int, hands: int = 1) -> str:
        """How long so many pictures take yet: ', about 3 min left', or '' while nothing is known.

        hands: how many pictures are rendered side by side; the last round is a whole one
        """
        if self.typical is None or pictures < 1:
            return ""
        return f", about {words(self.typical * -(-pictures // hands))} left"


def words(seconds: float) -> str:
    """A length of time with as much precision as it deserves: 30 s, 5 min, 3 h."""
    for unit, size in (("h", 3600), ("min", 60)):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.0f} s"
