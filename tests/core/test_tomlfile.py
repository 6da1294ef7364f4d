"""TOML files that cannot be read, and on which row everything stands."""

from __future__ import annotations

import tomllib

import pytest
from pastepot import tomlfile
from pastepot.errors import PastepotError
from pastepot.tomlfile import TomlFile

TRICKY = '''schema = 1 # [[part]]
title = "a # b [[part]]"
list = [
  [["part"]],
  "]",   # [ not a bracket
]
long = """
[[part]]
key = 1 ""\\" """
[[part]]
name = "x"
[part.mouth]
open = 1
  [[ "part" ]]
  mouth.open = 2
inline = {a = [1,
2], b = "}"}
other = \'\'\'
[x]
\'\'\'\'\'
empty = """"""
none = ""
last = \'#\''''


def test_rows_of_a_text_full_of_traps():
    tomllib.loads(TRICKY)
    rows = {path: s.row for path, s in tomlfile.statements(TRICKY).items()}
    assert rows == {
        ("schema",): 1, ("title",): 2, ("list",): 3, ("long",): 7,
        ("part", 0): 10, ("part", 0, "name"): 11, ("part", 0, "mouth"): 12, ("part", 0, "mouth", "open"): 13,
        ("part", 1): 14, ("part", 1, "mouth", "open"): 15, ("part", 1, "inline"): 16, ("part", 1, "other"): 18,
        ("part", 1, "empty"): 21, ("part", 1, "none"): 22, ("part", 1, "last"): 23,
    }  # fmt: skip


def test_statements_are_whole_lines_and_cover_their_values():
    for path, statement in tomlfile.statements(TRICKY).items():
        text = TRICKY[statement.start : statement.end]
        assert statement.start == 0 or TRICKY[statement.start - 1] == "\n"
        if statement.table != path:
            value = tomllib.loads(text)
            for word in statement.words:
                value = value[word]
            assert value == value_at(tomllib.loads(TRICKY), path)


def value_at(values, path):
    for step in path:
        values = values[step]
    return values


def test_the_row_of_something_unwritten_is_the_row_around_it(tmp_path):
    file = TomlFile(tmp_path, "a.toml", b"", TRICKY)
    assert file.row(("part", 1, "pivot_mm", 0)) == 14
    assert file.row(("part", 0, "mouth", "lips")) == 12
    assert file.row(("nothing",)) == 0


def test_comments_are_told_from_strings():
    assert tomlfile.comments("a = [\"#1\", # two\n '#3'] # four\n") == ["# two", "# four"]


UNREADABLE = [
    (b"a = 1\nb = \n", 2, "The file is not TOML: invalid value."),
    (b"a = 1\na = 2\n", 2, "The file is not TOML: cannot overwrite a value."),
    (b"a = [", 0, "The file is not TOML"),
    (b"a = 1\nb = 'caf\xe9'\n", 2, "The file is not UTF-8 text."),
    (b"\xff\xfea\0", 1, "The file is not UTF-8 text."),
    (b"a = " + b"[" * 5000, 0, "The file is nested too deeply to be read."),
    (b"a = " + b"9" * 5000, 0, "The file is not TOML: exceeds the limit"),
]


@pytest.mark.parametrize(("data", "row", "said"), UNREADABLE)
def test_what_cannot_be_read_is_told_with_its_row(tmp_path, data, row, said):
    (tmp_path / "a.toml").write_bytes(data)
    with pytest.raises(PastepotError) as caught:
        assert tomlfile.read(tmp_path / "a.toml", "a.toml", "").data is None
    problem = caught.value.problems[0]
    assert said in problem.what
    assert (problem.file, problem.row) == ("a.toml", row)
    assert problem.fix


def test_a_folder_in_the_files_place_is_told(tmp_path):
    with pytest.raises(PastepotError, match="cannot be read"):
        tomlfile.read(tmp_path, "a.toml", "")


@pytest.mark.parametrize("data", [b"\xef\xbb\xbfa = 1\r\nb = 2\r\n", b"a = 1\nb = 2\n", b"\xef\xbb\xbfa = 1"])
def test_byte_order_mark_and_line_ends_survive(tmp_path, data):
    (tmp_path / "a.toml").write_bytes(data)
    file = tomlfile.read(tmp_path / "a.toml", "a.toml", "")
    assert file.data["a"] == 1
    assert file.encode(file.text) == data


def test_saving_keeps_permissions_and_links(tmp_path):
    real = tmp_path / "real.toml"
    real.write_text("a = 1\n")
    real.chmod(0o640)
    link = tmp_path / "a.toml"
    link.symlink_to(real)
    tomlfile.save(tomlfile.read(link, "a.toml", ""), "a = 2\n")
    assert link.is_symlink()
    assert real.read_text() == "a = 2\n"
    assert real.stat().st_mode & 0o777 == 0o640
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.toml", "real.toml"]


def test_a_change_made_meanwhile_is_not_lost(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("a = 1\n")
    file = tomlfile.read(path, "a.toml", "")
    path.write_text("a = 1 # typed just now\n")
    with pytest.raises(PastepotError, match="was changed while it was worked on"):
        tomlfile.save(file, "a = 2\n")
    assert path.read_text() == "a = 1 # typed just now\n"


def test_a_full_disc_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("a = 1\n")
    file = tomlfile.read(path, "a.toml", "")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tomlfile.os, "fsync", full)
    with pytest.raises(PastepotError, match="cannot be written"):
        tomlfile.save(file, "a = 2\n")
    assert path.read_text() == "a = 1\n"
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]
