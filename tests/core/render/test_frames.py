"""The folder of frames: what is kept, what is done again, what is never touched."""

from __future__ import annotations

import errno
import json
import os
import shutil

import numpy as np
import pytest
from pastepot.errors import PastepotError
from pastepot.render import frames as folders
from pastepot.render.plan import Plan, every_frame


def listed(render):
    return json.loads((render.folder / "frames.json").read_text(encoding="utf-8"))


def test_each_picture_is_rendered_once_and_every_frame_is_there(render, twos, png_bytes):
    done = render(twos(6))
    assert render.rendered == [1, 3, 5]
    expected = [png_bytes(grey) for grey in (1, 1, 3, 3, 5, 5)]
    assert list(render.frames().values()) == expected
    assert (done.counts.rendered, done.counts.linked, done.counts.copied, done.counts.kept) == (3, 3, 0, 0)


def test_held_frames_are_hard_links(render, twos):
    render(twos(4))
    inodes = [(render.folder / f"frame_000{n}.png").stat().st_ino for n in (1, 2, 3, 4)]
    assert inodes[0] == inodes[1] != inodes[2] == inodes[3]
    assert not any(path.is_symlink() for path in render.folder.iterdir())


@pytest.mark.parametrize("code", [errno.EPERM, errno.EMLINK, errno.ENOTSUP])
def test_where_links_fail_copies_are_made(render, twos, png_bytes, monkeypatch, code):
    def refuse(*_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "link", refuse)
    done = render(twos(4))
    assert list(render.frames().values()) == [png_bytes(grey) for grey in (1, 1, 3, 3)]
    assert (done.counts.linked, done.counts.copied) == (0, 2)
    assert (render.folder / "frame_0002.png").stat().st_nlink == 1
    again = render(twos(4))
    assert (again.counts.kept, again.counts.copied) == (2, 0)


def test_the_list_says_what_is_there(render, twos):
    render(twos(4))
    values = listed(render)
    assert {key: values[key] for key in ("schema", "fps", "size", "first", "last")} == {
        "schema": 1,
        "fps": "12",
        "size": [4, 3],
        "first": 1,
        "last": 4,
    }
    assert values["frames"] == {str(n): f"frame_000{n}.png" for n in (1, 2, 3, 4)}
    assert values["pictures"] == {"1": 1, "2": 1, "3": 3, "4": 3}


def test_nothing_else_stays_in_the_folder(render, twos):
    render(twos(2))
    names = sorted(path.name for path in render.folder.iterdir())
    assert names == ["frame_0001.png", "frame_0002.png", "frames.json", "render-journal.jsonl"]


def test_frame_numbers_may_need_more_digits_or_a_sign():
    assert [folders.file_name(n) for n in (0, 7, 9999, 10000, -3)] == [
        "frame_0000.png",
        "frame_0007.png",
        "frame_9999.png",
        "frame_10000.png",
        "frame_-003.png",
    ]


def test_the_same_job_again_renders_nothing(render, twos):
    render(twos(6))
    before = {path.name: path.stat().st_mtime_ns for path in render.folder.glob("frame_*")}
    done = render(twos(6))
    assert render.rendered == []
    assert done.counts.kept == 3
    assert before == {path.name: path.stat().st_mtime_ns for path in render.folder.glob("frame_*")}


@pytest.mark.parametrize("stop_after", [0, 1, 2])
def test_a_stopped_render_goes_on_where_it_was(render, twos, stop_after):
    render(twos(6), stop_after=stop_after)
    assert not (render.folder / "frames.json").exists()
    render(twos(6))
    assert render.rendered == [1, 3, 5][stop_after:]
    assert len(render.frames()) == 6


def test_another_fingerprint_renders_everything_again(render, twos, png_bytes):
    render(twos(4))
    render(twos(4), "b", shade=100)
    assert render.rendered == [1, 3]
    assert list(render.frames().values()) == [png_bytes(grey) for grey in (101, 101, 103, 103)]


