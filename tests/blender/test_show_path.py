"""Paths of selected pieces: where Blender itself puts them, one mark an exposure, and nothing left behind."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from pastepot.timing.feel import Feel
from pastepot_blender import ids
from pastepot_blender.scene.path_marks import marks
from pastepot_blender.steps import show_path
from pastepot_blender.steps.build import build
from pastepot_blender.steps.handmade import Settings, make


@pytest.fixture
def scene(pond: Path) -> bpy.types.Scene:
    """A wing that waves on a body that walks."""
    scene = bpy.context.scene
    build(scene, pond, lambda *_: None)
    for name, path, index, values in (
        ("wing", "rotation_euler", 1, {1: 0.0, 9: 1.0, 24: 0.0}),
        ("body", "location", 0, {1: 0.0, 12: 0.5}),
    ):
        for frame, value in values.items():
            getattr(part(name), path)[index] = value
            part(name).keyframe_insert(path, index=index, frame=frame)
    return scene


def part(name: str) -> bpy.types.Object:
    return next(o for o in bpy.data.objects if o.get(ids.PART) == name)


def test_marks_are_where_blender_puts_the_far_end(scene) -> None:
    make(scene, Settings(feel=Feel(), pattern=(2,)))
    wing = part("wing")
    found = marks(wing, 10, 1, 24)
    starts = (1, 3, 5, 7, 9, 12, 14, 16, 18, 20, 22, 24)  # on twos, anew at the body's extreme on 12
    assert len(found.points) == len(starts)
    assert found.extreme.tolist() == [frame in (1, 9, 24) for frame in starts]
    far = max(wing.bound_box, key=lambda corner: np.hypot(corner[0], corner[2]))
    for at, frame in enumerate(starts):
        scene.frame_set(frame)
        assert found.points[at] == pytest.approx(np.array(wing.matrix_world @ type(wing.location)(far)), abs=1e-6)
    assert found.now == 4
    scene.frame_set(7)
    before = np.array([[wing.matrix_world @ wing.data.vertices[v].co for v in e.vertices] for e in wing.data.edges])
    assert found.before == pytest.approx(before, abs=1e-6)


def test_smooth_keys_have_a_mark_on_every_frame(scene) -> None:
    found = marks(part("wing"), 3, 1, 24)
    assert len(found.points) == 11  # two before the third, and eight after it
    assert found.extreme.tolist() == [frame in (1, 9) for frame in range(1, 12)]


def test_what_never_moves_has_no_path(scene) -> None:
    assert marks(part("bank"), 3, 1, 24) is None


def test_turned_off_nothing_is_left(scene) -> None:
    handlers = bpy.app.handlers
    before = list(handlers.depsgraph_update_post), list(handlers.frame_change_post)
    part("wing").select_set(True)
    show_path.turn(True)
    assert len(show_path._shown) == 1
    scene.frame_set(24)
    assert show_path._shown[0].after.shape[0] == 0
    part("wing").select_set(False)
    bpy.context.view_layer.update()
    show_path.turn(False)
    assert (list(handlers.depsgraph_update_post), list(handlers.frame_change_post)) == before
    assert show_path._shown == []
