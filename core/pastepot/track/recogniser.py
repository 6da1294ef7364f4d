"""The recogniser in a process of its own: it ends its process where memory fails, and that must not be the person's.

    python -m pastepot.track.recogniser

Reads orders from standard input and answers each with one row of JSON on standard output. An order is
{words: [[way, …], …], samples: N}, each way a list of sounds, followed by N samples of 16 bits at 16 kHz. The answer is
{words: [[start, end, score], …], sounds: [[name, start, end], …], loop: [[name, start, end, score], …]}, times in
hundredths of a second; words is null where they could not be laid over the sound at all. An order with rough: true asks
for nothing but words with start and end, in little memory, for a sound of many minutes.
"""

from __future__ import annotations

import json
import math
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO

# Wide: an alignment that loses its way among the narrow beams of the default is lost for good.
_ALIGN = {"lm": None, "bestpath": False, "beam": 1e-120, "wbeam": 1e-100, "pbeam": 1e-120}
_LOOP = {
    "lm": None,
    "bestpath": False,
    "beam": 1e-10,
    "pbeam": 1e-8,
    "lw": 2.0,
    "allphone_ci": True,
    "topn": 2,
    "ds": 2,
}
_LOG_BASE = math.log(1.0001)

Json = dict[str, Any]


class Recogniser:
    """Two decoders: one lays given words over a sound, one hears any sounds whatever."""

    def __init__(self) -> None:
        import pocketsphinx

        with tempfile.TemporaryDirectory(prefix="pastepot-") as folder:
            words = Path(folder) / "words.dict"
            words.write_text("pastepot P EY S T P AA T\n", encoding="ascii")
            shared: Json = {"samprate": 16000, "dict": str(words), "loglevel": "FATAL"}
            self._align = pocketsphinx.Decoder(**shared, **_ALIGN)
            model = pocketsphinx.get_model_path("en-us/en-us-phone.lm.bin")
            self._loop = pocketsphinx.Decoder(**shared, **_LOOP, allphone=model)
        self._known: dict[str, str] = {}

    def heard(self, ways: Sequence[Sequence[Sequence[str]]], sound: bytes) -> Json:
        """The answer to one order."""
        answer: Json = {"loop": self.loop(sound), "words": None, "sounds": []}
        names = [self._name(way) for way in ways]
        if not names:
            return answer
        self._align.set_align_text(" ".join(names))
        _hear(self._align, sound)
        if self._align.hyp() is None or self._align.hyp().hypstr.split() != names:
            return answer  # it may come back with fewer words than it was given
        self._align.set_alignment()
        _hear(self._align, sound)  # asked for hyp() after this pass, the library ends the process
        alignment = self._align.get_alignment()  # its words live only as long as it does, and while it is walked
        answer["words"] = []
        for word in alignment:
            if not word.name.startswith(("<", "[", "+")):
                answer["words"].append([word.start, word.start + word.duration, word.score])
                answer["sounds"] += [[p.name, p.start, p.start + p.duration] for p in word]
        return answer

    def places(self, ways: Sequence[Sequence[Sequence[str]]], sound: bytes) -> Json:
        """Where each word is, without its sounds."""
        names = [self._name(way) for way in ways]
        self._align.set_align_text(" ".join(names))
        _hear(self._align, sound)
        if self._align.hyp() is None or self._align.hyp().hypstr.split() != names:
            return {"words": None}
        found = [(s.word, s.start_frame, s.end_frame + 1) for s in self._align.seg()]
        return {"words": [[start, end, 0] for name, start, end in found if not name.startswith(("<", "[", "+"))]}

    def loop(self, sound: bytes) -> list[tuple[str, int, int, int]]:
        """What sounds are heard without a text."""
        _hear(self._loop, sound)
        found = self._loop.seg() if self._loop.hyp() is not None else []
        return [(s.word, s.start_frame, s.end_frame + 1, round(math.log(s.ascore) / _LOG_BASE)) for s in found]

    def _name(self, ways: Sequence[Sequence[str]]) -> str:
        """A name for a word said in these ways, which the recogniser learns when it is new."""
        key = json.dumps(ways)
        if key not in self._known:
            name = self._known[key] = f"w{len(self._known)}"
            for number, way in enumerate(ways, 1):
                self._align.add_word(name if number == 1 else f"{name}({number})", " ".join(way), False)
        return self._known[key]


def _hear(decoder: Any, sound: bytes) -> None:
    decoder.start_utt()
    decoder.process_raw(sound, full_utt=True)
    decoder.end_utt()


def main(orders: BinaryIO, answers: BinaryIO) -> None:
    """Answer every order."""
    recogniser = Recogniser()
    while row := orders.readline():
        order = json.loads(row)
        sound = orders.read(2 * order["samples"])
        ask = recogniser.places if order.get("rough") else recogniser.heard
        answers.write(json.dumps(ask(order["words"], sound)).encode() + b"\n")
        answers.flush()


if __name__ == "__main__":
    main(sys.stdin.buffer, sys.stdout.buffer)
