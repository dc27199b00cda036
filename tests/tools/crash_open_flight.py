"""Kills while blind flights are closed, and while somebody is forgotten who was in the open flight.

Before the entry of the log nothing is closed and no name is told; after it the blind part stays
as it is (O09 of tests/outside/open_flight/cases.md). Used by `crash_runs.py`.
"""

from __future__ import annotations

from pathlib import Path

import crash_runs
from crash_runs import CODE, NAME, Case, answers_in, command

FLIGHT = Path("open_flight")
WANTED = "[serving]\nopen_flight = true"
WORDS = {"T2": f"as {NAME} found", "T3": "plum"}


def stages(place: Path) -> None:
    """Make what these commands begin with: blind answers with names, and a flight opened."""
    crash_runs._next(place, "named", "closing", _want)
    crash_runs._next(place, "closing", "open", _unblind)
    crash_runs._next(place, "open", "opened", _taste)


def _want(folder: Path) -> None:
    table = (folder / "session.toml").read_text("utf-8")
    (folder / "session.toml").write_text(table.replace("[serving]", WANTED), "utf-8")


def _taste(folder: Path) -> None:
    """Read what two people marked and wrote with the names told."""
    from kikichoko.panel.demos._tools import fill_workbook
    from kikichoko.panel.open_flight.flight import load_flight
    from kikichoko.panel.plan.plan_file import load_open
    from kikichoko.panel.session.session_folder import load

    session = load(folder)
    flight = load_flight(session, load_open(session))
    sheets = [folder.parent / f"named-{who}.xlsx" for who in WORDS]
    for who, filled in zip(WORDS, sheets, strict=True):
        sheet = flight.own_sheets[who]
        answers: dict[tuple[str, str], float | str] = {}
        for cup in sheet.presentations:
            answers |= {(cup.name, name): 4.0 for name in ("sweetness", "acidity")}
            answers[cup.name, "words"] = WORDS[who]
        fill_workbook(sheet, folder / FLIGHT / f"sheets/{who}.xlsx", filled, answers)
    command("read", folder, *sheets)


def _unblind(folder: Path) -> None:
    command("unblind", folder, "--yes", "--incomplete")


def cases() -> list[Case]:
    """Return the commands that know of an open flight."""
    return [
        Case("unblind", "closing", lambda f, _: _unblind(f), _after, _whole),
        Case("forget named", "opened", lambda f, _: command("forget", f, "T2", "--yes"),
             _forget_after, _forget_whole, lambda _: True),
    ]  # fmt: skip


def _closed(folder: Path) -> bool:
    from kikichoko.panel.returns.closed_flights import closed

    return closed(folder) is not None


def _after(folder: Path, place: Path) -> list[str]:
    """The blind answers stand; a sheet with names is there only where the log tells of it."""
    wrong = crash_runs._is_well(folder)
    if answers_in(folder) != answers_in(place / "closing"):
        wrong.append("blind answers are not as they were")
    sheets = folder / FLIGHT / "sheets"
    if sheets.exists():
        made, wanted = _sheets(folder), _sheets(place / "opened")
        wrong += [] if _closed(folder) else ["sheets with names, and nothing is closed"]
        wrong += [] if made == wanted else [f"sheets with names: {made}"]
    return wrong


def _sheets(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / FLIGHT / "sheets").iterdir())


def _whole(folder: Path, place: Path) -> list[str]:
    """A repeat leaves all sheets, and one entry of the log."""
    from kikichoko.panel.base.session_log import read_log

    entries = len(read_log(folder).of("open_flight"))
    wrong = [] if entries == 1 else [f"opened {entries} times"]
    wrong += [] if (folder / FLIGHT / "sheets").exists() else ["no sheets with names"]
    return wrong + _after(folder, place)


def _named_scores(folder: Path) -> list[tuple[object, ...]]:
    return crash_runs._scores_of(folder / FLIGHT)


def _forget_after(folder: Path, place: Path) -> list[str]:
    """Named scores stay too; see the case without an open flight."""
    wrong = crash_runs._forget_after(folder, place)
    if _named_scores(folder) != _named_scores(place / "opened"):
        wrong.append("named scores are not as they were")
    return wrong


def _forget_whole(folder: Path, place: Path) -> list[str]:
    wrong = _forget_after(folder, place) + crash_runs._is_well(folder)
    wrong += crash_runs._forget_tells(folder)
    if any(CODE.search(str(row[0])) for row in answers_in(folder / FLIGHT)):
        wrong.append("named answers still hold the code")
    texts = (folder / FLIGHT / name for name in ("flight.json", "sheets/orders.csv", "late.json"))
    return wrong + [f"{path.name} still holds the code" for path in texts
                    if path.exists() and CODE.search(path.read_text("utf-8"))]  # fmt: skip
