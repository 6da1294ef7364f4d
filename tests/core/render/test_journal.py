"""A journal cut off at any byte never makes a wrong film, and never loses more than what was cut."""

from __future__ import annotations

import json

import pytest
from pastepot.errors import PastepotError
from pastepot.render import journal


def test_a_journal_cut_off_anywhere_gives_the_same_frames(render, twos):
    render(twos(6), stop_after=2)
    path = render.folder / journal.NAME
    whole, frames = path.read_bytes(), render.frames()
    head = whole.index(b"\n")
    for cut in range(head, len(whole)):
        path.write_bytes(whole[:cut])
        known = {name for name in journal.read(render.folder).ours}
        if known == set(frames):
            render(twos(6), stop_after=0)
            assert path.read_bytes().endswith(b"\n")
        else:  # files stand there that this journal does not know: they may be anybody's
            with pytest.raises(PastepotError, match="did not write"):
                render(twos(6))
        assert render.frames() == frames
    path.write_bytes(whole)
    render(twos(6))
    assert render.rendered == [5]


def test_a_line_told_before_its_file_was_placed_is_done_again(render, twos, png_bytes):
    """The journal is written first, so a power cut can leave its line without the file."""
    render(twos(6), stop_after=2)
    whole = render.frames()
    for missing in (["frame_0003.png", "frame_0004.png"], ["frame_0004.png"]):
        for name in missing:
            (render.folder / name).unlink()
        render(twos(6), stop_after=2)
        assert {name: render.frames()[name] for name in whole} == whole


def test_a_cut_off_line_is_not_glued_to_the_next(render, twos):
    render(twos(6), stop_after=2)
    path = render.folder / journal.NAME
    (render.folder / "frame_0003.png").unlink()
    (render.folder / "frame_0004.png").unlink()
    path.write_bytes(path.read_bytes()[:-20])
    render(twos(6), stop_after=1)
    assert render.rendered == [3]
    assert sorted(journal.read(render.folder).entries) == [1, 3]
    assert all(json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())


def test_damaged_lines_are_passed_over(tmp_path):
    entry = '{"frame": 1, "file": "frame_0001.png", "sha256": "00", "bytes": 5, "shown": ["frame_0001.png"]}'
    lines = ["null", "[1]", '{"frame": "x"}', "{", "", "\x00", entry, '{"earlier": "frame_0009.png", "sha256": "11"}']
    (tmp_path / journal.NAME).write_text("\n".join(lines), encoding="utf-8")
    known = journal.read(tmp_path)
    assert known.fingerprint == ""
    assert known.entries[1] == journal.Entry(1, "frame_0001.png", "00", 5, ("frame_0001.png",))
    assert known.ours == {"frame_0001.png": {"00"}, "frame_0009.png": {"11"}}


def test_a_journal_of_a_later_schema_is_not_taken_for_ours(render, twos):
    render(twos(4))
    path = render.folder / journal.NAME
    path.write_text(path.read_text(encoding="utf-8").replace('"schema": 1', '"schema": 2'), encoding="utf-8")
    render(twos(4))
    assert render.rendered == [1, 3]
