"""When to open, take out, warm and pour: counted back from the first cup of each flight.

The minutes are common practice, no source; a thermometer in the cup decides.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..base.words import Sentence, say, sentence
from ..plan.pours import Pour
from ..session.bottles import Bottle
from ..session.conditions import varied, written
from ..session.session import Session

WARM = 30.0
"""°C from which on a bottle is warmed in a bath."""
COLD = 12.0
"""°C up to which a bottle stays in the cold until it is poured."""
ABOVE = 2.0
"""°C that a warmed flask is above the cup, which takes them from it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServingStep:
    """One thing to do.

    Attributes
    ----------
    minutes : float
        From the first cup of the session; below 0 before it.
    flight : int
        0 for what is done on an earlier day.
    what : Sentence
    """

    minutes: float
    flight: int
    what: Sentence


def has_clock(session: Session) -> bool:
    """Tell whether times are worth a list: a start is given, or cups differ in how they come."""
    timed = {"temperature_c", "opened_days"} & set(varied(session.bottles))
    return session.settings.serving.start is not None or bool(timed)


def steps(pours: Sequence[Pour], session: Session) -> list[ServingStep]:
    """Return what is to be done for all cups, in the order of the clock."""
    bottles = {one.name: one for one in session.bottles}
    made = _opened_before([bottles[pour.bottle] for pour in pours])
    for flight, begins in flight_starts(pours, session).items():
        served = [pour for pour in pours if pour.flight == flight]
        made += _of_flight(served, flight, begins, session)
    return sorted(made, key=lambda one: one.minutes)


def flight_starts(pours: Sequence[Pour], session: Session) -> dict[int, float]:
    """Return the minute of the first cup of each flight, the first flight at 0."""
    serving = session.settings.serving
    cups: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for pour in pours:
        cups[pour.flight][pour.assessor] += 1
    starts, now = {}, 0.0
    for flight in sorted(cups):
        starts[flight] = now
        now += max(cups[flight].values()) * serving.cup_minutes + serving.rest_minutes
    return starts


def _opened_before(bottles: Iterable[Bottle]) -> list[ServingStep]:
    """Return the openings of earlier days, each bottle once."""
    listed: dict[float, dict[str, None]] = defaultdict(dict)
    for one in bottles:
        if one.opened_days is not None and one.opened_days > 0:
            listed[one.opened_days][one.liquid] = None
    return [
        ServingStep(
            minutes=-days * 24 * 60,
            flight=0,
            what=sentence("serving.step_open", bottles=list(names)),
        )
        for days, names in listed.items()
    ]


def _of_flight(
    pours: Sequence[Pour], flight: int, begins: float, session: Session
) -> list[ServingStep]:
    serving = session.settings.serving
    pouring = begins - serving.pour_minutes
    groups: dict[float, dict[str, None]] = defaultdict(dict)
    for pour in pours:
        one = session.bottle(pour.bottle)
        degrees = serving.temperature_c if one.temperature_c is None else one.temperature_c
        groups[degrees][one.liquid] = None
    made: list[tuple[float, str, dict[str, object]]] = []
    for degrees, names in sorted(groups.items()):
        values: dict[str, object] = {"bottles": list(names), "degrees": f"{degrees:g}"}
        if degrees >= WARM:
            values["bath"] = f"{degrees + ABOVE:g}"
            made.append((pouring - serving.warm_minutes, "warm", values))
        elif degrees > COLD:
            made.append((pouring - serving.take_out_minutes, "take_out", values))
    order = sorted(groups, key=_poured_first)
    listed = [sentence("serving.level_temperature_c", level=f"{degrees:g}") for degrees in order]
    made.append((pouring, "pour", {"flight": flight, "listed": listed}))
    return [
        ServingStep(minutes=minutes, flight=flight, what=sentence(f"serving.step_{key}", **values))
        for minutes, key, values in made
    ]


def _poured_first(degrees: float) -> tuple[int, float]:
    """Order by how fast a cup leaves its temperature: room first, then cold, warm last."""
    return (2 if degrees >= WARM else 1 if degrees <= COLD else 0, degrees)


def clock_lines(pours: Sequence[Pour], session: Session, language: str) -> list[str]:
    """Write the list by the clock; in minutes before and after the first cup without a start."""
    lines = [
        f"{_when(step, session, language)}  {step.what.to(language)}"
        for step in steps(pours, session)
    ]
    kept = [say("serving.kept", language)] if varied(session.bottles) else []
    return [say("serving.heading", language), *lines, *kept]


def _when(step: ServingStep, session: Session, language: str) -> str:
    settings = session.settings
    start = settings.serving.start
    if not step.flight:
        first = dt.datetime.combine(settings.date, start or dt.time(12))
        moment = first + dt.timedelta(minutes=step.minutes)
        clock = f" {moment:%H:%M}" if start is not None and step.minutes % (24 * 60) else ""
        return f"{moment:%Y-%m-%d}{clock}"
    if start is None:
        return say("serving.minutes", language, minutes=f"{step.minutes:+g}".replace("-", "−"))
    return f"{dt.datetime.combine(settings.date, start) + dt.timedelta(minutes=step.minutes):%H:%M}"


def condition_cells(bottle: Bottle, columns: Iterable[str], language: str) -> list[str]:
    """Write a bottle's conditions for a row of a list."""
    cells = (written(name, bottle.level(name)) for name in columns)
    return [one if isinstance(one, str) else one.to(language) for one in cells]
