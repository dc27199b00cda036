"""The files of a new session folder."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..base.errors import InputRefused
from ..base.private_files import close


def write_template(folder: Path, card: str = "full") -> list[Path]:
    """Write a new session folder with a card; never into one that holds files already.

    Raises
    ------
    InputRefused
        If the folder exists and is not empty, or is a file.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputRefused("folder.exists", folder=folder)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for source in sorted(files(__package__).joinpath("template").iterdir(), key=lambda f: f.name):
        target = folder / source.name
        text = source.read_bytes()
        if source.name == "session.toml":
            text = text.replace(b'card = "full"', f'card = "{card}"'.encode())
        target.write_bytes(text)
        if source.name == "names.csv":
            close(target)
        written.append(target)
    return written
