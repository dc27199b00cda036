"""Several answers for one cell: the same one is taken once, different ones are a fault."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ..questions.question_types import Kind
from ..questions.sheet import BENEATH, Sheet, sheet_with
from .answer import Answer, Fault, Reading, is_remark
from .numbers import written_number

_UNANSWERED = ("missing", "empty_cup", "empty_sheet")
_UNTIL_ANSWERED = ("missing", "uncertain_mark", "handwriting", "photo_page_missing")


def settle(readings: Iterable[Reading], sheets: Mapping[str, Sheet]) -> Reading:
    """Put readings of one call together, so that each cell has one answer or none.

    Equal answers for one cell are taken once, where they were found first.
    Different ones are all withheld and told as one fault `two_answers`; which
    of them holds is for a person to say. A place told as unanswered in one
    file is no longer told when another file of the same call answers it, and
    a fault found twice in copies of one sheet is told once. A ranking whose
    places don't fit together is withheld as a whole and told.
    """
    whole = Reading.join(readings)
    cells: dict[tuple[str, str, str, str], list[Answer]] = {}
    for answer in whole.answers:
        cell = (answer.session, answer.assessor, answer.code, answer.attribute)
        cells.setdefault(cell, []).append(answer)
    answers = [found[0] for found in cells.values() if len({a.value for a in found}) == 1]
    faults = [*whole.faults]
    faults += [_two(found) for found in cells.values() if len({a.value for a in found}) > 1]
    tied = list(_tied(answers, sheets))
    faults += [fault for fault, _ in tied]
    withheld = {id(answer) for _, places in tied for answer in places}
    kept = tuple(answer for answer in answers if id(answer) not in withheld)
    return Reading(kept, tuple(_told_once(faults, cells.values(), sheets)))


def _tied(
    answers: Iterable[Answer], sheets: Mapping[str, Sheet]
) -> Iterator[tuple[Fault, list[Answer]]]:
    """Find complete rankings that are none: equal places must be the mean of those they share."""
    rankings: dict[tuple[str, str, str], list[Answer]] = {}
    for answer in answers:
        key, _, cup = answer.attribute.partition(":")
        card = sheet_with(sheets, answer.assessor, answer.code).scorecard
        if cup and key in card and card[key].kind is Kind.RANKING:
            rankings.setdefault((answer.assessor, answer.code, key), []).append(answer)
    for (assessor, code, key), found in rankings.items():
        places = sorted(float(answer.value) for answer in found)
        fitting = [
            (places.index(place) + 1 + len(places) - places[::-1].index(place)) / 2
            for place in places
        ]
        if key == BENEATH:  # two cups never stand at one place
            fitting = [float(place) for place in range(1, len(places) + 1)]
        if len(found) < len(code.split("-")) or places == fitting:
            continue
        told = "; ".join(
            f"{answer.attribute.partition(':')[2]}: {written_number(float(answer.value))}"
            for answer in found
        )
        first = found[0]
        yield (
            Fault(
                kind="same_place" if key == BENEATH else "tied_places",
                file=first.file,
                place=first.place,
                assessor=assessor,
                code=code,
                attribute=key,
                found=told,
                expected=f"1–{len(found)}",
            ),
            found,
        )


def _two(found: list[Answer]) -> Fault:
    """Tell all different answers for one cell, with the place of each."""
    first = found[0]
    told: dict[float | str, str] = {}
    for answer in found:
        told.setdefault(answer.value, f"'{answer.written}' ({answer.file}, {answer.place})")
    return Fault(
        kind="two_answers",
        file=first.file,
        place=first.place,
        assessor=first.assessor,
        code=first.code,
        attribute=first.attribute,
        found="; ".join(told.values()),
    )


def _told_once(
    faults: list[Fault], cells: Iterable[list[Answer]], sheets: Mapping[str, Sheet]
) -> list[Fault]:
    """Leave out what another file of the same call answers, and what copies repeat."""
    answered, filled, begun = set(), set(), set()
    for answer in (answer for found in cells for answer in found):
        sheet = sheet_with(sheets, answer.assessor, answer.code)
        answered.add((answer.assessor, answer.code, answer.attribute))
        kind = sheet.scorecard.owner(answer.attribute).kind
        if kind is Kind.WORDS or is_remark(answer.attribute):
            continue  # free words do not fill a cup
        filled.add((answer.assessor, answer.code))
        presentation = sheet.presentation(answer.code)
        if presentation is not None and presentation.counted:
            begun.add(answer.assessor)
    left, seen = [], set()
    for fault in faults:
        cell = (fault.assessor, fault.code, fault.attribute)
        if fault.kind in _UNTIL_ANSWERED and cell in answered:
            continue
        if fault.kind == "empty_cup" and (fault.assessor, fault.code) in filled:
            continue
        if fault.kind == "empty_sheet" and fault.assessor in begun:
            continue
        same = (fault.kind, fault.assessor, fault.code, fault.attribute)
        if fault.kind in _UNANSWERED and same in seen:
            continue
        seen.add(same)
        left.append(fault)
    return left
