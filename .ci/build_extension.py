"""Builds the Blender extension: our Blender side, the core and the libraries it stands on as wheels, in one zip.

There are two: one of pure Python for every system, and one for this system that also holds the film encoder. The same
sources give the same bytes. Blender's own extension tool, which comes with bpy, checks and packs them.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from pathlib import Path

import tomlkit
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
CORE = ROOT / "core" / "pastepot"
BLENDER_SIDE = ROOT / "blender_addon"
WHEELS = ROOT / "build" / "wheels"  # kept, so that only the first build needs a package index

# Pure Python, so that one zip fits every system and Python. Never numpy: Blender brings its own, and an extension's
# wheels would go before it.
LIBRARIES = ("attrs", "jsonschema", "pyrsistent", "tomlkit")
# Compiled, but for any Python from 3.11 on; one wheel for each system.
ENCODER = "av"
PLATFORMS = {
    ("Linux", "x86_64"): "linux-x64",
    ("Windows", "AMD64"): "windows-x64",
    ("Darwin", "arm64"): "macos-arm64",
    ("Darwin", "x86_64"): "macos-x64",
}

DATE = (2020, 2, 2, 0, 0, 0)  # of every file in the zip, as hatchling does it in a wheel
UNWANTED = shutil.ignore_patterns("__pycache__", "*.pyc", ".*")


class BuildError(Exception):
    """The extension can't be built; says why and what to do."""


def core_digest() -> str:
    """A short name for the exact contents of the core."""
    digest = hashlib.sha256()
    for path in sorted(CORE.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(f"{path.relative_to(CORE).as_posix()}\0{path.stat().st_size}\0".encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def version() -> str:
    """The one version of manifest and core."""
    manifest = tomllib.loads((BLENDER_SIDE / "blender_manifest.toml").read_text(encoding="utf-8"))["version"]
    core = _core_version((CORE / "__init__.py").read_text(encoding="utf-8"))
    if manifest != core:
        raise BuildError(
            f"blender_manifest.toml says version {manifest}, core/pastepot/__init__.py says {core}. Make them agree."
        )
    return core


def _core_version(source: str) -> str:
    match = re.search(r'^__version__ = "(.+)"$', source, re.MULTILINE)
    if match is None:
        raise BuildError('core/pastepot/__init__.py has no line __version__ = "...".')
    return match[1]


def build_core(into: Path, work: Path) -> None:
    """The core's wheel, without the Blender side.

    Its version carries a digest: Blender keeps an installed wheel whose version it already has, so that a core changed
    under the same version would never arrive.
    """
    staged = work / "core-source"
    shutil.copytree(CORE, staged / "core" / "pastepot", ignore=UNWANTED)
    shutil.copy(ROOT / "LICENSE", staged)
    init = staged / "core" / "pastepot" / "__init__.py"
    source = init.read_text(encoding="utf-8")
    plain = _core_version(source)
    init.write_text(source.replace(f'"{plain}"', f'"{plain}+g{core_digest()}"'), encoding="utf-8")

    project = tomlkit.parse((ROOT / "pyproject.toml").read_text(encoding="utf-8")).unwrap()
    del project["project"]["readme"], project["project"]["scripts"], project["project"]["optional-dependencies"]
    project["tool"] = {
        "hatch": {
            "version": project["tool"]["hatch"]["version"],
            "build": {"targets": {"wheel": {"packages": ["core/pastepot"]}}},
        }
    }
    (staged / "pyproject.toml").write_text(tomlkit.dumps(project), encoding="utf-8")
    _run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(into)], cwd=staged)


def gather_libraries(into: Path) -> None:
    """Copy the libraries' wheels, downloading those that an earlier build has not left in build/wheels."""
    pins = _pins(*LIBRARIES)
    missing = [pin for pin in pins if not (WHEELS / _wheel_name(pin)).exists()]
    if missing:
        pure = ["--no-deps", "--only-binary=:all:", "--platform=any", "--implementation=py", "--abi=none"]
        command = [sys.executable, "-m", "pip", "download", "-q", "--disable-pip-version-check", *pure]
        try:
            _run([*command, "-d", str(WHEELS), *missing], cwd=ROOT)
        except BuildError as error:
            raise BuildError(
                f"{error}\npip could not download the libraries that go into the extension ({', '.join(missing)}).\n"
                f"The first build needs a package index. Without one, put these into {WHEELS.relative_to(ROOT)}:\n"
                + "\n".join(f"  {_wheel_name(pin)}" for pin in missing)
            ) from None
    for pin in pins:
        shutil.copy(WHEELS / _wheel_name(pin), into)