def test_an_outdated_list_goes_before_the_first_new_frame(render, twos):
    render(twos(4))
    render(twos(4), "b", stop_after=1)
    assert not (render.folder / "frames.json").exists()


def test_frames_of_an_earlier_job_stay_replaceable_however_often_it_is_stopped(render, twos, png_bytes):
    render(twos(6))
    render(twos(2), "b", shade=100)
    render(twos(2), "c", shade=50, stop_after=0)
    render(twos(6), "c", shade=50)
    assert list(render.frames().values()) == [png_bytes(grey) for grey in (51, 51, 53, 53, 55, 55)]


def test_another_range_of_the_same_job_adds_to_it(render, twos):
    render(twos(4))
    render(twos(6, first=5))
    assert render.rendered == [5]
    assert (listed(render)["first"], listed(render)["last"]) == (1, 6)
    assert listed(render)["pictures"] == {"1": 1, "2": 1, "3": 3, "4": 3, "5": 5, "6": 5}


def test_frames_of_another_job_are_not_listed(render, twos):
    render(twos(4))
    render(twos(6, first=5), "b")
    assert sorted(listed(render)["frames"]) == ["5", "6"]
    assert len(render.frames()) == 6


def test_a_wider_range_may_show_a_frame_by_an_earlier_picture(render, png_bytes):
    render(every_frame(3, 4))
    render(Plan(np.array([1, 2, 3, 4]), np.array([1, 1, 1, 4])))
    assert render.rendered == [1]
    assert list(render.frames().values()) == [png_bytes(grey) for grey in (1, 1, 1, 4)]


@pytest.mark.parametrize("damage", [b"", b"\x89PNG", None])
@pytest.mark.parametrize("name", ["frame_0003.png", "frame_0004.png"])
def test_a_broken_file_is_never_trusted(render, twos, png_bytes, damage, name):
    render(twos(6))
    path = render.folder / name
    with path.open("r+b") as file:  # in place, as a power cut leaves it: the links share it
        file.truncate(0)
        file.write(damage if damage is not None else png_bytes(3)[:-1])
    render(twos(6))
    assert render.rendered == [3]
    assert list(render.frames().values()) == [png_bytes(grey) for grey in (1, 1, 3, 3, 5, 5)]


def test_a_file_that_is_gone_is_made_again(render, twos):
    render(twos(4))
    (render.folder / "frame_0001.png").unlink()
    (render.folder / "frame_0004.png").unlink()
    render(twos(4))
    assert render.rendered == [1]
    assert len(render.frames()) == 4


def test_drafts_of_a_killed_render_are_cleared_away(render, twos):
    render(twos(4), stop_after=1)
    for name in (".frame-3.png", ".frames-0badf00d.json", ".render-journal-0badf00d.jsonl"):
        (render.folder / name).write_bytes(b"half")
    render(twos(4))
    assert not [path for path in render.folder.iterdir() if path.name.startswith(".")]


def test_files_of_others_are_refused_by_name_and_left_alone(render, twos, png_bytes):
    render.folder.mkdir()
    mine = render.folder / "frame_0002.png"
    mine.write_bytes(png_bytes(77))
    with pytest.raises(PastepotError, match=r"frame_0002\.png") as caught:
        render(twos(4))
    assert "Choose another folder with -o" in str(caught.value)
    assert mine.read_bytes() == png_bytes(77)
    assert list(render.frames()) == ["frame_0002.png"]


def test_many_foreign_files_are_counted(render, twos, png_bytes):
    render.folder.mkdir()
    for number in range(1, 13):
        (render.folder / f"frame_{number:04d}.png").write_bytes(png_bytes(7))
    with pytest.raises(PastepotError, match="and 4 more"):
        render(twos(12))


