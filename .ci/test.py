"""All checks: lint, the tests without Blender, and the Blender tests in every Blender we support.

Everything runs even if something fails, so that all is told at once. The last line is the total.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[1]
LOGS = ROOT / "build" / "test"
MAIN_HOST = "5.0"
TEST_SECONDS = 300  # one test; a hang inside Blender must end somewhere
LEG_SECONDS = 1500  # one leg, with the installing; some versions of Blender can hang after the last test
WITHOUT_BLENDER = ("tests/core", "tests/outside", "tests/faults")
LINT = {
    "ruff check": ["-m", "ruff", "check", "--output-format=concise", "."],
    "ruff format": ["-m", "ruff", "format", "--check", "."],
    "mypy": ["-m", "mypy"],
}
_running: set[subprocess.Popen[str]] = set()


@dataclass
class Leg:
    """Some checks that run one after another in a process of their own.

    host:    the Blender whose environment it needs
    command: what that environment's Python is given
    report:  the file pytest writes; '' for a check that passes or fails as a whole
    missing: why nothing could be run; '' where it was
    """

    name: str
    host: str
    command: list[str]
    report: str = ""
    passed: int = 0
    failed: int = 0
    skipped: int = 0
    missing: str = ""
    seconds: float = 0.0
    output: list[str] = field(default_factory=list)

    def file_name(self) -> str:
        """The name as a file's."""
        return self.name.replace(" ", "-")


def hosts() -> list[str]:
    """The Blenders we support, oldest first."""
    return sorted(path.stem.removeprefix("blender-") for path in (ROOT / ".ci").glob("blender-*.txt"))


def environment(host: str) -> Path:
    """The Python of that Blender's virtual environment."""
    return ROOT / (".venv" if host == MAIN_HOST else f".venv-blender-{host}") / "bin" / "python"


def pytest_leg(name: str, host: str, folders: tuple[str, ...], *options: str) -> Leg:
    """A run of pytest over those of the folders that hold tests."""
    report = f"{name.replace(' ', '-')}.xml"
    found = [folder for folder in folders if any((ROOT / folder).glob("**/test_*.py"))]
    # The thread method ends the process when a test hangs inside Blender; a signal would wait for it for ever.
    command = ["-m", "pytest", "-q", "-p", "no:cacheprovider", "--continue-on-collection-errors"]
    limit = [f"--timeout={TEST_SECONDS}", "--timeout-method=thread"]
    return Leg(name, host, [*command, *limit, f"--junitxml={LOGS / report}", *options, *found], report)


def legs(mode: str) -> list[Leg]:
    """What is to run, the longest first."""
    lint = [Leg(name, MAIN_HOST, command) for name, command in LINT.items()]
    if mode == "lint":
        return lint
    options = ("-m", "not slow") if mode == "short" else ()
    chosen = [MAIN_HOST] if mode == "short" else hosts()
    blender = [pytest_leg(f"Blender {host}", host, ("tests/blender",), *options) for host in chosen]
    return [*blender, pytest_leg("without Blender", MAIN_HOST, WITHOUT_BLENDER, *options), *lint]


def run(leg: Leg, env: dict[str, str]) -> Leg:
    """Make the leg's environment if need be, run it, count."""
    start = time.monotonic()
    version = (ROOT / ".ci" / f"blender-{leg.host}.txt").read_text(encoding="utf-8").split()[2]
    if subprocess.run(["sh", ".ci/find_python.sh", version], cwd=ROOT, env=env, capture_output=True).returncode:
        leg.skipped = 1
        leg.missing = f"Python {version} is missing, so NOTHING WAS TESTED in Blender {leg.host}."
        return leg
    code = _call(["sh", ".ci/venv.sh", leg.host], leg, env)
    code = code or _call([str(environment(leg.host)), *leg.command], leg, env)
    _count(leg, code)
    leg.seconds = time.monotonic() - start
    (LOGS / f"{leg.file_name()}.log").write_text("".join(leg.output), encoding="utf-8")
    return leg


