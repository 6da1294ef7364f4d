"""`make bench`: runs every bench_*.py beside this file and prints one table; exit code 1 if a bar is missed.

Each has run() -> rows (see rows.py). A ratio compares two things done in the same run on the same machine.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import traceback
from pathlib import Path
from types import ModuleType

from rows import Row

HERE = Path(__file__).resolve().parent
TITLES = ("what", "seconds", "against", "ratio", "bar", "")


def load(path: Path) -> ModuleType:
    """The module of one bench file."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


def cells(row: Row) -> tuple[str, ...]:
    """The row as it is printed."""
    ratio = f"{row.ratio:.3g}" if row.baseline else ""
    return row.name, f"{row.seconds:.3f}", row.baseline, ratio, row.bar, "good" if row.ok else "MISSED"


def table(rows: list[Row]) -> str:
    """Aligned columns, numbers to the right."""
    lines = [TITLES, *map(cells, rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    right = (False, True, False, True, False, False)
    return "\n".join(
        "  ".join(c.rjust(w) if r else c.ljust(w) for c, w, r in zip(line, widths, right, strict=True)).rstrip()
        for line in lines
    )


def main() -> int:
    """Run what was asked for; 0 if every bar is met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("only", nargs="*", help="parts of bench files' names (all)")
    only = parser.parse_args().only
    rows: list[Row] = []
    broken = []
    for path in sorted(HERE.glob("bench_*.py")):
        if only and not any(part in path.stem for part in only):
            continue
        print(f"{path.stem} ...", file=sys.stderr, flush=True)
        try:
            rows += load(path).run()
        except Exception:  # the other figures are still wanted
            traceback.print_exc()
            broken.append(path.stem)
    print(table(rows))
    missed = [row.name for row in rows if not row.ok]
    for name in broken:
        print(f"{name} broke off, see above.")
    if not rows:
        print("Nothing was measured.")
    return 1 if missed or broken or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
