"""Files and folders that only their owner can read, where the system knows owners."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def private_folder(path: Path) -> Path:
    """Make a folder that only its owner can enter; one that is there is closed."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    close(path)
    return path


def close(path: Path) -> None:
    """Leave a file or folder to its owner alone (mode 0600 or 0700)."""
    if os.name == "posix" and path.exists():
        with suppress(PermissionError):  # a disk without rights: `check` tells it
            path.chmod(0o700 if path.is_dir() else 0o600)


def is_closed(path: Path) -> bool:
    """Tell whether nobody but the owner can read a file or folder; True where that is unknown."""
    return os.name != "posix" or not path.stat().st_mode & 0o077
