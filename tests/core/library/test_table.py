"""The parts as CSV: out, changed by a person or a spreadsheet, and in again."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.errors import Misuse, PastepotError
from pastepot.library import cells, manifest, table
from pastepot.library.cells import CellError
from pastepot.library.parts import Library, MouthShape, Part

BODY = Part("heron-body", "heron", "body", "parts/heron-body.png", 11.811, (12.0, 40.5), "front", layer=30)
MOUTH = Part(
    "snail-mouth", "snail", "mouth", "parts/snail-mouth.png", 11.811023622047244, (3.0, 2.0), "front", "heron-body",
    (1.5, 2.0), 60, "snail-mouth", MouthShape("apart", 0.5, 0.25, True),
)  # fmt: skip
PARTS = {p.name: p for p in (BODY, MOUTH)}
LIBRARY = Library((BODY, MOUTH))


def changes(text: str) -> table.Changes:
    return table.from_csv(text, "t.csv", PARTS)


def problems(text: str) -> list[str]:
    with pytest.raises(PastepotError) as caught:
        changes(text)
    return [str(p) for p in caught.value.problems]


def test_the_table_has_every_field_in_one_row_for_each_part():
    assert list(csv.reader(io.StringIO(table.to_csv(LIBRARY)))) == [
        ["name", "character", "type", "view", "image", "px_per_mm", "pivot_x_mm", "pivot_y_mm", "parent", "joint_x_mm",
         "joint_y_mm", "layer", "replaces", "mouth_lips", "mouth_open", "mouth_round", "mouth_tongue"],
        ["heron-body", "heron", "body", "front", "parts/heron-body.png", "11.811", "12.0", "40.5", "", "", "", "30",
         "", "", "", "", ""],
        ["snail-mouth", "snail", "mouth", "front", "parts/snail-mouth.png", "11.811023622047244", "3.0", "2.0",
         "heron-body", "1.5", "2.0", "60", "snail-mouth", "apart", "0.5", "0.25", "true"],
    ]  # fmt: skip


def test_what_goes_out_comes_in_without_a_change():
    assert changes(table.to_csv(LIBRARY)) == table.Changes()


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_and_line_ends_of_every_spreadsheet(delimiter):
    rows = [["NAME ", " layer", "view"], ["heron-body", "31", "back"], ["", "", ""], ["snail-mouth", "60", "front"]]
    for end in ("\n", "\r\n", "\r"):
        text = end.join(delimiter.join(row) for row in rows)
        assert changes(text) == table.Changes({"heron-body": {"view": "back", "layer": 31}}, ())


def test_a_spreadsheets_own_first_line_is_passed_over():
    assert changes("sep=;\r\nname;layer\r\nheron-body;31\r\n").fields == {"heron-body": {"layer": 31}}


def test_only_what_differs_is_changed():
    assert changes("name,layer,character,type\nheron-body,30,Heron,body\n").fields == {
        "heron-body": {"character": "Heron"}
    }


def test_half_a_point_keeps_its_other_half():
    assert changes("name,pivot_y_mm,joint_x_mm\nsnail-mouth,2.5,9\n").fields == {
        "snail-mouth": {"pivot_mm": (3.0, 2.5), "joint_mm": (9.0, 2.0)}
    }


def test_numbers_that_a_spreadsheet_only_rounded_stay():
    assert changes("name,px_per_mm\nsnail-mouth,11.811023622\n") == table.Changes()
    assert changes("name,px_per_mm\nsnail-mouth,11.81103\n").fields == {"snail-mouth": {"px_per_mm": 11.81103}}


def test_an_empty_cell_empties_an_optional_field():
    text = (
        "name,parent,joint_x_mm,joint_y_mm,layer,replaces,mouth_lips,mouth_open,mouth_round,mouth_tongue\n"
        "snail-mouth,,,,,,,,,\n"
    )
    assert changes(text).fields == {
        "snail-mouth": {"parent": "", "joint_mm": None, "layer": 0, "replaces": "", "mouth": None}
    }


def test_cells_that_are_cut_off_are_left_as_they_are():
    assert changes("name,layer,parent,replaces\nsnail-mouth,61\n").fields == {"snail-mouth": {"layer": 61}}


def test_a_new_name_adds_a_part():
    text = (
        "name,character,type,image,px_per_mm,pivot_x_mm,pivot_y_mm,mouth_open\n"
        "snail-eye,snail,eye,parts/snail-eye.png,11.811,1,2.5,\n"
        "snail-grin,snail,mouth,parts/snail-grin.png,11.811,1,2.5,0.5\n"
    )
    assert changes(text) == table.Changes(
        {},
        (
            Part("snail-eye", "snail", "eye", "parts/snail-eye.png", 11.811, (1.0, 2.5)),
            Part(
                "snail-grin", "snail", "mouth", "parts/snail-grin.png", 11.811, (1.0, 2.5), mouth=MouthShape(open=0.5)
            ),
        ),
    )


BAD_TABLES = [
    ("", "t.csv: The table is empty. Begin with: pastepot parts DIR --csv OUT.csv"),
    ("layer,view\n1,front\n", "t.csv:1: The first row has no column 'name'."),
    ("name,layer,layer\na,1,2\n", "t.csv:1 layer: There are two columns 'layer'. Take one out."),
    ("name,pivot_x\nheron-body,1\n", "t.csv:1 pivot_x: The column 'pivot_x' is not known. Did you mean 'pivot_x_mm'?"),
    ("name,zebra\nheron-body,1\n", "t.csv:1 zebra: The column 'zebra' is not known. Take it out. Columns are: name,"),
    ("name,layer\n,1\n", "t.csv:2 name: The row has no name."),
    ("name,layer\nheron-body,1\nheron-body,2\n", "t.csv:3 heron-body: The part is in row 2 already."),
    ("name,px_per_mm,layer\nheron-body,1,5,30\n", "t.csv:2 heron-body: The row has more cells than the first row."),
    ('name,view\nheron-body,"front\n', "t.csv:2: The table is not CSV: unexpected end of data."),
    ("name,character\nheron-body,\n", "t.csv:2 heron-body · character: 'character' is empty. Fill the cell."),
    ("name,type\nsnail-eye,eye\n", "t.csv:2 snail-eye · character: 'character' is empty. Fill the cell."),
    ("name,joint_x_mm\nheron-body,3\n", "t.csv:2 heron-body · joint_y_mm: 'joint_y_mm' is empty. Fill the cell."),
    ("name;px_per_mm\nheron-body;11,8\n", "px_per_mm: '11,8' is written with a comma. Write 11.8 with a point"),
    ('name,px_per_mm\nheron-body,"1.234,5"\n', "'1.234,5' is written with a comma. Write it with a point"),
    ("name,px_per_mm\nheron-body,01.02.2026\n", "'01.02.2026' looks like a date that a spreadsheet made of a number."),
    ("name,layer\nheron-body,3-May\n", "'3-May' looks like a date that a spreadsheet made of a number."),
    ("name,layer\nheron-body,30.5\n", "layer: '30.5' is not a whole number."),
    ("name,layer\nheron-body,high\n", "layer: 'high' is not a number. Write it like 12.5."),
    ("name,layer\nheron-body,#REF!\n", "layer: '#REF!' is a spreadsheet's error message."),
    ("name,parent\nheron-body,#NAME?\n", "parent: '#NAME?' is a spreadsheet's error message."),
    ("name,parent\nheron-body,=A1&B1\n", "parent: '=A1&B1' begins like a formula."),
    ("name,parent\nheron-body,+a\n", "parent: '+a' begins like a formula."),
    ("name,parent\nheron-body,-a\n", "parent: '-a' begins like a formula."),
    ("name,parent\nheron-body,@a\n", "parent: '@a' begins like a formula."),
    ("name,mouth_tongue\nsnail-mouth,wahr\n", "mouth_tongue: 'wahr' is neither true nor false. Write true or false."),
]


@pytest.mark.parametrize(("text", "said"), BAD_TABLES)
def test_a_table_that_makes_no_sense_is_refused_with_its_row(text, said):
    assert said in problems(text)[0]


def test_everything_wrong_is_told_at_once():
    text = "name,layer,px_per_mm\nheron-body,x,1\nsnail-mouth,1,y\nnew,1,1\n"
    assert len(problems(text)) == 2 + 5


def test_a_row_over_two_lines_does_not_shift_the_numbers():
    assert problems('name,parent,layer\nheron-body,"a\nb",1\nsnail-mouth,a,x\n')[0].startswith("t.csv:4 snail-mouth")


@pytest.mark.parametrize("cell", ["nan", "inf", "-inf", "1_000", "٣", "0x10", "1e", "12 mm", "60%", "1 000", "="])
def test_what_is_no_number_is_not_guessed_at(cell):
    with pytest.raises(CellError):
        cells.number(cell)


@pytest.mark.parametrize(
    ("cell", "value"),
    [("", None), (" 12 ", 12.0), ("-.5", -0.5), ("+3.", 3.0), ("1e3", 1000.0), ("1.5E-2", 0.015)],
)
def test_numbers_in_every_honest_form(cell, value):
    assert cells.number(cell) == value


@pytest.mark.parametrize(
    ("cell", "value"),
    [("TRUE", True), ("false", False), ("Yes", True), ("no", False), ("1", True), ("0", False), ("", None)],
)
def test_true_and_false_as_people_write_them(cell, value):
    assert cells.truth(cell) is value


@pytest.mark.parametrize("text", ["=1+2", "+a", "-a", "@a", "'=1", "''-a"])
def test_a_text_that_would_run_as_a_formula_is_disarmed_and_comes_back(text):
    """Characters that begin a formula: OWASP, "CSV Injection"."""
    assert cells.written(text) == "'" + text
    assert cells.text(cells.written(text)) == text


@given(st.text(min_size=1).filter(lambda t: t.strip(" ") == t and not t.startswith("#")))
def test_every_text_comes_back_from_its_cell_and_none_begins_like_a_formula(text):
    cell = cells.written(text)
    assert cells.text(cell) == text
    assert cell[0] not in "=+-@\t\r"


@given(st.floats(allow_nan=False, allow_infinity=False) | st.integers(-10000, 10000))
def test_every_number_comes_back_from_its_cell(number):
    assert cells.number(cells.written(number)) == number


@pytest.fixture
def written(folder):
    folder.picture("snail-mouth.png")
    folder.part("heron-body", type="body")
    folder.part("snail-mouth", character="snail", type="mouth", mouth={"open": 0.5})
    return folder


def test_a_file_goes_out_and_in_again(written, tmp_path):
    path = tmp_path / "t.csv"
    table.write(manifest.load(written.path), path, overwrite=False)
    assert path.read_bytes().startswith(b"\xef\xbb\xbfname,character")
    assert table.read(written.path, path) == table.Changes()
    text = path.read_text(encoding="utf-8-sig").replace("heron,body", "ibis,body")
    path.write_text(text, encoding="utf-8")
    before = written.parts_toml.read_text()
    table.apply(written.path, table.read(written.path, path))
    assert written.parts_toml.read_text() == before.replace('character = "heron"', 'character = "ibis"', 1)


def test_a_table_that_is_there_is_not_overwritten(written, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("mine")
    with pytest.raises(Misuse, match="exists already"):
        table.write(manifest.load(written.path), path, overwrite=False)
    assert path.read_text() == "mine"
    table.write(manifest.load(written.path), path, overwrite=True)
    assert path.read_text(encoding="utf-8-sig").startswith("name,")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("name,view\nä,b\n".encode("utf-16"), "The table is UTF-16 text. Save it from the spreadsheet as CSV with"),
        ("name,view\nä,b\n".encode("cp1252"), "t.csv:2: The table is not UTF-8 text."),
    ],
)
def test_other_encodings_are_told_apart(written, tmp_path, data, said):
    path = tmp_path / "t.csv"
    path.write_bytes(data)
    with pytest.raises(PastepotError) as caught:
        table.read(written.path, path)
    assert said in str(caught.value)


def test_what_the_library_would_refuse_is_refused(written, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("name,parent,px_per_mm\nheron-body,zebra,0\n")
    before = written.parts_toml.read_text()
    with pytest.raises(PastepotError) as caught:
        table.apply(written.path, table.read(written.path, path))
    assert {(p.part, p.field) for p in caught.value.problems} == {("heron-body", "parent"), ("heron-body", "px_per_mm")}
    assert written.parts_toml.read_text() == before
