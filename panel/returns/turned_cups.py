"""Cups of one person alone, turned over: which code stood at which place, and where it is not told.

Answers stay filed under the place that they were given at, and what was told of the codes stays
an answer beside them; here the two are only read together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ...forms.questions.sheet import BENEATH, Presentation, Sheet, versions
from ..plan.open_plan import OpenPlan
from .store import Store


@dataclass(frozen=True, slots=True)
class UntoldRow:
    """A row of cups of which it is not told, without a doubt, which code stood where."""

    assessor: str
    flight: int
    codes: tuple[str, ...]
    told: int
    """How many codes have a place that no other code has."""

    @property
    def name(self) -> str:
        """The name that the places of its codes are filed under."""
        return "-".join(self.codes)


@dataclass(frozen=True, slots=True)
class TurnedCups:
    """What was told of the codes under the cups.

    Attributes
    ----------
    codes : dict
        From assessor and place to the code that stood there, row by whole row.
    untold : tuple of UntoldRow
        Rows with marks of which it is not told; nothing of them is taken for known.
    """

    codes: Mapping[tuple[str, str], str] = field(default_factory=dict)
    untold: tuple[UntoldRow, ...] = ()

    @property
    def where(self) -> list[str]:
        """The rows that are not told, as "assessor/flight"."""
        return [f"{row.assessor}/{row.flight}" for row in self.untold]


def is_beneath(attribute: str) -> bool:
    """Tell whether an answer is about the codes under the cups, not about what is in them."""
    return attribute.partition(":")[0] == BENEATH


def turned_cups(plan: OpenPlan, store: Store) -> TurnedCups:
    """Read places and codes together; a row counts only where each code has a place of its own.

    Codes that were not served, or of which a late change says that nobody knows them, need none.
    """
    given: dict[tuple[str, str, str], set[str]] = {}
    places: dict[tuple[str, str, str], dict[str, object]] = {}
    for stored in store.answers():
        one = stored.answer
        cell = stored.plan, one.assessor, one.code
        if is_beneath(one.attribute):
            places.setdefault(cell, {})[one.attribute.partition(":")[2]] = one.value
        else:
            given.setdefault(cell, set()).add(one.attribute)
    codes: dict[tuple[str, str], str] = {}
    untold = []
    for version in plan.versions:
        for sheet, shown in _rows(version):
            row = [one.name for one in sheet.row(shown)]
            marked = any((version.version, sheet.assessor, name) in given for name in row)
            told = places.get((version.version, sheet.assessor, shown.name), {})
            needed = [
                code
                for code in shown.codes
                if not version.is_unserved(sheet.assessor, code)
                and not plan.is_unknown(sheet.assessor, code)
            ]
            found = _apart(told, needed, row)
            if len(found) == len(needed):
                codes |= {(sheet.assessor, row[place - 1]): code for code, place in found.items()}
            elif marked:
                untold.append(UntoldRow(sheet.assessor, shown.flight, shown.codes, len(found)))
    return TurnedCups(codes, tuple(untold))


def _rows(plan: OpenPlan) -> Iterable[tuple[Sheet, Presentation]]:
    """Return the rows of a plan, as the sheet that holds has it."""
    for assessor in plan.own_sheets:
        seen = set()
        for sheet in versions(plan.own_sheets, assessor):
            for shown in sheet.presentations:
                if shown.beneath and shown.flight not in seen:
                    seen.add(shown.flight)
                    yield sheet, shown


def _apart(told: Mapping[str, object], needed: Iterable[str], row: list[str]) -> dict[str, int]:
    """Return the place of each code that has one of the row to itself."""
    places = {code: told.get(code) for code in needed}
    found = {}
    for code, place in places.items():
        alone = list(places.values()).count(place) == 1
        if isinstance(place, float) and place % 1 == 0 and 1 <= place <= len(row) and alone:
            found[code] = int(place)
    return found
