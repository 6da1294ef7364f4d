"""`pastepot mat`: printing, looking, and being called wrongly."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from pastepot.cli import main
from PIL import Image


def test_a_printed_mat_is_looked_at(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "mat.pdf"
    assert main(["mat", "--tint", "#CC3D85", "-o", str(out)]) == 0
    assert "print it at 100 %" in capsys.readouterr().out
    with pypdfium2.PdfDocument(out) as document:
        page = document[0].render(scale=8 * 25.4 / 72).to_numpy()[..., 2::-1]
    Image.fromarray(np.ascontiguousarray(page * np.float64(0.97)).astype(np.uint8)).save(tmp_path / "scan.png")
    assert main(["mat", "--look", str(tmp_path / "scan.png"), "--json"]) == 0
    seen = json.loads(capsys.readouterr().out)
    assert seen["paper"] == "A4"
    assert seen["px_per_mm"] == pytest.approx([8, 8], rel=0.002)
    assert seen["problems"] == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--tint", "pink", "-o", "mat.pdf"], "'pink' is no colour"),
        (["--paper", "B5", "-o", "mat.pdf"], "no mat for paper 'B5'"),
        (["--paper", "A4"], "one of the arguments"),
    ],
)
def test_called_wrongly(
    arguments: list[str],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["mat", *arguments]) == 2
    assert words in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
