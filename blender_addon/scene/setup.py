"""The scene around the cast: rate, size, colour, camera and lamp."""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import bpy
from mathutils import Vector
from pastepot.errors import Problem
from pastepot.film import Film

from .. import ids
from . import paper
from .ownership import Ours

# The lamp stands to the upper left, its rays this far from straight on; the rest of the light has no direction.
LAMP_TILT_DEG = 38.0
LAMP_SHARE = 0.72
_CAMERA_DISTANCE = 20.0
_STARTUP = {"Cube", "Camera", "Light"}


def settle(scene: bpy.types.Scene, film: Film, fresh: bool) -> list[Problem]:
    """Bring the scene's settings to the film's. `fresh`: the scene is new, so every setting is ours to make.

    Returns warnings for settings that differ and are the animator's own.
    """
    ours = Ours(scene)
    render = scene.render
    fps, base = _rate(film)
    settings = [
        ("fps", fps, render, "fps"),
        ("fps_base", base, render, "fps_base"),
        ("width", film.size[0], render, "resolution_x"),
        ("height", film.size[1], render, "resolution_y"),
        ("view_transform", "Standard", scene.view_settings, "view_transform"),
    ]
    if film.shots:
        settings += [
            ("first", min(s.start for s in film.shots), scene, "frame_start"),
            ("last", max(s.end for s in film.shots), scene, "frame_end"),
        ]
    if fresh:
        settings += [
            ("dither", 0.0, render, "dither_intensity"),
            ("engine", "CYCLES", render, "engine"),
            ("samples", 32, scene.cycles, "samples"),
            ("denoise", False, scene.cycles, "use_denoising"),
            # one bounce for every layer that a ray may pass, and no light from paper to paper
            ("clear_bounces", 256, scene.cycles, "transparent_max_bounces"),
            # and no throw of dice whether a ray goes on through a soft edge, which shows as noise there
            ("sure_edges", 256, scene.cycles, "min_transparent_bounces"),
            ("diffuse_bounces", 0, scene.cycles, "diffuse_bounces"),
            ("start", min((s.start for s in film.shots), default=film.first_frame), scene, "frame_current"),
        ]
    for name, wanted, owner, prop in settings:
        ours.settle(name, wanted, getattr(owner, prop), lambda v, o=owner, p=prop: setattr(o, p, v), adopt=fresh)
    ours.save()
    warnings = [_kept(name) for name in ours.kept if name != "view_transform"]
    return warnings + _colour_warning(scene.view_settings.view_transform)


def _rate(film: Film) -> tuple[int, float]:
    """Blender's pair: a whole rate and its divisor, 24 and 1.001 for 24000/1001."""
    whole = round(film.fps)
    return whole, float(whole / film.fps)


def _kept(name: str) -> Problem:
    return Problem(
        f"The scene's own '{name}' differs from film.toml and was left alone.",
        "Change it in the scene, or in film.toml, so that both agree.",
        "film.toml",
        field=name,
        severity="warning",
    )


def _colour_warning(transform: str) -> list[Problem]:
    if transform == "Standard":
        return []
    what = f"The scene's view transform is {transform}, which shifts the paper's colours."
    fix = "Set Render > Color Management > View Transform to Standard, or keep it if that is the look you want."
    return [Problem(what, fix, severity="warning")]


def is_fresh(scene: bpy.types.Scene) -> bool:
    """Whether nobody has worked in this scene yet: it is empty, or holds what Blender starts with."""
    return ids.BUILT not in scene and all(o.name in _STARTUP and o.animation_data is None for o in scene.objects)


def camera(scene: bpy.types.Scene, film: Film, fresh: bool) -> bool:
    """Give the scene a camera that looks straight at the paper, if it has none of the animator's."""
    if scene.camera is not None and not fresh:
        return False
    data = bpy.data.cameras.new("Camera")
    data.type = "ORTHO"
    data.ortho_scale = film.frame_width_mm * film.units_per_mm
    made = bpy.data.objects.new("Camera", data)
    made.location = (0.0, -_CAMERA_DISTANCE, 0.0)
    made.rotation_euler = (pi / 2, 0.0, 0.0)
    scene.collection.objects.link(made)
    scene.camera = made
    return True


def look_through_camera(context: bpy.types.Context) -> None:
    """Show the paper in this 3D view as the camera will see it."""
    space = context.space_data
    if space is not None and space.type == "VIEW_3D":
        space.shading.type = "MATERIAL"
        space.region_3d.view_perspective = "CAMERA"


def look(scene: bpy.types.Scene, film: Film) -> bool:
    """The flat look shows the paper's own colours; the lit look adds a lamp whose full light shows them too."""
    lit = film.look == "lit"
    group = bpy.data.node_groups.get(paper.GROUP)
    if group is None:
        return False
    ours = Ours(group)
    ours.settle("lamp", LAMP_SHARE if lit else 0.0, paper.light_share(), paper.light_share)
    ours.save()
    return (_lamp(scene) if lit else False) or ours.changed


def _lamp(scene: bpy.types.Scene) -> bool:
    if any(o.type == "LIGHT" and _in_render(o) for o in scene.objects):
        return False
    data = bpy.data.lights.new("Lamp", "SUN")
    # Straight white light of this energy gives a matt white sheet a radiance of exactly 1.
    data.energy = pi / cos(radians(LAMP_TILT_DEG))
    data.angle = radians(5.0)
    made = bpy.data.objects.new("Lamp", data)
    made[ids.PLACE] = "lamp"
    made.rotation_mode = "QUATERNION"
    made.rotation_quaternion = _lamp_direction().to_track_quat("-Z", "Y")
    scene.collection.objects.link(made)
    return True


def _in_render(obj: bpy.types.Object) -> bool:
    return not obj.hide_render and not all(c.hide_render for c in obj.users_collection)


def _lamp_direction() -> Vector:
    """Away from the camera, and toward the lower right."""
    tilt = radians(LAMP_TILT_DEG)
    sideways = sin(tilt) / sqrt(2.0)
    return Vector((sideways, cos(tilt), -sideways))
