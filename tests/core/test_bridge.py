"""Jobs in another process, with small programs in the place of Blender: what they say, and how they can die."""

from __future__ import annotations

import importlib.util
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from pastepot import bridge
from pastepot.bridge import MARK, run_job
from pastepot.errors import Cancelled, Misuse, PastepotError, Problem

PREAMBLE = f"""import json, os, signal, sys, time
def say(kind, **values):
    print({MARK!r} + json.dumps({{"kind": kind, **values}}), flush=True)
def order():
    return json.load(sys.stdin)
"""

Blender = Callable[[str], str]


@pytest.fixture
def blender(tmp_path: Path) -> Blender:
    """Makes a program of the given Python lines; gives its path."""

    def make(source: str) -> str:
        script, program = tmp_path / "some blender.py", tmp_path / "some blender"
        script.write_text(PREAMBLE + source, encoding="utf-8")
        program.write_text(f"#!/bin/sh\nexec '{sys.executable}' '{script}'\n", encoding="utf-8")
        program.chmod(0o755)
        return str(program)

    return make


def problems(error: PastepotError) -> list[str]:
    return [problem.what for problem in error.problems]


def test_a_wrong_order_stays_a_misuse(blender: Blender) -> None:
    """It once came out of the other process as if the film were to blame: exit code 1, not 2."""
    program = blender(
        "order()\nsay('misuse')\nsay('problem', what='There is no such feel.', fix='', severity='error')\nsys.exit(1)\n"
    )
    with pytest.raises(Misuse) as caught:
        run_job("handmade", {}, blender=program)
    assert problems(caught.value) == ["There is no such feel."]


def test_a_job_gets_its_order_and_answers(blender: Blender) -> None:
    program = blender(
        "got = order()\n"
        "print('Blender chatters')\n"
        "say('progress', done=1, total=2, text='Half')\n"
        "say('note', text='A remark.')\n"
        "say('problem', what='The view shifts colours.', fix='Choose Standard.', severity='warning')\n"
        "say('result', got=got)\n"
    )
    heard: list[tuple[int, int, str]] = []
    outcome = run_job(
        "scene", {"film": "pond"}, blend=Path("a.blend"), blender=program, progress=lambda *p: heard.append(p)
    )
    assert outcome.result == {"got": {"job": "scene", "blend": "a.blend", "params": {"film": "pond"}}}
    assert outcome.notes == ["A remark."]
    assert outcome.warnings == [Problem("The view shifts colours.", "Choose Standard.", severity="warning")]
    assert heard == [(1, 2, "Half")]


def test_all_problems_of_a_job_arrive_together(blender: Blender) -> None:
    program = blender(
        "order()\nfor part in 'ab':\n    say('problem', what='Missing.', fix='Add it.', part=part)\nsys.exit(1)\n"
    )
    with pytest.raises(PastepotError) as caught:
        run_job("scene", {}, blender=program)
    assert [problem.part for problem in caught.value.problems] == ["a", "b"]


def test_a_message_is_found_behind_an_unfinished_line(blender: Blender) -> None:
    program = blender("order()\nprint('Fra:1 Mem:9M', end='')\nsay('result', pictures=3)\n")
    assert run_job("render", {}, blender=program).result == {"pictures": 3}


@pytest.mark.parametrize(
    ("death", "code"),
    [
        ("sys.exit(7)", "7"),
        ("os.kill(os.getpid(), signal.SIGSEGV)", "-11"),
        ("raise RuntimeError('out of paper')", "1"),
    ],
)
def test_a_crash_is_told_with_blenders_last_words(blender: Blender, death: str, code: str) -> None:
    program = blender(f"order()\nprint('Reading the cast ...', flush=True)\n{death}\n")
    with pytest.raises(PastepotError) as caught:
        run_job("scene", {}, blender=program)
    (problem,) = caught.value.problems
    assert problem.what == f"Blender stopped unexpectedly (code {code})."
    assert "Reading the cast ..." in problem.fix


def test_only_the_last_words_are_kept(blender: Blender) -> None:
    program = blender("order()\nfor i in range(1000):\n    print('word', i)\nsys.exit(1)\n")
    with pytest.raises(PastepotError) as caught:
        run_job("scene", {}, blender=program)
    words = caught.value.problems[0].fix.splitlines()
    assert words[-1] == "word 999"
    assert len(words) < 50


def test_a_program_that_dies_before_it_listens_is_a_crash_too(blender: Blender) -> None:
    """The order then has nowhere to go, and that broken pipe was taken for a reader of ours that had left: exit 0."""
    program = blender("os.close(0)\nprint('no display', flush=True)\nsys.exit(3)\n")
    with pytest.raises(PastepotError, match=r"code 3[\s\S]*no display"):
        run_job("scene", {"long": "x" * 1_000_000}, blender=program)


def test_bytes_that_are_no_text_do_no_harm(blender: Blender) -> None:
    program = blender("order()\nos.write(1, bytes([0xff, 0xfe, 10]))\nsay('result', good=True)\n")
    assert run_job("scene", {}, blender=program).result == {"good": True}


def test_leaving_early_takes_the_job_along(blender: Blender) -> None:
    program = blender("order()\nsay('progress', done=os.getpid(), total=9, text='')\ntime.sleep(60)\n")
    pids: list[int] = []

    def stop(done: int, total: int, text: str) -> None:
        pids.append(done)
        raise KeyboardInterrupt

    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        run_job("scene", {}, blender=program, progress=stop)
    assert time.monotonic() - start < 30
    with pytest.raises(ProcessLookupError):
        os.kill(pids[0], 0)


def test_a_running_job_can_be_watched_and_stopped(blender: Blender) -> None:
    program = blender("order()\nsay('progress', done=1, total=9, text='Rendering')\ntime.sleep(60)\n")
    running = bridge.Running("render", {}, blender=program)
    deadline = time.monotonic() + 30
    while running.latest != (1, 9, "Rendering") and time.monotonic() < deadline:
        time.sleep(0.01)
    assert running.latest == (1, 9, "Rendering")
    assert not running.done
    running.cancel()
    with pytest.raises(Cancelled):
        running.outcome()
    assert running.done


def test_a_running_job_gives_its_answer(blender: Blender) -> None:
    running = bridge.Running("render", {}, blender=blender("order()\nsay('result', pictures=3)\n"))
    assert running.outcome().result == {"pictures": 3}


def test_where_there_is_no_blender_it_says_how_to_get_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("PASTEPOT_BLENDER", raising=False)
    with pytest.raises(PastepotError) as caught:
        run_job("scene", {})
    (problem,) = caught.value.problems
    assert problem.what.startswith("No Blender was found")
    assert "pip install 'pastepot[blender]'" in problem.fix
    assert "--blender" in problem.fix


def test_a_blender_that_is_named_but_not_there_is_named_in_the_problem(tmp_path: Path) -> None:
    missing = tmp_path / "blender-9"
    with pytest.raises(PastepotError) as caught:
        run_job("scene", {}, blender=str(missing))
    assert str(missing) in str(caught.value)


def test_the_environment_can_name_the_blender(monkeypatch: pytest.MonkeyPatch, blender: Blender) -> None:
    program = blender("")
    monkeypatch.setenv("PASTEPOT_BLENDER", program)
    assert bridge.host_command()[0] == program
    assert bridge.host_command("/bin/sh")[0] == "/bin/sh"
