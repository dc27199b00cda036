"""What the server works from: orders, pour list, order of filling, key, in plain tables.

Everything that names a bottle goes below ``plan/server/``; ``plan/orders.csv``
names none and may lie on the table.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path

from ...line_breaks import columns
from ...rounding import rounded
from ..base.plain_cells import write_csv
from ..base.private_files import close, private_folder
from ..base.whole_files import MADE, note_made, write_text
from ..base.words import say, sentence
from ..plan.doses import DEFAULT_ABV, GUIDELINE, Dose, doses, needs
from ..plan.planning import named_bottles, named_pours
from ..plan.pours import Plan, Pour
from ..session.bottles import Bottle
from ..session.care import care, care_mark
from ..session.conditions import varied
from ..session.roster import Assessor
from ..session.session import Session
from .serving_clock import clock_lines, condition_cells, has_clock

PLAN, SERVER = Path("plan"), Path("plan/server")


def write(plan: Plan, session: Session) -> list[Path]:
    """Write the tables of a plan; return their paths below the session folder."""
    place = session.folder / PLAN
    language = session.settings.language
    files = {
        Path("plan/orders.csv"): orders_table(plan, language),
        SERVER / "pour_list.csv": pour_table(plan.pours, session.bottles, language),
        SERVER / "bottles_needed.csv": bottle_table(plan.pours, session, language),
        SERVER / "key.csv": key_table(plan, language),
    }
    server = private_folder(place / SERVER.name)
    for path, rows in files.items():
        target = place / path.relative_to(PLAN)
        write_csv(target, rows)
        if SERVER in path.parents:
            close(target)
    text = server / "serving.txt"
    write_text(text, "\n".join(serving_text(plan, session, language)) + "\n")
    close(text)
    written = [*files, SERVER / "serving.txt"]
    for folder in (place, server):
        inside = [place / path.relative_to(PLAN) for path in written]
        note_made(folder, [path for path in inside if path.parent == folder])
    close(server / MADE)
    return written


def orders_table(plan: Plan, language: str) -> list[list[str]]:
    """One row per assessor: the codes in the order in which they are tasted."""
    rows = [[say("plan.col_assessor", language), say("plan.col_place", language)]]
    longest = 0
    for one in plan.assessors:
        cups = [pour for pour in plan.pours if pour.assessor == one.code]
        codes = [f"({pour.code})" if not pour.counted else pour.code for pour in cups]
        sheet = next((sheet for sheet in plan.sheets if sheet.assessor == one.code), None)
        if sheet is not None and sheet.alone:  # the order is made by shuffling, not here
            codes = [shown.name for shown in sheet.presentations if not shown.beneath]
        rows.append([one.code, *codes])
        longest = max(longest, len(codes))
    rows[0] = [rows[0][0], *(str(place) for place in range(1, longest + 1))]
    return rows


def filling(pours: Sequence[Pour]) -> list[tuple[int, str, str, float, list[str]]]:
    """Return the order of filling: flight, bottle, code, mL, assessors.

    Bottle after bottle, so that one label serves a whole row; each flight
    begins with another bottle, so that none always stands longest.
    """
    cups: dict[tuple[int, str, str, float], list[str]] = defaultdict(list)
    for pour in pours:
        cups[pour.flight, pour.bottle, pour.code, pour.ml].append(pour.assessor)
    flights = sorted({flight for flight, *_ in cups})
    listed = []
    for flight in flights:
        own = [group for group in cups if group[0] == flight]
        names = sorted({bottle for _, bottle, _, _ in own})
        start = flight % len(names)
        turn = {name: rank for rank, name in enumerate(names[start:] + names[:start])}
        inside = sorted(own, key=lambda group: (turn[group[1]], group[2]))
        listed += [(*group, cups[group]) for group in inside]
    return listed


def pour_table(pours: Sequence[Pour], bottles: Sequence[Bottle], language: str) -> list[list[str]]:
    """One row per code in the order of filling.

    Columns: flight, bottle, conditions that vary, care, code, number of cups, mL, assessors; care
    only where it is due for any bottle.
    """
    marks = {one.name: care_mark(one, language) for one in bottles}
    cared = any(marks.get(pour.bottle) for pour in pours)
    apart = varied(bottles)
    served = {one.name: condition_cells(one, apart, language) for one in bottles}
    names = ("flight", "bottle", *apart, *(["care"] if cared else []), "code", "cups", "ml",
             "total", "for")  # fmt: skip
    rows = [[say(f"plan.col_{name}", language) for name in names]]
    for flight, bottle, code, ml, who in filling(pours):
        amounts = [str(len(who)), f"{ml:g}", f"{ml * len(who):g}"]
        mark = [marks.get(bottle, "")] if cared else []
        number = str(flight) if flight else say("plan.first_served", language)
        rows.append([number, bottle, *served.get(bottle, []), *mark, code, *amounts, " ".join(who)])
    return rows


def bottle_table(pours: Sequence[Pour], session: Session, language: str) -> list[list[str]]:
    """One row per bottle: cups, mL together, bottles to open, bottles at hand, care."""
    needed = needs(with_named(pours, session), session.bottles)
    aged = any(need.opened_days for need in needed)
    names = ("bottle", *(["opened_days"] if aged else []), "cups", "total", "open", "have", "care")
    rows = [[say(f"plan.col_{name}", language) for name in names]]
    marks = {one.liquid: care_mark(one, language) for one in session.bottles}
    for need in needed:
        days = "" if need.opened_days is None else f"{need.opened_days:g}"
        counts = (need.cups, f"{need.ml:g}", need.bottles, need.available)
        rows.append(
            [need.bottle, *([days] if aged else []), *map(str, counts), marks.get(need.bottle, "")]
        )
    return rows


def key_table(plan: Plan, language: str) -> list[list[str]]:
    """One row per code: code, bottle, replicate."""
    rows = [[say("plan.col_code", language), say("plan.col_bottle", language)]]
    rows[0].append(say("plan.col_replicate", language))
    seen = dict.fromkeys((pour.code, pour.bottle, str(pour.replicate)) for pour in plan.pours)
    return rows + [list(row) for row in sorted(seen)]


def heaviest(pours: Sequence[Pour], assessors: Sequence[Assessor], session: Session) -> Dose:
    """Return the largest amount of alcohol that one assessor is served."""
    quiet = [one.code for one in assessors if not one.tastes]
    return max(doses(pours, session.bottles, quiet), key=lambda dose: dose.swallowed)


def dose_lines(
    pours: Sequence[Pour], assessors: Sequence[Assessor], session: Session, language: str
) -> list[str]:
    """Say how much alcohol that is, against the published guideline figures."""
    dose = heaviest(pours, assessors, session)
    lines = [
        say(
            "plan.dose",
            language,
            most=rounded(dose.swallowed, ".1f"),
            ml=f"{dose.ml:g}",
            spat_low=rounded(dose.spat[0], ".1f"),
            spat_high=rounded(dose.spat[1], ".1f"),
        )
    ]
    if any(bottle.abv is None for bottle in session.bottles):
        lines.append(say("plan.dose_assumed", language, abv=f"{DEFAULT_ABV:g}"))
    above = {who: limit for who, limit in GUIDELINE.items() if dose.swallowed > limit}
    if above:
        highest = max(above, key=lambda who: above[who])
        whom = sentence("plan.anybody" if highest == "occasion" else f"plan.{highest}")
        lines.append(say("plan.dose_above", language, limit=f"{above[highest]:g}", whom=whom))
    lines.append(say("plan.dose_below", language))
    return lines


def with_named(pours: Sequence[Pour], session: Session) -> list[Pour]:
    """Return the cups of a plan with those of its open flight, if one is to follow."""
    return [*pours, *named_pours(session, list(dict.fromkeys(one.assessor for one in pours)))]


def open_flight_lines(session: Session, language: str) -> list[str]:
    """Say that names are told at the end, where that is planned."""
    serving = session.settings.serving
    if not serving.open_flight:
        return []
    count = len(named_bottles(session))
    return [say("plan.open_flight", language, n=count, ml=f"{serving.pour_ml:g}")]


def cautions(session: Session, language: str) -> list[str]:
    """List the cautions that belong to a tasting, those for opening the bottles first."""
    raw = any(bottle.raw for bottle in session.bottles)
    keys = ("spit", "who", "cold", "law") if raw else ("spit", "who", "law")
    return [
        *care(session.bottles, language),
        *(say(f"plan.caution_{key}", language) for key in keys),
    ]


def parcel_lines(assessors: Sequence[Assessor], session: Session) -> list[str]:
    """Write what to lay into a parcel, in the language of each taster; no bottle is named."""
    lines: list[str] = []
    for language in dict.fromkeys(one.language for one in assessors if one.tastes):
        told = care(session.bottles, language, named=False)
        if told:
            whom = " ".join(
                one.code for one in assessors if one.tastes and one.language == language
            )
            lines += ["", say("care.parcel", language, assessors=whom), *_bulleted(told)]
    return lines


def alone_lines(session: Session, language: str) -> list[str]:
    """Say step by step how one person pours, shuffles, tastes and turns the cups over."""
    if not session.settings.serving.alone:
        return []
    keys = [*(f"step_{number}" for number in range(1, 8)), "gives_away", "limits"]
    return [say(f"alone.{key}", language) for key in keys]


def fill_rules(pours: Sequence[Pour], session: Session, language: str) -> list[str]:
    """Say how to fill and in what; the flight that is looked at has its own vessel, uncovered."""
    serving = session.settings.serving
    temperature = f"{serving.temperature_c:g}"
    rules = []
    apart = varied(session.bottles)
    if any(pour.tasted for pour in pours) and {"temperature_c", "vessel"} & set(apart):
        rules.append(say("serving.fill_rule", language))
    elif any(pour.tasted for pour in pours):
        vessel = serving.vessel or "–"
        rules.append(say("plan.fill_rule", language, temperature=temperature, vessel=vessel))
    looked_at = sorted({pour.flight for pour in pours if not pour.tasted})
    if looked_at:
        flights = ", ".join(map(str, looked_at))
        vessel = serving.appearance_vessel or say("plan.look_vessel", language)
        told = {"n": len(looked_at), "flights": flights, "vessel": vessel}
        rules.append(say("plan.fill_look", language, temperature=temperature, **told))
    return [*rules, *_as_written(pours, session, language)]


def _as_written(pours: Sequence[Pour], session: Session, language: str) -> list[str]:
    """Repeat how each bottle is kept or mixed, as bottles.csv has it, the same words once."""
    served = {pour.bottle for pour in pours}
    names: dict[str, list[str]] = defaultdict(list)
    for bottle in session.bottles:
        if bottle.storage and bottle.name in served:
            names[bottle.storage].append(bottle.name)
    return [
        say("plan.as_written", language, bottles=listed, text=text)
        for text, listed in names.items()
    ]


def serving_text(plan: Plan, session: Session, language: str) -> list[str]:
    """Write the server's page: cautions, alcohol, filling, what the design holds."""
    alone = session.settings.serving.alone
    return [
        say("plan.caution_title", language),
        *_bulleted(cautions(session, language)),
        "",
        *dose_lines(with_named(plan.pours, session), plan.assessors, session, language),
        "",
        *_alone(session, language),
        *_clock(plan, session, language),
        say("plan.heading_fill", language),
        *fill_rules(plan.pours, session, language),
        *_aligned(pour_table(plan.pours, session.bottles, language)),
        "",
        *_aligned(bottle_table(plan.pours, session, language)),
        "",
        *_bulleted(note.to(language) for note in plan.notes),
        *([] if alone else parcel_lines(plan.assessors, session)),
    ]


def _clock(plan: Plan, session: Session, language: str) -> list[str]:
    if not has_clock(session):
        return []
    return [*clock_lines(plan.pours, session, language), ""]


def _alone(session: Session, language: str) -> list[str]:
    told = alone_lines(session, language)
    return [say("alone.title", language), *told, ""] if told else []


def _bulleted(lines: Iterable[str]) -> list[str]:
    return [f"- {line}" for line in lines]


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(columns(row[place]) for row in rows) for place in range(len(rows[0]))]
    return [
        "  ".join(
            text + " " * (width - columns(text)) for text, width in zip(row, widths, strict=True)
        ).rstrip()
        for row in rows
    ]
