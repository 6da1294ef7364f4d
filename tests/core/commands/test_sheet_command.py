"""`pastepot sheet` from a sheet file: every format, and what cannot be."""

from __future__ import annotations

import json
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from pastepot import cli
from pastepot.timing import sheet_files, sheet_json
from pastepot.timing.sheet import Cell, Column, Sheet

POND = Sheet(
    "Waiting", Fraction(12), 1, 8, (Column("heron-wing", "part", (Cell(1, 3, "1", True), Cell(4, 5, "2")), "heron"),)
)


@pytest.fixture
def source(tmp_path: Path) -> Path:
    sheet_json.save(POND, tmp_path / "pond.json")
    return tmp_path / "pond.json"


@pytest.mark.parametrize("suffix", sheet_files.SHEETS)
def test_every_format_is_written(suffix, source, tmp_path, capsys):
    out = tmp_path / f"out{suffix}"
    assert cli.main(["sheet", str(source), "-o", str(out)]) == 0
    assert out.stat().st_size
    assert "1 columns, frames 1 to 8" in capsys.readouterr().out
    assert cli.main(["sheet", str(source), "-o", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert cli.main(["sheet", str(source), "-o", str(out), "--overwrite"]) == 0


def test_a_table_goes_back_to_json(source, tmp_path):
    assert cli.main(["sheet", str(source), "-o", str(tmp_path / "a.csv")]) == 0
    assert cli.main(["sheet", str(tmp_path / "a.csv"), "-o", str(tmp_path / "b.json")]) == 0
    assert (tmp_path / "b.json").read_bytes() == source.read_bytes()


def test_the_result_as_json(source, tmp_path, capsys):
    assert cli.main(["sheet", str(source), "-o", str(tmp_path / "a.csv"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["columns"], said["frames"], said["exposures"]) == (["heron-wing"], 8, 2)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["-o", "a.svg"], "A chart shows one part."),
        (["-o", "a.txt"], "can't be written as 'a.txt'. End its name with .csv, .json, .pdf or .otio."),
        (["-o", "a.svg", "--part", "x"], "Give the scene (.blend) to chart a part."),
        (["-o", "a.csv", "--frames", "1-2"], "--frames goes with a chart only."),
        (["-o", "pond.json", "--overwrite"], "The output is the input itself."),
        (["-o", "none/a.csv"], "does not exist"),
        (["-o", "a.otio", "--pictures", "none"], "Render first"),
    ],
)
def test_misuse_is_said_and_nothing_is_written(options, said, source, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = source.read_bytes()
    assert cli.main(["sheet", "pond.json", *options]) == 2
    assert said in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["pond.json"]
    assert source.read_bytes() == before


def test_everything_wrong_with_a_sheet_is_told(tmp_path, capsys):
    values = sheet_json.values(POND)
    values["columns"][0]["cells"][1]["start"] = 5
    values["title"] = " a"
    (tmp_path / "a.json").write_text(json.dumps(values))
    assert cli.main(["sheet", str(tmp_path / "a.json"), "-o", str(tmp_path / "a.csv")]) == 1
    err = capsys.readouterr().err
    assert "leaves a gap before it" in err
    assert "begins or ends with a space" in err


@pytest.mark.parametrize(("suffix", "module", "extra"), [("pdf", "fpdf", "print"), ("otio", "opentimelineio", "edit")])
def test_a_missing_library_is_named(suffix, module, extra, source, tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, module, None)
    assert cli.main(["sheet", str(source), "-o", str(tmp_path / f"a.{suffix}")]) == 1
    assert f"pip install 'pastepot[{extra}]'" in capsys.readouterr().err
    assert not list(tmp_path.glob("*a.*"))
