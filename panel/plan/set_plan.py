"""Planning a test session: which cups stand together before whom."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ...analysis.core.words import Sentence
from ..base.words import sentence
from ..session.roster import Assessor
from ..session.session import Session
from ..session.set_checks import refuse_what_cannot_be_told
from .code_draw import Used, blind_codes
from .pours import Pour
from .secret_draw import Draw
from .serving_orders import balance, nearly_balanced
from .set_orders import dealt

Hand = list[list[str]]
"""What one assessor gets: presentations of bottle names in serving order."""


def set_pours(
    session: Session,
    groups: Sequence[tuple[Draw, Sequence[Assessor]]],
    coded: Draw,
    used: Used | None,
) -> tuple[list[Pour], tuple[Sentence, ...]]:
    """Return the coded cups of a test session and what its design holds.

    Parameters
    ----------
    session : Session
    groups : sequence of (draw, assessors)
        The panel, and the spare sheets, which get orders of their own.
    coded : Draw
        What the codes are drawn from.
    used : Used or None
        Codes that were dealt before.

    Raises
    ------
    PlanRefused
        If the test would test the eye, or could not show what it is for.
    """
    notes = list(refuse_what_cannot_be_told(session))
    hands: dict[str, Hand] = {}
    for rank, (draw, assessors) in enumerate(groups):
        if not assessors:
            continue
        own, said = _hands(session, len(assessors), draw)
        hands |= {one.code: hand for one, hand in zip(assessors, own, strict=True)}
        notes += said if rank == 0 else ()
    return _coded(session, hands, coded, used), tuple(notes)


def a_and_b(session: Session) -> tuple[str, str]:
    """Return the bottles that stand for A and B in the orders of a test.

    A is the reference where there is one; B the stronger where one is named.
    """
    first, second = (bottle.name for bottle in session.samples)
    test = session.settings.test
    if test.reference == second or test.stronger == first:
        return second, first
    return first, second


def _hands(session: Session, n: int, draw: Draw) -> tuple[list[Hand], list[Sentence]]:
    settings = session.settings
    each = settings.serving.replicates
    match session.method.samples:
        case "several":
            return _ranked(session, n, draw)
        case "levels":
            return _rising(session, n, draw)
        case _:
            orders = session.method.orders_for(settings.test)
            bottles = dict(zip("AB", a_and_b(session), strict=True))
            cards = draw.shuffled(dealt(orders, n, each, draw.seed("orders")), "assessors")
            hands = [[[bottles[x] for x in order] for order in card] for card in cards]
            rest = n * each % len(orders)
            key = "set.orders_even" if rest else "set.orders_exact"
            said = sentence(key, orders=len(orders), n=n * each, multiple=len(orders))
            return hands, [said]


def _ranked(session: Session, n: int, draw: Draw) -> tuple[list[Hand], list[Sentence]]:
    """Give each assessor all samples, or some of them by an incomplete block design."""
    settings = session.settings
    names = draw.shuffled([bottle.name for bottle in session.samples], "bottles")
    each = settings.serving.replicates
    k = settings.test.per_flight or len(names)
    if k < len(names):
        from ...analysis.ranking.block_design import block_plan

        plan = block_plan(len(names), k, n * each, seed=draw.seed("blocks"))
        rows = [[names[i] for i in flight] for flight in plan.flights]
        hands = [rows[i * each : (i + 1) * each] for i in range(n)]
        return hands, list(plan.sentences())
    orders = nearly_balanced(len(names), [n] * each, draw.seed("orders"))
    hands = [[[names[i] for i in orders[r * n + who]] for r in range(each)] for who in range(n)]
    reached = balance(orders)
    kind = "exact" if reached.exact else "nearly" if reached.nearly else "uneven"
    full = len(names) * (2 if len(names) % 2 else 1)
    said = sentence(
        f"plan.balance_{kind}",
        places=reached.position_spread,
        pairs=reached.pair_spread,
        multiple=full,
        orders=n * each,
    )
    return hands, [said]


def _rising(session: Session, n: int, draw: Draw) -> tuple[list[Hand], list[Sentence]]:
    """Serve the levels from weak to strong, the spiked cup among two blanks."""
    test = session.settings.test
    levels = sorted(test.levels, key=lambda name: test.levels[name])
    cards = dealt(session.method.orders, n * len(levels), 1, draw.seed("orders"))
    places = iter(card[0] for card in draw.shuffled(cards, "cards"))
    hands = []
    for _ in range(n):
        hand = []
        for name in levels:
            bottles = {"A": test.reference, "B": name}
            hand.append([bottles[x] for x in next(places)])
        hands.append(hand)
    return hands, [sentence("set.rising", steps=len(levels))]


def _flights(hands: dict[str, Hand], cups: int) -> dict[tuple[str, int], int]:
    """Put as many sets in a flight as its cups allow, alike over the flights.

    Returns the flight of each set, by assessor and number of the set.
    """
    found: dict[tuple[str, int], int] = {}
    for assessor, hand in hands.items():
        together = max(1, cups // max(map(len, hand)))
        parts = math.ceil(len(hand) / together)
        found |= {(assessor, at + 1): at * parts // len(hand) + 1 for at in range(len(hand))}
    return found


def _coded(session: Session, hands: dict[str, Hand], draw: Draw, used: Used | None) -> list[Pour]:
    """Give each cup a code: cups of one bottle before one assessor never share one."""
    settings = session.settings
    own = settings.serving.codes == "per-assessor"
    cups = []
    for assessor, hand in hands.items():
        for number, bottles in enumerate(hand, start=1):
            copies = {
                name: draw.shuffled(range(bottles.count(name)), "copies", assessor, number, name)
                for name in sorted(set(bottles))
            }
            for place, name in enumerate(bottles):
                copy = copies[name].pop()
                group = (name, assessor, number, place) if own else (name, number, copy)
                cups.append((assessor, number, name, group))
    flights = _flights(hands, settings.serving.flight_size)
    groups = sorted({cup[3] for cup in cups}, key=repr)
    codes = dict(zip(groups, blind_codes([group[0] for group in groups], draw, used), strict=True))
    shown = [
        Pour(
            assessor=assessor,
            presentation=0,
            flight=0,
            code="A",
            bottle=settings.test.reference,
            replicate=0,
            ml=settings.serving.pour_ml,
            counted=False,
        )
        for assessor in hands
        if session.method.shows_reference
    ]
    return shown + [
        Pour(
            assessor=assessor,
            presentation=number,
            flight=flights[assessor, number],
            code=codes[group],
            bottle=name,
            replicate=number,
            ml=settings.serving.pour_ml,
        )
        for assessor, number, name, group in cups
    ]
