"""Run as a script in a process of its own: installs the extension's zip into a Blender and answers one question.

BLENDER_USER_RESOURCES names the user folder. The order comes as JSON on standard input: {"ask": ..., "zip": ...} and
what the question needs (no "zip": it is installed already); the answer is the last line of standard output.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import importlib.metadata
import json
import os
import re
import sys
import types
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

# A Blender has none of our libraries of its own, but this Python may. Blender puts the wheels' folder before the rest
# if it is there at the start; in the session that makes it, it comes last.
WHEELS = Path(os.environ["BLENDER_USER_RESOURCES"], "extensions/.local/lib", "python{}.{}".format(*sys.version_info))
(WHEELS / "site-packages").mkdir(parents=True, exist_ok=True)

import bpy  # noqa: E402

MODULE = "bl_ext.user_default.pastepot"
BUNDLED = ("attrs", "jsonschema", "pastepot", "pyrsistent", "tomlkit")
HARMLESS = ("_distutils_hack", "pvectorc")  # this Python's own: a hook of setuptools, an option of pyrsistent's


def install(zip_path: str) -> None:
    """As a user does it: Preferences, Get Extensions, Install from Disk."""
    bpy.ops.extensions.package_install_files(filepath=zip_path, repo="user_default", enable_on_install=True)


def build(order: dict[str, Any]) -> dict[str, Any]:
    """Build the cast of order["film"] with the installed operators; what came of it and whose code that was."""
    import addon_utils  # only there once bpy is loaded

    chosen = bpy.ops.pastepot.choose_folder(directory=order["film"])
    built = bpy.ops.pastepot.build_cast()
    return {
        "enabled": list(addon_utils.check(MODULE)),
        "online": bpy.app.online_access,
        "results": [list(chosen), list(built)],
        "parts": sorted(o["pastepot_part"] for o in bpy.data.objects if "pastepot_part" in o),
        # Where Blender has one of these libraries itself (attrs in 5.2), either may have been first.
        "files": {name: importlib.import_module(name).__file__ for name in set(BUNDLED) - _with_its_needs("bpy")},
        "strangers": sorted(_strangers()),
    }


def film(order: dict[str, Any]) -> dict[str, Any]:
    """The sidebar's four main buttons, one after another, on a wing that flaps; what each said and where av is from."""
    bpy.ops.pastepot.choose_folder(directory=order["film"])
    results = [bpy.ops.pastepot.build_cast()]
    wing = next(o for o in bpy.data.objects if o.get("pastepot_part") == "wing")
    for frame, angle in ((1, 0.0), (12, 0.6), (24, 0.0)):
        wing.rotation_euler[1] = angle
        wing.keyframe_insert("rotation_euler", frame=frame)
    bpy.context.scene.cycles.samples = 1
    bpy.ops.wm.save_as_mainfile(filepath=order["blend"])
    results += [bpy.ops.pastepot.make_handmade(), bpy.ops.pastepot.render_pictures(), bpy.ops.pastepot.make_film()]
    return {"results": [list(result) for result in results], "encoder": importlib.import_module("av").__file__}


def _strangers() -> Iterator[str]:
    """Modules from this Python's site-packages that came neither with Blender nor in our wheels."""
    here = (bpy.utils.user_resource("EXTENSIONS"), Path(bpy.utils.system_resource("SCRIPTS")).parent)
    owners, known = importlib.metadata.packages_distributions(), _with_its_needs("bpy")
    for name, module in list(sys.modules.items()):
        path = Path("" if name in HARMLESS else getattr(module, "__file__", None) or "")
        foreign = "site-packages" in path.parts and not any(path.is_relative_to(folder) for folder in here)
        if foreign and "." not in name and known.isdisjoint(map(_plain, owners.get(name, [name]))):
            yield name


def _with_its_needs(distribution: str) -> set[str]:
    found, todo = {distribution}, [distribution]
    while todo:
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            for need in importlib.metadata.requires(todo.pop()) or ():
                name = _plain(re.split(r"[^\w-]", need)[0])
                if name not in found and "extra ==" not in need:
                    found.add(name)
                    todo.append(name)
    return found


def _plain(distribution: str) -> str:
    return distribution.lower().replace("_", "-")


def footprint() -> dict[str, list[str]]:
    """Everything an add-on can leave in a running Blender."""
    gc.collect()
    structs = [getattr(bpy.types, name) for name in sorted(dir(bpy.types))]
    structs = [struct for struct in structs if hasattr(struct, "bl_rna")]
    drawn = [(s.__name__, f) for s in structs for f in getattr(getattr(s, "draw", None), "_draw_funcs", ())]
    keymaps = [(c.name, m) for c in bpy.context.window_manager.keyconfigs for m in c.keymaps]
    handlers = [(n, getattr(bpy.app.handlers, n)) for n in dir(bpy.app.handlers)]
    return {
        "types": sorted(dir(bpy.types)),
        "registered classes": sorted(_registered_classes()),
        "properties": sorted(f"{s.__name__}.{name}" for s in structs for name in s.bl_rna.properties.keys()),  # noqa: SIM118
        "operators": sorted(f"{group}.{name}" for group in dir(bpy.ops) for name in dir(getattr(bpy.ops, group))),
        "draw functions": sorted(f"{name}: {f.__module__}.{f.__qualname__}" for name, f in drawn),
        "keymap items": sorted(f"{c}/{m.name}: {item.idname}" for c, m in keymaps for item in m.keymap_items),
        "handlers": sorted(f"{name}: {f}" for name, found in handlers if isinstance(found, list) for f in found),
        "timers": sorted(_timers()),
    }


