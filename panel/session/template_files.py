"""The files of a new session folder."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from pathlib import Path

from ..base.errors import InputRefused
from ..base.private_files import close
from ..base.whole_files import new_folder, whole_file
from ..base.words import reader

PRIVATE = "names.csv"
LAST = "session.toml"
"""Without it a folder is no session."""


def write_template(folder: Path, card: str = "full", *, alone: bool = False) -> list[Path]:
    """Write a new session folder with a card; never into one that holds other files.

    Parameters
    ----------
    folder : Path
    card : str
    alone : bool
        Whether one person pours and tastes.

    Raises
    ------
    InputRefused
        If the folder exists and is not empty, or is a file.
    """
    content = template(card)
    if alone:
        content[LAST] = (
            content[LAST]
            .replace(b"\nalone = false", b"\nalone = true")
            .replace(b'\nappearance = "flight"', b'\nappearance = "off"')
        )
        for name in ("assessors.csv", PRIVATE):  # the heading and the first person
            content[name] = b"".join(content[name].splitlines(keepends=True)[:2])
    return write_new(folder, content)


def template(card: str = "full") -> dict[str, bytes]:
    """Return the content of the files of a new session by name, in the reader's language."""
    base = files(__package__).joinpath("template")
    own = base.joinpath(reader())
    sources = [*base.iterdir(), *(own.iterdir() if own.is_dir() else ())]
    made = {source.name: source.read_bytes() for source in sources if source.is_file()}
    made[LAST] = made[LAST].replace(b'card = "full"', f'card = "{card}"'.encode())
    return dict(sorted(made.items()))


def table_text(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> bytes:
    """Write a table of a new session as CSV; what a row does not hold stays blank."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def write_new(folder: Path, content: dict[str, bytes]) -> list[Path]:
    """Write files into a new folder: all or none, or one by one where the folder was there.

    A folder that holds the first of these files and nothing else was begun by a call that
    was broken off; it is brought to its end.

    Raises
    ------
    InputRefused
        If the folder holds anything else, or all of these files, or is a file.
    """
    if not folder.exists() and not folder.is_symlink():
        folder.parent.mkdir(parents=True, exist_ok=True)
        with new_folder(folder) as aside:
            for name, text in content.items():
                _write(aside / name, text)
        return [folder / name for name in content]
    if folder.is_file():
        raise InputRefused("folder.is_a_file", folder=folder)
    begun = {path.name for path in folder.iterdir()} if folder.is_dir() else {""}
    if begun - set(content) or LAST in begun or any(
        (folder / name).read_bytes() != content[name] for name in begun
    ):  # fmt: skip
        raise InputRefused("folder.exists", folder=folder)
    for name in sorted(content, key=lambda name: (name == LAST, name)):
        with whole_file(folder / name) as aside:
            _write(aside, content[name])
    return [folder / name for name in content]


def _write(path: Path, content: bytes) -> None:
    """Write a file; names are closed to others before they stand in it."""
    path.touch()
    if path.name.endswith(PRIVATE):
        close(path)
    path.write_bytes(content)
