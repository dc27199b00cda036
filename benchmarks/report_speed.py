"""How long does a report take, and where does the time go? ``python benchmarks/report_speed.py``.

Processor time (user and system) of whole processes, the best of ``--runs``: ``kikichoko report``
on an invented session of 12 assessors, 6 samples, 3 replicates and 30 attributes (17 lines, the
balance, 6 words, 6 faults); the same with the 30 questions of the full card and what it may ask
besides (23 lines and 35 further attributes), for which no goal is set; and ``kikichoko demo``.
``--parts`` says where the time of one of each goes, by watching a run from
within: what is first needed is charged to who first needs it.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/report_speed.py --parts
"""

from __future__ import annotations

import argparse
import csv
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from functools import wraps
from importlib import _bootstrap
from pathlib import Path

import numpy as np
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.plan.pours import Plan
from kikichoko.panel.session.session import Session

SEED = 21
ASSESSORS, SAMPLES, REPLICATES = 12, 6, 3
REPORT, DEMO = 8.0, 15.0
"""Goals in seconds."""
PROGRAM = Path(sys.executable).with_name("kikichoko")
SESSION = """name = "speed"
title = "Six tanks"
date = 2026-03-14
question = "Do the six tanks differ?"
language = "en"
[serving]
replicates = {replicates}
pour_ml = 10
flight_size = 6
rest_minutes = 10
codes = "shared"
order = "balanced"
appearance = "flight"
appearance_ml = 8
[questions]
"""
THIRTY = """drop = [
    "carbonation", "aroma:banana", "aroma:muscat", "aroma:citrus", "aroma:chestnut", "aroma:milk",
    "aroma:yoghurt", "aroma:herb", "aroma:wood", "aroma:anise", "aroma:spice", "aroma:nut",
    "aroma:honey", "aroma:caramel", "fault:solvent", "fault:green_wood", "fault:fatty",
    "fault:light_struck", "fault:paper", "fault:rubber",
]
"""
FULL = """card = "full"
options = ["expected", "another_sip", "no_fault"]
"""


def filled(folder: Path, card: str = THIRTY) -> None:
    """Write, plan, fill and read the session with a card; nothing of it is measured."""
    from kikichoko.panel.handouts.server_files import write as write_server_files
    from kikichoko.panel.plan.plan_file import load_open, save
    from kikichoko.panel.plan.planning import make
    from kikichoko.panel.returns.store import Store
    from kikichoko.panel.returns.taking_in import take_in
    from kikichoko.panel.session.session_folder import load

    folder.mkdir(parents=True)
    (folder / "session.toml").write_text(SESSION.format(replicates=REPLICATES) + card, "utf-8")
    bottles = ["bottle,use,tank,abv,meter_value,acidity,available,volume_ml"]
    bottles += [f"tank {n},sample,{n},16.5,{n - 3},1.{n + 2},4,720" for n in range(1, SAMPLES + 1)]
    people = ["assessor,role,style,language,tastes"]
    people += [f"T{n},trained,neutral,en,yes" for n in range(1, ASSESSORS + 1)]
    (folder / "bottles.csv").write_text("\n".join(bottles) + "\n", "utf-8")
    (folder / "assessors.csv").write_text("\n".join(people) + "\n", "utf-8")
    session = load(folder)
    plan = make(session, secret=bytes(32))
    save(plan, folder)
    write_server_files(plan, session)
    inbox = typed(session, plan)
    with Store(folder) as store:
        taken = take_in(load_open(session), store, inbox)
    if taken.faults:
        raise RuntimeError([fault.message("en") for fault in taken.faults])


def typed(session: Session, plan: Plan) -> list[Path]:
    """Type every sheet as drawn: levels, bottles and scatter by attribute."""
    rng = np.random.default_rng(SEED)
    inside = {(pour.assessor, pour.code): pour.bottle for pour in plan.pours}
    names = [one.name for one in session.samples]
    truth: dict[str, np.ndarray] = {}
    made = []
    for sheet in plan.sheets:
        if sheet.spare:
            continue
        level: dict[str, float] = {}
        path = session.folder / "inbox" / f"{sheet.assessor}.csv"
        path.parent.mkdir(exist_ok=True)
        with path.open("w", encoding="utf-8", newline="") as out:
            rows = csv.writer(out)
            rows.writerow(["assessor", "code", "attribute", "score"])
            for presentation in sheet.presentations:
                code = presentation.name
                place = names.index(inside[sheet.assessor, code])
                for question in sheet.questions(presentation):
                    for attribute in question.attributes:
                        apart = truth.setdefault(attribute, rng.normal(0, 0.8, SAMPLES))[place]
                        own = level.setdefault(attribute, rng.normal(0, 0.8))
                        mark = apart + own + rng.normal(0, 1.0)
                        middle = (question.low + question.high) / 2
                        match question.kind:
                            case Kind.LINE:
                                value = round(2 * (middle + mark)) / 2
                            case Kind.BALANCE | Kind.CATEGORY:
                                value = round(middle + mark)
                            case Kind.FAULTS:
                                value = round(mark - 1.5)
                            case Kind.TICKS:
                                value = float(mark > 1.5)
                            case _:
                                continue
                        value = min(max(value, question.low), question.high)
                        if value or question.kind is not Kind.TICKS:
                            rows.writerow([sheet.assessor, code, attribute, f"{value:g}"])
        made.append(path)
    return made


