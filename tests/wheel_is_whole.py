"""Fail if the built wheel lacks a file of the three rooms: ``wheel_is_whole.py DIST``."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
PLACES = {
    "analysis": "kikichoko/analysis",
    "forms": "kikichoko/forms",
    "panel": "kikichoko/panel",
    "panel/door": "kikichoko",
    "demo_sessions": "kikichoko/panel/demo_sessions",
}


def missing(wheel: Path) -> list[str]:
    """Name the files of the rooms that the wheel does not hold."""
    held = set(zipfile.ZipFile(wheel).namelist())
    return [
        str(path.relative_to(ROOT))
        for folder, place in PLACES.items()
        for path in sorted((ROOT / folder).rglob("*"))
        if path.is_file() and "__pycache__" not in path.parts
        if folder == "panel/door" or ROOT / "panel/door" not in path.parents
        if f"{place}/{path.relative_to(ROOT / folder).as_posix()}" not in held
    ]


if __name__ == "__main__":
    (built,) = Path(sys.argv[1]).glob("*.whl")
    lacking = missing(built)
    for name in lacking:
        sys.stderr.write(f"the wheel lacks {name}\n")
    sys.exit(bool(lacking))
