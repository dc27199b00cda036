"""The plan of a session: who gets which code in which order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ...analysis.core.words import Sentence
from ...forms.questions.question_types import Scorecard
from ...forms.questions.sheet import Presentation, Sheet
from ..base.errors import PlanRefused
from ..base.words import sentence
from ..session.bottles import Bottle
from ..session.roster import Assessor
from ..session.session import Session
from .code_draw import blind_codes
from .doses import needs
from .pours import Plan, Pour
from .serving_orders import balance, nearly_balanced
from .set_plan import set_pours

SPARE = "S"


def make(session: Session) -> Plan:
    """Plan a session, reproducibly from its seed.

    Raises
    ------
    PlanRefused
        If the bottles do not suffice, or there are not enough codes.
    """
    settings = session.settings
    spares = _spares(session)
    # Spare sheets get orders of their own, so that the panel stays balanced without them.
    groups = [(settings.seed, session.assessors), (settings.seed + 500, spares)]
    pours, notes = (set_pours if session.method.compares else _profile_pours)(session, groups)
    _check_bottles(session, pours)
    assessors = (*session.assessors, *spares)
    return Plan(
        session=settings.name,
        seed=settings.seed,
        assessors=assessors,
        pours=tuple(pours),
        sheets=sheets(session, assessors, pours),
        notes=(*notes, *_more_notes(session)),
    )


def _profile_pours(
    session: Session, groups: Sequence[tuple[int, Sequence[Assessor]]]
) -> tuple[list[Pour], tuple[Sentence, ...]]:
    """Return the coded cups of a profile, served one at a time, and how balanced they are."""
    settings = session.settings
    serving = settings.serving
    pours = []
    notes: tuple[Sentence, ...] = ()
    for seed, group in groups:
        if not group:
            continue
        blocks = [len(group)] * serving.replicates
        orders, said = _orders(session.samples, blocks, seed, grouped=serving.order)
        notes = notes or said
        pours += [
            *_warm_up(session, group),
            *_blind_flights(session, group, orders),
            *_appearance_flight(session, group),
        ]
    own = serving.codes == "per-assessor"
    return _coded(pours, per_assessor=own, seed=settings.seed), notes


def _spares(session: Session) -> tuple[Assessor, ...]:
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


def _orders(
    bottles: Sequence[Bottle], blocks: list[int], seed: int, *, grouped: str
) -> tuple[list[list[Bottle]], tuple[Sentence, ...]]:
    """Return one order of bottles per assessor and replicate, replicate by replicate."""
    groups = sorted({bottle.group for bottle in bottles}) if grouped == "grouped" else [None]
    rows: list[list[Bottle]] = [[] for _ in range(sum(blocks))]
    notes: list[Sentence] = []
    for rank, group in enumerate(groups):
        members = [bottle for bottle in bottles if group is None or bottle.group == group]
        orders = nearly_balanced(len(members), blocks, seed + rank)
        for row, order in zip(rows, orders, strict=True):
            row += [members[place] for place in order]
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
    return rows, tuple(notes)


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


def _appearance_flight(session: Session, assessors: Sequence[Assessor]) -> list[Pour]:
    """Serve all samples once more, to be looked at only, after the blind flights."""
    serving = session.settings.serving
    if serving.appearance != "flight" or not _appearance_keys(session.scorecard):
        return []
    size = len(session.samples)
    before = serving.replicates * size
    flights = serving.replicates * math.ceil(size / serving.flight_size)
    orders = nearly_balanced(size, [len(assessors)], session.settings.seed + 1000)
    return [
        Pour(
            assessor=one.code,
            presentation=before + place + 1,
            flight=flights + 1,
            code="",
            bottle=session.samples[sample].name,
            replicate=1,
            ml=serving.appearance_ml,
            tasted=False,
        )
        for one, order in zip(assessors, orders, strict=True)
        for place, sample in enumerate(order)
    ]


def _coded(pours: list[Pour], *, per_assessor: bool, seed: int) -> list[Pour]:
    """Give every cup its code: one per bottle and replicate, or one per cup."""

    def group(pour: Pour) -> tuple[object, ...]:
        own = (pour.assessor, pour.presentation) if per_assessor else ()
        return (pour.tasted, pour.replicate, pour.bottle, *own)

    groups = sorted({group(pour) for pour in pours}, key=repr)
    codes = dict(zip(groups, blind_codes(len(groups), seed), strict=True))
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


def _appearance_keys(scorecard: Scorecard) -> tuple[str, ...]:
    return tuple(question.key for question in scorecard if question.section == "appearance")


def _more_notes(session: Session) -> tuple[Sentence, ...]:
    serving = session.settings.serving
    notes = [sentence(f"plan.codes_{serving.codes.replace('-', '_')}")]
    notes.append(sentence(f"plan.masking_{serving.masking.replace('-', '_')}"))
    if serving.appearance == "flight" and _appearance_keys(session.scorecard):
        notes.append(sentence("plan.appearance_flight"))
    if any(bottle.lively for bottle in session.bottles):
        names = [bottle.name for bottle in session.bottles if bottle.lively]
        notes.append(sentence("plan.lively", bottles=names))
    return tuple(notes)


def sheets(
    session: Session, assessors: Sequence[Assessor], pours: Sequence[Pour]
) -> tuple[Sheet, ...]:
    """Make the sheets of a plan; they get codes and questions, never a bottle."""
    settings = session.settings
    serving = settings.serving
    appearance = _appearance_keys(session.scorecard)
    blind = tuple(
        key
        for key in session.scorecard.keys
        if serving.appearance == "with" or key not in appearance
    )
    made = []
    for one in assessors:
        own = [pour for pour in pours if pour.assessor == one.code]
        if session.method.shows_reference:
            own = [pour for pour in own if pour.counted]  # A is shown openly, without a question
        presentations = []
        flight = own[0].flight if own else 0
        for number in dict.fromkeys(pour.presentation for pour in own):
            cups = [pour for pour in own if pour.presentation == number]
            rest = serving.rest_minutes if cups[0].flight > max(flight, 1) else 0
            flight = cups[0].flight
            presentations.append(
                Presentation(
                    number=number,
                    flight=flight,
                    codes=tuple(pour.code for pour in cups),
                    asked=blind if cups[0].tasted else appearance,
                    counted=cups[0].counted,
                    rest_before=rest,
                )
            )
        made.append(
            Sheet(
                session=settings.name,
                title=settings.title,
                assessor=one.code,
                language=one.language,
                date=settings.date.isoformat(),
                presentations=tuple(presentations),
                scorecard=session.scorecard,
                notes=_sheet_notes(session),
                spare=one.spare,
            )
        )
    return tuple(made)


def _sheet_notes(session: Session) -> tuple[str, ...]:
    serving = session.settings.serving
    notes = [f"note_{serving.masking.replace('-', '_')}"]
    if serving.appearance == "flight" and _appearance_keys(session.scorecard):
        notes.append("note_appearance_flight")
    if session.method.shows_reference:
        notes.append("note_a_first")
    if session.method.right is not None and not session.settings.test.ties:
        notes.append("note_guess")
    return tuple(notes)
