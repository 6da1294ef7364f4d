"""Two renders never write into one folder, and a dead one blocks nobody."""

from __future__ import annotations

import subprocess
import sys

import pytest
from pastepot.errors import PastepotError
from pastepot.render import lock

HOLD = """
import sys, time
from pathlib import Path
from pastepot.render import lock
with lock.locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""

# Whoever is inside makes a file that nobody else may have made.
TAKE_TURNS = """
import sys, time
from pathlib import Path
from pastepot.errors import PastepotError
from pastepot.render import lock
inside = Path(sys.argv[1]) / "inside"
end = time.time() + 2
while time.time() < end:
    try:
        with lock.locked(Path(sys.argv[1])):
            inside.touch(exist_ok=False)
            inside.unlink()
    except PastepotError:
        pass
"""


@pytest.fixture
def holder(tmp_path):
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.wait()
    process.stdout.close()


def test_a_second_render_is_refused_and_told_who_has_the_folder(tmp_path, holder):
    with pytest.raises(PastepotError, match=rf"running \(process {holder.pid}\)"), lock.locked(tmp_path):
        pass


def test_a_killed_render_leaves_the_folder_free(tmp_path, holder):
    holder.kill()
    holder.wait()
    assert (tmp_path / lock.NAME).exists()
    with lock.locked(tmp_path):
        pass


def test_a_lock_file_of_a_process_that_is_gone_is_taken_over(tmp_path):
    (tmp_path / lock.NAME).write_text("999999\n")
    with lock.locked(tmp_path):
        assert (tmp_path / lock.NAME).read_text() != "999999\n"
    assert not (tmp_path / lock.NAME).exists()


def test_the_folder_is_free_again_after_an_error(tmp_path):
    with pytest.raises(RuntimeError), lock.locked(tmp_path):
        raise RuntimeError
    with lock.locked(tmp_path):
        pass


def test_one_of_many_at_once_gets_it(tmp_path):
    """The file is removed by its owner: a process that opened the removed one must not believe it has the lock."""
    several = [
        subprocess.Popen([sys.executable, "-c", TAKE_TURNS, str(tmp_path)], stderr=subprocess.PIPE, text=True)
        for _ in range(3)
    ]
    assert [process.communicate(timeout=60)[1] for process in several] == ["", "", ""]
