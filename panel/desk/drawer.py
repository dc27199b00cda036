"""What is at hand while a desk is open: tables that were dropped on it, and what commands made.

A folder of this machine's place for such things, taken away when the desk ends.
"""

from __future__ import annotations

import shutil
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

MOST = 40
"""Dropped tables, and runs of commands, of which the last are kept."""


class Drawer:
    """The folder of one desk."""

    def __init__(self) -> None:
        self._folder = TemporaryDirectory(prefix="kikichoko-desk-")
        self._numbers = count(1)
        self._dropped: dict[str, Path] = {}
        self._made: dict[str, Path] = {}

    def keep(self, path: Path) -> str:
        """Keep a dropped file; return the name under which it can be chosen again."""
        number = next(self._numbers)
        place = Path(self._folder.name) / str(number) / path.name
        place.parent.mkdir()
        shutil.move(path, place)
        name = f"{number}: {path.name}"
        self._dropped[name] = place
        self._forget_oldest(self._dropped)
        return name

    @property
    def dropped(self) -> dict[str, Path]:
        """What was dropped, by the name under which it can be chosen."""
        return {name: path for name, path in self._dropped.items() if path.is_file()}

    def room(self) -> tuple[str, Path]:
        """Make an empty folder for what a command writes; return its name and itself."""
        name = str(next(self._numbers))
        self._made[name] = Path(self._folder.name) / name / "made"
        self._made[name].mkdir(parents=True)
        self._forget_oldest(self._made)
        return name, self._made[name]

    def made(self, name: str) -> dict[str, Path]:
        """Return the files that a command wrote, by their path in its folder."""
        folder = self._made.get(name)
        if folder is None:
            return {}
        return {
            one.relative_to(folder).as_posix(): one
            for one in sorted(folder.rglob("*"))
            if one.is_file() and not one.is_symlink()
        }

    def _forget_oldest(self, kept: dict[str, Path]) -> None:
        while len(kept) > MOST:
            shutil.rmtree(kept.pop(next(iter(kept))).parent, ignore_errors=True)

    def close(self) -> None:
        """Take the folder away."""
        self._folder.cleanup()
