"""Work on a file that is remembered only while the file surely is the same."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from pastepot import unchanged
from pastepot.unchanged import once_per_content


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    monkeypatch.setattr(unchanged, "_SETTLED_NS", -1)
    return []


def reader(looks: list[Path]):
    @once_per_content
    def read(path: Path) -> str:
        looks.append(path)
        return path.read_text(encoding="utf-8")

    return read


def test_a_file_that_stays_is_read_once(tmp_path: Path, looks: list[Path]) -> None:
    (tmp_path / "a").write_text("reed", encoding="utf-8")
    read = reader(looks)
    assert [read(tmp_path / "a") for _ in range(3)] == ["reed"] * 3
    assert len(looks) == 1


def test_the_same_size_and_time_put_back_do_not_deceive(tmp_path: Path, looks: list[Path]) -> None:
    path = tmp_path / "a"
    path.write_text("reed", encoding="utf-8")
    read, status = reader(looks), path.stat()
    read(path)
    time.sleep(0.02)  # the clock of the disc's times ticks every few milliseconds
    path.write_text("pond", encoding="utf-8")
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert read(path) == "pond"


def test_a_file_of_a_moment_ago_is_not_trusted(tmp_path: Path) -> None:
    looks: list[Path] = []
    (tmp_path / "a").write_text("reed", encoding="utf-8")
    read = reader(looks)
    assert [read(tmp_path / "a") for _ in range(2)] == ["reed"] * 2
    assert len(looks) == 2


def test_errors_are_not_remembered(tmp_path: Path, looks: list[Path]) -> None:
    read = reader(looks)
    for _ in range(2):
        with pytest.raises(FileNotFoundError):
            read(tmp_path / "a")
    assert len(looks) == 2