def test_a_frame_the_person_painted_over_is_not_lost(render, twos, png_bytes):
    render(twos(4))
    (render.folder / "frame_0004.png").unlink()
    (render.folder / "frame_0004.png").write_bytes(png_bytes(200))
    for fingerprint in ("a", "b"):
        with pytest.raises(PastepotError, match=r"changed since: frame_0004\.png"):
            render(twos(4), fingerprint)
    assert (render.folder / "frame_0004.png").read_bytes() == png_bytes(200)


@pytest.mark.parametrize("make", ["folder", "symlink"])
def test_what_is_no_plain_file_is_not_ours(render, twos, make, tmp_path):
    render.folder.mkdir()
    path = render.folder / "frame_0001.png"
    path.mkdir() if make == "folder" else path.symlink_to(tmp_path / "elsewhere.png")
    with pytest.raises(PastepotError, match=r"frame_0001\.png"):
        render(twos(2))


def test_files_of_other_names_do_not_matter(render, twos):
    render.folder.mkdir()
    (render.folder / "notes.txt").write_text("the bus is late")
    (render.folder / "frame_0099.png").write_bytes(b"somebody's")
    render(twos(2))
    assert (render.folder / "frame_0099.png").read_bytes() == b"somebody's"


def test_a_list_that_is_not_ours_is_refused(render, twos):
    render.folder.mkdir()
    (render.folder / "frames.json").write_text('{"frames": 12}')
    with pytest.raises(PastepotError, match=r"frames\.json"):
        render(twos(2))
    assert (render.folder / "frames.json").read_text() == '{"frames": 12}'


def test_without_the_journal_the_list_still_says_what_is_ours(render, twos):
    render(twos(4))
    (render.folder / "render-journal.jsonl").unlink()
    render(twos(4))
    assert render.rendered == [1, 3]


@pytest.mark.parametrize(
    ("draft", "message"),
    [
        (b"", "picture of frame 1 was not written whole: The file is empty"),
        (None, "picture of frame 1 was not written whole: The file is missing"),
        ("small", r"came out 2 × 2 pixels instead of 4 × 3"),
    ],
)
def test_a_picture_that_is_not_right_is_not_taken(tmp_path, twos, png_bytes, draft, message):
    with folders.opened(tmp_path, folders.Job(twos(2), "a", 12, (4, 3))) as frames:
        if draft is not None:
            frames.draft(1).write_bytes(png_bytes(1, (2, 2)) if draft == "small" else draft)
        with pytest.raises(PastepotError, match=message):
            frames.take(1)
    assert not list(tmp_path.glob("frame_*"))


def test_a_size_only_the_renderer_knows_is_that_of_the_first_picture(tmp_path, twos, png_bytes):
    with folders.opened(tmp_path, folders.Job(twos(4), "a", 12, None)) as frames:
        frames.draft(1).write_bytes(png_bytes(1, (5, 2)))
        frames.take(1)
        frames.draft(3).write_bytes(png_bytes(3, (2, 5)))
        with pytest.raises(PastepotError, match="2 × 5 pixels instead of 5 × 2"):
            frames.take(3)


def test_a_full_disk_is_told_and_costs_nothing_that_is_finished(render, twos, monkeypatch):
    render(twos(6), stop_after=1)

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(PastepotError, match="disk is full") as caught:
            render(twos(6))
    assert "finished pictures are kept" in str(caught.value)
    render(twos(6))
    assert render.rendered == [3, 5]


def test_a_renderer_without_space_is_told_the_disk_is_full(tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: shutil._ntuple_diskusage(100, 99, 1))
    assert "disk is full" in folders.full_disk(tmp_path).what


def test_a_folder_that_cannot_be_made_is_told(tmp_path, twos):
    (tmp_path / "file").write_text("")
    job = folders.Job(twos(2), "a", 12)
    with pytest.raises(PastepotError, match="could not be written"), folders.opened(tmp_path / "file" / "frames", job):
        pass