def seconds(words: list[str], folder: Path) -> float:
    """Run a command to its end; return the processor time that it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, cwd=folder, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


IMPORTS, REST = "loading modules", "all else (start of Python, the command itself)"
WATCHED = {
    "panel.handouts.sheet_files.write_for_assessors": "sheets: PDF and workbooks",
    "panel.handouts.sheet_files.write_for_server": "lists and labels for whoever serves",
    "panel.demos._tools.fill_workbook": "workbooks filled by the invented assessors",
    "panel.returns.taking_in.take_in": "what came back is read",
    "panel.report.build.open_context": "key opened, tables, checks",
    "panel.report.build.build": "sections, all other procedures",
    "panel.report.context.Context.picture": "figures drawn",
    "panel.report.parts.Picture._svg": "figures as SVG",
    "panel.report.parts.Picture.png": "figures as PNG",
    "analysis.claims.one_budget.claims": "claims in one budget",
    "panel.overview.all_told.statements": "what is told beyond the claims",
    "panel.report.each.section": "each assessor",
    "panel.report.faults.section": "faults",
    "panel.report.aroma.section": "words",
    "panel.report.place.section": "map",
    "panel.report.limits.section": "what could not have been found",
    "panel.report.trust.section": "agreement",
    "panel.report.page.html": "the page",
    "panel.report.workbook.write_tables": "tables.xlsx",
    "panel.report.files.numbers": "results.json",
}
"""What is told of a run: the function whose whole time counts, less what is told of apart."""


class Clock:
    """Processor time by part, each second charged to the innermost part that is going on."""

    def __init__(self) -> None:
        self.spent: Counter[str] = Counter()
        self.open = [REST]
        self.last = 0.0

    def turn(self) -> None:
        """Charge the time since the last turn to what is going on."""
        now = time.process_time()
        self.spent[self.open[-1]] += now - self.last
        self.last = now

    def watched(self, run: Callable, part: str) -> Callable:
        """Return the function with its time charged to a part."""

        @wraps(run)
        def timed(*given: object, **named: object) -> object:
            self.turn()
            self.open.append(part)
            try:
                return run(*given, **named)
            finally:
                self.turn()
                self.open.pop()

        return timed

    def watch(self) -> None:
        """Watch every import from now on, and the functions of `WATCHED` once they are there."""
        load = _bootstrap._find_and_load  # noqa: SLF001 - there is no public place
        missing = dict(WATCHED)

        def loaded(name: str, importing: Callable) -> object:
            made = load(name, importing)
            for path in [one for one in missing if f"kikichoko.{one}".startswith(f"{name}.")]:
                place: object = made
                *within, last = f"kikichoko.{path}"[len(name) + 1 :].split(".")
                for step in within:
                    place = vars(place).get(step)
                    if not isinstance(place, type):
                        break
                else:
                    if last in vars(place):
                        own = vars(place)[last]
                        setattr(place, last, self.watched(own, missing.pop(path)))
            return made

        _bootstrap._find_and_load = self.watched(loaded, IMPORTS)  # noqa: SLF001


def parts(words: list[str]) -> None:
    """Run a command in this process and print where its time went."""
    clock = Clock()
    clock.watch()
    from kikichoko.panel.cli import main as command

    try:
        command(words)
    except SystemExit as end:
        if end.code:
            raise
    clock.turn()
    whole = sum(clock.spent.values())
    for part, spent in clock.spent.most_common():
        print(f"{part:48} {spent:6.2f} s {spent / whole:6.1%}")
    print(f"{'together':48} {whole:6.2f} s")


MEASURED: dict[str, tuple[list[str], str, float | None]] = {
    "report": (["report", "speed"], THIRTY, REPORT),
    "full": (["report", "speed"], FULL, None),
    "demo": (["demo"], "", DEMO),
}
"""What is measured: the command, the card of the session it needs, the goal if there is one."""


def main() -> int:
    """Measure all, and say whether the goals are met."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--runs", type=int, default=3)
    options.add_argument("--parts", action="store_true", help="where the time goes")
    options.add_argument("--only", choices=list(MEASURED))
    options.add_argument("--watch", nargs="+", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.watch:
        parts(given.watch)
        return 0
    late = 0
    with tempfile.TemporaryDirectory() as name:
        for what in MEASURED if given.only is None else [given.only]:
            best, goal = measured(what, Path(name) / what, given.runs, inside=given.parts)
            aim = f", goal {goal:g} s" if goal else ""
            print(f"{what}: best {best:.2f} s{aim}", flush=True)
            late += bool(goal) and best >= goal
    return late


def measured(what: str, place: Path, runs: int, *, inside: bool) -> tuple[float, float | None]:
    """Return the shortest processor time of some runs, and the goal; print each."""
    words, card, goal = MEASURED[what]
    place.mkdir()
    kept = place / "kept"
    if card:
        filled(kept, card)
    took = []
    for number in range(runs + inside):
        own = place / str(number)
        own.mkdir()
        if card:
            shutil.copytree(kept, own / "speed")
        if number < runs:
            took.append(seconds([str(PROGRAM), *words], own))
            print(f"{what}: {', '.join(f'{one:.2f}' for one in took)} s", flush=True)
        else:
            watching = [sys.executable, str(Path(__file__).resolve()), "--watch", *words]
            subprocess.run(watching, cwd=own, check=True)
        shutil.rmtree(own)
    return min(took), goal


if __name__ == "__main__":
    sys.exit(main())
