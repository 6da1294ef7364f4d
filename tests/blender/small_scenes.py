"""Small things that tests build scenes from, and look at them with."""

from __future__ import annotations

import bpy
import numpy as np
from pastepot_blender import host


def scene():
    return bpy.context.scene


def thing(name="heron", data="mesh"):
    """A new object in the scene."""
    block = bpy.data.meshes.new(name) if data == "mesh" else data
    made = bpy.data.objects.new(name, block)
    scene().collection.objects.link(made)
    return made


def key(block, path, values, index=0, interpolation="CONSTANT"):
    """Keys {frame: value} on block.path[index]."""
    curve = host.ensure_fcurve(block, path, index)
    for frame, value in values.items():
        curve.keyframe_points.insert(frame, value).interpolation = interpolation
    return curve


def material(name="paper"):
    made = bpy.data.materials.new(name)
    host.use_nodes(made)
    thing().data.materials.append(made)
    return made


def node_group(kind, *nodes):
    group = bpy.data.node_groups.new("trick", kind)
    group.use_fake_user = False
    made = [group.nodes.new(node) for node in nodes]
    owner = bpy.data.node_groups.new("outer", kind)  # something has to use it
    owner.use_fake_user = True
    owner.nodes.new({"G": "GeometryNodeGroup", "C": "CompositorNodeGroup"}[kind[0]]).node_tree = group
    return made


def sequence(source="SEQUENCE", **settings):
    tree = material().node_tree
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = bpy.data.images.new("mouth_0001", 4, 4)
    node.image.source = source
    for name, value in settings.items():
        setattr(node.image_user, name, value)
    return tree, node


def driver(expression="var", path="location", index=0, **variable):
    owner = thing()
    curve = owner.driver_add(path, index)
    curve.driver.expression = expression
    read = curve.driver.variables.new()
    read.name = "var"
    read.type = variable.get("type", "SINGLE_PROP")
    target = read.targets[0]
    if variable.get("scene"):
        target.id_type = "SCENE"
        target.id = scene()
    elif "id" in variable:
        target.id = variable["id"]
    target.data_path = variable.get("data_path", "")
    return owner, curve, target


def glow(material, colour=None, image=None):
    """Make the material shine by itself: the pictures then need one sample only."""
    host.use_nodes(material)
    tree = material.node_tree
    tree.nodes.clear()
    shader = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(shader.outputs[0], tree.nodes.new("ShaderNodeOutputMaterial").inputs[0])
    if colour:
        shader.inputs[0].default_value = (*colour, 1)
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = image
    if image:
        tree.links.new(node.outputs[0], shader.inputs[0])
    return node


def card(name, material):
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata([(-1, 0, -1), (1, 0, -1), (1, 0, 1), (-1, 0, 1)], [], [(0, 1, 2, 3)])
    mesh.uv_layers.new().data.foreach_set("uv", [0, 0, 1, 0, 1, 1, 0, 1])
    mesh.materials.append(material)
    made = bpy.data.objects.new(name, mesh)
    scene().collection.objects.link(made)
    return made


class Say:
    """Listens to a job."""

    def __init__(self):
        self.problems, self.steps = [], []

    def problem(self, problem):
        self.problems.append(problem)

    def progress(self, done, total, text):
        self.steps.append((done, total, text))


def pixels(path):
    image = bpy.data.images.load(str(path))
    values = np.empty(len(image.pixels), np.float32)
    image.pixels.foreach_get(values)
    bpy.data.images.remove(image)
    return values
