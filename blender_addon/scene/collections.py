"""Collections: film, then character, then type. Each knows its place by a custom property, so renaming one is fine."""

from __future__ import annotations

import bpy

from .. import ids

ASIDE = "film:aside"


class Tree:
    """The film's collections in one scene, found by place or made."""

    def __init__(self, scene: bpy.types.Scene, title: str) -> None:
        self._found = {c[ids.PLACE]: c for c in _within(scene.collection) if ids.PLACE in c}
        self.film = self._ensure("film", title, scene.collection)

    def of(self, character: str, type_: str) -> bpy.types.Collection:
        """The collection of one type of part of one character."""
        parent = self._ensure(f"character:{character}", character, self.film)
        return self._ensure(f"type:{character}:{type_}", f"{character} {type_}", parent)

    def character(self, character: str) -> bpy.types.Collection:
        """The collection of one character."""
        return self._ensure(f"character:{character}", character, self.film)

    def aside(self) -> bpy.types.Collection:
        """Where parts wait that the library no longer has: kept, not rendered."""
        made = ASIDE not in self._found
        collection = self._ensure(ASIDE, "Set aside", self.film)
        if made:
            collection.hide_render = collection.hide_viewport = True
        return collection

    def put_aside(self, objects: list[bpy.types.Object]) -> None:
        """Move objects out of all their collections; they wait with the parts that the library no longer has."""
        for obj in objects:
            for collection in list(obj.users_collection):
                collection.objects.unlink(obj)
            self.aside().objects.link(obj)

    def is_ours(self, collection: bpy.types.Collection) -> bool:
        """Whether this is one of the film's own collections."""
        return ids.PLACE in collection

    def move(self, obj: bpy.types.Object, target: bpy.types.Collection) -> bool:
        """Take the object from our collections into `target`; the animator's own collections keep it too."""
        ours = [c for c in obj.users_collection if self.is_ours(c)]
        if ours == [target]:
            return False
        if target not in ours:
            target.objects.link(obj)
        for collection in ours:
            if collection != target:
                collection.objects.unlink(obj)
        return True

    def _ensure(self, place: str, name: str, parent: bpy.types.Collection) -> bpy.types.Collection:
        if place not in self._found:
            collection = bpy.data.collections.new(name)
            collection[ids.PLACE] = place
            parent.children.link(collection)
            self._found[place] = collection
        return self._found[place]


def _within(collection: bpy.types.Collection) -> list[bpy.types.Collection]:
    return list(collection.children_recursive)
