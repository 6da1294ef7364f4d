"""Animation curves as plain arrays, and their values at any frames, equal to Blender's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pastepot.timing import batch
from pastepot.timing.kinds import CycleMode, Easing, Extrapolation, Interpolation, Numbers
from pastepot.timing.modifiers import Cycles, Modifier, Stepped, bend_time

__all__ = [
    "Curve",
    "CycleMode",
    "Cycles",
    "Easing",
    "Extrapolation",
    "Interpolation",
    "Modifier",
    "Numbers",
    "Stepped",
    "evaluate",
    "evaluate_many",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BLOCK = 1 << 16  # values worked out at a time: few enough to stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Curve:
    """One animated number. All arrays have a row for each of its n keys, in the order of their frames.

    co, handle_left, handle_right: (n, 2), frame and value of each key and of its Bezier handles
    interpolation:                 (n,), `Interpolation` numbers: the way to the next key
    easing:                        (n,), `Easing` numbers
    back, amplitude, period:       (n,), what BACK and ELASTIC read
    modifiers:                     the first is the first in Blender's list

    Raises ValueError, saying which key, for arrays that do not match, a number that is not finite or not known, and
    keys out of order; and for a CYCLES modifier that is not the first.
    """

    co: Floats
    handle_left: Floats
    handle_right: Floats
    interpolation: Ints
    easing: Ints
    back: Floats
    amplitude: Floats
    period: Floats
    extrapolation: Extrapolation = Extrapolation.CONSTANT
    modifiers: tuple[Modifier, ...] = ()
    numbers: Numbers = Numbers.ANY

    @classmethod
    def of(
        cls,
        co: ArrayLike,
        handle_left: ArrayLike | None = None,
        handle_right: ArrayLike | None = None,
        *,
        interpolation: ArrayLike = Interpolation.BEZIER,
        easing: ArrayLike = Easing.AUTO,
        back: ArrayLike = 1.70158,
        amplitude: ArrayLike = 0.8,
        period: ArrayLike = 4.1,
        extrapolation: Extrapolation = Extrapolation.CONSTANT,
        modifiers: tuple[Modifier, ...] = (),
        numbers: Numbers = Numbers.ANY,
    ) -> Curve:
        """A curve through the keys co (n, 2). One number does for all keys; a handle left out lies on its key."""
        points = np.asarray(co, np.float64).reshape(-1, 2)
        n = len(points)
        return cls(
            points,
            points if handle_left is None else np.asarray(handle_left, np.float64),
            points if handle_right is None else np.asarray(handle_right, np.float64),
            np.broadcast_to(np.asarray(interpolation, np.int64), n),
            np.broadcast_to(np.asarray(easing, np.int64), n),
            np.broadcast_to(np.asarray(back, np.float64), n),
            np.broadcast_to(np.asarray(amplitude, np.float64), n),
            np.broadcast_to(np.asarray(period, np.float64), n),
            extrapolation,
            modifiers,
            numbers,
        )

    def __post_init__(self) -> None:
        n = len(self.co)
        for name in ("co", "handle_left", "handle_right"):
            _check_shape(name, getattr(self, name), (n, 2))
        for name in ("interpolation", "easing", "back", "amplitude", "period"):
            _check_shape(name, getattr(self, name), (n,))
        for name in ("co", "handle_left", "handle_right", "back", "amplitude", "period"):
            array: Floats = getattr(self, name)
            finite = np.isfinite(array)
            self._refuse(
                ~(finite if finite.ndim == 1 else finite[:, 0] & finite[:, 1]),
                f"has {name} = %s, which is not finite",
                array,
            )
        self._refuse(
            ~np.isin(self.interpolation, list(Interpolation)), "has the unknown interpolation %s", self.interpolation
        )
        self._refuse(~np.isin(self.easing, list(Easing)), "has the unknown easing %s", self.easing)
        frames = self.co[:, 0]
        late = np.diff(frames, prepend=frames[:1]) < 0
        if any(isinstance(modifier, Cycles) for modifier in self.modifiers[1:]):
            raise ValueError("The CYCLES modifier of a curve must be its first; Blender ignores it anywhere else.")
        self._refuse(late, "at frame %s comes before the key ahead of it; sort the keys by frame", frames)

    def _refuse(self, bad: NDArray[np.bool_], complaint: str, values: NDArray[np.generic]) -> None:
        if bad.any():
            i = int(np.argmax(bad))
            raise ValueError(f"Key {i + 1} of {len(self.co)} {complaint % (values[i].tolist(),)}.")


def _check_shape(name: str, array: NDArray[np.generic], shape: tuple[int, ...]) -> None:
    if array.shape != shape:
        raise ValueError(f"A curve's {name} must have the shape {shape}, one row for each key, not {array.shape}.")


def evaluate(curve: Curve, frames: ArrayLike) -> Floats:
    """The curve's values at frames of any shape, as float64; zeros for a curve without keys.

    Equal to Blender's FCurve.evaluate to 1e-5 of the curve's range and the rounding of float32. Raises ValueError for
    frames that are not finite.
    """
    at = np.asarray(frames, np.float64)
    return evaluate_many([curve], at.ravel()).reshape(at.shape)


def evaluate_many(curves: Sequence[Curve], frames: ArrayLike) -> Floats:
    """The values of m curves at the same k frames, as float64 (m, k); each curve as `evaluate` does it.

    Curves without modifiers are worked out together, some 65,000 values at a time. Raises ValueError for frames that
    are not finite or not in one row.
    """
    at = np.asarray(frames, np.float64)
    if at.ndim != 1 or not np.isfinite(at).all():
        raise ValueError(f"Frames must be finite numbers in one row; got the shape {at.shape}: {at}.")
    values = np.zeros((len(curves), at.size))
    plain = [i for i, curve in enumerate(curves) if len(curve.co) and not curve.modifiers]
    rows = max(1, _BLOCK // max(1, at.size))
    for start in range(0, len(plain), rows):
        some = plain[start : start + rows]
        values[some] = _in_any_order([curves[i] for i in some], at)
    for row, curve in zip(values, curves, strict=True):
        if len(curve.co) and curve.modifiers:
            bent, added = bend_time(curve.modifiers, at, curve.co[0], curve.co[-1])
            row[:] = _in_any_order([curve], bent)[0] + added
    whole = np.array([curve.numbers is not Numbers.ANY for curve in curves], bool)
    if whole.any():
        values[whole] = np.floor(values[whole].astype(np.float32) + np.float32(0.5))
    return values


def _in_any_order(curves: Sequence[Curve], frames: Floats) -> Floats:
    if (frames[1:] >= frames[:-1]).all():
        return batch.values(curves, frames)
    order = np.argsort(frames, kind="stable")
    values = np.empty((len(curves), frames.size))
    values[:, order] = batch.values(curves, frames[order])
    return values