def _registered_classes() -> Iterator[str]:
    for base in ("Operator", "Panel", "PropertyGroup", "Menu", "Header", "UIList", "AddonPreferences", "Gizmo"):
        for cls in getattr(bpy.types, base).__subclasses__():
            if getattr(cls, "is_registered", False):
                yield f"{cls.__module__}.{cls.__name__}"


def _timers() -> Iterator[str]:
    for name, module in list(sys.modules.items()):
        if name.startswith(MODULE):
            for key, value in vars(module).items():
                if isinstance(value, types.FunctionType) and bpy.app.timers.is_registered(value):
                    yield f"{name}.{key}"


def footprints(order: dict[str, Any]) -> dict[str, Any]:
    """What turning the add-on on adds, and what is left of it after turning it off and on and off again."""
    bpy.ops.preferences.addon_disable(module=MODULE)
    before = footprint()
    bpy.ops.preferences.addon_enable(module=MODULE)
    added = footprint()
    bpy.ops.preferences.addon_disable(module=MODULE)
    for _ in range(2):
        bpy.ops.preferences.addon_enable(module=MODULE)
        bpy.ops.preferences.addon_disable(module=MODULE)
    after = footprint()
    return {
        "added": {kind: sorted(set(added[kind]) - set(before[kind])) for kind in before},
        "left": {kind: _difference(before[kind], after[kind]) for kind in before if before[kind] != after[kind]},
    }


def _difference(before: list[str], after: list[str]) -> list[str]:
    gone = list(before)
    new = [x for x in after if not (x in gone and gone.remove(x) is None)]
    return [f"+ {x}" for x in new] + [f"- {x}" for x in gone]


def undescribed(order: dict[str, Any]) -> dict[str, Any]:
    """Our operators and properties, and those of them that a person hovering over gets no explanation for."""
    everything = {}
    for name in dir(bpy.ops.pastepot):
        rna = getattr(bpy.ops.pastepot, name).get_rna_type()
        everything[f"operator {name}"] = rna.description
        everything |= _descriptions(name, rna, bpy.types.OperatorProperties.bl_rna)
    for name in dir(bpy.types):
        cls = getattr(bpy.types, name)
        if getattr(cls, "__module__", "").startswith(MODULE) and issubclass(cls, bpy.types.PropertyGroup):
            everything |= _descriptions(name, cls.bl_rna, bpy.types.PropertyGroup.bl_rna)
    for struct in (getattr(bpy.types, name) for name in dir(bpy.types)):
        if hasattr(struct, "bl_rna"):
            for key, prop in struct.bl_rna.properties.items():
                if key.startswith("pastepot"):
                    everything[f"{struct.__name__}.{key}"] = prop.description
    return {"known": sorted(everything), "undescribed": sorted(k for k, text in everything.items() if not text)}


def _descriptions(name: str, rna: bpy.types.Struct, base: bpy.types.Struct) -> dict[str, str]:
    return {f"{name}.{key}": prop.description for key, prop in rna.properties.items() if key not in base.properties}


def upgrade(order: dict[str, Any]) -> dict[str, Any]:
    """Install order["newer"] over the first zip in the running Blender; the versions and marks in memory each time."""
    bpy.ops.pastepot.choose_folder(directory=order["film"])
    first = _in_memory()
    bpy.ops.extensions.package_install_files(filepath=order["newer"], repo="user_default", overwrite=True)
    built = bpy.ops.pastepot.build_cast()
    return {"first": first, "second": _in_memory(), "results": [list(built)]}


def _in_memory() -> dict[str, Any]:
    core, ids = sys.modules["pastepot"], sys.modules[f"{MODULE}.ids"]
    errors = sys.modules[f"{MODULE}.steps.build"].PastepotError
    return {
        "version": core.__version__,
        "marks": [getattr(core, "MARK", ""), getattr(ids, "MARK", "")],
        "one core": errors is sys.modules["pastepot.errors"].PastepotError,
    }


def job(order: dict[str, Any]) -> dict[str, Any]:
    """A job as the command line starts it inside a Blender program: everything it says."""
    module = __import__(f"{MODULE}.job", fromlist=["main"])
    said, real, sys.stdin = StringIO(), sys.stdout, StringIO(json.dumps(order["job"]))
    sys.stdout = said
    try:
        module.main()
    finally:
        sys.stdout = real
    return {"said": said.getvalue(), "wheels": sorted(p.name for p in (WHEELS / "site-packages").glob("pastepot*"))}


def main() -> None:
    """Install, ask, answer."""
    order = json.load(sys.stdin)
    if "zip" in order:
        install(order["zip"])
    else:
        bpy.ops.preferences.addon_enable(module=MODULE)
    questions = {f.__name__: f for f in (build, film, footprints, undescribed, upgrade, job)}
    answer = questions[order["ask"]](order)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    print("\n" + json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
