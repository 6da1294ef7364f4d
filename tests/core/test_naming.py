"""Names and paths that every computer takes: "Naming Files, Paths, and Namespaces" (Microsoft Learn), POSIX NAME_MAX.

Each bad name and path also has a test of its whole message in library/test_check.py.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot import naming

RESERVED = [
    "CON",
    "PRN",
    "AUX",
    "NUL",
    "CONIN$",
    "CONOUT$",
    *(f"{p}{n}" for p in ("COM", "LPT") for n in "0123456789¹²³"),
]


@pytest.mark.parametrize("name", RESERVED)
@pytest.mark.parametrize("ending", ["", ".png", ".tar.gz", " .png"])
@pytest.mark.parametrize("case", [str.upper, str.lower, str.title])
def test_windows_device_names_are_refused_with_any_ending(name, ending, case):
    assert naming.name_fault(case(name) + ending) == "is a name that Windows keeps for itself"


@pytest.mark.parametrize("name", ["CONE", "COM", "COM10", "LPTX", "a.con", "NUL-1", "auxiliary"])
def test_names_that_only_look_like_devices_are_fine(name):
    assert naming.name_fault(name) == ""


@given(st.text(min_size=1, max_size=60))
def test_a_name_that_passes_can_be_a_file_here(tmp_path_factory, name):
    if naming.name_fault(name, naming.NAME_BYTES) == "":
        path = tmp_path_factory.getbasetemp() / name
        path.write_bytes(b"")
        assert path.parent == tmp_path_factory.getbasetemp()
        path.unlink()


@given(st.lists(st.sampled_from(["a", "..", ".", "", "C:", "\\", "b c", "é"]), min_size=1, max_size=6).map("/".join))
def test_a_path_that_passes_stays_below_its_folder(path):
    if naming.path_fault(path) == "":
        joined = os.path.normpath(os.path.join("/film/folder", path))  # noqa: PTH118  (the plain rule, by text)
        assert joined.startswith("/film/folder/")


@given(st.text(max_size=20))
def test_names_that_are_the_same_have_the_same_key(name):
    assert naming.same_name(name) == naming.same_name(naming.same_name(name))
    assert naming.same_name(name.casefold()) == naming.same_name(name)


def test_what_is_shown_cannot_upset_a_terminal():
    assert naming.printable("a\x1b[31m\u202eb\n") == "a\\x1b[31m\\u202eb\\n"
    assert naming.printable("héron 鷺") == "héron 鷺"
