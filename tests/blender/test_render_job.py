"""Whole renders of tiny scenes: the frames are those that rendering every frame gives, and nothing else is touched."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import bpy
import numpy as np
import pastepot_blender
import pytest
from pastepot.errors import Misuse, PastepotError
from pastepot_blender import host, ids
from pastepot_blender.scene import external, rendering
from pastepot_blender.steps import render as step
from small_scenes import Say, card, glow, key, pixels, scene

LAST = 12


@pytest.fixture
def film(tmp_path):
    """A snail on twos before an ortho camera, 12 frames, saved."""
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    camera.location, camera.rotation_euler = (0, -5, 0), (np.pi / 2, 0, 0)
    camera.data.type, camera.data.ortho_scale = "ORTHO", 6
    scene().collection.objects.link(camera)
    scene().camera = camera
    paper = bpy.data.materials.new("paper")
    glow(paper, (0.2, 0.5, 0.1))
    snail = card("snail", paper)
    key(snail, "location", {frame: 0.15 * frame for frame in range(1, LAST, 2)})
    key(snail, "rotation_euler", {1: 0.1, 7: 0.4}, index=1)
    scene().frame_start, scene().frame_end = 1, LAST
    scene().render.engine = "CYCLES"
    scene().cycles.samples = 1
    scene().render.resolution_x, scene().render.resolution_y = 64, 36
    save(tmp_path / "waiting.blend")
    return tmp_path


def save(path):
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=False)


def render(folder, **order):
    say = Say()
    return step.render(scene(), step.Order(folder, **order), say) | {"say": say}


def frame_files(folder):
    return [path.read_bytes() for path in sorted(Path(folder).glob("frame_*.png"))]


def test_on_twos_six_renders_give_the_frames_of_twelve(film):
    answer = render(film / "held")
    whole = render(film / "whole", every_frame=True)
    assert (answer["frames"], answer["pictures"], answer["rendered"], answer["linked"]) == (12, 6, 6, 6)
    assert (whole["rendered"], whole["linked"]) == (12, 0)
    assert frame_files(film / "held") == frame_files(film / "whole")
    for frame in range(1, LAST + 1):
        name = f"frame_{frame:04d}.png"
        assert np.array_equal(pixels(film / "held" / name), pixels(film / "whole" / name))
    inodes = [path.stat().st_ino for path in sorted((film / "held").glob("frame_*.png"))]
    assert inodes[0::2] == inodes[1::2]
    assert len(set(inodes)) == 6


def test_the_pictures_are_not_all_the_same(film):
    render(film / "f")
    assert len(set(frame_files(film / "f"))) == 6


def test_rendering_again_renders_nothing(film):
    render(film / "f")
    before = frame_files(film / "f")
    answer = render(film / "f")
    assert (answer["rendered"], answer["kept"]) == (0, 6)
    assert frame_files(film / "f") == before


def test_frames_that_come_back_share_a_picture(film):
    snail = bpy.data.objects["snail"]
    snail.animation_data_clear()
    key(snail, "location", {frame: 0.15 if frame % 4 == 1 else 0.9 for frame in range(1, LAST, 2)})
    answer = render(film / "held")
    render(film / "whole", every_frame=True)
    assert answer["rendered"] == 2
    assert frame_files(film / "held") == frame_files(film / "whole")


def test_a_sequence_with_a_keyed_offset_shows_the_right_mouth(film):
    """One picture for each mouth, also through the data that is held between two renders."""
    for number, grey in enumerate((0.1, 0.4, 0.8), 1):
        mouth = bpy.data.images.new("mouth", 2, 2)
        mouth.pixels = [grey, grey, grey, 1] * 4
        mouth.filepath_raw, mouth.file_format = str(film / f"mouth_{number:04d}.png"), "PNG"
        mouth.save()
        bpy.data.images.remove(mouth)
    image = bpy.data.images.load(str(film / "mouth_0001.png"))
    image.source = "SEQUENCE"
    paper = bpy.data.materials["paper"]
    node = glow(paper, image=image)
    node.image_user.frame_duration = node.image_user.frame_start = 1
    node.image_user.use_auto_refresh = True
    key(paper.node_tree, f'nodes["{node.name}"].image_user.frame_offset', {1: 0, 5: 2, 9: 1})
    bpy.data.objects["snail"].animation_data_clear()
    answer = render(film / "held")
    assert (answer["refusals"], answer["rendered"]) == ([], 3)
    render(film / "whole", every_frame=True)
    assert frame_files(film / "held") == frame_files(film / "whole")
    middles = [pixels(film / "held" / f"frame_{frame:04d}.png").reshape(36, 64, 4)[18, 32, 0] for frame in (1, 5, 9)]
    assert middles[0] < middles[2] < middles[1]


def test_camera_markers_cut_between_cameras(film):
    near = bpy.data.objects.new("near", bpy.data.cameras.new("near"))
    near.location, near.rotation_euler = (0.5, -3, 0), (np.pi / 2, 0, 0)
    scene().collection.objects.link(near)
    for frame, name in ((1, "camera"), (6, "near"), (9, "camera")):
        scene().timeline_markers.new(name, frame=frame).camera = bpy.data.objects[name]
    render(film / "held")
    render(film / "whole", every_frame=True)
    assert frame_files(film / "held") == frame_files(film / "whole")
    assert len(set(frame_files(film / "held")[4:6])) == 2


def test_what_may_differ_is_rendered_and_told(film):
    scene().render.use_motion_blur = True
    answer = render(film / "f", last=4)
    assert answer["rendered"] == 4
    assert [problem.what for problem in answer["say"].problems] == ["Motion blur is on."]
    assert [refusal["part"] for refusal in answer["refusals"]] == ["Scene"]


def test_the_list_of_frames(film):
    scene().render.fps, scene().render.fps_base = 24, 1.001
    render(film / "f", overrides=rendering.Overrides(percent=50), first=3, last=6)
    values = json.loads((film / "f" / "frames.json").read_text())
    assert (values["fps"], values["size"]) == ("24000/1001", [32, 18])
    assert (values["first"], values["last"]) == (3, 6)
    assert values["pictures"] == {"3": 3, "4": 3, "5": 5, "6": 5}


def test_progress_counts_pictures_and_tells_the_time_left(film):
    steps = render(film / "f", last=6)["say"].steps
    assert [(done, total) for done, total, _ in steps] == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert steps[0][2] == "Rendering"
    assert steps[1][2].startswith("Rendering, about ")


def test_neither_file_nor_settings_are_changed(film):
    blend = film / "waiting.blend"
    before = hashlib.sha256(blend.read_bytes()).hexdigest()
    host_settings = host.image_format(scene().render.image_settings)
    scene().render.filepath = "//somewhere/"
    scene().render.use_stamp_note = True
    scene().frame_set(5)
    render(film / "f", overrides=rendering.Overrides(samples=2, percent=50))
    assert hashlib.sha256(blend.read_bytes()).hexdigest() == before
    assert host.image_format(scene().render.image_settings) == host_settings
    settings = scene().render
    assert (settings.filepath, settings.use_stamp_note, settings.resolution_percentage) == ("//somewhere/", True, 100)
    assert (scene().cycles.samples, scene().frame_current, settings.use_persistent_data) == (1, 5, False)


def test_film_output_settings_do_not_matter(film):
    image = scene().render.image_settings
    if "media_type" in image.bl_rna.properties:
        image.media_type = "VIDEO"
    image.file_format = "FFMPEG"
    render(film / "f", last=2)
    assert image.file_format == "FFMPEG"
    assert frame_files(film / "f")[0][25] == 2  # PNG colour type: RGB, no alpha (ISO/IEC 15948, 11.2.2)


@pytest.mark.parametrize("change", ["scene", "samples", "image"])
def test_a_change_renders_everything_again(film, change):
    used = film / "heron.png"
    heron = bpy.data.images.new("heron", 2, 2)
    heron.filepath_raw, heron.file_format = str(used), "PNG"
    heron.save()
    glow(bpy.data.materials["paper"], image=bpy.data.images.load(str(used)))
    save(film / "waiting.blend")
    assert render(film / "f")["rendered"] == 6
    assert render(film / "f")["kept"] == 6
    overrides = rendering.Overrides()
    if change == "scene":
        bpy.data.objects["snail"].location.y = 0.5
        save(film / "waiting.blend")
    elif change == "image":
        heron.pixels = [1, 0, 0, 1] * 4
        heron.save()
    else:
        overrides = rendering.Overrides(samples=2)
    assert render(film / "f", overrides=overrides)["rendered"] == 6


def test_every_missing_file_is_told_before_anything_is_rendered(film):
    bpy.data.libraries.write(str(film / "props.blend"), {bpy.data.objects["snail"]})
    with bpy.data.libraries.load(str(film / "props.blend"), link=True) as (_, wanted):
        wanted.objects = ["snail"]
    scene().collection.objects.link(wanted.objects[0])
    (film / "props.blend").unlink()
    gone = bpy.data.images.new("gone", 2, 2)
    gone.source, gone.filepath = "FILE", "//parts/gone.png"
    glow(bpy.data.materials["paper"], image=gone)
    with pytest.raises(PastepotError) as caught:
        render(film / "f")
    told = {problem.file: problem.what for problem in caught.value.problems}
    assert told["//props.blend"] == "The library 'props.blend' is missing."
    assert told["//parts/gone.png"] == "The image 'gone' is missing."
    assert not (film / "f").exists()


def test_a_missing_picture_that_only_the_window_shows_is_no_matter(film):
    gone = bpy.data.images.new("gone", 2, 2)
    gone.source, gone.filepath = "FILE", "//sketch.png"
    sketch = bpy.data.objects.new("sketch", None)
    sketch.empty_display_type, sketch.data = "IMAGE", gone
    scene().collection.objects.link(sketch)
    assert external.missing() == []


def test_packed_images_are_not_missing(film):
    image = bpy.data.images.new("heron", 2, 2)
    image.filepath_raw, image.file_format = str(film / "heron.png"), "PNG"
    image.save()
    image = bpy.data.images.load(str(film / "heron.png"))
    glow(bpy.data.materials["paper"], image=image)
    image.pack()
    (film / "heron.png").unlink()
    assert external.missing() == []


def test_sources_are_named_from_the_scene_and_leave_sounds_and_blender_out(film):
    for name in ("mouth_0001.png", "mouth_0002.png"):
        image = bpy.data.images.new("mouth", 2, 2)
        image.filepath_raw, image.file_format = str(film / name), "PNG"
        image.save()
        bpy.data.images.remove(image)
    image = bpy.data.images.load(str(film / "mouth_0001.png"))
    image.source = "SEQUENCE"
    bpy.data.sounds.load(str(film / "line.wav"))
    assert [source.name for source in external.sources()] == ["//mouth_0001.png", "//mouth_0002.png"]


def test_a_scene_saved_while_blender_was_starting_is_not_trusted(film):
    wanted = hashlib.sha256((film / "waiting.blend").read_bytes()).hexdigest()
    order = {"output": str(film / "f"), "last": 2, "content": wanted}
    assert step.job(order, Say())["rendered"] == 1
    bpy.data.objects["snail"].location.y = 1
    save(film / "waiting.blend")
    with pytest.raises(PastepotError, match="saved while the render was starting"):
        step.job(order, Say())


def test_a_scene_without_camera_is_told(film):
    scene().camera = None
    scene().render.use_multiview = True
    with pytest.raises(PastepotError) as caught:
        render(film / "f")
    assert [problem.what[:27] for problem in caught.value.problems] == [
        "The scene has no camera.",
        "The scene is set to stereo,",
    ]


def test_a_scene_that_skips_frames_is_told(film):
    """The step was passed over in silence once, and every frame rendered."""
    scene().frame_step = 2
    with pytest.raises(PastepotError, match=r"skip frames .Step 2.*to 1"):
        render(film / "f")
    assert not (film / "f").exists()


def test_frames_that_are_none_are_misuse(film):
    with pytest.raises(Misuse, match=r"The frames 20 to 12 are none\. The scene has 1 to 12"):
        render(film / "f", first=20)


def test_samples_that_an_engine_cannot_take_are_misuse(film):
    with pytest.raises(Misuse, match="Workbench takes 5, 8, 11, 16, 32"):
        render(film / "f", overrides=rendering.Overrides(engine="workbench", samples=7))
    assert scene().render.engine == "CYCLES"


@pytest.mark.parametrize(
    ("engine", "read"),
    [
        ("cycles", lambda s: s.cycles.samples),
        ("eevee", lambda s: s.eevee.taa_render_samples),
        ("workbench", lambda s: int(s.display.render_aa)),
    ],
)
def test_samples_reach_every_engine(film, engine, read):
    with rendering.set_up(scene(), rendering.Overrides(engine=engine, samples=16)):
        assert scene().render.engine == rendering.ENGINES[engine]
        assert read(scene()) == 16
    assert scene().render.engine == "CYCLES"


def test_a_cropped_region_is_rendered_at_its_own_size(film):
    settings = scene().render
    settings.use_border = settings.use_crop_to_border = True
    settings.border_max_x = 0.5
    render(film / "f", last=2)
    width, height = json.loads((film / "f" / "frames.json").read_text())["size"]
    assert width < 40
    assert height == 36


def test_frames_of_somebody_else_are_left_alone(film):
    (film / "f").mkdir()
    (film / "f" / "frame_0003.png").write_bytes(b"mine")
    with pytest.raises(PastepotError, match=r"frame_0003\.png"):
        render(film / "f")
    assert [path.name for path in (film / "f").iterdir()] == ["frame_0003.png"]


# ── the operator ───────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture
def registered():
    pastepot_blender.register()
    yield
    pastepot_blender.unregister()
    assert not hasattr(bpy.types.Scene, "pastepot_render")


def call(identifier):
    return getattr(bpy.ops.pastepot, identifier.partition(".")[2])


@pytest.mark.usefixtures("registered")
def test_the_button_renders_beside_the_scene(film):
    assert call(ids.RENDER)() == {"FINISHED"}
    assert len(frame_files(film / "renders" / "waiting")) == LAST


@pytest.mark.usefixtures("registered")
def test_the_button_renders_what_is_open_even_if_it_is_not_saved(film):
    scene().pastepot_render.folder = "//mine"
    scene().pastepot_render.every_frame = True
    assert call(ids.RENDER)() == {"FINISHED"}
    before = frame_files(film / "mine")
    bpy.data.objects["snail"].location.y = 1
    bpy.data.objects["snail"].scale.x = 2
    assert call(ids.RENDER)() == {"FINISHED"}
    assert frame_files(film / "mine") != before


@pytest.mark.usefixtures("registered")
def test_without_a_saved_file_the_button_is_grey_and_says_why():
    assert not call(ids.RENDER).poll()
    with pytest.raises(RuntimeError, match="Save the scene first"):
        call(ids.RENDER)()


@pytest.mark.usefixtures("registered")
def test_problems_are_reported(film):
    scene().camera = None
    with pytest.raises(RuntimeError, match="The scene has no camera"):
        call(ids.RENDER)()


@pytest.mark.usefixtures("registered")
def test_stopping_is_for_a_running_render_only():
    assert not call(ids.STOP).poll()
