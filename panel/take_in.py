"""Taking returned files in: kept unchanged, read, stored, faults told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..forms.answers import Fault, Reading
from ..forms.reading import read_file
from ..forms.settle import settle
from .errors import InputRefused
from .plan import OpenPlan
from .store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The outcome of one call.

    Attributes
    ----------
    files : int
        Files that were looked at.
    added : int
        Rows added to the store.
    faults : tuple of Fault
        What needs a person.
    again : tuple of Fault
        Files that had been read before and were left alone.
    """

    files: int
    added: int
    faults: tuple[Fault, ...]
    again: tuple[Fault, ...]


def expand(paths: Sequence[Path]) -> list[Path]:
    """Replace folders by the files in them; refuse what does not exist.

    Raises
    ------
    InputRefused
        If a path does not exist, before anything is read.
    """
    absent = [path for path in paths if not path.exists()]
    if absent:
        raise InputRefused("read.absent", files=absent)
    files: list[Path] = []
    for path in paths:
        inside = sorted(path.iterdir()) if path.is_dir() else [path]
        files += [one for one in inside if one.is_file() and not one.name.startswith((".", "~$"))]
    return list(dict.fromkeys(files))


def take_in(
    plan: OpenPlan,
    store: Store,
    paths: Sequence[Path],
    *,
    correct: bool = False,
    decided_by: str = "",
    tick: Callable[[], None] = lambda: None,
) -> Taken:
    """Read files into the store.

    Parameters
    ----------
    plan : OpenPlan
    store : Store
    paths : sequence of Path
        Files or folders.
    correct : bool
        Whether different answers replace those that stand (as new rows).
    decided_by : str
        Who decided that.
    tick : callable
        Called after each file.
    """
    files = expand(paths)
    fresh = []
    again = []
    for path in files:
        before = store.known_file(path)
        if before is not None and not correct:
            again.append(Fault(kind="read_twice", file=path.name, found=before))
        else:
            fresh.append(path)
        store.keep(path)
    readings: list[Reading] = []
    for path in fresh:
        readings.append(read_file(path, plan.sheets))
        tick()
    whole = settle(readings, plan.sheets)
    added, different = store.add(whole.answers, correct=correct, decided_by=decided_by)
    faults = (*whole.faults, *different)
    store.note_faults(faults)
    return Taken(files=len(files), added=added, faults=faults, again=tuple(again))
