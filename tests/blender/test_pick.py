"""Picking by the paper under the pointer, against a picture that Cycles renders of the same scene."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
from pastepot_blender import ids
from pastepot_blender.scene import paper
from pastepot_blender.scene.graspable import sheets
from pastepot_blender.steps.build import build
from pastepot_blender.steps.pick import label
from PIL import Image
from test_outlines import obj, ring


def piled_up(pond: Path) -> None:
    for part, size in (("body", 200), ("wing", 160), ("eye-open", 90)):
        ring(pond / "parts" / f"{part}.png", size)
    build(bpy.context.scene, pond, lambda *_: None)
    obj("wing").rotation_euler[1] = 0.7
    obj("body").location = (0.03, 0, -0.05)
    obj("eye-open").scale = (-0.8, 1, 1.3)  # turned over
    bpy.context.view_layer.update()


def identities(folder: Path, names: list[str]) -> np.ndarray:
    """(H, W) which part Cycles shows in each pixel, by its place in `names`; -1 where none, or a mixture."""
    for number, name in enumerate(names):
        tree = next(m for m in bpy.data.materials if m.get(ids.PART) == name).node_tree
        flat = tree.nodes.new("ShaderNodeRGB")
        flat.outputs[0].default_value = (0, 0, 0, 1)
        flat.outputs[0].default_value[number // 2] = 1.0 if number % 2 else 0.5
        link = next(ln for ln in tree.links if ln.from_node.name == paper.IMAGE_NODE and ln.to_socket.name == "Color")
        tree.links.new(flat.outputs[0], link.to_socket)
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y, scene.cycles.samples = 320, 180, 4
    scene.camera.data.ortho_scale = 0.6
    scene.render.filepath = str(folder / "who.png")
    bpy.ops.render.render(write_still=True)
    picture = np.asarray(Image.open(folder / "who.png").convert("RGB")).astype(int)
    who = np.full(picture.shape[:2], -1)
    for number in range(len(names)):
        colour = np.zeros(3, int)
        colour[number // 2] = 255 if number % 2 else 188
        who[(np.abs(picture - colour) <= 1).all(axis=-1)] = number
    return who


def test_picks_agree_with_a_rendered_picture(pond: Path) -> None:
    piled_up(pond)
    objects, standing = sheets(bpy.context.view_layer, pond)
    names = [o[ids.PART] for o in objects]
    who = identities(pond, names)
    random, wrong, asked, seen = np.random.default_rng(3), [], 0, set()
    while asked < 1000:
        row, column = random.integers(2, 178), random.integers(2, 318)
        around = who[row - 2 : row + 3, column - 2 : column + 3]
        if who[row, column] < 0 or (around != who[row, column]).any():
            continue
        asked += 1
        x, z = ((column + 0.5) / 320 - 0.5) * 0.6, (0.5 - (row + 0.5) / 180) * 0.6 * 180 / 320
        picked = standing.under(np.array([x, -20.0, z]), np.array([0.0, 1.0, 0.0]))
        seen.add(names[who[row, column]])
        if picked[:1] != [who[row, column]]:
            wrong.append((row, column, [names[n] for n in picked], names[who[row, column]]))
    assert not wrong
    assert seen == {"bank", "body", "wing", "eye-open"}


def test_hidden_parts_are_not_picked(pond: Path) -> None:
    piled_up(pond)
    obj("wing").hide_set(True)
    names = {o[ids.PART] for o in sheets(bpy.context.view_layer, pond)[0]}
    assert names == {"bank", "body", "eye-open"}  # eye-shut is the set's other piece


def test_a_label_names_the_part_and_its_character(pond: Path) -> None:
    piled_up(pond)
    assert label(obj("wing")) == "wing  (heron)"
