"""What in the scene is timed by hand: which datablocks, which of their channels, and what each is to a hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import bpy
from pastepot.timing.handmade import Role

from .. import host, ids

_OBJECT_ROLES = {
    ("location", 0): Role.SLIDE_X,
    ("location", 2): Role.SLIDE_Z,
    ("rotation_euler", 1): Role.TURN,  # parts stand in the xz plane
    ("hide_render", 0): Role.SHOWN,
    ("hide_viewport", 0): Role.SHOWN,
}
_POSE_PATHS = {
    "location", "rotation_euler", "rotation_quaternion", "rotation_axis_angle", "scale",
    "delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale",
}  # fmt: skip
_CAMERA_PATHS = {"ortho_scale", "lens", "shift_x", "shift_y"}


@dataclass(frozen=True)
class Target:
    """A datablock with smooth keys. `owner` names it for the random numbers; `exact`: no hand misses it."""

    block: bpy.types.ID
    owner: str
    exact: bool
    action: bpy.types.Action
    slot: str

    def role(self, path: str, index: int) -> Role | None:
        """What a channel is to a hand; None for those that are left as they are."""
        if isinstance(self.block, bpy.types.Camera):
            return Role.POSE if path in _CAMERA_PATHS else None
        role = _OBJECT_ROLES.get((path, index))
        return role if role is not None else (Role.POSE if path in _POSE_PATHS else None)

    def can_miss(self) -> list[tuple[str, int, float]]:
        """The channels in which a hand may miss, with their values at rest; empty for what is set exactly."""
        obj = self.block
        if self.exact or not isinstance(obj, bpy.types.Object):
            return []
        driven = {(d.data_path, d.array_index) for d in obj.animation_data.drivers}
        channels = [("location", 0), ("location", 2)]
        if obj.rotation_mode not in ("QUATERNION", "AXIS_ANGLE"):
            channels.append(("rotation_euler", 1))
        return [(path, index, self._at_rest(path, index)) for path, index in channels if (path, index) not in driven]

    def _at_rest(self, path: str, index: int) -> float:
        """The value without a miss: while the handmade action is in use, the present one has the last miss in it."""
        if self.block.animation_data.action == self.block.get(ids.HANDMADE_ACTION):
            rest = self.block.get(ids.REST, {})
            if (name := f"{path}[{index}]") in rest:
                return rest[name]
        return getattr(self.block, path)[index]


def smooth_action(block: bpy.types.ID) -> tuple[bpy.types.Action, str] | None:
    """The action the animator keyed and its slot, whichever of the two is in use now; None where nothing is keyed."""
    data = block.animation_data
    if data is None:
        return None
    stored, made = block.get(ids.SMOOTH_ACTION), block.get(ids.HANDMADE_ACTION)
    if stored is not None and data.action is not None and data.action == made:
        return stored, block.get(ids.SMOOTH_SLOT, "")
    if data.action is None:
        return None
    return data.action, host.slot_identifier(data)


def targets(scene: bpy.types.Scene) -> list[Target]:
    """Everything animated in the film's collections, and the camera; in a fixed order."""
    seen: set[str] = set()
    found = []
    for block, owner, exact in _candidates(scene):
        if block.library is not None or (keyed := smooth_action(block)) is None:
            continue
        if owner in seen:  # a copy of a part is a piece of paper of its own
            owner = f"{owner} {block.name}"
        seen.add(owner)
        found.append(Target(block, owner, exact, *keyed))
    return found


def _candidates(scene: bpy.types.Scene) -> Iterator[tuple[bpy.types.ID, str, bool]]:
    film = [c for c in scene.collection.children_recursive if c.get(ids.PLACE) == "film"]
    objects = {obj.name: obj for c in film for obj in c.all_objects}
    for name in sorted(objects):
        obj = objects[name]
        if obj.type == "CAMERA":
            continue
        if ids.CHARACTER in obj:
            yield obj, f"character {obj[ids.CHARACTER]}", False
        else:
            yield obj, str(obj.get(ids.PART, name)), False
    for camera in sorted((o for o in scene.objects if o.type == "CAMERA"), key=lambda o: o.name):
        yield camera, f"camera {camera.name}", True
        yield camera.data, f"camera {camera.name} lens", True
