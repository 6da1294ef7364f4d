"""Smooth actions read as rows, and handmade actions written beside them; the smooth ones are never touched."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from pastepot.timing.handmade import Exposed, Role, Rows

from .. import host, ids
from .curves import sample_action
from .targets import Target, smooth_action


@dataclass(frozen=True)
class Channel:
    """Where a row of values belongs."""

    target: Target
    path: str
    index: int
    still: float | None = None  # its value at rest, where only a hand's miss moves it


def read(found: list[Target], first: int, last: int, may_miss: bool) -> tuple[Rows, list[Channel]]:
    """Sample every target's channels on frames first..last. `may_miss`: add still channels that a hand may shift."""
    channels: list[Channel] = []
    values, keyed, roles, owners, jumps = [], [], [], [], []
    sampled: dict[bpy.types.Action, Any] = {}
    count = last - first + 1
    for number, target in enumerate(found):
        if target.action not in sampled:
            sampled[target.action] = sample_action(target.action, first, last)
        handle = _handle(target)
        present = set()
        for curve in host.fcurves(target.action, handle):
            role = target.role(curve.data_path, curve.array_index)
            if role is None or curve.mute or curve.is_empty:
                continue
            present.add((curve.data_path, curve.array_index))
            row = sampled[target.action][handle, curve.data_path, curve.array_index].copy()
            keyed.append(_mark_keys(curve, row, first))
            values.append(row)
            jumps.append(_jumps(curve))
            roles.append(role)
            owners.append(number)
            channels.append(Channel(target, curve.data_path, curve.array_index))
        if not may_miss or not any(target.role(*p) != Role.SHOWN for p in present):
            continue
        for path, index, still in target.can_miss():
            if (path, index) not in present:
                values.append(np.full(count, still, np.float32))
                keyed.append(np.zeros(count, bool))
                jumps.append(False)
                roles.append(target.role(path, index))
                owners.append(number)
                channels.append(Channel(target, path, index, still))
    rows = Rows(
        owners=tuple(t.owner for t in found),
        owner=np.array(owners, np.intp),
        role=np.array(roles, np.intp),
        values=np.array(values, np.float32).reshape(len(channels), count),
        keyed=np.array(keyed, bool).reshape(len(channels), count),
        exact=np.array([t.exact for t in found], bool),
        first=first,
        steps=np.array(jumps, bool),
    )
    return rows, channels


def _handle(target: Target) -> int:
    return next((handle for handle, identifier in host.slots(target.action) if identifier == target.slot), 0)


def _jumps(curve: bpy.types.FCurve) -> bool:
    """Whether the animator holds every key until the next."""
    kinds = np.empty(len(curve.keyframe_points), np.int32)
    curve.keyframe_points.foreach_get("interpolation", kinds)
    return bool((kinds == host.INTERPOLATION["CONSTANT"]).all())


def _mark_keys(curve: bpy.types.FCurve, row: np.ndarray, first: int) -> np.ndarray:
    """Which frames carry a key; a key between two frames counts on the nearest, and its own value is put there."""
    flags = np.zeros(len(row), bool)
    points = np.empty(2 * len(curve.keyframe_points), np.float32)
    curve.keyframe_points.foreach_get("co", points)
    times, heights = points.reshape(-1, 2).T
    at = np.floor(times + 0.5).astype(np.int64) - first
    inside = (at >= 0) & (at < len(row))
    flags[at[inside]] = True
    between = inside & (times != np.floor(times))
    row[at[between]] = heights[between]
    return flags


