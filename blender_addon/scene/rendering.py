"""Rendering single pictures of a scene into given files, with settings that are put back afterwards."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import bpy
from pastepot.errors import Misuse, PastepotError, Problem

from .. import host

ENGINES = {"cycles": "CYCLES", "eevee": host.EEVEE, "workbench": "BLENDER_WORKBENCH"}

# So many samples Workbench can take for smooth edges.
_WORKBENCH = (5, 8, 11, 16, 32)


@dataclass(frozen=True)
class Overrides:
    """What the person wants otherwise than the scene has it; None and '': as it is."""

    engine: str = ""
    samples: int | None = None
    percent: int | None = None


def scene_problems(scene: bpy.types.Scene) -> list[Problem]:
    """What keeps the scene from being rendered at all."""
    found = []
    if scene.camera is None and not any(marker.camera for marker in scene.timeline_markers):
        found.append(Problem("The scene has no camera.", "Add one and make it the active camera.", part=scene.name))
    if scene.render.use_multiview:
        found.append(
            Problem(
                "The scene is set to stereo, with several pictures a frame.",
                "Turn off Stereoscopy in the output properties.",
                part=scene.name,
            )
        )
    if scene.frame_step != 1:
        found.append(
            Problem(
                f"The scene is set to skip frames (Step {scene.frame_step}).",
                "Set Step, below the frame range in the output properties, to 1; held frames cost nothing anyway.",
                part=scene.name,
            )
        )
    return found


def size(scene: bpy.types.Scene) -> tuple[int, int] | None:
    """Width and height of the pictures; None where only the renderer knows (cropped to a region)."""
    render = scene.render
    if render.use_border and render.use_crop_to_border:
        return None
    percent = render.resolution_percentage
    return render.resolution_x * percent // 100, render.resolution_y * percent // 100


def fps(scene: bpy.types.Scene) -> Fraction:
    """The scene's frames a second, exact: 24 over a base of 1.001, which Blender keeps as a float, is 24000/1001."""
    return scene.render.fps / Fraction(scene.render.fps_base).limit_denominator(1001)


@contextlib.contextmanager
def set_up(scene: bpy.types.Scene, overrides: Overrides) -> Iterator[dict[str, Any]]:
    """The scene made ready for single opaque PNGs; gives the settings that shape the pictures, and ends as it began.

    Raises Misuse for a setting that the engine cannot take.
    """
    with contextlib.ExitStack() as undo:
        _apply(scene, overrides, undo)
        render, image = scene.render, scene.render.image_settings
        undo.callback(_set, image, host.image_format(image))
        host.use_png(image)
        _set(image, {"color_mode": "RGB", "color_depth": "8", "compression": 15})
        for name, value in _FILES.items():
            _change(render, name, value, undo)
        if not render.use_stamp:
            for name in _told_in_file(render):
                _change(render, name, name == _LABELS, undo)
        undo.callback(scene.frame_set, scene.frame_current)
        yield asdict(overrides) | {"blender": bpy.app.version_string, "device": _device(scene, undo)}


# Held data between two pictures: two to three times as fast, and the same pixels.
_FILES = {
    "film_transparent": False,
    "use_persistent_data": True,
    "use_file_extension": True,
    "use_overwrite": True,
    "use_placeholder": False,
    "filepath": "",
}


_LABELS = "use_stamp_labels"


def _told_in_file(render: bpy.types.RenderSettings) -> list[str]:
    """The switches of what Blender writes into a file as text: date, render time and more, never twice the same.

    Only where all are off does it write none; labels count as off when they are on.
    """
    return [name for name in render.bl_rna.properties.keys() if name.startswith("use_stamp_")]  # noqa: SIM118


def _apply(scene: bpy.types.Scene, overrides: Overrides, undo: contextlib.ExitStack) -> None:
    if overrides.engine:
        _change(scene.render, "engine", ENGINES[overrides.engine], undo)
    if overrides.percent is not None:
        _change(scene.render, "resolution_percentage", overrides.percent, undo)
    if overrides.samples is None:
        return
    engine = scene.render.engine
    if engine == "CYCLES":
        _change(scene.cycles, "samples", overrides.samples, undo)
    elif engine == host.EEVEE:
        _change(scene.eevee, "taa_render_samples", overrides.samples, undo)
    elif engine == "BLENDER_WORKBENCH" and overrides.samples in _WORKBENCH:
        _change(scene.display, "render_aa", str(overrides.samples), undo)
    else:
        allowed = ", ".join(map(str, _WORKBENCH))
        raise Misuse(Problem(f"{engine} cannot take {overrides.samples} samples.", f"Workbench takes {allowed}."))


def _set(owner: Any, values: Mapping[str, Any]) -> None:
    for name, value in values.items():
        setattr(owner, name, value)


def _change(owner: Any, name: str, value: Any, undo: contextlib.ExitStack) -> None:
    undo.callback(setattr, owner, name, getattr(owner, name))
    setattr(owner, name, value)


def _device(scene: bpy.types.Scene, undo: contextlib.ExitStack) -> str:
    """What Cycles renders on: the processor, unless the scene and the person's preferences both say otherwise."""
    if scene.render.engine != "CYCLES" or scene.cycles.device == "CPU":
        return "CPU"
    kind = bpy.context.preferences.addons["cycles"].preferences.compute_device_type
    if kind == "NONE":
        _change(scene.cycles, "device", "CPU", undo)
        return "CPU"
    return str(kind)


def render(scene: bpy.types.Scene, frame: int, path: Path) -> None:
    """Render one frame of the scene in the window into the file. PastepotError with Blender's words if it fails."""
    scene.frame_set(frame)
    scene.render.filepath = str(path)
    try:
        bpy.ops.render.render(write_still=True)
    except RuntimeError as error:
        said = str(error).strip().removeprefix("Error: ")
        fix = "Render again: what is finished is kept."
        if scene.render.engine != "CYCLES":
            fix = "If this computer has no graphics for it, render with --engine cycles."
        raise PastepotError(Problem(f"Blender could not render frame {frame}: {said}", fix)) from error
