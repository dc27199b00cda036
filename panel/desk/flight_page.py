"""The flight with names at the desk: what closing means, what is missing, its sheets to take."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..base.errors import PanelError
from ..base.words import say
from ..open_flight.flight_state import flight_state
from ..open_flight.named_sheets import ORDERS, SHEETS
from ..open_flight.unblinding import refuse_unready, unfinished
from ..plan.open_plan import OpenPlan
from ..returns.closed_flights import closed
from ..returns.store import Store
from ..session.session import Session
from .page_names import by_pages
from .page_writer import PageOf

PART = "named"
"""The part of an address below which its sheets lie."""
ALL = "all-sheets.pdf"


def named_out(place: Path) -> dict[tuple[str, str], Path]:
    """Return what of the open flight may be taken, by part and name; nothing before it is open."""
    if closed(place) is None:
        return {}
    have = {
        one.name: one
        for one in sorted((place / SHEETS).glob("*"))
        if (one.suffix in (".pdf", ".xlsx") or one.name == ORDERS)
        and one.is_file()
        and not one.is_symlink()
    }
    first = [name for name in (ALL, ORDERS) if name in have]
    return {(PART, name): have[name] for name in dict.fromkeys([*first, *have])}


def named_list(page: PageOf, place: Path) -> list[tuple[str, str, str]]:
    """Return the links to the named sheets: what each is called, its part and its name."""
    called = {ALL: page.say("flight_all"), ORDERS: page.say("flight_orders")}
    return [(called.get(name, name), part, name) for part, name in named_out(place)]


def flight_part(page: PageOf, session: Session, plan: OpenPlan) -> dict[str, Any] | None:
    """Return what a page says of the open flight; None where none is wanted and none is open.

    Returns
    -------
    dict or None
        ``open``, whether the blind flights are closed; ``lines``, where it stands or why it cannot
        be opened; ``can``, whether it can be opened; ``left``, what would stay unfinished;
        ``files``, its sheets.
    """
    language, lines = page.language, list[str]()
    if closed(session.folder) is not None:
        lines = flight_lines(page, session, plan)
        return {"open": True, "lines": lines, "files": named_list(page, session.folder)}
    if not session.settings.serving.open_flight:
        return None
    left, can = "", True
    with Store(session.folder, reading=True) as store:
        try:
            refuse_unready(session, plan, store, incomplete=True)
        except PanelError as refusal:
            told = by_pages(refusal.sentence.to(language), session.folder, language)
            lines, can = told.splitlines(), False
        found = unfinished(plan, store)
    if found:
        left = page.say(
            "flight_left", cups=found.listed or ["–"], faults=found.faults, marks=found.marks
        )
    closes = say("unblind.closes", language)
    return {"open": False, "lines": lines, "can": can, "left": left, "closes": closes,
            "incomplete": say("unblind.option_incomplete", language)}  # fmt: skip


def flight_lines(page: PageOf, session: Session, plan: OpenPlan) -> list[str]:
    """Say where an open flight stands, as `kikichoko status` does; what needs a person aside."""
    state = flight_state(session, plan)
    if state.sheets is None:
        return []
    needs = set(state.sheets.needs(page.language))
    said = state.lines(session, page.language)
    told = [line.strip() for line in said if line not in needs]
    return [by_pages(line, session.folder, page.language) for line in told]
