"""Changing a session that goes on: who comes, who leaves, which bottle, which label.

Each change is one entry of ``plan/changes.json``, and of the log. What was answered
stays with what was tasted: cups that were served keep their codes, new cups get codes
that this session has never dealt, drawn from the plan's secret.
"""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise, permutations
from typing import Any

from ...analysis.core.words import Sentence
from ..base.clock import now
from ..base.errors import NotReady, PlanRefused
from ..base.private_files import close, private_folder
from ..base.session_log import append
from ..base.whole_files import write_bytes
from ..base.words import sentence
from ..session.roster import Assessor
from ..session.session import Session
from .code_draw import blind_codes
from .codes_before import CHANGES, KEY_CHANGES, codes_used
from .doses import needs
from .key_file import key_content, pours_with_key
from .late_changes import Change, plain
from .open_plan import OpenPlan
from .plan_file import FORMAT, load_open, note_broken_off
from .pours import Pour
from .sealing import seal, written
from .secret_draw import Draw

_DRAWS = 400
"""Orders tried for somebody who joins, where there are too many to try all."""


@dataclass(frozen=True, slots=True)
class Changed:
    """A change that was kept, or the one that said the same before.

    Attributes
    ----------
    change : Change
    new : bool
        False where it was noted before.
    notes : tuple of Sentence
        What it leaves of the balance, and what to do; names no bottle.
    """

    change: Change
    new: bool
    notes: tuple[Sentence, ...]


