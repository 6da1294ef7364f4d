"""The command line as a whole: exit codes, help, JSON; each command's own work is tested beside it."""

from __future__ import annotations

import json
import subprocess
import sys
import types
from collections.abc import Callable
from pathlib import Path

import pastepot
import pytest
from pastepot import cli
from pastepot.errors import Cancelled, MissingExtra, Misuse, PastepotError, Problem


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Puts a command `try-it` in the place of all others; `run` is what it does."""

    def make(run: Callable[..., int]) -> None:
        module = types.ModuleType("pastepot.commands.try-it")
        module.SUMMARY, module.EXAMPLE = "Try it.", "pastepot try-it"  # type: ignore[attr-defined]
        module.add_arguments, module.run = lambda parser: None, run  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, module.__name__, module)
        monkeypatch.setattr(cli, "COMMANDS", ("try-it",))

    return make


def raiser(error: BaseException) -> Callable[..., int]:
    def run(args: object, console: object) -> int:
        raise error

    return run


PROBLEM = Problem("The image is missing.", "Photograph the part again.", "parts.toml", 12, "heron-head", "image")


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (PastepotError(PROBLEM), 1),
        (MissingExtra("film", "av", "Delivering"), 1),
        (Misuse("There is no such shot."), 2),
        (Cancelled("Stopped."), 3),
        (KeyboardInterrupt(), 3),
    ],
    ids=lambda value: type(value).__name__,
)
def test_every_error_has_its_exit_code_and_words(
    command: Callable[..., None], capsys: pytest.CaptureFixture[str], error: BaseException, code: int
) -> None:
    command(raiser(error))
    assert cli.main(["try-it"]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("error: ")
    assert cli.main(["try-it", "--json"]) == code
    said = capsys.readouterr()
    assert [p["severity"] for p in json.loads(said.out)["problems"]] == ["error"]
    assert said.err == ""


def test_a_problem_is_told_with_its_place_and_what_to_do(
    command: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    command(raiser(PastepotError(PROBLEM, Problem("No 'fps'.", "Give it.", "film.toml"))))
    cli.main(["try-it"])
    assert capsys.readouterr().err == (
        "error: parts.toml:12 heron-head · image: The image is missing. Photograph the part again.\n"
        "error: film.toml: No 'fps'. Give it.\n"
    )


def test_the_commands_own_exit_code_is_passed_on(command: Callable[..., None]) -> None:
    command(lambda args, console: 1)
    assert cli.main(["try-it"]) == 1


def test_a_bug_is_not_hidden(command: Callable[..., None]) -> None:
    command(raiser(ZeroDivisionError()))
    with pytest.raises(ZeroDivisionError):
        cli.main(["try-it"])


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_command_has_help_with_an_example(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main([name, "--help"]) == 0
    out = capsys.readouterr().out
    example = out.split("example:\n")[1]
    assert f"  pastepot {name}" in example
    assert "--json" in out
    module = sys.modules[f"pastepot.commands.{name}"]
    assert name == module.NAME
    assert module.SUMMARY.endswith(".")


def test_help_lists_all_commands(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--help"]) == 0
    out = capsys.readouterr().out
    assert [name for name in cli.COMMANDS if f"\n    {name} " not in out] == []


@pytest.mark.parametrize("words", [[], ["paint"], ["--jsonn"]], ids=["nothing", "unknown", "unknown option"])
def test_what_is_no_command_is_misuse(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(words) == 2
    assert "usage: pastepot" in capsys.readouterr().err


def test_an_unknown_command_says_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["paint"])
    err = capsys.readouterr().err
    assert "paint" in err
    assert [name for name in cli.COMMANDS if name not in err] == []


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"pastepot {pastepot.__version__}\n"


@pytest.mark.parametrize("words", [["--help"], ["check", "FILM", "--json"]], ids=["help", "check"])
def test_a_reader_that_goes_away_is_no_error(words: list[str], tmp_path: Path) -> None:
    """`pastepot check film | head -1`: what is printed last meets a closed pipe when Python itself ends."""
    cli.main(["new", str(tmp_path / "film"), "--quiet"])
    command = [sys.executable, "-m", "pastepot.cli", *(w.replace("FILM", str(tmp_path / "film")) for w in words)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    process.stdout.close()
    assert process.stderr is not None
    with process.stderr as stderr:
        said = stderr.read()
    assert (process.wait(60), said) == (0, "")
