"""`pastepot demo`: the whole job on the example film, step by step, from paper to film."""

from __future__ import annotations

import argparse
import importlib.util
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pastepot import places
from pastepot.cli import Console, main
from pastepot.errors import MissingExtra, PastepotError, Problem

NAME = "demo"
SUMMARY = "Do the whole job on the example film: two wait by a pond for a bus that is a teapot."
EXAMPLE = "pastepot demo -o kettle-pond"

_NEEDED = (("blender", "bpy"), ("photo", "PIL"), ("film", "av"), ("speech", "pocketsphinx"), ("example", "scipy"))


@dataclass(frozen=True)
class _Step:
    """One step: what it is called, the file that proves it done, and how to do it."""

    name: str
    makes: Path
    do: Callable[[], None]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to, and how large."""
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="DIR", help="the film folder to make")
    parser.add_argument("--draft", action="store_true", help="small pictures, for a quick look")


def run(args: argparse.Namespace, console: Console) -> int:
    """Do every step that is not done yet; a demo that was stopped goes on where it was."""
    for extra, module in _NEEDED:
        if importlib.util.find_spec(module) is None:
            raise MissingExtra(extra, module, "The demo")
    film = args.output.resolve()
    steps = _steps(film, args.draft)
    begun = time.monotonic()
    for number, step in enumerate(steps, 1):
        if step.makes.exists():
            console.say(f"[{number}/{len(steps)}] {step.name}: there already")
            continue
        console.say(f"[{number}/{len(steps)}] {step.name} …")
        step.do()
        if not step.makes.exists():
            raise PastepotError(
                Problem(f"The step '{step.name}' did not make {step.makes}.", "Read what it said above.")
            )
    made = {step.name: str(step.makes) for step in steps}
    said = "\n".join(f"  {name:22} {path}" for name, path in made.items())
    console.result(made, f"Done in {time.monotonic() - begun:.0f} s.\n{said}")
    return 0


def _steps(film: Path, draft: bool) -> list[_Step]:
    here = places.example()
    smooth, handmade = film / "scenes" / "waiting.blend", film / "scenes" / "waiting-handmade.blend"
    frames, contact = film / "renders" / "waiting", film / "review"
    movie, sound = film / "waiting.mp4", film / "track" / "waiting.wav"
    quality = ["--percent", "50", "--samples", "4"] if draft else ["--samples", "8"]

    def animated() -> None:
        """The scene is only called done once it is keyed, mouths and all."""
        unfinished = smooth.with_stem("unfinished")
        unfinished.unlink(missing_ok=True)
        _pastepot("scene", film, "-o", unfinished)
        _script(here / "animate.py", unfinished)
        if sound.exists():
            _pastepot("read", film, "--scene", unfinished)
        unfinished.replace(smooth)

    def delivered() -> None:
        with_sound = ["--sound", sound] if sound.exists() else []
        _pastepot("deliver", frames, *with_sound, "--fps", "24", "-o", movie)

    return [
        _Step("parts of paper", film / "parts.toml", lambda: _script(here / "draw.py", film, *_scale(draft))),
        _Step("sound", sound, lambda: _script(here / "speak.py", film)),
        _Step("contact sheet", contact / "contact.png", lambda: _contact(film, contact)),
        _Step("scene, smooth keys", smooth, animated),
        _Step("scene, handmade", handmade, lambda: _pastepot("handmade", smooth, "-o", handmade)),
        _Step("frames", frames / "frames.json", lambda: _pastepot("render", handmade, "-o", frames, *quality)),
        _Step("film", movie, delivered),
    ]


def _scale(draft: bool) -> list[str]:
    return ["--scale", "0.25"] if draft else []


def _contact(film: Path, folder: Path) -> None:
    _pastepot("check", film)
    folder.mkdir(exist_ok=True)
    for name in ("contact.pdf", "contact.png"):
        (folder / name).unlink(missing_ok=True)
        _pastepot("contact", film, "-o", folder / name)


def _pastepot(*words: object) -> None:
    """A command of ours, as a person would type it."""
    print("      pastepot " + " ".join(map(str, words)))
    if main([str(word) for word in words]):
        raise PastepotError(Problem(f"The demo stopped at 'pastepot {words[0]}'.", "Read what it said above."))


def _script(script: Path, *words: object) -> None:
    """One of the example's own scripts."""
    print(f"      python {script.name} " + " ".join(map(str, words)))
    done = subprocess.run([sys.executable, str(script), *map(str, words)], capture_output=True, text=True)
    if done.returncode:
        said = (done.stdout + done.stderr).strip()
        raise PastepotError(Problem(f"{script.name} stopped.", f"It said:\n{said}"))