class Changing:
    """Changes to the plan of a session.

    Parameters
    ----------
    session : Session
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        note_broken_off(session.folder)
        self.plan: OpenPlan = load_open(session)
        self.key = key_content(session, self.plan)
        self.pours = pours_with_key(session, self.plan)
        made = self.plan.course.changes
        self.number = made[-1].number + 1 if made else 1
        self.draw = Draw(bytes.fromhex(self.key["secret"])) if "secret" in self.key else None

    def late(self, assessor: str, flight: int) -> Changed:
        """Note that an assessor was not there before a flight; whoever was not planned joins."""
        self._flight(flight)
        joined = self._same("joined", assessor=assessor, flight=flight)
        if joined is not None:
            return Changed(joined, new=False, notes=())
        if assessor in self._planned():
            return self._kept(self._change("late", assessor=assessor, flight=flight))
        return self._join(assessor, flight)

    def left(self, assessor: str, place: int) -> Changed:
        """Note that an assessor left after a place in the serving order."""
        self._known(assessor)
        places = [pour.presentation for pour in self.pours if pour.assessor == assessor]
        if not 0 <= place <= max(places):
            raise PlanRefused("change.no_place", place=place, last=max(places))
        return self._kept(self._change("left", assessor=assessor, place=place))

    def cut(self, flight: int, assessor: str = "") -> Changed:
        """Note that a flight was not served, to anybody or to one assessor."""
        self._flight(flight)
        if assessor:
            self._known(assessor)
        return self._kept(self._change("cut", flight=flight, assessor=assessor))

    def label(self, code: str, assessor: str = "") -> Changed:
        """Deal a new code for a cup whose label fell off; the old one stays its other name."""
        self._cups(code, assessor)
        before = self._same("label", code=code, assessor=assessor)
        if before is not None:
            return Changed(before, new=False, notes=())
        bottle = next(pour.bottle for pour in self.pours if pour.code == code)
        codes = self._dealt([bottle])
        return self._kept(self._change("label", code=code, assessor=assessor, codes=tuple(codes)))

    def unknown(self, code: str, assessor: str = "") -> Changed:
        """Note that nobody knows which cup it was: answers are kept and not analysed."""
        self._cups(code, assessor)
        return self._kept(self._change("unknown", code=code, assessor=assessor))

    def order(self, assessor: str, codes: Sequence[str]) -> Changed:
        """Note that an assessor was served in another order than planned."""
        self._known(assessor)
        own = [pour for pour in self.pours if pour.assessor == assessor and pour.counted]
        own.sort(key=lambda pour: pour.presentation)
        if sorted(codes) != sorted(pour.code for pour in own):
            planned = [pour.code for pour in own]
            raise PlanRefused("change.not_these", assessor=assessor, planned=planned)
        before = self._same("order", assessor=assessor, codes=tuple(codes))
        if before is not None:
            return Changed(before, new=False, notes=())
        cups = {pour.code: pour for pour in own}
        moved = {
            code: replace(cups[code], presentation=slot.presentation, flight=slot.flight)
            for code, slot in zip(codes, own, strict=True)
        }
        if any(moved[code].tasted != slot.tasted for code, slot in zip(codes, own, strict=True)):
            raise PlanRefused("change.seen_and_tasted")
        others = [p for p in self.pours if p.assessor != assessor or not p.counted]
        pours = [*others, *moved.values()]
        change = self._change("order", assessor=assessor, codes=tuple(codes))
        return self._anew(change, self.plan.assessors, pours)

    def undo(self, number: int) -> Changed:
        """Take a change back by another one."""
        course = self.plan.course
        if number not in {change.number for change in course.changes}:
            raise PlanRefused("change.no_change", number=number)
        if number not in {one.number for one in course.standing}:
            told = [one for one in course.changes if one.undoes == number]
            if told:
                return Changed(told[-1], new=False, notes=())
        dealt = [one.number for one in course.standing if one.pours is not None]
        if number in dealt and number != dealt[-1]:
            raise PlanRefused("change.undo_first", number=number, later=dealt[-1])
        return self._kept(self._change("undone", undoes=number))

    def replace(self, what: str, by: str, flight: int, tasted: Iterable[str] = ()) -> Changed:
        """Serve another bottle in the place of one, from a flight on, under new codes.

        Parameters
        ----------
        what : str
            The bottle, or one of its codes.
        by : str
            A bottle of ``bottles.csv`` that is not served yet.
        flight : int
        tasted : iterable of str
            Assessors who had the first bottle in that flight already.
        """
        self._flight(flight)
        old = self._bottle(what)
        self._new_bottle(by)
        had = set(tasted)
        for one in had:
            self._known(one)
        gone = [
            pour
            for pour in self.pours
            if pour.bottle == old
            and pour.flight >= flight
            and not (pour.flight == flight and pour.assessor in had)
        ]
        if not gone:
            raise PlanRefused("change.nothing_left", flight=flight)
        labels = list(dict.fromkeys(pour.code for pour in gone))
        codes = dict(zip(labels, self._dealt([by] * len(labels)), strict=True))
        anew = {
            (pour.assessor, pour.code): replace(pour, code=codes[pour.code], bottle=by)
            for pour in gone
        }
        pours = [anew.get((pour.assessor, pour.code), pour) for pour in self.pours]
        change = self._change("replaced", flight=flight, codes=tuple(codes.values()))
        return self._anew(change, self.plan.assessors, pours, bottle=by, instead_of=old)

    def add(self, bottle: str, flight: int = 0) -> Changed:
        """Serve one more bottle: in the flights from `flight` on, or in a last one of its own."""
        if self.session.method.compares:
            raise PlanRefused("change.set_no_more")
        self._new_bottle(bottle)
        last = max(pour.flight for pour in self.pours)
        own_flight = not flight or flight > last
        people = [one for one in self.plan.assessors if one.code not in self._gone()]
        turn = {one.code: at for at, one in enumerate(self._draw().shuffled(people, "turn"))}
        groups: dict[tuple[object, ...], str] = {}
        pours: list[Pour] = []
        for one in self.plan.assessors:
            own = [pour for pour in self.pours if pour.assessor == one.code]
            if one.code in turn:
                own = self._with(own, bottle, last + 1 if own_flight else flight, turn[one.code])
            pours += own
        new = [pour for pour in pours if not pour.code]
        shared = not self.session.settings.serving.own_codes
        for pour in new:
            who = () if shared else (pour.assessor,)
            groups.setdefault((pour.tasted, pour.replicate, *who), "")
        groups = dict(zip(groups, self._dealt([bottle] * len(groups)), strict=True))
        coded = [
            replace(
                pour,
                code=groups[(pour.tasted, pour.replicate, *(() if shared else (pour.assessor,)))],
            )
            if not pour.code
            else pour
            for pour in pours
        ]
        change = self._change("added", flight=flight, codes=tuple(groups.values()))
        notes = (sentence("change.confounded"),) if own_flight else ()
        return self._anew(change, self.plan.assessors, coded, notes=notes, bottle=bottle)

    def _with(self, own: list[Pour], bottle: str, flight: int, turn: int) -> list[Pour]:
        """Put a bottle into an assessor's flights, once a replicate, at a place by turn."""
        serving = self.session.settings.serving
        kinds: dict[tuple[bool, int], int] = {}
        for pour in own:
            if pour.flight >= flight and pour.counted:
                kinds[pour.tasted, pour.replicate] = pour.flight
        if not kinds:
            kinds = {(True, 1): flight}
        kept = list(own)
        for (tasted, replicate), where in kinds.items():
            inside = [at for at, pour in enumerate(kept) if pour.flight == where]
            first = inside[0] if inside else len(kept)
            at = first + turn % (len(inside) + 1)
            cup = Pour(
                assessor=own[0].assessor,
                presentation=0,
                flight=where,
                code="",
                bottle=bottle,
                replicate=replicate,
                ml=serving.pour_ml if tasted else serving.appearance_ml,
                tasted=tasted,
            )
            kept.insert(at, cup)
        number = 0
        numbered = []
        for pour in kept:
            number += bool(pour.counted)
            numbered.append(replace(pour, presentation=number) if pour.counted else pour)
        return numbered

    def _join(self, assessor: str, flight: int) -> Changed:
        """Plan somebody in who was not planned: the orders that balance best with the others'."""
        if self.session.method.compares:
            raise PlanRefused("change.set_no_more")
        found = [one for one in self.session.assessors if one.code == assessor]
        if not found:
            raise PlanRefused("change.not_in_roster", assessor=assessor)
        (one,) = found
        model = [pour for pour in self.pours if pour.assessor == self.plan.assessors[0].code]
        parts: dict[tuple[bool, int], list[Pour]] = {}
        for pour in model:
            if pour.counted:
                parts.setdefault((pour.tasted, pour.replicate), []).append(pour)
        draw = self._draw()
        own = [replace(pour, assessor=one.code) for pour in model if not pour.counted]
        taken = self.pours
        for (tasted, replicate), cups in parts.items():
            bottles = [cup.bottle for cup in cups]
            order = _best_order(taken, bottles, tasted, draw.part("join", tasted, replicate))
            codes = {cup.bottle: cup.code for cup in cups}
            new = [
                replace(cup, assessor=one.code, bottle=bottle, code=codes[bottle])
                for cup, bottle in zip(cups, order, strict=True)
            ]
            own += new
        if self.session.settings.serving.own_codes:
            dealt = self._dealt([pour.bottle for pour in own])
            own = [replace(pour, code=code) for pour, code in zip(own, dealt, strict=True)]
            codes_new = tuple(dealt)
        else:
            codes_new = ()
        own.sort(key=lambda pour: pour.presentation)
        assessors = (*self.plan.assessors, one)
        change = self._change("joined", assessor=one.code, flight=flight, codes=codes_new)
        return self._anew(change, assessors, [*self.pours, *own])

    def _planned(self) -> list[str]:
        return [one.code for one in self.plan.assessors]

    def _gone(self) -> set[str]:
        return {one.assessor for one in self.plan.course.standing if one.kind == "left"}

    def _draw(self) -> Draw:
        if self.draw is None:
            raise NotReady("change.old_plan", folder=self.session.folder)
        return self.draw.part("change", self.plan.number, self.number)

    def _dealt(self, bottles: Sequence[str]) -> list[str]:
        return blind_codes(bottles, self._draw(), codes_used(self.session.folder))

    def _known(self, assessor: str) -> None:
        if assessor not in self._planned():
            raise PlanRefused(
                "change.no_assessor", assessor=assessor, planned=list(self._planned())
            )

    def _flight(self, flight: int) -> None:
        last = max(pour.flight for pour in self.pours)
        if not 0 < flight <= last:
            raise PlanRefused("change.no_flight", flight=flight, last=last)

    def _cups(self, code: str, assessor: str) -> list[Pour]:
        cups = [p for p in self.pours if p.code == code and assessor in ("", p.assessor)]
        if not cups:
            raise PlanRefused("change.no_code", code=code, assessor=assessor or "–")
        return cups

    def _bottle(self, what: str) -> str:
        """Return the bottle that a name or a code means."""
        for pour in self.pours:
            if what in (pour.code, pour.bottle):
                return pour.bottle
        raise PlanRefused("change.no_code", code=what, assessor="–")

    def _new_bottle(self, name: str) -> None:
        listed = {bottle.name for bottle in self.session.bottles}
        if name not in listed:
            raise PlanRefused("change.no_bottle", bottle=name)
        if any(pour.bottle == name for pour in self.pours):
            raise PlanRefused("change.served_already", bottle=name)

    def _change(self, kind: Any, **values: Any) -> Change:
        at = now()
        return Change(number=self.number, at=at, kind=kind, **values)

    def _same(self, kind: str, **values: object) -> Change | None:
        for change in self.plan.course.standing:
            if change.kind == kind and all(
                getattr(change, name) == value for name, value in values.items()
            ):
                return change
        return None

    def _anew(
        self,
        change: Change,
        assessors: Sequence[Assessor],
        pours: Sequence[Pour],
        notes: tuple[Sentence, ...] = (),
        **bottles: str,
    ) -> Changed:
        """Keep a change that deals cups anew, its bottles with the key."""
        known = {(pour.assessor, pour.code) for pour in self.pours}
        key = {
            "plan": self.plan.number,
            "number": change.number,
            "secret": secrets.token_hex(32),
            **bottles,
            "bottles": [
                asdict(bottle)
                for bottle in self.session.bottles
                if bottle.name == bottles.get("bottle")
            ],
            "cups": [
                {
                    "assessor": pour.assessor,
                    "code": pour.code,
                    "bottle": pour.bottle,
                    "replicate": pour.replicate,
                }
                for pour in sorted(pours, key=lambda pour: (pour.code, pour.assessor))
                if (pour.assessor, pour.code) not in known
            ],
        }
        short = [need for need in needs(pours, self.session.bottles) if need.short]
        notes = (*notes, sentence("change.new_sheets", folder=self.session.folder))
        if short:
            notes = (*notes, sentence("change.short", n=len(short)))
        changed = replace(
            change,
            assessors=tuple(assessors),
            pours=tuple(replace(pour, bottle="", replicate=0) for pour in pours),
            sealed=seal(key),
        )
        inside = private_folder(self.session.folder / KEY_CHANGES)
        write_bytes(inside / f"{change.number}.json", written(key))
        close(inside / f"{change.number}.json")
        return self._kept(changed, notes)

    def _kept(self, change: Change, notes: tuple[Sentence, ...] = ()) -> Changed:
        """Write a change down and log it, unless one that stands says the same."""
        if change.kind != "undone":
            for before in self.plan.course.standing:
                if before.same_as(change) and change.pours is None:
                    return Changed(before, new=False, notes=())
        path = self.session.folder / CHANGES
        listed = [plain(one) for one in (*self.plan.course.changes, change)]
        content = {"format": FORMAT, "plan": self.plan.number, "changes": listed}
        write_bytes(path, written(content))
        append(
            self.session.folder,
            "change",
            plan=self.plan.number,
            number=change.number,
            kind=change.kind,
            sealed=seal(plain(change)),
        )
        after = load_open(self.session)
        served = [
            pour
            for pour in pours_with_key(self.session, after)
            if (pour.assessor, pour.code) not in after.course.unserved
        ]
        return Changed(change, new=True, notes=(*notes, balance_now(served)))


