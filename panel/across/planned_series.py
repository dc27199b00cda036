"""A series planned: one bottle on several days after opening, or in several months of store.

Small sessions with a kept reference, each in a folder of its own, made after one pattern; and a
calendar that says which bottle is kept or opened when. How long is common practice, no source.
"""

from __future__ import annotations

import calendar
import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import InputRefused
from ..base.records import read_rows
from ..base.whole_files import own_folder, write_text
from ..base.words import Sentence, sentence
from ..plan.doses import Need, needs
from ..plan.planning import make, named_pours
from ..session.bottles import KNOWN, Bottle
from ..session.care import care
from ..session.session import Session
from ..session.session_folder import load
from ..session.setting_lines import with_settings
from ..session.template_files import PRIVATE, table_text
from .session_history import SCORES, TIMES

CALENDAR = "calendar.txt"
FEWEST = 2
"""Evenings below which there is nothing to compare."""
_LONGEST = 36
_PLANNING = b"a series: what it takes, not how it is dealt"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSeries:
    """What was asked for.

    Attributes
    ----------
    over : str
        ``days`` after opening or ``months`` in store.
    at : tuple of int
        Days or months, in their order.
    start : date
        When the bottles are opened, or laid down.
    reference : str
        The bottle that every evening has, by its name.
    kept : bool
        Whether one reference is kept for all evenings, instead of a fresh one each time.
    """

    over: str
    at: tuple[int, ...]
    start: dt.date
    reference: str
    kept: bool = False

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """The evenings."""
        if self.over == "days":
            return tuple(self.start + dt.timedelta(days=day) for day in self.at)
        return tuple(months_after(self.start, month) for month in self.at)


