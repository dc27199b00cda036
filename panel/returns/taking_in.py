"""Taking returned files in: kept unchanged, read, stored, faults told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ...forms.answers.answer import Answer, Fault, Reading
from ...forms.answers.settling import settle
from ...forms.answers.uncertain_marks import PhotoReading
from ...forms.questions.question_types import Kind
from ...forms.reading import is_picture, read_file
from ..base.errors import InputRefused
from ..plan.pours import OpenPlan
from .open_marks import note
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
        Files or pages that had been read before and were left alone.
    marks : int
        Marks and words in pictures that a person has to look at.
    """

    files: int
    added: int
    faults: tuple[Fault, ...]
    again: tuple[Fault, ...]
    marks: int = 0


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
    pictures = [path for path in fresh if is_picture(path)]
    for path in fresh:
        if path not in pictures:
            readings.append(read_file(path, plan.sheets))
            tick()
    seen = _read_pictures(pictures, plan, tick)
    whole = settle([*readings, seen], plan.sheets)
    answers = whole.answers
    if not correct:
        answers, told = _seen_before(answers, store, plan, {path.name for path in pictures})
        again += told
    added, different = store.add(answers, correct=correct, decided_by=decided_by)
    here = {(one.answer.assessor, one.answer.code) for one in store.answers()}
    faults = tuple(
        fault
        for fault in (*whole.faults, *different)
        if fault.kind != "photo_page_missing" or (fault.assessor, fault.code) not in here
    )
    store.note_faults(faults)
    marks = note(store, seen.uncertain)
    return Taken(files=len(files), added=added, faults=faults, again=tuple(again), marks=marks)


def _read_pictures(paths: Sequence[Path], plan: OpenPlan, tick: Callable[[], None]) -> PhotoReading:
    """Read all pictures of a call together, so that pages twice and pages missing are seen."""
    if not paths:
        return PhotoReading()
    try:
        from ...forms.photo.photo_reader import read_photos
    except ImportError:
        return PhotoReading.gather(read_file(path, plan.sheets) for path in paths)
    return read_photos(paths, plan.sheets, tick=tick)


def _seen_before(
    answers: Sequence[Answer], store: Store, plan: OpenPlan, pictures: set[str]
) -> tuple[tuple[Answer, ...], list[Fault]]:
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
    return tuple(fresh), list(pages.values())


def _same(answer: Answer, old: Answer, plan: OpenPlan) -> bool:
    question = plan.sheets[answer.assessor].scorecard.owner(answer.attribute)
    if (
        question.kind is Kind.LINE
        and isinstance(answer.value, (int, float))
        and isinstance(old.value, (int, float))
    ):
        return abs(answer.value - old.value) <= 1.5 / 80 * (question.high - question.low)
    return answer.value == old.value
