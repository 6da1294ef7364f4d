"""How long a render will take yet, learnt from the pictures that are finished."""

from __future__ import annotations

from collections import deque

_RECENT = 32  # a shot's pictures differ from the next one's: only so many count


class Estimate:
    """Seconds of the pictures so far. The first one of a process also loads the scene: it counts only while alone."""

    def __init__(self) -> None:
        self._first: list[float] = []
        self._later: deque[float] = deque(maxlen=_RECENT)

    def add(self, seconds: float, *, first: bool = False) -> None:
        """Learn from a finished picture; first: it was its process's first."""
        if first:
            self._first.append(seconds)
        else:
            self._later.append(seconds)

    @property
    def typical(self) -> float | None:
        """Seconds that a picture takes, on average; None while none is finished."""
        known = self._later or self._first
        return sum(known) / len(known) if known else None

    def left(self, pictures: int) -> str:
        """How long so many pictures take yet: ', about 3 min left', or '' while nothing is known."""
        if self.typical is None or pictures < 1:
            return ""
        return f", about {words(self.typical * pictures)} left"


def words(seconds: float) -> str:
    """A length of time with as much precision as it deserves: 30 s, 5 min, 3 h."""
    for unit, size in (("h", 3600), ("min", 60)):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.0f} s"
