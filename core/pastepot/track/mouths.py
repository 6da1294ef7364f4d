"""Which of a character's own mouths comes nearest to a shape, by what each looks like."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pastepot.library.parts import Library, MouthShape, Part
from pastepot.track.sounds import SILENCE, SOUNDS, sound

Costs = NDArray[np.float64]

_LIPS = {"closed": 0, "touching-teeth": 1, "apart": 2}
# How wrong it looks to see one kind of lips (columns) where another (rows) was spoken. Common practice, no source.
_LIPS_COST = np.array([[0.0, 0.5, 1.0], [0.5, 0.0, 0.5], [1.0, 0.6, 0.0]])
_ROUND_WEIGHT = 0.7
_TONGUE_HIDDEN, _TONGUE_SHOWN = 0.08, 0.15


def distances(wanted: Sequence[MouthShape], mouths: Sequence[MouthShape]) -> Costs:
    """(S, M) how wrong each mouth looks for each shape: 0 the same, about 1 plainly wrong."""
    want, have = _features(wanted)[:, None], _features(mouths)[None, :]
    lips = _LIPS_COST[want[..., 0].astype(int), have[..., 0].astype(int)]
    open_, round_ = ((want[..., k] - have[..., k]) ** 2 for k in (1, 2))
    tongue = np.where(want[..., 3] > have[..., 3], _TONGUE_HIDDEN, 0.0)
    tongue += np.where(want[..., 3] < have[..., 3], _TONGUE_SHOWN, 0.0)
    return np.asarray(lips + open_ + _ROUND_WEIGHT * round_ + tongue)


def _features(shapes: Sequence[MouthShape]) -> Costs:
    rows = [(_LIPS[s.lips], s.open, s.round, s.tongue) for s in shapes]
    return np.array(rows, np.float64).reshape(len(rows), 4)


@dataclass(frozen=True)
class MouthSet:
    """A character's replacement set of mouths.

    fixed: sound -> index of the mouth that the person wants for it, whatever it looks like
    """

    name: str
    mouths: tuple[Part, ...]
    fixed: Mapping[str, int] = field(default_factory=dict)

    @property
    def shapes(self) -> list[MouthShape]:
        """What the mouths look like."""
        return [part.mouth or MouthShape() for part in self.mouths]

    @property
    def rest(self) -> int:
        """The mouth that says nothing."""
        return self.mouth_for(SILENCE)

    def mouth_for(self, name: str) -> int:
        """Index of the mouth for a sound: the person's choice, else the one that looks nearest."""
        if name in self.fixed:
            return self.fixed[name]
        return int(np.argmin(distances([sound(name).shape], self.shapes)[0]))

    def table(self) -> dict[str, str]:
        """Every sound, SIL included, and the name of its mouth."""
        return {name: self.mouths[self.mouth_for(name)].name for name in (SILENCE, *SOUNDS)}

    def lacks(self) -> list[str]:
        """What no mouth of the set can show, in words."""
        lips = {shape.lips for shape in self.shapes}
        missing = []
        if "closed" not in lips:
            missing.append("closed lips, so M, B and P will not be seen")
        if "touching-teeth" not in lips:
            missing.append("teeth on the lip, so F and V will look like the nearest other mouth")
        return missing


def sets_of(library: Library, character: str) -> dict[str, list[MouthSet]]:
    """A character's sets of at least two described mouths, by view, in the order of the library."""
    found: dict[str, list[MouthSet]] = {}
    for name, members in library.replacement_sets().items():
        mouths = tuple(p for p in members if p.mouth is not None and p.character == character)
        if len(mouths) > 1:
            found.setdefault(mouths[0].view, []).append(MouthSet(name, mouths))
    return found
