"""How loud a film's sound is, by EBU R 128, and how much louder or quieter it has to be made for a target.

Measured by FFmpeg's ebur128 filter: programme loudness with both gates of ITU-R BS.1770, true peak oversampled.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pastepot.render.sound import RATE, Stereo

PEAK_LIMIT = -1.0
"""dBTP that no film's sound should go over (EBU R 128)."""

_SILENT = -70.0  # LUFS: the absolute gate, which the filter also says where nothing passes it


@dataclass(frozen=True)
class Loudness:
    """lufs: programme loudness, None for silence; peak: dBTP, -inf for silence; range: LU."""

    lufs: float | None
    peak: float
    range: float

    def louder(self, gain: float) -> Loudness:
        """The same sound, `gain` dB louder."""
        return Loudness(None if self.lufs is None else self.lufs + gain, self.peak + gain, self.range)

    def gain_to(self, target: float, limit: float = PEAK_LIMIT) -> float:
        """The dB to reach `target` LUFS; fewer if the true peak would go over the limit; 0 for silence."""
        return 0.0 if self.lufs is None else min(target - self.lufs, limit - self.peak)


def measure(blocks: Iterable[Stereo]) -> Loudness:
    """The loudness of 48 kHz stereo. Less than 0.4 s, or nothing above the gate, is silence."""
    import av

    graph = av.filter.Graph()
    into = graph.add_abuffer(format="fltp", sample_rate=RATE, layout="stereo", time_base=Fraction(1, RATE))
    meter, out = graph.add("ebur128", "peak=true:metadata=1"), graph.add("abuffersink")
    into.link_to(meter)
    meter.link_to(out)
    graph.configure()
    at, said, peak = 0, dict[str, str](), 0.0
    for block in blocks:
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = RATE, at, Fraction(1, RATE)
        at += block.shape[1]
        into.push(frame)
        said, peak = _read(out, said, peak)
    into.push(None)
    said, peak = _read(out, said, peak)
    lufs = float(said.get("lavfi.r128.I", "-inf"))
    return Loudness(
        lufs if lufs > _SILENT else None,
        20 * math.log10(peak) if peak > 0 else -math.inf,
        float(said.get("lavfi.r128.LRA", "0")),
    )


def _read(out: Any, said: dict[str, str], peak: float) -> tuple[dict[str, str], float]:
    """What the meter says by now, and the highest true peak, as a factor of full scale."""
    import av

    with contextlib.suppress(av.error.BlockingIOError, av.error.EOFError):
        while True:
            said = out.pull().metadata or said
            peak = max(peak, float(said.get("lavfi.r128.true_peak", 0)))
    return said, peak
