"""Four tanks over two years, six tastings with a reference bottle and one bottle kept in store.

Sweetness truly depends on meter value and acidity, as ``truth.toml`` of the
scenario states; the panel drifts in one attribute, the kept bottle changes in
another. Each tasting is planned, answered in typed tables, taken in and opened
on the record; then all six are put together and linked to their chemistry. At last
two of the panel taste three bottles of the third year, once: what the house remembers of the
six stands in that session's report.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..across.session_history import collect, labels_of
from ..base.report_face import set_figures_in_own_face
from ..base.words import reader, say
from ..key.earlier_sessions import earlier_sessions
from ..key.opened_tables import tables
from ..key.opening import open_key
from ..plan.plan_file import load_open, save
from ..plan.planning import make
from ..plan.pours import Plan
from ..report.build import build, open_context
from ..report.files import write
from ..returns.store import Store
from ..returns.taking_in import take_in
from ..session.session import Session
from ..session.session_folder import load
from ._tools import (
    INBOX,
    PLANNED,
    READ,
    Demonstration,
    dated,
    line_score,
    normal,
    secret_of,
    spoken_file,
    spoken_name,
    truth,
)

if TYPE_CHECKING:
    import numpy as np

    from ...analysis.link.link_result import Link
    from ...analysis.performance.panel_over_time import History

NAME = "vintages"
STEPS = 9
REFERENCE = "house sake"
ASKED = ("sweetness", "acidity", "bitterness", "body")


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Run six tastings in a new folder and what they say together."""
    known = truth(NAME)
    world = World(known, seed=known["seed"] if seed is None else seed)
    taken = 0
    for sitting in known["sessions"]:
        taken += _tasting(folder / sitting["name"], sitting, world)
        tick()
    words = labels_of([folder / one["name"] for one in known["sessions"]], ASKED, reader())
    past, linked = together(folder, known, words)
    tick()
    report = _write(folder, past, linked, words)
    tick()
    taken += _tasting_of_two(folder, world, words)
    tick()
    return Demonstration(folder=folder, report=report, taken=taken, faults=[])


def together(
    folder: Path, known: dict[str, Any], words: Mapping[str, str] | None = None
) -> tuple[History, Link]:
    """Put the six folders together, and link sweetness and the rest to the bottles' numbers.

    With words, what was asked is called by them.
    """
    from ...analysis.link.score_on_chemistry import link
    from ...analysis.performance.panel_over_time import history

    collected = collect([folder / sitting["name"] for sitting in known["sessions"]])
    reference = spoken_name(REFERENCE)
    kinds = collected.scores["attribute"].cat.categories
    names = {name: (words or {}).get(name, name) for name in kinds}
    scores = collected.scores.assign(
        attribute=collected.scores["attribute"].cat.rename_categories(names)
    )
    past = history(scores, collected.sessions, collected.bottles, reference=reference)
    plain = dict.fromkeys(("session", "assessor", "sample", "attribute"), str)
    chemistry = collected.bottles.drop_duplicates(["session", "sample"])
    linked = link(
        scores.astype(plain),
        chemistry,
        predictors=["meter_value", "acidity"],
        batch="batch",
        sweet=names["sweetness"],
        scale=(0, 10),
    )
    return past, linked


class World:
    """The invented truth: what every bottle is, and how every assessor marks."""

    def __init__(self, known: dict[str, Any], *, seed: int) -> None:
        import numpy as np

        self.known = known
        self.rng: np.random.Generator = np.random.default_rng(seed)
        self._drawn: dict[tuple[str, ...], float] = {}
        text = spoken_file(NAME, "bottles.csv", reader()).decode("utf-8")
        self.rows = list(csv.DictReader(io.StringIO(text)))
        self.start = known["sessions"][0]["date"]

    def own(self, sd: str, *what: str) -> float:
        """Draw what belongs to a batch, bottle or person once, and remember it."""
        key = (sd, *what)
        if key not in self._drawn:
            self._drawn[key] = normal(self.rng, self.known["spread"][sd])
        return self._drawn[key]

    def served(self, year: str) -> list[dict[str, str]]:
        """Return the rows of the bottles that stand in a tasting of this year."""
        kept = self.known["store"]["bottle"]
        if year == self.known["two"]["year"]:
            return [row for row in self.rows if row["year"] == year]
        return [
            row for row in self.rows if row["year"] in ("always", year) or row["bottle"] == kept
        ]

    def score(self, sitting: dict[str, Any], row: dict[str, str], who: str, what: str) -> float:
        """Draw one answer."""
        known, bottle = self.known, row["bottle"]
        away = {
            "slope_meter_value": float(row["meter_value"]) - 2,
            "slope_acidity": float(row["acidity"]) - 1.5,
        }
        mean = known["centre"][what] + self.own("assessor", who, what)
        for slope, distance in away.items():
            true = known[slope].get(what, 0.0)
            mean += true * distance * (1 + self.own("bend", who, what, slope))
        mean += self.own("batch", row["tank"], row["lot"], what) + self.own("bottle", bottle, what)
        mean += known["panel_drift"].get(sitting["name"], {}).get(what, 0.0)
        if bottle == known["store"]["bottle"]:
            months = (sitting["date"] - self.start).days / 30.4375
            mean += known["store"].get(what, 0.0) * months
        mean += self.own("opinion", who, bottle, what)
        return line_score(mean + normal(self.rng, known["spread"]["noise"]), 0, 10)


