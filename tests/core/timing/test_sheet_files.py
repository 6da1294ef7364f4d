"""Exposure sheets written and read back: as JSON, as CSV, and as CSV after a spreadsheet has had it."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import PastepotError
from pastepot.timing import sheet_changes, sheet_json, sheet_table
from pastepot.timing.sheet import KINDS, Cell, Column, Sheet, one_line, problems, text_fault

texts = st.text(min_size=1, max_size=12).map(one_line).filter(lambda t: not text_fault(t))
nasty = st.sampled_from(
    [
        "x",
        "X",
        "\\",
        "*",
        "x*",
        "\\*",
        "1*",
        "=1+1",
        "-3",
        "'=a",
        "'",
        "a,b",
        "a;b",
        'a"b',
        "+",
        "@",
        "#REF",
        "1-2",
        "007",
    ]
)
labels = st.one_of(st.integers(1, 99).map(str), nasty, texts)


@st.composite
def sheets(draw) -> Sheet:
    frames, first = draw(st.integers(1, 30)), draw(st.integers(0, 2000))
    columns = []
    for n, name in enumerate(draw(st.lists(st.one_of(nasty, texts), max_size=4, unique=True))):
        begins = sorted({first, *(first + f for f in draw(st.lists(st.integers(0, frames - 1))))})
        cells = []
        for start, end in zip(begins, [*begins[1:], first + frames], strict=True):
            label = draw(st.one_of(st.just(""), labels))
            cells.append(Cell(start, end - start, label, bool(label) and draw(st.booleans())))
        columns.append(Column(name, KINDS[n % len(KINDS)], tuple(cells), draw(st.one_of(st.just(""), texts))))
    fps = draw(st.sampled_from([Fraction(12), Fraction(24000, 1001), Fraction(25, 2), Fraction(25)]))
    return Sheet(draw(st.one_of(nasty, texts)), fps, first, frames, tuple(columns))


POND = Sheet(
    "Waiting",
    Fraction(12),
    1,
    8,
    (
        Column("dialogue", "dialogue", (Cell(1, 2, ""), Cell(3, 4, "No hurry."), Cell(7, 2, ""))),
        Column(
            "wing", "part", (Cell(1, 2, "1", True), Cell(3, 1, "2"), Cell(4, 2, "3"), Cell(6, 3, "4", True)), "heron"
        ),
        Column("eye", "set", (Cell(1, 4, "eye-open"), Cell(5, 1, "eye-shut"), Cell(6, 3, "eye-open")), "heron"),
    ),
)


@given(sheets())
def test_json_gives_the_same_sheet(sheet):
    assert list(problems(sheet)) == []
    assert sheet_json.loads(sheet_json.dumps(sheet)) == sheet


@given(sheets())
def test_csv_gives_the_same_sheet(sheet):
    assert sheet_table.from_csv(sheet_table.to_csv(sheet)).sheet == sheet


@given(sheets(), st.sampled_from(";\t"))
def test_csv_as_another_spreadsheet_saves_it(sheet, sign):
    out = io.StringIO()
    rows = csv.reader(io.StringIO(sheet_table.to_csv(sheet), newline=""))
    width = max(len(row) for row in rows) + 1
    rows = csv.reader(io.StringIO(sheet_table.to_csv(sheet), newline=""))
    csv.writer(out, delimiter=sign, lineterminator="\n").writerows(row + [""] * (width - len(row)) for row in rows)
    saved = f"sep={sign}\n{out.getvalue()}"
    assert sheet_table.from_csv(saved).sheet == sheet


@given(sheets())
def test_an_untouched_table_changes_nothing(sheet):
    assert sheet_changes.changes(sheet, sheet_table.from_csv(sheet_table.to_csv(sheet))) == ()


@given(sheets(), sheets())
def test_changes_account_for_every_frame(before, after):
    """Whatever was done to a column: what was there, with its changes, is as long as what is there now."""
    name = "dialogue"
    old = replace(before, columns=tuple(replace(c, name=name, kind="dialogue") for c in before.columns[:1]))
    new = replace(after, columns=tuple(replace(c, name=name, kind="dialogue") for c in after.columns[:1]))
    if not old.columns or not new.columns:
        return
    new = replace(new, fps=old.fps, first=old.first, columns=(moved(new.columns[0], old.first),))
    found = sheet_changes.changes(old, sheet_table.Reading(new, {}, ""))
    grown = sum(
        (c.after.frames if c.after else 0) - (c.before.frames if c.before else 0)
        for c in found
        if c.what in ("lengthened", "shortened", "dropped", "inserted")
    )
    assert old.frames + grown == new.frames
    assert (found == ()) == ([shape(c) for c in old.columns[0].cells] == [shape(c) for c in new.columns[0].cells])


def moved(column: Column, first: int) -> Column:
    by = first - column.cells[0].start
    return replace(column, cells=tuple(replace(cell, start=cell.start + by) for cell in column.cells))


def shape(cell: Cell) -> tuple[int, str, bool]:
    return cell.frames, cell.label, cell.extreme


def test_the_table_is_as_one_would_write_it():
    assert sheet_table.to_csv(POND).splitlines() == [
        "exposure sheet,Waiting",
        "rate,12 fps",
        "kind,dialogue,part,set",
        "character,,heron,heron",
        "frame,dialogue,wing,eye",
        "1,x,1*,eye-open",
        "2,,,",
        "3,No hurry.,2,",
        "4,,3,",
        "5,,,eye-shut",
        "6,,4*,eye-open",
        "7,x,,",
        "8,,,",
    ]


def edited(change: dict[str, str]) -> sheet_table.Reading:
    text = sheet_table.to_csv(POND)
    for old, new in change.items():
        assert old in text
        text = text.replace(old, new)
    return sheet_table.from_csv(text, "pond.csv")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"4,,3,\r\n5,,,eye-shut": "4,,,\r\n5,,3,eye-shut"},
            [
                "wing, frame 3: “2” is held 2 frames instead of 1 frame.",
                "wing, frame 4: “3” is held 1 frame instead of 2 frames.",
            ],
        ),
        (
            {"4,,3,": "4,,,"},
            [
                "wing, frame 3: “2” is held 3 frames instead of 1 frame.",
                "wing, frame 4: “3”, 2 frames, is dropped.",
            ],
        ),
        ({"5,,,eye-shut": "5,,,x"}, ["eye, frame 5: “eye-shut” becomes nothing."]),
        ({"6,,4*,": "6,,4,"}, ["wing, frame 6: “4” is no longer an extreme."]),
        (
            {"7,x,,": "7,x,2,"},
            ["wing, frame 6: “4” is held 1 frame instead of 3 frames.", "wing, frame 7: “2”, 2 frames, is new."],
        ),
        ({"No hurry.": "Hurry!"}, ["dialogue, frame 3: “No hurry.” becomes “Hurry!”."]),
        ({"8,,,\r\n": "8,,,\r\n9,,,\r\n"}, [
            "dialogue, frame 7: nothing shown is held 3 frames instead of 2 frames.",
            "wing, frame 6: “4” is held 4 frames instead of 3 frames.",
            "eye, frame 6: “eye-open” is held 4 frames instead of 3 frames.",
        ]),
    ],
)  # fmt: skip
def test_an_edited_table_says_what_it_changes(change, words):
    assert [c.text() for c in sheet_changes.changes(POND, edited(change))] == words


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"5,,,eye-shut": "5,,,eye-shot"}, "pond.csv:10 eye: Frame 5 shows 'eye-shot', and there is no such part"),
        ({"4,,3,": "4,,33,"}, "Frame 4 shows '33', and there is no such pose in the column. Did you mean '3'?"),
        ({"4,,3,": "4,,=3,"}, "pond.csv:9 wing: '=3' begins like a formula."),
        ({"4,,3,": "4,,#REF!,"}, "pond.csv:9 wing: '#REF!' is a spreadsheet's error message."),
        ({"\n4,,3,": "\n5,,3,"}, "pond.csv:9 frame: Frame 5 follows frame 3."),
        ({"8,,,\r\n": "8,,,\r\n,,4,\r\n"}, "pond.csv:14 frame: The row has cells and no frame number."),
        ({"1,x,1*,eye-open": "1,x,,eye-open"}, "pond.csv:6 wing: Nothing stands in the column's first row, frame 1."),
        ({"kind,dialogue,part,set": "kind,dialogue,parts,set"}, "pond.csv:3 wing: Its kind is 'parts'. Did you"),
        ({"12 fps": "12.0"}, "pond.csv:2: The rate is '12.0'. Write it like '12 fps'"),
        ({"frame,dialogue,wing,eye": "frame,dialogue,wnig,eye"}, "There is no column 'wnig'. Did you mean 'wing'?"),
        ({"frame,dialogue,wing,eye": "frame,dialogue,eye,eye"}, "There are two columns 'eye'."),
        ({"12 fps": "24 fps"}, "The table is at 24 frames a second, the film at 12."),
        ({"6,,4*,eye-open": '6,,4*,"eye-open'}, "The table is not CSV"),
        ({"6,,4*,eye-open": "6,,4*,eye-open,late"}, "pond.csv:11: The row has more cells than the row 'frame'."),
        ({"rate,12 fps": "note,12 fps"}, "The row begins with 'note'."),
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_said_with_its_place(change, said):
    with pytest.raises(PastepotError) as caught:
        sheet_changes.changes(POND, edited(change))
    assert said in str(caught.value)


def test_everything_wrong_with_a_table_is_told_at_once():
    with pytest.raises(PastepotError) as caught:
        edited({"12 fps": "twelve", "kind,dialogue": "kind,speech", "3,No hurry.,2": "3,No hurry.,#NAME?"})
    assert len(caught.value.problems) == 3


def test_columns_left_out_stay_as_they_are():
    only_eye = replace(POND, columns=POND.columns[2:])
    assert sheet_changes.changes(POND, sheet_table.Reading(only_eye, {}, "")) == ()


def test_a_part_of_the_set_that_was_never_shown_may_be_chosen():
    reading = edited({"5,,,eye-shut": "5,,,eye-half"})
    found = sheet_changes.changes(POND, reading, {"eye": ["eye-open", "eye-shut", "eye-half"]})
    assert [c.what for c in found] == ["replaced"]


def test_everything_wrong_with_json_is_told_at_once():
    values = sheet_json.values(POND)
    values["fps"] = "12/0"
    values["columns"][1]["cells"][0]["strat"] = 1
    values["columns"][1]["cells"][1]["frames"] = 0
    values["columns"][2]["kind"] = "sets"
    with pytest.raises(PastepotError) as caught:
        sheet_json.loads(json.dumps(values), "pond.json")
    assert {(p.part, p.field) for p in caught.value.problems} == {
        ("", "fps"),
        ("wing", "cell number 1 · strat"),
        ("wing", "cell number 2 · frames"),
        ("eye", "kind"),
    }


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ((Cell(1, 2, "1"), Cell(4, 5, "2")), "leaves a gap before it. Let it start at 3"),
        ((Cell(1, 3, "1"), Cell(3, 6, "2")), "overlaps the cell before it"),
        ((Cell(1, 3, "1"),), "ends at frame 3, the sheet at 8"),
        ((), "ends at frame 0, the sheet at 8"),
        ((Cell(1, 8, "", True),), "marked as an extreme"),
        ((Cell(1, 8, "a\nb"),), "U+000A"),
    ],
)
def test_cells_cover_every_frame_once(cells, said):
    broken = replace(POND, columns=(Column("wing", "part", cells),))
    with pytest.raises(PastepotError, match="wing"):
        sheet_table.to_csv(broken)
    with pytest.raises(PastepotError) as caught:
        sheet_json.from_values(sheet_json.values(broken))
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[]", "holds no exposure sheet"),
        ("{", "is not JSON"),
        ('{"schema": 2}', "written by a newer Pastepot"),
        ("[" * 100_000, "nested too deeply"),
        ("1" * 5000, "thousands of digits"),
    ],
)
def test_a_file_that_is_no_sheet(text, said):
    with pytest.raises(PastepotError, match=said):
        sheet_json.loads(text)


def test_files_are_never_overwritten_unasked(tmp_path):
    for write, name in ((sheet_json.save, "a.json"), (sheet_table.write, "a.csv")):
        path = tmp_path / name
        write(POND, path)
        with pytest.raises(PastepotError, match="exists already"):
            write(POND, path)
        write(POND, path, overwrite=True)
    assert sheet_json.load(tmp_path / "a.json") == sheet_table.read(tmp_path / "a.csv").sheet == POND
