"""Single values change; everything else stays character for character."""

from __future__ import annotations

import tomllib

import pytest
from pastepot.tomledit import TomlEditor

TEXT = """\
schema = 1
# first
[[part]]   # the heron
name = "a"
layer = 1 # low
pivot_mm = [
  12.0, # x
  40.5, # y
]

# its mouth
[part.mouth]
open = 0.5 # half

# the snail
[[part]]
name = "b"

# end
"""
FIRST, SECOND = ("part", 0), ("part", 1)


def edited(text: str, *changes) -> str:
    editor = TomlEditor(text)
    for table, key, value in changes:
        editor.set(table, key, value)
    return editor.text()


CHANGES = [
    # the change, a line of TEXT, what it becomes
    ((FIRST, "layer", -3), "layer = 1 # low\n", "layer = -3 # low\n"),
    ((FIRST, "pivot_mm", [13.25, 40.5]), "  12.0, # x\n", "  13.25, # x\n"),
    ((FIRST, "pivot_mm", (12.0, 1.0)), "  40.5, # y\n", "  1.0, # y\n"),
    ((FIRST, "view", "front"), "]\n\n# its", ']\nview = "front"\n\n# its'),
    ((FIRST, "mouth", {"open": 0.75}), "open = 0.5 # half", "open = 0.75 # half"),
    ((FIRST, "mouth", {"round": 1.0}), "# half\n", "# half\nround = 1.0\n"),
    ((SECOND, "view", 'a "b" \\'), 'name = "b"\n', 'name = "b"\nview = "a \\"b\\" \\\\"\n'),
    ((SECOND, "mouth", {"open": 0.5}), 'name = "b"\n', 'name = "b"\n[part.mouth]\nopen = 0.5\n'),
]


@pytest.mark.parametrize(("change", "line", "becomes"), CHANGES)
def test_only_the_one_place_changes(change, line, becomes):
    assert TEXT.count(line) == 1
    assert edited(TEXT, change) == TEXT.replace(line, becomes)


def test_all_changes_at_once_are_the_same_as_one_by_one():
    changes = [change for change, *_ in CHANGES if change != CHANGES[1][0]]  # one for each key
    whole = TEXT
    for change in changes:
        whole = edited(whole, change)
    assert tomllib.loads(edited(TEXT, *changes)) == tomllib.loads(whole)


def test_other_ways_to_write_a_table_are_kept():
    text = '[[part]]\n  name="x"\n  mouth.open = 1 # dotted\n\n# c\n[[part]]\nmouth = {open=0.5}# inline'
    mouth = {"open": 0.25, "round": 0.5}
    changed = edited(text, (FIRST, "mouth", mouth), (SECOND, "mouth", mouth), (SECOND, "layer", 2))
    assert changed == (
        '[[part]]\n  name="x"\n  mouth.open = 0.25 # dotted\n  mouth.round = 0.5\n\n'
        "# c\n[[part]]\nmouth = {open=0.25,round = 0.5}# inline\nlayer = 2\n"
    )


def test_what_is_taken_out_leaves_its_comments():
    editor = TomlEditor(TEXT)
    editor.remove(FIRST, "pivot_mm")
    editor.remove(FIRST, "mouth")
    assert (
        editor.text()
        == """\
schema = 1
# first
[[part]]   # the heron
name = "a"
layer = 1 # low
# x
# y

# its mouth
# half

# the snail
[[part]]
name = "b"

# end
"""
    )


def test_a_new_table_goes_to_the_end():
    editor = TomlEditor(TEXT)
    editor.append("part", {"name": "c", "pivot_mm": (1.0, 2.5), "mouth": {"open": 1.0}}, {"pivot_mm": "a note"})
    assert editor.text() == TEXT + '\n[[part]]\nname = "c"\npivot_mm = [1.0, 2.5]  # a note\n[part.mouth]\nopen = 1.0\n'


def test_a_last_line_without_its_end_gets_one():
    editor = TomlEditor("schema = 1\n[[part]]\nlayer = 1")
    editor.set(FIRST, "layer", 2)
    editor.set(FIRST, "view", "front")
    editor.append("part", {"name": "c"}, {})
    assert editor.text() == 'schema = 1\n[[part]]\nlayer = 2\nview = "front"\n\n[[part]]\nname = "c"\n'