def _tasting(folder: Path, sitting: dict[str, Any], world: World) -> int:
    """Plan one tasting, answer it in typed tables, take them in, open the key; count answers."""
    _write_folder(folder, sitting, world)
    session = load(folder)
    plan = make(session, secret=secret_of(NAME, sitting["name"]))
    with dated(session, PLANNED):
        save(plan, folder)
    typed = _type(session, plan, sitting, world)
    open_plan = load_open(session)
    with dated(session, READ), Store(folder) as store:
        taken = take_in(open_plan, store, [typed])
        key = open_key(session, open_plan, store, "report")
        scores = tables(session, open_plan, store, key).scores
    scores.to_csv(folder / "scores.csv", index=False, encoding="utf-8")
    return taken.added


def _tasting_of_two(folder: Path, world: World, words: Mapping[str, str]) -> int:
    """Let two taste three bottles once; write what the house remembers, and the report."""
    from ...analysis.core.look import save as save_figure

    sitting = world.known["two"]
    place = folder / sitting["name"]
    _write_folder(place, sitting, world)
    text = (place / "session.toml").read_text("utf-8")
    once = text.replace("replicates = 2", "replicates = 1", 1)
    once = re.sub(r'(?m)^question = ".*"$', f'question = "{sitting["question"]}"', once)
    (place / "session.toml").write_text(once, "utf-8")
    heading, *people = (place / "assessors.csv").read_text("utf-8").splitlines()
    two = [line for line in people if line.split(",")[0] in sitting["assessors"]]
    (place / "assessors.csv").write_text("\n".join([heading, *two, ""]), "utf-8")
    session = load(place)
    plan = make(session, secret=secret_of(NAME, sitting["name"]))
    with dated(session, PLANNED):
        save(plan, place)
    open_plan = load_open(session)
    typed = _type(session, plan, sitting, world)
    with dated(session, READ), Store(place) as store:
        taken = take_in(open_plan, store, [typed])
        context = open_context(session, open_plan, store, "report")
        write(build(context), context)
    earlier = earlier_sessions(folder, before=sitting["date"])
    if earlier.memory is not None:
        page = say("memory.learned", source=earlier.source) + "\n\n"
        kept = earlier.memory.called(words)
        page += kept.text(reader(), people=True)
        (folder / "memory.txt").write_text(page + "\n", "utf-8")
        save_figure(kept.figure(language=reader()), folder / "memory.png")
    return taken.added


def _write_folder(folder: Path, sitting: dict[str, Any], world: World) -> None:
    folder.mkdir(parents=True)
    text = spoken_file(NAME, "session.toml", reader()).decode("utf-8")
    filled = {"NAME": sitting["name"], "DATE": str(sitting["date"])}
    for word, value in filled.items():
        text = text.replace(word, value, 1)
    (folder / "session.toml").write_text(text, "utf-8")
    (folder / "assessors.csv").write_bytes(spoken_file(NAME, "assessors.csv", reader()))
    with (folder / "bottles.csv").open("w", encoding="utf-8", newline="") as out:
        columns = [name for name in world.rows[0] if name != "year"]
        table = csv.DictWriter(out, columns, extrasaction="ignore")
        table.writeheader()
        table.writerows(world.served(sitting["year"]))


def _type(session: Session, plan: Plan, sitting: dict[str, Any], world: World) -> Path:
    """Type the answers of all assessors into one table."""
    rows = {row["bottle"]: row for row in world.rows}
    target = session.folder / INBOX / "typed.csv"
    target.parent.mkdir()
    with target.open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["assessor", "code", "attribute", "score"])
        for pour in plan.pours:
            for what in ASKED:
                value = world.score(sitting, rows[pour.bottle], pour.assessor, what)
                table.writerow([pour.assessor, pour.code, what, f"{value:g}"])
    return target


def _write(folder: Path, past: History, linked: Link, words: Mapping[str, str]) -> Path:
    """Write what the tastings say together, as text, numbers and figures."""
    import json

    from ...analysis.core.look import save as save_figure
    from ...analysis.link.inverse_prediction import target

    sweet = words.get("sweetness", "sweetness")
    fitted = linked.fits.get(sweet)
    wanted = 6.0
    parts = [past.text(reader(), people=True), linked.text(reader(), people=True)]
    if fitted is not None:
        solved = target(fitted, sweet, wanted, solve="acidity", given={"meter_value": 0.0})
        parts.append(solved.text(reader(), people=True))
    page = folder / "together.txt"
    rule = "\n\n" + "=" * 72 + "\n\n"
    page.write_text(say("demo.vintages_head") + rule + rule.join(parts) + "\n", "utf-8")
    numbers = {"history": past.to_dict(), "link": linked.to_dict()}
    (folder / "together.json").write_text(
        json.dumps(numbers, ensure_ascii=False, indent=1), "utf-8"
    )
    set_figures_in_own_face()
    drawings = {
        "plane": linked.plane(sweet, wanted=wanted, group="tank", language=reader()),
        "slopes": linked.figure(language=reader()),
        "panel": past.figure(language=reader()),
    }
    for name, figure in drawings.items():
        save_figure(figure, folder / f"{name}.png")
    return page