def gather_encoder(into: Path) -> None:
    """Copy this system's wheel of the film encoder, downloading it if an earlier build has not."""
    (pin,) = _pins(ENCODER)
    pattern = pin.replace("==", "-") + "-*.whl"
    if not list(WHEELS.glob(pattern)):
        command = [sys.executable, "-m", "pip", "download", "-q", "--disable-pip-version-check", "--no-deps"]
        try:
            _run([*command, "--only-binary=:all:", "-d", str(WHEELS), pin], cwd=ROOT)
        except BuildError as error:
            raise BuildError(f"{error}\npip could not download the film encoder ({pin}) for this system.") from None
    shutil.copy(next(WHEELS.glob(pattern)), into)


def platform_name() -> str:
    """Blender's name for this system; '' for one that Blender's extensions do not know."""
    return PLATFORMS.get((platform.system(), platform.machine()), "")


def _pins(*names: str) -> list[str]:
    """name==version of these libraries, from the constraints."""
    found = {}
    for line in (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            pin = Requirement(line)
            if pin.marker is None or pin.marker.evaluate({"python_version": "3.11"}):
                found[pin.name] = f"{pin.name}{pin.specifier}"
    return [found[name] for name in names]


def _wheel_name(pin: str) -> str:
    return pin.replace("==", "-") + "-py3-none-any.whl"


def stage(work: Path, with_encoder: bool) -> Path:
    """Lay out the extension's folder as it is to be packed."""
    folder = work / "extension"
    shutil.copytree(BLENDER_SIDE, folder, ignore=UNWANTED)
    shutil.copy(ROOT / "LICENSE", folder)
    wheels = folder / "wheels"
    wheels.mkdir()
    build_core(wheels, work)
    gather_libraries(wheels)
    if with_encoder:
        gather_encoder(wheels)

    manifest_file = folder / "blender_manifest.toml"
    manifest = tomlkit.parse(manifest_file.read_text(encoding="utf-8"))
    manifest["wheels"] = tomlkit.array([f"./wheels/{path.name}" for path in sorted(wheels.iterdir())]).multiline(True)
    if with_encoder:
        manifest["platforms"] = [platform_name()]
    manifest_file.write_text(tomlkit.dumps(manifest), encoding="utf-8")
    return folder


def extension_tool() -> Path:
    """Blender's own tool for extensions, found without starting Blender."""
    bpy = importlib.util.find_spec("bpy")
    if bpy is None or bpy.origin is None:
        raise BuildError("This Python has no bpy, whose extension tool is needed. Run: make extension")
    return next(Path(bpy.origin).parent.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py"))


def build(output: Path, with_encoder: bool = False) -> Path:
    """Build a zip into the folder `output`; returns its path."""
    name = f"pastepot-{version()}{f'-{platform_name()}' if with_encoder else ''}.zip"
    tool = [sys.executable, str(extension_tool())]
    WHEELS.mkdir(parents=True, exist_ok=True)
    output.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="pastepot-") as folder:
        work = Path(folder)
        source = stage(work, with_encoder)
        _run([*tool, "validate", str(source)], cwd=work)
        _run([*tool, "build", "--source-dir", str(source), "--output-filepath", str(work / name)], cwd=work)
        _run([*tool, "validate", str(work / name)], cwd=work)
        _pack_again(work / name, output / f".{name}")
    (output / f".{name}").replace(output / name)
    return output / name


def _pack_again(source: Path, target: Path) -> None:
    """The same files without what differs from one disk and clock to the next: order, dates, permissions."""
    with zipfile.ZipFile(source) as packed, zipfile.ZipFile(target, "w") as same:
        for name in sorted(set(packed.namelist())):
            info = zipfile.ZipInfo(name, date_time=DATE)
            info.external_attr = 0o644 << 16
            wheel = name.endswith(".whl")  # compressed already
            same.writestr(info, packed.read(name), zipfile.ZIP_STORED if wheel else zipfile.ZIP_DEFLATED, 9)


def _run(command: list[str], cwd: Path) -> None:
    done = subprocess.run(command, cwd=cwd, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    if done.returncode:
        raise BuildError(f"{(done.stdout + done.stderr).strip()}\nThat was: {' '.join(command)}")


def main() -> int:
    """Build; 0 if it worked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--output", type=Path, default=ROOT / "dist", help="the folder the zip goes to (dist)")
    parser.add_argument("--pure", action="store_true", help="only the zip for every system")
    args = parser.parse_args()
    try:
        for with_encoder in (False,) if args.pure or not platform_name() else (False, True):
            path = build(args.output, with_encoder)
            print(f"{path} ({path.stat().st_size / 1024:.0f} kB)")
    except BuildError as error:
        print(f"The extension was not built.\n{error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