def months_after(day: dt.date, months: int) -> dt.date:
    """Return the same day so many months later, the month's last where it has no such day.

    Examples
    --------
    >>> str(months_after(dt.date(2027, 1, 31), 1)), str(months_after(dt.date(2027, 11, 30), 3))
    ('2027-02-28', '2028-02-29')
    """
    whole = day.year * 12 + day.month - 1 + months
    year, month = divmod(whole, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return dt.date(year, month + 1, min(day.day, last))


def times_written(written: str) -> tuple[int, ...]:
    """Read ``1,4,10``.

    Raises
    ------
    InputRefused
        If there are not two whole numbers of 0 or more at least, each once.
    """
    try:
        found = [int(part) for part in written.replace("、", ",").split(",")]
    except ValueError:
        found = []
    if len(found) < FEWEST or min(found) < 0 or len(set(found)) < len(found) or max(found) > 3650:
        raise InputRefused("series.bad_times", found=written)
    return tuple(sorted(found))


def write_series(folder: Path, pattern: Path, wished: PlannedSeries) -> list[Path]:
    """Write the session folders and the calendar of a series.

    Parameters
    ----------
    folder : Path
        A new folder.
    pattern : Path
        A session folder: its settings, assessors and bottles are those of every evening.
    wished : PlannedSeries

    Returns
    -------
    list of Path
        What was written, the calendar last.

    Raises
    ------
    InputRefused
        If the folder is filled, the reference is no bottle of the pattern, its bottles have a
        day or month already, or there is too little in the bottles.
    """
    session = load(pattern)
    column = TIMES[wished.over]
    names = [one.name for one in session.samples]
    if wished.reference not in names:
        raise InputRefused("series.no_reference", found=wished.reference, have=names)
    followed = [one for one in session.samples if one.name != wished.reference]
    if not followed:
        raise InputRefused("series.nothing_followed", name=wished.reference)
    timed = [one.name for one in session.bottles if one.level(column)]
    if timed:
        raise InputRefused("series.timed", bottles=timed, column=column)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputRefused("folder.exists", folder=folder)
    taken = _needs(session)
    _refuse_short(session, wished, taken)
    written = []
    with own_folder(folder) as aside:
        for number, (time, date) in enumerate(zip(wished.at, wished.dates, strict=True), start=1):
            place = aside / f"{number:02d}-{date.isoformat()}"
            place.mkdir()
            for name, content in _evening(session, wished, number, time, date).items():
                (place / name).write_bytes(content)
                written.append(folder / place.name / name)
        text = "\n".join(calendar_lines(session, wished, taken)) + "\n"
        write_text(aside / CALENDAR, text)
    return [*written, folder / CALENDAR]


def _evening(
    session: Session, wished: PlannedSeries, number: int, time: int, date: dt.date
) -> dict[str, bytes]:
    """Return the files of one evening; its name, which stands on the sheets, tells no day."""
    source = session.folder
    name = f"{session.settings.name[:_LONGEST].rstrip('-')}-{number}"
    text = (source / "session.toml").read_text("utf-8-sig")
    text = with_settings(text, {("", "name"): name, ("", "date"): date.isoformat()})
    content = {"session.toml": text.encode()}
    table, _ = read_rows(source, "bottles", ("bottle",), KNOWN, further=True)
    column = TIMES[wished.over]
    samples = {one.name: one for one in session.samples}
    rows = []
    for _, row in table.rows:
        told = dict(row)
        if told["bottle"] in samples:
            told[column] = "0" if told["bottle"] == wished.reference else str(time)
        rows.append(told)
    columns = [one for one in KNOWN if one == column or any(one in row for row in rows)]
    columns += [one.lower() for one in table.further]
    content["bottles.csv"] = table_text(columns, rows)
    for path in source.iterdir():
        if path.is_file() and (path.stem == "assessors" or path.name == PRIVATE):
            content[path.name] = path.read_bytes()
    return content


def _needs(session: Session) -> dict[str, Need]:
    """Return what one evening takes of each bottle, spare sheets and open flight too."""
    plan = make(session, secret=_PLANNING)
    named = named_pours(session, [one.code for one in plan.assessors])
    return {one.bottle: one for one in needs([*plan.pours, *named], session.bottles)}


def bottles_taken(wished: PlannedSeries, bottle: Bottle, need: Need) -> tuple[int, float]:
    """Return how many bottles a series takes, and how many millilitres.

    Bottles that are followed over days are opened together on the first day and serve all
    evenings; what is fresh or closed until its evening is opened for it alone.
    """
    evenings = len(wished.at)
    if bottle.name != wished.reference and wished.over == "days":
        return math.ceil(need.ml * evenings / bottle.volume_ml - 1e-9), need.ml * evenings
    return need.bottles * evenings, need.ml * evenings


def _refuse_short(session: Session, wished: PlannedSeries, taken: Mapping[str, Need]) -> None:
    short = []
    for bottle in _opened(session, taken):
        wanted, ml = bottles_taken(wished, bottle, taken[bottle.liquid])
        if wanted > bottle.available:
            told = {"name": bottle.liquid, "n": wanted, "ml": f"{ml:g}"}
            short.append(f"- {sentence('series.short', available=bottle.available, **told)}")
    if short:
        raise InputRefused("series.not_enough", listed="\n".join(short))


def _opened(session: Session, taken: Mapping[str, Need]) -> list[Bottle]:
    """Return one sample for each liquid that is opened."""
    found: dict[str, Bottle] = {}
    for bottle in session.samples:
        if bottle.liquid in taken:
            found.setdefault(bottle.liquid, bottle)
    return list(found.values())


def calendar_lines(session: Session, wished: PlannedSeries, taken: Mapping[str, Need]) -> list[str]:
    """Write the calendar: what is kept, opened and poured when, how, and what it cannot say."""
    language = session.settings.language
    days = wished.over == "days"
    followed = [one for one in _opened(session, taken) if one.name != wished.reference]
    house = next(one for one in _opened(session, taken) if one.name == wished.reference)
    kept = "kept" if wished.kept else "fresh"
    counts = [
        sentence("series.of", n=bottles_taken(wished, one, taken[one.liquid])[0],
                 name=one.liquid)
        for one in followed
    ]  # fmt: skip
    of_house = sentence("series.of", n=bottles_taken(wished, house, taken[house.liquid])[0],
                        name=house.liquid)  # fmt: skip
    lines: list[Sentence] = [
        sentence(f"series.title_{wished.over}"),
        sentence(f"series.first_{wished.over}", date=wished.start.isoformat(), bottles=counts),
        sentence(f"series.reference_{kept}", bottles=of_house),
    ]
    used = dict.fromkeys((one.liquid for one in followed), 0.0)
    for number, (time, date) in enumerate(zip(wished.at, wished.dates, strict=True), start=1):
        folder = f"{number:02d}-{date.isoformat()}"
        told = []
        for one in followed:
            need = taken[one.liquid]
            used[one.liquid] += need.ml
            left = bottles_taken(wished, one, need)[0] * one.volume_ml - used[one.liquid]
            values = {"name": one.liquid, "ml": f"{need.ml:g}", "left": f"{left:g}"}
            told.append(sentence(f"series.pour_{wished.over}", n=need.bottles, **values))
        fresh = taken[house.liquid]
        told.append(
            sentence("series.pour_reference", n=fresh.bottles, name=house.liquid,
                     ml=f"{fresh.ml:g}")
        )  # fmt: skip
        lines.append(
            sentence(f"series.evening_{wished.over}", date=date.isoformat(), time=time,
                     folder=folder, poured=told)
        )  # fmt: skip
    lines += [sentence(f"series.between_{wished.over}"), sentence("series.same_people")]
    cared = [f"- {one}" for one in care(session.bottles, language)]
    after = [
        sentence(f"series.then_{wished.over}", reference=wished.reference),
        sentence("series.no_safety"),
    ]
    return [
        *(line.to(language) for line in lines),
        *cared,
        *(line.to(language) for line in after),
        *([] if days else [sentence(f"series.aged_{kept}").to(language)]),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """One evening of a series as it stands.

    Attributes
    ----------
    folder : Path
    date : date
    state : str
        ``done`` with a report; ``open``, planned and without one; ``waiting``, not planned.
    """

    folder: Path
    date: dt.date
    state: str


def evenings_of(folder: Path) -> list[Evening]:
    """Return the evenings of a series by date.

    Raises
    ------
    InputRefused
        If the folder is no series.
    """
    places = sorted(one.parent for one in folder.glob("*/session.toml"))
    if not (folder / CALENDAR).is_file() or not places:
        raise InputRefused("series.none", folder=folder)
    found = []
    for place in places:
        done = (place / SCORES).is_file()
        planned = (place / "plan" / "plan.json").is_file()
        state = "done" if done else "open" if planned else "waiting"
        found.append(Evening(folder=place, date=load(place).settings.date, state=state))
    return sorted(found, key=lambda one: one.date)


def standing_lines(evenings: Sequence[Evening], today: dt.date) -> list[Sentence]:
    """Say of each evening whether it is done, and which one is next or was missed."""
    lines = []
    for one in evenings:
        late = one.state != "done" and one.date < today
        key = "missed" if late else one.state
        lines.append(
            sentence(f"series.is_{key}", date=one.date.isoformat(), folder=one.folder.name)
        )
    left = [one for one in evenings if one.state != "done" and one.date >= today]
    if left:
        days = (left[0].date - today).days
        key = "next" if days else "next_today"
        told = {"date": left[0].date.isoformat(), "folder": left[0].folder}
        lines.append(sentence(f"series.{key}", n=days, **told))
    else:
        lines.append(sentence("series.over", n=sum(one.state == "done" for one in evenings)))
    return lines
