"""What comes back once names were told: into a store of its own, blind sheets too late apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from ...forms.answers.answer import Answer, Fault
from ..plan.open_plan import OpenPlan
from ..returns.closed_flights import FOLDER, closed
from ..returns.store import Store
from ..returns.taking_in import Taken, expand, take_in
from ..session.session import Session
from .flight import VERSION, load_flight


@dataclass(frozen=True, slots=True)
class TooLate:
    """An answer about a blind cup that came after the names were told.

    Attributes
    ----------
    answer : Answer
    before : float, str or None
        What stands in the blind part; None where nothing does.
    """

    answer: Answer
    before: float | str | None


@contextmanager
def receiving(
    session: Session, plan: OpenPlan, *, reading: bool = False
) -> Iterator[tuple[OpenPlan, Store]]:
    """Give the plan and the store that take in what comes back now: blind, or the open flight's."""
    if closed(session.folder) is None:
        with Store(session.folder, reading=reading) as store:
            yield plan, store
        return
    flight = load_flight(session, plan)
    with Store(session.folder / FOLDER, reading=reading) as store:
        yield flight, store


def take_in_named(
    session: Session,
    flight: OpenPlan,
    store: Store,
    paths: Sequence[Path],
    *,
    correct: bool = False,
    decided_by: str = "",
    tick: Callable[[], None] = lambda: None,
) -> Taken:
    """Read files into the store of the open flight; see `take_in`.

    A file that the blind part had read already is left alone: all files of a folder may be
    read again after the open flight.
    """
    files = expand(paths)
    with Store(session.folder, reading=True) as blind:
        before = {path: _read_blind(blind, path, flight) for path in files}
    again = [
        Fault(kind="read_twice", file=path.name, found=at) for path, at in before.items() if at
    ]
    fresh = [path for path, at in before.items() if not at]
    for _ in again:
        tick()
    taken = take_in(
        flight, store, fresh, correct=correct, decided_by=decided_by,
        session_folder=session.folder, tick=tick,
    )  # fmt: skip
    return replace(taken, files=len(files), again=(*again, *taken.again))


def _read_blind(blind: Store, path: Path, flight: OpenPlan) -> str | None:
    """Tell when the blind part read this very file to the end, or None."""
    told = (blind.known_file(path, plan.version) for plan in flight.earlier)
    return next((at for at in told if at), None)


def too_late(session: Session, store: Store) -> list[TooLate]:
    """Return the answers about blind cups that came late and are not what stands there anyway."""
    with Store(session.folder, reading=True) as blind:
        standing = {
            (one.plan, one.answer.assessor, one.answer.code, one.answer.attribute): one.answer.value
            for one in blind.answers()
        }
    found = []
    for one in store.answers():
        cell = (one.plan, one.answer.assessor, one.answer.code, one.answer.attribute)
        if one.plan != VERSION and standing.get(cell) != one.answer.value:
            found.append(TooLate(one.answer, standing.get(cell)))
    return found
