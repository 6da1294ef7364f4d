"""A two-hour dialogue track read to its end: `python tests/bench/long_track.py`, some ten minutes, not in `make bench`.

Prints the time and the most memory of both processes, against a track of six minutes. Bars: every line is read, and
two hours take at most 20 % more memory and no longer than their length asks for. The lines are the synthesizer's, said
again and again by all voices at two speeds, a second of silence apart.
"""

from __future__ import annotations

import contextlib
import json
import resource
import subprocess
import sys
import tempfile
import threading
import time
import wave
from fractions import Fraction
from pathlib import Path

import voices
from bench_mouths import mouth_set
from pastepot.film import Film, Shot
from pastepot.library.parts import Library
from pastepot.track import dialogue, reading
from voices import RATE

GAP_S = 1.0


def make(folder: Path, minutes: int) -> int:
    """Write the sound and its lines; the number of lines."""
    voice = voices.Voices()
    said = [voice.say(t, v, w) for v in voices.VOICES for w in (140, 165) for t in voices.SENTENCES]
    at, cues = 0.0, []
    with wave.open(str(folder / "track" / "long.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        while at < minutes * 60:
            spoken = said[len(cues) % len(said)]
            length = len(spoken.samples) / RATE
            cues.append(f"{len(cues) + 1}\n{_time(at + 0.3)} --> {_time(at + length - 0.3)}\nSNAIL: {spoken.text}\n")
            file.writeframes(spoken.samples.tobytes() + bytes(2 * round(GAP_S * RATE)))
            at += length + GAP_S
    (folder / "track" / "long.srt").write_text("\n".join(cues), encoding="utf-8")
    return len(cues)


def _time(seconds: float) -> str:
    whole, part = divmod(round(seconds * 1000), 1000)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02},{part:03}"


class Highest(threading.Thread):
    """The most memory, in MB, of the processes that this one has started: a look ten times a second (Linux)."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.mb = 0.0

    def run(self) -> None:
        """Look until the process ends."""
        while True:
            for task in Path("/proc/self/task").iterdir():
                with contextlib.suppress(OSError):
                    for child in (task / "children").read_text().split():
                        rows = Path(f"/proc/{child}/status").read_text().splitlines()
                        peak = next((row for row in rows if row.startswith("VmHWM")), "VmHWM: 0")
                        self.mb = max(self.mb, int(peak.split()[1]) / 1024)
            time.sleep(0.1)


def read(minutes: int) -> dict[str, float]:
    """What one track takes, in this process and the recogniser's."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "track").mkdir()
        # the synthesizer's memory and the sounds in it are not the reader's
        made = subprocess.run([sys.executable, __file__, "make", place, str(minutes)], capture_output=True, check=True)
        last = (minutes + 2) * 60 * 12
        film = Film(folder, "long", Fraction(12), (960, 540), shots=(Shot("long", 1, last),))
        reader = dialogue.Reader(film, Library(mouth_set().mouths), lambda *_: None)
        highest = Highest()
        highest.start()
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        begun, busy = time.perf_counter(), time.process_time()
        read, problems = reader.read(dialogue.tracks(folder)[0])
        children = resource.getrusage(resource.RUSAGE_CHILDREN)
        reading.save(read, reading.path_of(folder / "track" / "long.wav"))
        used = children.ru_utime + children.ru_stime - before.ru_utime - before.ru_stime
        return {
            "seconds": read.seconds,
            "lines": int(made.stdout),
            "read": sum(line.how == "text" for line in read.lines),
            "warnings": len(problems),
            "clock_s": time.perf_counter() - begun,
            "processor_s": time.process_time() - busy + used,
            "own_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
            "recogniser_mb": highest.mb,
        }


def main(words: list[str]) -> int:
    """0 if the bars hold."""
    if words[:1] == ["make"]:
        print(make(Path(words[1]), int(words[2])))
        return 0
    if words[:1] == ["read"]:
        print(json.dumps(read(int(words[1]))))
        return 0
    found = []
    for minutes in (6, 120):
        done = subprocess.run(
            [sys.executable, __file__, "read", str(minutes)], capture_output=True, text=True, check=True
        )
        found.append(json.loads(done.stdout))
        print(f"{minutes} minutes: " + ", ".join(f"{k} {v:.6g}" for k, v in found[-1].items()), flush=True)
    short, long = found
    flat = all(long[k] <= 1.2 * short[k] for k in ("own_mb", "recogniser_mb"))
    whole = long["read"] >= 0.98 * long["lines"]
    ratio = long["seconds"] / long["processor_s"]
    print(f"memory flat: {flat}; lines read by their text: {long['read'] / long['lines']:.4f}; {ratio:.1f} x real time")
    return 0 if flat and whole and ratio >= 15 else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