def balance_now(pours: Iterable[Pour]) -> Sentence:
    """Say how balanced the cups are that were served: places and followers, as counts differ."""
    places: Counter[tuple[int, str]] = Counter()
    followers: Counter[tuple[str, str]] = Counter()
    rows: dict[tuple[str, int], list[Pour]] = {}
    for pour in pours:
        if pour.counted and pour.tasted:
            rows.setdefault((pour.assessor, pour.replicate), []).append(pour)
    bottles: set[str] = set()
    longest = 0
    for row in rows.values():
        order = [pour.bottle for pour in sorted(row, key=lambda pour: pour.presentation)]
        bottles |= set(order)
        longest = max(longest, len(order))
        for place, bottle in enumerate(order):
            places[place, bottle] += 1
        for one, two in pairwise(order):
            followers[one, two] += 1
    spread = 0
    for place in range(longest):
        often = [places[place, bottle] for bottle in bottles]
        spread = max(spread, max(often) - min(often))
    pairs = [followers[one, two] for one in bottles for two in bottles if one != two] or [0]
    return sentence(
        "change.balance", orders=len(rows), places=spread, pairs=max(pairs) - min(pairs)
    )


def _best_order(
    taken: Sequence[Pour], bottles: Sequence[str], tasted: bool, draw: Draw
) -> Sequence[str]:
    """Return the order of bottles that leaves places and followers as equal as can be."""
    rows: dict[tuple[str, int], list[Pour]] = {}
    for pour in taken:
        if pour.counted and pour.tasted == tasted:
            rows.setdefault((pour.assessor, pour.replicate), []).append(pour)
    places: Counter[tuple[int, str]] = Counter()
    followers: Counter[tuple[str, str]] = Counter()
    for row in rows.values():
        order = [pour.bottle for pour in sorted(row, key=lambda pour: pour.presentation)]
        places.update(enumerate(order))
        followers.update(pairwise(order))

    def cost(order: Sequence[str]) -> int:
        """Count what stands at these places and follows so already: each repeat weighs more."""
        return 2 * sum(places[at] for at in enumerate(order)) + sum(
            followers[pair] for pair in pairwise(order)
        )

    if len(bottles) <= 6:
        tried = draw.shuffled(permutations(bottles), "orders")
    else:
        tried = [tuple(draw.shuffled(bottles, "order", at)) for at in range(_DRAWS)]
    return min(tried, key=cost)
