"""What the log tells of the answers, and what the store remembers of the log.

After every act that adds answers the log gets their number and two seals: one of all
rows in their order, one of the answers that stand, whatever their order. Either of log
and store can so tell that the other was cut short or begun anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..base.clock import now
from ..base.session_log import Log, LogEntry, append, read_log
from ..base.toml_text import toml_of
from ..base.words import say
from ..plan.since_planning import TELLS_NOTHING
from ..session.session_folder import SETTINGS
from .store import Store

ACT = "answers"
_ROWS = (
    "SELECT id, plan, assessor, code, attribute, number, text, entered_at, replaces "
    "FROM answers ORDER BY id"
)


@dataclass(frozen=True, slots=True)
class Held:
    """What a store holds.

    Attributes
    ----------
    rows : int
        Rows of answers, corrections among them.
    seal : str
        SHA-256 of the rows in their order.
    standing : str
        SHA-256 of the answers that stand, whatever their order and time.
    settings : str
        SHA-256 of the settings that stood then and touch the plan or what is concluded.
    """

    rows: int
    seal: str
    standing: str
    settings: str

    def told(self) -> dict[str, Any]:
        """Return what the log is told."""
        return {"rows": self.rows, "seal": self.seal, "standing": self.standing,
                "settings": self.settings}  # fmt: skip


def held(store: Store) -> Held:
    """Return what a store holds now."""
    rows, seals = _seals(store)
    return Held(rows, seals.get(rows, ""), standing(store), settings_mark(store.folder))


def settings_mark(folder: Path) -> str:
    """Return the SHA-256 of the settings but those that touch nothing; empty if unreadable."""
    try:
        content = toml_of((folder / SETTINGS).read_text("utf-8-sig"))
    except (OSError, ValueError):
        return ""
    kept = {name: value for name, value in content.items() if name not in TELLS_NOTHING}
    return hashlib.sha256(json.dumps(kept, sort_keys=True, default=str).encode()).hexdigest()


def standing(store: Store) -> str:
    """Return the seal of the answers that stand."""
    return store.kept("standing", lambda: _standing(store))


def _standing(store: Store) -> str:
    lines = sorted(
        json.dumps(
            [one.plan, one.answer.assessor, one.answer.code, one.answer.attribute,
             one.answer.value]
        )
        for one in store.answers()
    )  # fmt: skip
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _seals(store: Store, after: Collection[int] = ()) -> tuple[int, dict[int, str]]:
    """Return the number of rows, and the seal after the last one and after so many of them."""
    asked = frozenset(after)
    return store.kept(("seals", asked), lambda: _sealed(store, asked))


def _sealed(store: Store, after: Collection[int]) -> tuple[int, dict[int, str]]:
    whole, seals, rows = hashlib.sha256(), {0: ""}, 0
    for row in store.database.execute(_ROWS):
        whole.update(json.dumps(row).encode())
        rows += 1
        if rows in after:
            seals[rows] = whole.hexdigest()
    if rows:
        seals[rows] = whole.hexdigest()
    return rows, seals


def note_answers(store: Store, act: str = ACT) -> LogEntry | None:
    """Tell the log what the store holds, unless it knows; return the entry.

    Parameters
    ----------
    store : Store
    act : str
        ``answers`` after an act that added some; ``found`` where an act was broken off
        before it could tell the log.
    """
    log = read_log(store.folder)
    now_held = held(store)
    last = last_told(log)
    if now_held.rows == 0 and last is None:
        return None
    if last is not None and last.values.get("seal") == now_held.seal:
        return None
    return note(store, act, **now_held.told())


def openings_broken_off(store: Store, log: Log) -> list[tuple[LogEntry, int]]:
    """Return the last openings that the log tells of and the store never came to know.

    Only those at which the store held the answers that the log tells of, and remembers that
    it told them: a store that was begun anew or comes from a backup is another matter, even
    if its rows are the same to the second. Each with the last row before it.
    """
    known, remembered = len(store.openings()), heads(store)
    missing = [entry for entry in log.of("open") if entry.number not in remembered]
    if not missing or len(missing) != len(log.of("open")) - known:
        return []
    ids = [row for (row,) in store.database.execute("SELECT id FROM answers ORDER BY id")]
    _, seals = _seals(store, _told_after(missing))
    found = []
    for entry in missing:
        rows = entry.values.get("rows")
        if not isinstance(rows, int) or seals.get(rows) != entry.values.get("seal"):
            return []
        if rows and not any(number < entry.number for number in remembered):
            return []
        found.append((entry, int(ids[rows - 1]) if rows else 0))
    return found


def complete_openings(store: Store) -> None:
    """Let the store know openings of the key at which it was stopped before it could."""
    for entry, row in openings_broken_off(store, read_log(store.folder)):
        store.note_opening(say("store.no_reason"), int(entry.values["sheets_out"]), row, entry.at)


def _told_after(entries: Iterable[LogEntry]) -> set[int]:
    """Return the numbers of rows that entries tell of."""
    told = (entry.values.get("rows") for entry in entries)
    return {rows for rows in told if isinstance(rows, int)}


def last_told(log: Log) -> LogEntry | None:
    """Return the last entry that tells of the answers."""
    telling = [entry for entry in log.entries if "rows" in entry.values]
    return telling[-1] if telling else None


def note(store: Store, act: str, **values: Any) -> LogEntry:
    """Add an entry to the log, and let the store remember its head."""
    entry = append(store.folder, act, **values)
    remember(store, entry)
    return entry


def remember(store: Store, entry: LogEntry) -> None:
    """Let the store remember the head of the log."""
    with store.transaction(), store.beside():
        store.database.execute(
            "INSERT INTO log_heads (number, head, noted_at) VALUES (?, ?, ?)",
            (entry.number, entry.head, now()),
        )


def heads(store: Store) -> dict[int, str]:
    """Return the heads of the log that the store remembers, by the number of the entry."""
    rows = store.database.execute("SELECT number, head FROM log_heads ORDER BY rowid")
    return {int(number): str(head) for number, head in rows}


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Where log and store do not tell the same.

    Attributes
    ----------
    kind : str
        ``log_cut``: the store remembers an entry that the log has not, or another one.
        ``store_cut``: the log tells of more rows than there are.
        ``rows_changed``: rows that the log knows are others now.
        ``untold``: the log does not know the last rows.
    number : int
        LogEntry of the log.
    told, found : int
        Rows.
    """

    kind: str
    number: int
    told: int = 0
    found: int = 0


