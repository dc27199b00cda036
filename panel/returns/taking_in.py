"""Taking returned files in: read, then kept unchanged with all that was read from them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from ...forms.answers.answer import Answer, Fault, Reading
from ...forms.answers.settling import settle
from ...forms.answers.uncertain_marks import PhotoReading, Uncertain
from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import sheet_with
from ...forms.reading import is_picture, read_file
from ..base.errors import InputRefused, NotReady
from ..base.session_log import read_log
from ..plan.codes_before import FORGETTING, OPEN_HALF, content_or_nothing
from ..plan.open_plan import OpenPlan
from .closed_flights import refuse_closed
from .logged_answers import note_answers
from .named_pages import names_of
from .open_marks import EMPTY, note
from .store import Store

SAME_MARK, LINE = 1.5, 80.0
"""Millimetres within which a line read again is the same answer, of so many of the line."""
Told = TypeVar("Told", Answer, Fault, Uncertain)


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
        Files or pages that had been read before and were left alone.
    marks : int
        Marks and words in pictures that a person has to look at.
    """

    files: int
    added: int
    faults: tuple[Fault, ...]
    again: tuple[Fault, ...]
    marks: int = 0


@dataclass(frozen=True, slots=True)
class _Group:
    """Files that go in together or not at all, and what was read from them."""

    paths: tuple[Path, ...]
    answers: tuple[Answer, ...]
    faults: tuple[Fault, ...]
    marks: tuple[Uncertain, ...]


def expand(paths: Sequence[Path]) -> list[Path]:
    """Replace folders by the files in them; refuse what does not exist.

    Raises
    ------
    InputRefused
        If a path does not exist or is no file (a pipe, a device), before anything is read.
    """
    absent = [path for path in paths if not path.exists()]
    if absent:
        raise InputRefused("read.absent", files=absent)
    strange = [path for path in paths if not path.is_file() and not path.is_dir()]
    if strange:
        raise InputRefused("read.no_file", files=strange)
    files: list[Path] = []
    for path in paths:
        if path.is_file():
            files.append(path)
            continue
        inside = sorted(path.iterdir())
        files += [one for one in inside if one.is_file() and not one.name.startswith((".", "~$"))]
    return list(dict.fromkeys(files))


def take_in(
    plan: OpenPlan,
    store: Store,
    paths: Sequence[Path],
    *,
    correct: bool = False,
    decided_by: str = "",
    session_folder: Path | None = None,
    tick: Callable[[], None] = lambda: None,
) -> Taken:
    """Read files into the store.

    All files are read before anything is stored. Then each goes in by one transaction:
    the original, its checksum, its answers, faults and marks. Files of one call that
    speak of the same assessor share their transaction, because what one holds can
    settle or dispute the other; so a call that was broken off and is repeated ends as
    if it had not been.

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
    session_folder : Path, optional
        Where log and plan of the session stand, if not beside the store: the open flight has
        a store of its own.
    tick : callable
        Called after each file.

    Raises
    ------
    NotReady
        If the plan changed, or the blind flights were closed, while files were read.
    """
    home = session_folder or store.folder
    files = expand(paths)
    note_answers(store, "found")
    fresh = []
    again = []
    faults: list[Fault] = []
    for path in files:
        before = store.known_file(path, plan.version)
        if before is not None and not correct:
            again.append(Fault(kind="read_twice", file=path.name, found=before))
            faults += [one for one in store.faults().values() if one.file == path.name]
            tick()
        else:
            fresh.append(path)
    pictures = [path for path in fresh if is_picture(path)]
    readings: list[Reading] = []
    for path in fresh:
        if path not in pictures:
            readings.append(read_file(path, plan.sheets))
            tick()
    seen = _read_pictures(pictures, plan, store, tick)
    whole = settle([*readings, seen], plan.sheets)
    strangers = _of_the_forgotten(whole.faults, home)
    faults += strangers
    fresh = [path for path in fresh if path.name not in {one.file for one in strangers}]
    whole = Reading(
        whole.answers, tuple(one for one in whole.faults if one.file in {p.name for p in fresh})
    )
    added = marks = 0
    photographed = {path.name for path in pictures}
    for group in _together(fresh, whole, seen.uncertain):
        with store.transaction():
            _plan_stands(home, plan)
            answers: Sequence[Answer] = group.answers
            if not correct:
                answers, told = _seen_before(answers, store, plan, photographed)
                again += told
            read = PhotoReading(tuple(answers), group.faults, group.marks)
            more, left, waiting = put_in(store, plan, read, correct=correct, decided_by=decided_by)
            for path in group.paths:
                _note_reading(store, path, plan, group)
        added += more
        marks += waiting
        faults += left
    note_answers(store)
    return Taken(
        files=len(files), added=added, faults=tuple(faults), again=tuple(again), marks=marks
    )


def put_in(
    store: Store,
    plan: OpenPlan,
    read: PhotoReading,
    *,
    correct: bool = False,
    decided_by: str = "",
) -> tuple[int, list[Fault], int]:
    """Add answers, faults and marks; return the rows added, faults left and marks that wait.

    To be called in a transaction. See `take_in` for `correct` and `decided_by`.
    """
    refuse_closed(store.folder)
    added, different = _add(read.answers, store, plan, correct=correct, decided_by=decided_by)
    left = _still_missing([*read.faults, *different], store, plan)
    for version, told in _by_plan(left, plan).items():
        store.note_faults(told, version)
    waiting = sum(
        note(store, seen, version) for version, seen in _by_plan(read.uncertain, plan).items()
    )
    return added, left, waiting


