"""`pastepot read`: the dialogue track, line by line, and the mouth on each exposure."""

from __future__ import annotations

import argparse
from pathlib import Path

from pastepot.bridge import run_job
from pastepot.cli import Console
from pastepot.commands import scene_file
from pastepot.errors import Misuse, PastepotError, Problem, raise_if_any
from pastepot.output import output_problems, replacing

NAME = "read"
SUMMARY = "Read the dialogue and choose a mouth for every exposure."
EXAMPLE = "pastepot read myfilm --line waiting-2"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The film, and what of it."""
    parser.add_argument("film", type=Path, metavar="DIR", help="the film folder")
    parser.add_argument("--line", default="", metavar="ID", help="read only this line, such as waiting-2")
    parser.add_argument("--character", default="", metavar="NAME", help="who speaks in a sound that has no lines")
    parser.add_argument(
        "--change",
        action="append",
        default=[],
        metavar="FRAME=MOUTH",
        help="with --line: show this mouth on the exposure of that frame, whatever is read (FRAME= takes it back)",
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write every mouth as a table")
    parser.add_argument("--table", action="store_true", help="only show which mouth each sound gets")
    parser.add_argument("--overwrite", action="store_true", help="replace the table's file if it exists")
    parser.add_argument("--scene", type=Path, metavar="FILE.blend", help="then lay the mouths in this scene")
    parser.add_argument("-o", "--output", type=Path, metavar="OUT.blend", help="save that scene here, not in place")
    scene_file.add_blender(parser)


def run(args: argparse.Namespace, console: Console) -> int:
    """Read, save the readings beside the sounds, tell; warnings do not change the exit code."""
    from pastepot import film as films
    from pastepot.library import manifest
    from pastepot.track import dialogue, reading

    film, library = films.load(args.film), manifest.load(args.film)
    if args.table:
        return _table(args, console)
    if args.scene:
        scene_file.existing(args.scene)
    if args.csv:
        raise_if_any(output_problems(args.csv, args.overwrite))
    reader = dialogue.Reader(film, library, console.progress, args.character, args.line)
    chosen = [t for t in dialogue.tracks(args.film) if not args.line or args.line.rpartition("-")[0] == t.sound.stem]
    if not chosen:
        raise Misuse(Problem(f"There is no line '{args.line}'.", "A line is named after its file: waiting-2."))
    if args.change:
        return _change(args, console, reader, chosen[0])
    made: list[reading.Reading] = []
    warnings: list[Problem] = []
    failed: list[Problem] = []
    for track in chosen:
        try:
            read, found = reader.read(track)
        except PastepotError as error:  # the other tracks are still wanted
            failed += error.problems
            continue
        if args.line and args.line not in {x.id for x in read.lines}:
            raise Misuse(Problem(f"There is no line '{args.line}' in {track.sound.name}.", "Correct its number."))
        reading.save(read, reading.path_of(track.sound))
        made.append(read)
        warnings += found
    if args.csv and made:
        with replacing(args.csv, overwrite=args.overwrite) as draft:
            draft.write_text(reading.as_csv(made), encoding="utf-8", newline="\n")
    laid: dict[str, object] = {}
    if args.scene and made and not failed:
        laid, found = _lay(args, console)
        warnings += found
    console.problems([*warnings, *failed])
    lines = [x for r in made for x in r.lines if not args.line or x.id == args.line]
    console.result(
        {
            "readings": [str(reading.path_of(args.film / r.sound)) for r in made],
            "lines": [{"id": x.id, "how": x.how, "mouths": {n: len(m) for n, m in x.mouths.items()}} for x in lines],
            "scene": laid,
            "problems": [p.as_dict() for p in (*warnings, *failed)],
        },
        "\n".join(
            [*(f"{x.id}  {x.speaker}: {x.text or '(by loudness)'}  [{_HOW[x.how]}]" for x in lines), *_said(laid)]
        ),
    )
    return 1 if failed else 0


_HOW = {"text": "read", "sound": "rough, by loudness", "given": "as given", "silent": "nothing heard"}


def _lay(args: argparse.Namespace, console: Console) -> tuple[dict[str, object], list[Problem]]:
    output = (args.output or args.scene).resolve()
    outcome = run_job(
        "mouths",
        {"output": str(output)},
        blend=args.scene.resolve(),
        blender=args.blender,
        progress=console.progress,
    )
    return dict(outcome.result), outcome.warnings


def _said(laid: dict[str, object]) -> list[str]:
    return [str(laid["text"])] if laid else []


def _change(args: argparse.Namespace, console: Console, reader: object, track: object) -> int:
    from pastepot.track import dialogue, reading

    assert isinstance(reader, dialogue.Reader)
    assert isinstance(track, dialogue.Track)
    path = reading.path_of(track.sound)
    read = reading.load(path)
    line = next((x for x in read.lines if x.id == args.line), None) if read else None
    if read is None or line is None:
        raise Misuse(Problem("This line has not been read yet.", f"Read it first: pastepot read {args.film}."))
    sets = {p.name: s.name for s in reader.settings.mouths(reader.library, line.character, line.id) for p in s.mouths}
    for wish in args.change:
        frame, _, mouth = wish.partition("=")
        if not frame.lstrip("-").isdigit() or (mouth and mouth not in sets):
            fix = f"Write FRAME=MOUTH with one of: {', '.join(sets)}."
            raise Misuse(Problem(f"'{wish}' is not a frame and a mouth.", fix))
        for name in {sets[mouth]} if mouth else set(sets.values()):
            read = read.changed(args.line, name, int(frame), mouth)
    reading.save(read, path)
    console.result({"line": args.line, "changes": args.change}, f"{args.line}: {len(args.change)} changed by hand.")
    return 0


def _table(args: argparse.Namespace, console: Console) -> int:
    from pastepot.library import manifest
    from pastepot.track import settings
    from pastepot.track.mouths import sets_of

    library = manifest.load(args.film)
    chosen = settings.load(args.film, library)
    tables, text, lacks = {}, [], []
    for character in dict.fromkeys(part.character for part in library):
        for sets in sets_of(library, character).values():
            for plain in sets:
                mouths = chosen.mouth_set(library, character, plain.name) or plain
                tables[mouths.name] = mouths.table()
                names = [part.name for part in mouths.mouths]
                by_mouth: dict[str, list[str]] = {}
                for sound, mouth in mouths.table().items():
                    by_mouth.setdefault(mouth, []).append(sound)
                text += [
                    mouths.name,
                    *(f"  {m:30} {' '.join(by_mouth.get(m, ['(no sound)']))}" for m in names),
                ]
                lacks += [
                    Problem(f"No mouth shows {what}.", "Draw one, or leave it.", part=mouths.name, severity="warning")
                    for what in mouths.lacks()
                ]
    console.problems(lacks)
    console.result({"sets": tables, "problems": [p.as_dict() for p in lacks]}, "\n".join(text) or "No mouths yet.")
    return 0
