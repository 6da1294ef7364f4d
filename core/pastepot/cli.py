"""The command line `pastepot`: finds the command, runs it, turns errors into words and exit codes."""

from __future__ import annotations

import argparse
import importlib
import json
import os
import sys
from collections.abc import Mapping, Sequence
from types import ModuleType

from pastepot import __version__
from pastepot.errors import Cancelled, PastepotError, Problem

# In the order of the work. Modules are imported when asked for, so that `pastepot new` starts fast.
COMMANDS = (
    "new",
    "mat",
    "scan",
    "check",
    "parts",
    "contact",
    "scene",
    "handmade",
    "retime",
    "read",
    "sheet",
    "shots",
    "measure",
    "render",
    "deliver",
    "flash",
    "demo",
)


class Console:
    """Where a command speaks: results to stdout, everything else to stderr; --json makes results one JSON value."""

    def __init__(self, as_json: bool = False, quiet: bool = False) -> None:
        self.as_json, self.quiet = as_json, quiet
        self._progress_open = False

    def say(self, text: str) -> None:
        """A line for the person; silent under --json."""
        self._end_progress()
        if not self.as_json and not self.quiet:
            print(text)

    def result(self, value: Mapping[str, object], text: str) -> None:
        """The command's outcome: `value` under --json, else `text`."""
        self._end_progress()
        print(json.dumps(dict(value), indent=2, ensure_ascii=False) if self.as_json else text)

    def problems(self, problems: Sequence[Problem]) -> None:
        """Every problem, one a line, on stderr (under --json they belong in the result)."""
        self._end_progress()
        if not self.as_json:
            for p in problems:
                print(f"{p.severity}: {p}", file=sys.stderr)

    def progress(self, done: int, total: int, text: str) -> None:
        """One line that is rewritten on a terminal; nothing elsewhere."""
        if self.as_json or self.quiet or not sys.stderr.isatty():
            return
        print(f"\r\033[K{text} {done}/{total}", end="", file=sys.stderr, flush=True)
        self._progress_open = done < total
        if not self._progress_open:
            print(file=sys.stderr)

    def _end_progress(self) -> None:
        if self._progress_open:
            print(file=sys.stderr)
            self._progress_open = False


def _module(name: str) -> ModuleType:
    return importlib.import_module(f"pastepot.commands.{name}")


def _parser(chosen: str | None) -> argparse.ArgumentParser:
    """All commands are listed; only the chosen one's arguments are loaded."""
    parser = argparse.ArgumentParser(prog="pastepot", description="Cut-paper animation, from parts to film.")
    parser.add_argument("--version", action="version", version=f"pastepot {__version__}")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in COMMANDS:
        if chosen is not None and name != chosen:
            continue
        module = _module(name)
        sub = subparsers.add_parser(
            name,
            help=module.SUMMARY,
            description=module.SUMMARY,
            epilog=f"example:\n  {module.EXAMPLE}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        sub.add_argument("--json", action="store_true", help="print the result as JSON")
        sub.add_argument("--quiet", action="store_true", help="say only results and problems")
        module.add_arguments(sub)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns 0 good, 1 problems found, 2 misuse, 3 stopped by the person."""
    argv = list(sys.argv[1:] if argv is None else argv)
    chosen = argv[0] if argv and argv[0] in COMMANDS else None
    try:
        args = _parser(chosen).parse_args(argv)
    except SystemExit as leave:  # argparse has already said why (2), or shown the help (0)
        return int(leave.code or 0)
    console = Console(as_json=args.json, quiet=args.quiet)
    try:
        return int(_module(args.command).run(args, console))
    except KeyboardInterrupt:
        error: PastepotError = Cancelled("Stopped. What was finished is kept; the same command goes on from there.")
    except BrokenPipeError:  # the reader of our output went away; nothing is wrong with the film
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except PastepotError as caught:
        error = caught
    if args.json:
        print(json.dumps({"problems": [p.as_dict() for p in error.problems]}, indent=2, ensure_ascii=False))
    console.problems(error.problems)
    return error.exit_code


if __name__ == "__main__":
    sys.exit(main())