def _plan_stands(folder: Path, plan: OpenPlan) -> None:
    """Refuse what was read by a plan that meanwhile gave way: a person may be forgotten since."""
    now = content_or_nothing(folder / OPEN_HALF)
    if (folder / FORGETTING).exists() or (now and now.get("sealed", "") != plan.sealed):
        raise NotReady("read.plan_changed", folder=folder)


def _add(
    answers: Sequence[Answer], store: Store, plan: OpenPlan, *, correct: bool, decided_by: str
) -> tuple[int, list[Fault]]:
    """Add answers, each under the plan by which its cup was served."""
    added, different = 0, []
    for version, own in _by_plan(answers, plan).items():
        more, told = store.add(own, plan=version, correct=correct, decided_by=decided_by)
        added += more
        different += told
    return added, different


def _of_the_forgotten(faults: Iterable[Fault], folder: Path) -> list[Fault]:
    """Find whole sheets of nobody in the session, where somebody was forgotten.

    Nobody can tell any more whether it is theirs, so it is neither read nor kept.
    """
    if not read_log(folder).of("forget"):
        return []
    return [
        replace(one, kind="forgotten_assessor")
        for one in faults
        if one.kind == "unknown_assessor" and not one.place
    ]


def _by_plan(told: Iterable[Told], plan: OpenPlan) -> dict[str, list[Told]]:
    """Sort what was read by the plan that served it; what names no cup goes to the present one."""
    served: dict[str, list[Told]] = {}
    for one in told:
        by = plan.holding(one.assessor, one.code) or plan
        served.setdefault(by.version, []).append(one)
    return served


def _note_reading(store: Store, path: Path, plan: OpenPlan, group: _Group) -> None:
    store.note_reading(
        path,
        plan.version,
        answers=sum(one.file == path.name for one in group.answers),
        faults=sum(one.file == path.name for one in group.faults),
        marks=sum(one.file == path.name for one in group.marks),
    )


def _together(paths: Sequence[Path], whole: Reading, marks: Sequence[Uncertain]) -> list[_Group]:
    """Sort files into groups: those that speak of one assessor, or bear one name, are together."""
    about: dict[str, set[str]] = {path.name: set() for path in paths}
    told: tuple[Answer | Fault | Uncertain, ...] = (*whole.answers, *whole.faults, *marks)
    for one in told:
        about[one.file].add(one.assessor)
    groups: list[tuple[set[str], set[str]]] = []
    for name, spoken_of in about.items():
        names, people = {name}, spoken_of - {""}
        apart = []
        for group in groups:
            if people & group[1]:
                names |= group[0]
                people |= group[1]
            else:
                apart.append(group)
        groups = [*apart, (names, people)]
    return [
        _Group(
            tuple(path for path in paths if path.name in names),
            tuple(one for one in whole.answers if one.file in names),
            tuple(one for one in whole.faults if one.file in names),
            tuple(one for one in marks if one.file in names),
        )
        for names, _ in groups
    ]


def _read_pictures(
    paths: Sequence[Path], plan: OpenPlan, store: Store, tick: Callable[[], None]
) -> PhotoReading:
    """Read all pictures of a call together, so that pages twice and pages missing are seen."""
    if not paths:
        return PhotoReading()
    try:
        from ...forms.photo.photo_reader import read_photos
    except ImportError:
        return PhotoReading.gather(read_file(path, plan.sheets) for path in paths)
    return read_photos(
        paths, plan.sheets, tick=tick, named=lambda path: names_of(store, plan, path)
    )


def _still_missing(faults: Iterable[Fault], store: Store, plan: OpenPlan) -> list[Fault]:
    """Leave out pages of cups that were answered before, and what was not served at all."""
    here = {(one.answer.assessor, one.answer.code) for one in store.answers()}
    return [
        fault
        for fault in faults
        if not (fault.kind == "photo_page_missing" and (fault.assessor, fault.code) in here)
        and not (fault.kind in EMPTY and plan.is_unserved(fault.assessor, fault.code))
    ]


def _seen_before(
    answers: Sequence[Answer], store: Store, plan: OpenPlan, pictures: set[str]
) -> tuple[list[Answer], list[Fault]]:
    """Leave out answers of a page that was photographed before, where both pictures agree.

    A line is never measured twice the same: 1.5 mm are no difference.
    """
    standing = {
        (one.answer.assessor, one.answer.code, one.answer.attribute): one.answer
        for one in store.answers()
    }
    fresh = []
    pages: dict[tuple[str, str], Fault] = {}
    for answer in answers:
        old = standing.get((answer.assessor, answer.code, answer.attribute))
        if answer.file not in pictures or old is None or not _same(answer, old, plan):
            fresh.append(answer)
            continue
        told = Fault(
            kind="photo_before", file=answer.file, place=answer.place,
            assessor=answer.assessor, code=answer.code, expected=f"{old.file}, {old.place}",
        )  # fmt: skip
        pages.setdefault((answer.file, answer.place), told)
    return fresh, list(pages.values())


def _same(answer: Answer, old: Answer, plan: OpenPlan) -> bool:
    question = sheet_with(plan.sheets, answer.assessor, answer.code).scorecard.owner(
        answer.attribute
    )
    if (
        question.kind is Kind.LINE
        and isinstance(answer.value, (int, float))
        and isinstance(old.value, (int, float))
    ):
        return abs(answer.value - old.value) <= SAME_MARK / LINE * (question.high - question.low)
    return answer.value == old.value