def compare(store: Store, log: Log) -> list[Disagreement]:
    """Compare what log and store tell of each other."""
    told: list[Disagreement] = []
    known = {entry.number: entry.head for entry in log.entries}
    lost = [number for number, head in heads(store).items() if known.get(number) != head]
    if lost:
        told.append(Disagreement("log_cut", min(lost)))
    count, seals = _seals(store, _told_after(log.entries))
    last = last_told(log)
    forgotten = log.of("forget")
    first = forgotten[-1].number if forgotten else 0
    fewer: list[Disagreement] = []
    for entry in log.entries:
        rows = entry.values.get("rows")
        if not isinstance(rows, int) or entry.number < first or rows == 0:
            continue
        if rows > count:
            fewer.append(Disagreement("store_cut", entry.number, rows, count))
        elif entry is last and seals.get(rows) != entry.values.get("seal"):
            told.append(Disagreement("rows_changed", entry.number, rows, count))
    if fewer:  # rows are never taken out: what was told once is lost, whatever came since
        told.append(max(fewer, key=lambda one: (one.told, one.number)))
    if count > (last.values["rows"] if last else 0):
        told.append(Disagreement("untold", last.number if last else 0, found=count))
    return told


def entered_late(store: Store, log: Log) -> int:
    """Count the answers that came after the first opening of the key, or of which it may be so.

    Where what stands now is what stood when the key was first opened, none did, whatever
    became of the store since. Where the store has forgotten an opening that the log knows,
    all may have.
    """
    opened, known = log.of("open"), store.openings()
    if opened and opened[0].values.get("standing") == standing(store):
        return 0
    if len(opened) > len(known):
        return len(store.answers())
    return store.entered_after(known[0]) if known else 0


def whose_late(store: Store) -> dict[str, int]:
    """Count the answers that came after the first opening that the store knows, by assessor.

    Empty where no opening is known, or its place among the answers was not noted.
    """
    known = store.openings()
    after = known[0].after_row if known else None
    rows = store.database.execute(
        "SELECT assessor, count(*) FROM answers WHERE id > ? GROUP BY assessor ORDER BY assessor",
        (after,),
    )
    return {str(assessor): int(count) for assessor, count in rows}
