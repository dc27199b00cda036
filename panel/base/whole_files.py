"""Writing so that what stands under its name is whole, also after a power failure.

A file or folder is made aside, brought to the disk, and then takes its name in
one step. Names of what is made aside begin with ``.making-``; what a kill left of them
is removed by the next writing of the same name.

A folder that is written anew carries a list of its files with their checksums
(``.made.json``). By it the next writing tells what people have laid or changed
there: that is carried over, never removed.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

MADE = ".made.json"
_ASIDE = ".making-"
_BEFORE = ".before-"


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """Give a path to write to; the file takes its name when the block ends without a fault.

    Parameters
    ----------
    target : Path
        In a folder that exists. What stood there is replaced in one step; a link stays, and
        what it leads to is replaced.
    """
    if target.is_symlink():
        target = target.resolve()
    aside = target.with_name(f"{_ASIDE}{os.getpid()}-{target.name}")
    _remove_leftovers(target)
    try:
        yield aside
        to_disk(aside)
        aside.replace(target)
        to_disk(target.parent)
    finally:
        aside.unlink(missing_ok=True)


def write_text(target: Path, text: str, encoding: str = "utf-8") -> Path:
    """Write a text file whole; return its path."""
    return write_bytes(target, text.encode(encoding))


def write_bytes(target: Path, content: bytes) -> Path:
    """Write a file whole; return its path."""
    with whole_file(target) as aside:
        aside.write_bytes(content)
    return target


@contextmanager
def whole_folder(target: Path, *, beside: Sequence[Path] = ()) -> Iterator[Path]:
    """Give an empty folder to write into; it takes the name when the block ends without a fault.

    What people laid or changed in the folder that stood there is carried over; a file of
    theirs whose name is taken keeps it with `` (before)`` in it. What this program wrote
    before and does not write again is gone. A folder without a list, from an earlier
    version of this program or made by a person, is laid beside it as ``NAME (before)``.

    Parameters
    ----------
    target : Path
    beside : sequence of Path
        Files outside the folder that belong to it; their checksums go into its list.
    """
    restore(target)
    _remove_leftovers(target)
    aside = target.with_name(f"{_ASIDE}{os.getpid()}-{target.name}")
    try:
        aside.mkdir(parents=True)
        yield aside
        _note(aside, target, beside)
        _carry_over(target, aside)
        for path in sorted(aside.rglob("*"), reverse=True):
            to_disk(path)
        to_disk(aside)
        _swap(aside, target, ours=(target / MADE).is_file())
    finally:
        restore(target)
        shutil.rmtree(aside, ignore_errors=True)


@contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """Give an empty folder to write into; it takes a name that is free when the block ends."""
    _remove_leftovers(target)
    aside = target.with_name(f"{_ASIDE}{os.getpid()}-{target.name}")
    try:
        aside.mkdir(parents=True)
        yield aside
        for path in (*aside.iterdir(), aside):
            to_disk(path)
        aside.rename(target)
        to_disk(target.parent)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


@contextmanager
def own_folder(target: Path) -> Iterator[Path]:
    """Give a folder to write into; all in it takes its place at once where it is ours alone.

    A folder that somebody named and that holds other things stays where it is: what is
    written there is whole file by file.
    """
    if target.exists() and not made_files(target):
        yield target
        return
    with whole_folder(target) as aside:
        yield aside


@contextmanager
def renewed(folder: Path, *names: str) -> Iterator[Path]:
    """Give a folder with copies of some parts of another; they take their places afterwards.

    What the block does to the copies is done to all parts when it ends without a fault.
    A part that it took away goes first, then the others take their places one by one:
    the first name is the one that counts, and should come last if there are several.

    Parameters
    ----------
    folder : Path
    names : str
        Folders in it; those that are not there are made by the block.
    """
    for name in names:
        restore(folder / name)
        _remove_leftovers(folder / name)
    stage = folder / f"{_ASIDE}{os.getpid()}-{names[0]}"
    gone = []
    try:
        stage.mkdir()
        for name in names:
            if (folder / name).is_dir():
                _copy(folder / name, stage / name)
        yield stage
        for path in sorted(stage.rglob("*"), reverse=True):
            to_disk(path)
        for name in names:
            if (folder / name).is_dir() and not (stage / name).exists():
                gone.append(folder / f"{_BEFORE}{os.getpid()}-{name}")
                (folder / name).rename(gone[-1])
        for name in reversed(names):
            if (stage / name).is_dir():
                _swap(stage / name, folder / name, ours=True)
        for path in gone:
            _remove(path)
    finally:
        for name in names:
            restore(folder / name)
        shutil.rmtree(stage, ignore_errors=True)


def list_made(folder: Path, leave: Sequence[str] = ()) -> None:
    """Write the list of a folder anew: the files in it, not those in its folders, are ours.

    Those to `leave` go on changing and are watched otherwise.
    """
    made = {
        path.name: _digest(path)
        for path in sorted(folder.iterdir())
        if path.is_file() and path.name not in (MADE, *leave) and not path.name.startswith(_ASIDE)
    }
    _write_list(folder, made)


def _copy(folder: Path, target: Path) -> None:
    """Copy a folder with its rights; the first fault ends it, as it is."""
    target.mkdir()
    for path in sorted(folder.iterdir()):
        if path.is_dir():
            _copy(path, target / path.name)
        else:
            shutil.copy2(path, target / path.name)
    shutil.copymode(folder, target)


def _swap(aside: Path, target: Path, *, ours: bool) -> None:
    """Give the folder its name; another process that does the same is let through first."""
    before = target.with_name(f"{_BEFORE}{os.getpid()}-{target.name}")
    for _ in range(100):
        if ours and target.is_dir():
            target.rename(before)
        elif target.exists():
            target.rename(_unused(target))
        with suppress(FileExistsError, PermissionError):
            try:
                aside.rename(target)
                break
            except OSError as taken:
                if taken.errno != errno.ENOTEMPTY:
                    raise
        _remove(before)
    to_disk(target.parent)
    _remove(before)


def _remove(folder: Path) -> None:
    """Remove a folder; of one that is a link the link alone, for what it leads to is not ours."""
    if folder.is_symlink():
        folder.unlink()
    else:
        shutil.rmtree(folder, ignore_errors=True)


def remove_folder(target: Path) -> None:
    """Remove a folder so that it is never half there under its name, and what a kill left of it."""
    _remove_leftovers(target)
    if target.is_dir():
        aside = target.with_name(f"{_ASIDE}{os.getpid()}-{target.name}")
        target.rename(aside)
        _remove(aside)


def restore(target: Path) -> None:
    """Put a folder back that lost its name to a kill between two steps of its renewal."""
    for before in _left(target, _BEFORE):
        if target.exists():
            _remove(before)
        else:
            before.rename(target)


def note_made(folder: Path, paths: list[Path]) -> None:
    """Add files that were written into a whole folder afterwards to its list, if it has one."""
    if not (made := made_files(folder)):
        return
    made |= {path.relative_to(folder).as_posix(): _digest(path) for path in paths}
    _write_list(folder, made)


def made_files(folder: Path) -> dict[str, str]:
    """Return the checksums of the files that this program wrote into a folder, by name."""
    try:
        content = json.loads((folder / MADE).read_text("utf-8"))
        return {str(name): str(digest) for name, digest in content.items()}
    except (OSError, ValueError, AttributeError):
        return {}


def changed_files(folder: Path) -> list[str]:
    """Name the files that this program wrote into a folder and that are not so any more."""
    changed = []
    for name, digest in made_files(folder).items():
        path = folder / name
        if not path.is_file() or _digest(path) != digest:
            changed.append(name)
    return changed


def _unused(target: Path) -> Path:
    """Return a name beside a folder under which nothing stands."""
    number = 1
    while True:
        extra = " (before)" if number == 1 else f" (before {number})"
        if not (free := target.with_name(target.name + extra)).exists():
            return free
        number += 1


def _note(folder: Path, target: Path, beside: Sequence[Path]) -> None:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    made = {path.relative_to(folder).as_posix(): _digest(path) for path in files}
    made |= {Path(os.path.relpath(path, target)).as_posix(): _digest(path) for path in beside}
    _write_list(folder, made)


def _write_list(folder: Path, made: dict[str, str]) -> None:
    write_text(folder / MADE, json.dumps(made, ensure_ascii=False, indent=1) + "\n")


def _carry_over(old: Path, new: Path) -> None:
    """Copy what people laid or changed in the old folder into the new one."""
    made = made_files(old)
    if not made:
        return
    for path in sorted(old.rglob("*")):
        name = path.relative_to(old).as_posix()
        if not path.is_file() or name == MADE or path.name.startswith(_ASIDE):
            continue
        if made.get(name) == _digest(path):
            continue
        target = new / name
        number = 1
        while target.exists() and _digest(target) != _digest(path):
            extra = " (before)" if number == 1 else f" (before {number})"
            target = (new / name).with_name(f"{path.stem}{extra}{path.suffix}")
            number += 1
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(path, target)


def _digest(path: Path) -> str:
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _remove_leftovers(target: Path) -> None:
    """Remove what a kill left of an earlier writing of the same name."""
    for left in _left(target, _ASIDE):
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


def _left(target: Path, sign: str) -> list[Path]:
    """List what processes that are no more made aside for a name."""
    found = target.parent.glob(f"{sign}*-{_plain(target.name)}")
    own = re.compile(rf"{re.escape(sign)}(\d+)-{re.escape(target.name)}")
    return [path for path in found if (of := own.fullmatch(path.name)) and not _running(int(of[1]))]


def _plain(name: str) -> str:
    """Return a name for `glob` without its signs."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)


def _running(process: int) -> bool:
    """Tell whether another process is still there."""
    if process == os.getpid():
        return False
    if os.name == "nt":
        return True  # cannot be asked without harm there
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def to_disk(path: Path) -> None:
    """Bring a file or folder from the cache to the disk."""
    folder = path.is_dir()
    if folder and os.name == "nt":
        return  # folders cannot be opened there
    handle = os.open(path, os.O_RDWR if os.name == "nt" else os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if not folder or fault.errno not in (errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP):
            raise  # some sticks and network drives bring files to the disk, but no folders
    finally:
        os.close(handle)
