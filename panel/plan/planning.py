"""The plan of a session: who gets which code in which order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from ...analysis.core.words import Sentence
from ..base.errors import PlanRefused
from ..base.words import sentence
from ..session.bottles import Bottle
from ..session.conditions import not_blind
from ..session.roster import Assessor
from ..session.session import Session
from .asked_questions import Asked, sheets
from .code_draw import Used, blind_codes
from .doses import needs
from .pours import Plan, Pour
from .secret_draw import Draw
from .serving_orders import balance, nearly_balanced
from .set_plan import set_pours

SPARE = "S"


def make(
    session: Session,
    *,
    secret: bytes | None = None,
    number: int = 1,
    used: Used | None = None,
) -> Plan:
    """Plan a session; codes and orders are drawn from a secret.

    Parameters
    ----------
    session : Session
    secret : bytes, optional
        At least 16 bytes; the same ones give the same plan again. By default 32 new
        ones from the operating system, which is what a tasting needs.
    number : int
        Version of the plan.
    used : Used, optional
        Codes that were dealt before.

    Raises
    ------
    PlanRefused
        If the bottles do not suffice, or there are not enough codes.
    """
    draw = Draw.fresh() if secret is None else Draw(secret)
    spares = _spares(session)
    assessors = (*session.assessors, *spares)
    # Spare sheets get orders of their own, so that the panel stays balanced without them.
    groups = [
        (draw.part("panel", number), session.assessors),
        (draw.part("spare", number), spares),
    ]
    dealt = draw.part("codes", number)
    pour = set_pours if session.method.compares else _profile_pours
    pours, notes = pour(session, groups, dealt, used)
    named = named_pours(session, [one.code for one in assessors])
    _check_bottles(session, [*pours, *named])
    asked = Asked.of(session).with_word_orders(assessors, draw.part("timed", number))
    return Plan(
        session=session.settings.name,
        number=number,
        secret=draw.secret,
        assessors=assessors,
        pours=tuple(pours),
        sheets=sheets(asked, assessors, pours, number),
        notes=(*notes, *_more_notes(session)),
        asked=asked.content,
        planned=as_planned(session),
    )


def named_pours(session: Session, assessors: Sequence[str]) -> list[Pour]:
    """Return the cups of the open flight, in no order, where one is planned; none is coded.

    Controls are not served again: the names are told there, and theirs would tell the rest.
    """
    serving = session.settings.serving
    if not serving.open_flight:
        return []
    return [
        Pour(assessor=who, presentation=place, flight=0, code=bottle.name, bottle=bottle.name,
             replicate=1, ml=serving.pour_ml)
        for who in assessors
        for place, bottle in enumerate(named_bottles(session), start=1)
    ]  # fmt: skip


def named_bottles(session: Session) -> list[Bottle]:
    """Return the bottles that an open flight serves: all that are judged, without controls."""
    return [bottle for bottle in session.samples if not bottle.control]


def as_planned(session: Session) -> dict[str, Any]:
    """Return settings, bottles and assessors as plain values, to be sealed with the key."""
    return {
        "settings": session.settings.model_dump(mode="json"),
        "bottles": [asdict(bottle) for bottle in session.bottles],
        "assessors": [asdict(one) for one in session.assessors],
    }


def _profile_pours(
    session: Session,
    groups: Sequence[tuple[Draw, Sequence[Assessor]]],
    dealt: Draw,
    used: Used | None,
) -> tuple[list[Pour], tuple[Sentence, ...]]:
    """Return the coded cups of a profile, served one at a time, and how balanced they are."""
    serving = session.settings.serving
    pours: list[Pour] = []
    notes: tuple[Sentence, ...] = ()
    for draw, group in groups:
        if not group:
            continue
        blocks = [len(group)] * serving.replicates
        orders, said = bottle_orders(session.samples, blocks, draw, grouped=serving.order)
        notes = notes or said
        pours += [
            *_warm_up(session, group),
            *_blind_flights(session, group, orders),
            *_appearance_flight(session, group, draw),
        ]
    coded = _coded(pours, per_assessor=serving.own_codes, draw=dealt, used=used)
    if serving.alone:
        return _by_code(coded), (sentence("alone.plan"),)
    return coded, notes


def _by_code(pours: list[Pour]) -> list[Pour]:
    """Put the cups of each flight in the order of their codes: shuffling makes the real one."""
    made = []
    flights: dict[tuple[str, int], list[Pour]] = {}
    for pour in pours:
        flights.setdefault((pour.assessor, pour.flight), []).append(pour)
    for row in flights.values():
        numbers = sorted(pour.presentation for pour in row)
        inside = sorted(row, key=lambda pour: pour.code)
        made += [
            replace(pour, presentation=number) for pour, number in zip(inside, numbers, strict=True)
        ]
    return made


def _spares(session: Session) -> tuple[Assessor, ...]:
    if session.settings.serving.alone:
        return ()  # nobody comes late
    taken = {one.code.upper() for one in session.assessors}
    spares: list[Assessor] = []
    number = 0
    while len(spares) < session.settings.serving.spare_sheets:
        number += 1
        if f"{SPARE}{number}" not in taken:
            language = session.assessors[0].language
            spares.append(
                Assessor(code=f"{SPARE}{number}", role="consumer", language=language, spare=True)
            )
    return tuple(spares)


def bottle_orders(
    bottles: Sequence[Bottle], blocks: list[int], draw: Draw, *, grouped: str
) -> tuple[list[list[Bottle]], tuple[Sentence, ...]]:
    """Return one order of bottles per assessor and replicate, replicate by replicate."""
    groups = sorted({bottle.group for bottle in bottles}) if grouped == "grouped" else [None]
    rows: list[list[Bottle]] = [[] for _ in range(sum(blocks))]
    notes: list[Sentence] = []
    for rank, group in enumerate(groups):
        alike = [bottle for bottle in bottles if group is None or bottle.group == group]
        members = draw.shuffled(alike, "bottles", rank)
        orders = nearly_balanced(len(members), blocks, draw.seed("orders", rank))
        for row, order in zip(rows, orders, strict=True):
            row += [members[place] for place in order]
        if len(members) == 1:
            continue  # one bottle has no order
        reached = balance(orders)
        kind = "exact" if reached.exact else "nearly" if reached.nearly else "uneven"
        full = len(members) * (2 if len(members) % 2 and len(members) > 1 else 1)
        notes.append(
            sentence(
                f"plan.balance_{kind}",
                places=reached.position_spread,
                pairs=reached.pair_spread,
                multiple=full,
                orders=sum(blocks),
            )
        )
    if len(groups) > 1:
        listed = [
            f"{group}: " + ", ".join(bottle.name for bottle in bottles if bottle.group == group)
            for group in groups
        ]
        notes.append(sentence("plan.grouped", groups="; ".join(listed)))
    return rows, tuple(dict.fromkeys(notes))


def _warm_up(session: Session, assessors: Sequence[Assessor]) -> list[Pour]:
    serving = session.settings.serving
    name = serving.warm_up or next(
        (bottle.name for bottle in session.bottles if bottle.use == "warm-up"), ""
    )
    if not name:
        return []
    return [
        Pour(
            assessor=one.code,
            presentation=0,
            flight=0,
            code="",
            bottle=name,
            replicate=0,
            ml=serving.pour_ml,
            counted=False,
        )
        for one in assessors
    ]


def _blind_flights(
    session: Session, assessors: Sequence[Assessor], orders: list[list[Bottle]]
) -> list[Pour]:
    """Serve each replicate in flights of equal size, at most `flight_size` cups each."""
    serving = session.settings.serving
    size = len(session.samples)
    parts = math.ceil(size / serving.flight_size)
    pours = []
    for row, order in enumerate(orders):
        replicate, who = divmod(row, len(assessors))
        for place, bottle in enumerate(order):
            pours.append(
                Pour(
                    assessor=assessors[who].code,
                    presentation=replicate * size + place + 1,
                    flight=replicate * parts + place * parts // size + 1,
                    code="",
                    bottle=bottle.name,
                    replicate=replicate + 1,
                    ml=serving.pour_ml,
                )
            )
    return pours


def _appearance_flight(session: Session, assessors: Sequence[Assessor], draw: Draw) -> list[Pour]:
    """Serve all samples once more, to be looked at only, after the blind flights."""
    serving = session.settings.serving
    if serving.appearance != "flight" or not Asked.of(session).appearance_keys:
        return []
    size = len(session.samples)
    before = serving.replicates * size
    flights = serving.replicates * math.ceil(size / serving.flight_size)
    bottles = draw.shuffled(session.samples, "bottles to look at")
    orders = nearly_balanced(size, [len(assessors)], draw.seed("orders to look at"))
    return [
        Pour(
            assessor=one.code,
            presentation=before + place + 1,
            flight=flights + 1,
            code="",
            bottle=bottles[sample].name,
            replicate=1,
            ml=serving.appearance_ml,
            tasted=False,
        )
        for one, order in zip(assessors, orders, strict=True)
        for place, sample in enumerate(order)
    ]


def _coded(pours: list[Pour], *, per_assessor: bool, draw: Draw, used: Used | None) -> list[Pour]:
    """Give every cup its code: one per bottle and replicate, or one per cup."""

    def group(pour: Pour) -> tuple[object, ...]:
        own = (pour.assessor, pour.presentation) if per_assessor else ()
        return (pour.tasted, pour.replicate, pour.bottle, *own)

    groups = sorted({group(pour) for pour in pours}, key=repr)
    bottles = [str(one[2]) for one in groups]
    codes = dict(zip(groups, blind_codes(bottles, draw, used), strict=True))
    coded = [replace(pour, code=codes[group(pour)]) for pour in pours]
    place = {one: rank for rank, one in enumerate(dict.fromkeys(pour.assessor for pour in pours))}
    return sorted(coded, key=lambda pour: (place[pour.assessor], pour.presentation))


def _check_bottles(session: Session, pours: Sequence[Pour]) -> None:
    short = [need for need in needs(pours, session.bottles) if need.short]
    if not short:
        return
    listed = "\n".join(
        "- "
        + str(
            sentence(
                "plan.short",
                bottle=need.bottle,
                ml=f"{need.ml:g}",
                cups=need.cups,
                n=need.bottles,
                available=need.available,
            )
        )
        for need in short
    )
    raise PlanRefused("plan.not_enough", listed=listed)


def _more_notes(session: Session) -> tuple[Sentence, ...]:
    serving = session.settings.serving
    notes = []
    if not serving.alone:
        notes.append(sentence(f"plan.codes_{serving.codes.replace('-', '_')}"))
    rounds = not session.method.compares and not serving.alone
    if serving.replicates > 1 and len(session.bottles) > 1 and rounds:
        notes.append(sentence("plan.rounds", replicates=serving.replicates))
    notes.append(sentence(f"plan.masking_{serving.masking.replace('-', '_')}"))
    if serving.appearance == "flight" and Asked.of(session).appearance_keys:
        notes.append(sentence("plan.appearance_flight"))
    if session.timed:
        part = session.timed
        notes.append(sentence("plan.timed", n=len(part.parts), seconds=part.seconds))
    if serving.open_flight:
        cups = len(named_bottles(session))
        notes.append(sentence("plan.open_flight", n=cups, ml=f"{serving.pour_ml:g}"))
    if any(bottle.lively for bottle in session.bottles):
        names = [bottle.name for bottle in session.bottles if bottle.lively]
        notes.append(sentence("plan.lively", bottles=names))
    notes += not_blind(session.bottles)
    return tuple(notes)
