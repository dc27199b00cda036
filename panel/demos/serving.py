"""One tank, clear and cloudy, raw and pasteurised, cold and warm, on three days after opening.

Each evening is planned, answered in typed tables, taken in and opened on the record; a house sake,
freshly opened each time, ties the evenings together. How the tanks were brewed stands in a batch
book beside them. The first evening has its report and a buyer's page a bottle; all three are put
together as a series. The truth stands in ``demo_sessions/serving/truth.toml``.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..across.session_history import collect, labels_of, times_of
from ..base.words import reader
from ..batches.book import FOLDER as BOOK
from ..batches.book import add, load_book
from ..batches.reading import read_file
from ..findings.tainted import held
from ..handouts.server_files import write as write_server_files
from ..key.opened_tables import tables
from ..key.opening import open_key
from ..offer.files import write_offer
from ..plan.plan_file import load_open, save
from ..plan.planning import make
from ..report.build import build, open_context
from ..report.files import write
from ..returns.store import Store
from ..returns.taking_in import take_in
from ..session.bottles import Bottle
from ..session.session_folder import load
from ._tools import (
    INBOX,
    PLANNED,
    READ,
    TANKS,
    Demonstration,
    dated,
    line_score,
    normal,
    refuse_filled,
    secret_of,
    spoken_file,
    truth,
)

if TYPE_CHECKING:
    import numpy as np

    from ...analysis.anova.days_through_reference import ChangeOverDays
    from ..report.context import Context

NAME = "serving"
STEPS = 4
MARGIN = 1.5
"""Points of change that would matter, stated with the scenario."""


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Run three evenings in a new folder and what they say together."""
    import numpy as np

    refuse_filled(folder)
    known = truth(NAME)
    panel = Marks(known, np.random.default_rng(known["seed"] if seed is None else seed))
    brewed(folder)
    taken, report = 0, folder
    for evening in known["evenings"]:
        place = folder / evening["name"]
        taken += _evening(place, evening, panel)
        report = report if report != folder else place / "report" / "report.html"
        tick()
    found = together(folder, known, reader())
    (folder / "days.txt").write_text(found.text(reader(), people=True) + "\n", "utf-8")
    tick()
    return Demonstration(folder=folder, report=report, taken=taken, faults=[])


def brewed(folder: Path) -> None:
    """Read the brewery's own table of tanks into the book beside the evenings."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / TANKS
    table.write_bytes(spoken_file(NAME, TANKS, reader()))
    book = load_book(folder / BOOK)
    add(book, read_file(table, book).facts, table)


def offered(context: Context) -> None:
    """Write the buyer's page of each bottle that is not held back, in both languages."""
    bottles = {
        context.session.bottle(name).poured_from: name
        for name in context.products
        if name not in held(context.findings.evidence)
    }
    write_offer(context, list(bottles.values()))


def together(folder: Path, known: dict[str, Any], language: str = "") -> ChangeOverDays:
    """Follow the bottles over the three evenings; with a language, in the words of the sheets."""
    from ...analysis.anova.days_through_reference import change_over_days

    collected = collect([folder / evening["name"] for evening in known["evenings"]])
    scores = collected.scores
    if language:
        kinds = list(scores["attribute"].cat.categories)
        places = [folder / evening["name"] for evening in known["evenings"]]
        words = {name: name for name in kinds} | labels_of(places, kinds, language)
        scores = scores.assign(attribute=scores["attribute"].cat.rename_categories(words))
    house = known["reference"]
    names = dict.fromkeys(("session", "sample", "attribute", "assessor"), str)
    return change_over_days(
        scores.astype(names),
        times_of(collected, "days", house),
        margin=MARGIN,
        reference=house,
    )


class Marks:
    """The invented truth, and how every assessor marks."""

    def __init__(self, known: dict[str, Any], rng: np.random.Generator) -> None:
        self.known, self.rng = known, rng
        self._drawn: dict[tuple[str, ...], float] = {}

    def _own(self, sd: str, *what: str) -> float:
        """Draw what belongs to a person once, and remember it."""
        key = (sd, *what)
        if key not in self._drawn:
            self._drawn[key] = normal(self.rng, self.known["spread"][sd])
        return self._drawn[key]

    def mean(self, bottle: Bottle, what: str, day: str) -> float:
        """Return the true mean of a cup, without the panel's drift."""
        known, warm = self.known, (bottle.temperature_c or 0) > 20
        parts = [known["mean"][what]]
        parts += [known["when_cloudy"].get(what, 0.0)] * bottle.looks_cloudy
        parts += [known["raw"].get(what, 0.0)] * (bottle.pasteurised == "0")
        parts += [known["warm"].get(what, 0.0)] * warm
        parts += [known["warm_cloudy"].get(what, 0.0)] * (warm and bottle.looks_cloudy)
        aged = known["aged"].get(day, {}).get(what, 0.0)
        parts += [aged] * (bottle.pasteurised == "0")
        return float(sum(parts))

    def score(self, who: str, bottle: Bottle, what: str, day: str) -> float:
        """Draw one answer."""
        value = self.mean(bottle, what, day)
        value += self.known["panel_drift"].get(day, {}).get(what, 0.0)
        value += self._own("assessor", who, what) + self._own("bottle", who, bottle.name, what)
        value += self._own("evening", who, what, day)
        if (bottle.temperature_c or 0) > 20:
            value += self._own("warmth", who, what)
        return line_score(value + normal(self.rng, self.known["spread"]["noise"]), 0, 10)


def _evening(folder: Path, evening: dict[str, Any], panel: Marks) -> int:
    """Plan one evening, answer it, take it in and open the key; the first has a report."""
    _write_folder(folder, evening)
    session = load(folder)
    plan = make(session, secret=secret_of(NAME, evening["name"]))
    with dated(session, PLANNED):
        save(plan, folder)
    write_server_files(plan, session)
    typed = folder / INBOX / "typed.csv"
    typed.parent.mkdir()
    with typed.open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["assessor", "code", "attribute", "score"])
        for pour in plan.pours:
            bottle = session.bottle(pour.bottle)
            for what in panel.known["mean"]:
                value = panel.score(pour.assessor, bottle, what, evening["day"])
                table.writerow([pour.assessor, pour.code, what, f"{value:g}"])
    open_plan = load_open(session)
    with dated(session, READ), Store(folder) as store:
        taken = take_in(open_plan, store, [typed])
        if evening is panel.known["evenings"][0]:
            context = open_context(session, open_plan, store, "report")
            write(build(context), context)
            offered(context)
        else:
            key = open_key(session, open_plan, store, "report")
            scores = tables(session, open_plan, store, key).scores
            scores.to_csv(folder / "scores.csv", index=False, encoding="utf-8")
    return taken.added


def _write_folder(folder: Path, evening: dict[str, Any]) -> None:
    folder.mkdir(parents=True)
    filled = {"NAME": evening["name"], "DATE": str(evening["date"])}
    text = spoken_file(NAME, "session.toml", reader()).decode("utf-8")
    for word, value in filled.items():
        text = text.replace(word, value, 1)
    (folder / "session.toml").write_text(text, "utf-8")
    (folder / "assessors.csv").write_bytes(spoken_file(NAME, "assessors.csv", reader()))
    bottles = spoken_file(NAME, "bottles.csv", reader()).decode("utf-8")
    (folder / "bottles.csv").write_text(bottles.replace("DAY", evening["day"]), "utf-8")