def _call(command: list[str], leg: Leg, env: dict[str, str]) -> int:
    process = subprocess.Popen(
        command,
        cwd=ROOT,
        env=env,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        start_new_session=True,  # so that all it has started ends with it
    )
    _running.add(process)
    try:
        leg.output.append(process.communicate(timeout=LEG_SECONDS)[0])
    except subprocess.TimeoutExpired:
        _end(process)
        leg.output.append(process.communicate()[0] + f"\nStill running after {LEG_SECONDS} s: ended.\n")
    _running.discard(process)
    return process.returncode


def _end(process: subprocess.Popen[str]) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def _count(leg: Leg, code: int) -> None:
    if not leg.report:
        leg.passed, leg.failed = int(code == 0), int(code != 0)
        return
    if (LOGS / leg.report).exists():
        for suite in ElementTree.parse(LOGS / leg.report).iter("testsuite"):
            tests, failures, errors, skipped = (
                int(suite.get(key, 0)) for key in ("tests", "failures", "errors", "skipped")
            )
            leg.passed += tests - failures - errors - skipped
            leg.failed += failures + errors
            leg.skipped += skipped
    if code and not leg.failed:
        leg.failed = 1
        leg.output.append(f"\nNo test failed, but the run ended with code {code}.\n")


def tell(leg: Leg) -> None:
    """One line for a leg that passed, everything it said for one that did not."""
    said = "".join(leg.output).rstrip()
    if leg.failed:
        print(f"\n--- {leg.name} ---\n{said}")
    else:
        for line in said.splitlines():
            if line.startswith(("SKIPPED", "XFAIL")):
                print(line)
    print(f"{leg.name}: {counts([leg])} in {leg.seconds:.0f} s", flush=True)


def counts(some: list[Leg]) -> str:
    """The plain total."""
    passed, failed, skipped = (sum(getattr(leg, key) for leg in some) for key in ("passed", "failed", "skipped"))
    return f"{passed} passed, {failed} failed, {skipped} skipped"


def run_all(todo: list[Leg], env: dict[str, str]) -> None:
    """Two at a time; tells of each when it is done."""
    with ThreadPoolExecutor(max_workers=2) as pool:
        try:
            for future in as_completed([pool.submit(run, leg, env) for leg in todo]):
                tell(future.result())
        except BaseException:  # Ctrl+C: leave nothing running behind
            pool.shutdown(wait=False, cancel_futures=True)
            for process in list(_running):
                _end(process)
            raise


def build_extension(env: dict[str, str]) -> Leg:
    """Build the zips that the Blender tests install, and tell them where they are."""
    folder = LOGS / "extension"
    leg = run(Leg("extension", MAIN_HOST, [".ci/build_extension.py", "--output", str(folder)]), env)
    if not leg.failed:
        env["PASTEPOT_EXTENSIONS"] = str(folder)
    tell(leg)
    return leg


def main() -> int:
    """Run what was asked for; 0 if all of it passed."""
    parser = argparse.ArgumentParser(description=__doc__)
    choice = parser.add_mutually_exclusive_group()
    choice.add_argument("--short", dest="mode", action="store_const", const="short", default="all")
    choice.add_argument("--lint", dest="mode", action="store_const", const="lint")
    mode = parser.parse_args().mode
    shutil.rmtree(LOGS, ignore_errors=True)
    LOGS.mkdir(parents=True)
    env = {key: value for key, value in os.environ.items() if not key.startswith("MAKE")}
    todo = legs(mode)
    done = [] if mode == "lint" else [build_extension(env)]
    run_all(todo, env)
    done += todo
    print()
    for leg in done:
        if leg.missing:
            print(f"!!! {leg.missing}")
    print(counts(done))
    return 1 if any(leg.failed for leg in done) else 0


if __name__ == "__main__":
    sys.exit(main())