def write(channels: list[Channel], exposed: Exposed, owner: np.ndarray) -> tuple[int, list[str]]:
    """Write the exposures as constant keys into each target's handmade action and put that in use.

    exposed: one row per channel; owner: (K,) row -> target, for the mark on extremes.
    Returns the number of keys, and the names of earlier handmade actions kept because they were retouched.
    """
    by_target: dict[str, list[int]] = {}
    for row, channel in enumerate(channels):
        by_target.setdefault(channel.target.owner, []).append(row)
    keys, kept = 0, []
    for rows in by_target.values():
        target = channels[rows[0]].target
        if (old := _retire(target)) is not None:
            kept.append(old)
        action = host.copy_action(target.action, target.slot, f"{target.owner} handmade")
        _put_in_use(target, action)
        added = {f"{c.path}[{c.index}]": c.still for c in (channels[r] for r in rows) if c.still is not None}
        target.block[ids.REST] = added
        written = {}
        for row in rows:
            at = np.flatnonzero(exposed.changes[row])
            path, index = channels[row].path, channels[row].index
            pairs = np.column_stack([exposed.starts[at], exposed.values[row, at]]).astype(np.float32)
            curve = host.ensure_fcurve(target.block, path, index, "Handmade")
            write_keys(curve, pairs, exposed.extreme[owner[row], at])
            written[path, index] = pairs
            keys += len(at)
        action[ids.BUILT] = digest(action, written)
    return keys, kept


def _put_in_use(target: Target, action: bpy.types.Action) -> None:
    block = target.block
    block[ids.SMOOTH_ACTION], block[ids.SMOOTH_SLOT] = target.action, target.slot
    block[ids.HANDMADE_ACTION] = action
    host.assign(block, action, target.slot)


def _retire(target: Target) -> str | None:
    """Remove the last handmade action, or keep it under another name if the animator retouched it."""
    old = target.block.get(ids.HANDMADE_ACTION)
    return None if old is None else retire(old, f"{target.owner} handmade")


def retire(old: bpy.types.Action, name: str) -> str | None:
    """Remove an action that we wrote; if the animator retouched it keep it as '`name`, retouched', and say the name."""
    if is_untouched(old):
        bpy.data.actions.remove(old)
        return None
    old.name = f"{name}, retouched"
    old.use_fake_user = True
    return old.name


def is_untouched(action: bpy.types.Action) -> bool:
    """Whether we wrote the action and nobody changed it since."""
    return ids.BUILT in action and action[ids.BUILT] == digest(action)


def digest(action: bpy.types.Action, written: Mapping[tuple[str, int], np.ndarray] | None = None) -> str:
    """A fingerprint of the action's keys; `written`: those just written, which need not be read back."""
    total = hashlib.sha256()
    for curve in host.fcurves(action):
        points = (written or {}).get((curve.data_path, curve.array_index))
        if points is None:
            points = np.empty(2 * len(curve.keyframe_points), np.float32)
            curve.keyframe_points.foreach_get("co", points)
        total.update(f"{curve.data_path}[{curve.array_index}]".encode())
        total.update(points.tobytes())
    return total.hexdigest()


def write_keys(curve: bpy.types.FCurve, pairs: np.ndarray, extreme: np.ndarray) -> None:
    """Replace the curve's keys by constant ones at these (frame, value) pairs."""
    points = curve.keyframe_points
    points.clear()
    for modifier in list(curve.modifiers):  # they were honoured when the smooth curve was sampled
        curve.modifiers.remove(modifier)
    curve.extrapolation = "CONSTANT"
    points.add(len(pairs))
    points.foreach_set("co", pairs.ravel())
    # Blender keeps this in a byte, and takes an array of bytes ten times faster than one of integers
    points.foreach_set("interpolation", np.full(len(pairs), host.INTERPOLATION["CONSTANT"], np.uint8))
    # Blender's own marks: the animator's poses as extremes, what the hand set between them as jitter
    kinds = np.where(extreme, host.KEY_TYPE["EXTREME"], host.KEY_TYPE["JITTER"]).astype(np.int32)
    points.foreach_set("type", kinds)
    curve.update()


def switch(block: bpy.types.ID, handmade: bool) -> bool:
    """Put the handmade or the smooth action in use; False where there is no pair to switch between."""
    made = block.get(ids.HANDMADE_ACTION)
    keyed = smooth_action(block)
    if made is None or keyed is None:
        return False
    if handmade and block.animation_data.action != made:
        # what is in use now is what the animator keyed, even if it is not the action we started from
        block[ids.SMOOTH_ACTION], block[ids.SMOOTH_SLOT] = keyed
    if not handmade and block.animation_data.action == made:
        for name, value in block.get(ids.REST, {}).items():
            path, index = name[:-1].split("[")
            getattr(block, path)[int(index)] = value
    action, slot = (made, keyed[1]) if handmade else keyed
    host.assign(block, action, slot)
    return True
