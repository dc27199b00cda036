"""Killing commands at random moments, and looking at what is left.

A child is forked that runs one command; it is killed (SIGKILL) after a random time, or
just before a random one of its operations on files. What a kill leaves in the cache of
the system is not lost, as it would be by a power failure: that part rests on fsync and
on SQLite's own tests (sqlite.org/atomiccommit.html), not on these runs.
"""

from __future__ import annotations

import io
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import sys
import time
import zipfile
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path

SERVED = """
name = "crash-1"
title = "Tasting"
date = 2026-03-14
question = "Do they differ?"
[serving]
replicates = 1
pour_ml = 20
flight_size = 6
masking = "opaque"
appearance = "off"
spare_sheets = 1
"""
SESSION = f"""{SERVED}
[questions]
drop = ["fault", "aroma_intensity", "bitterness", "astringency", "texture", "carbonation",
        "alcohol_warmth", "flavour_intensity", "finish_length", "clean_cut", "lingering_aroma",
        "cloying"]
"""
BOTTLES = """bottle,tank,fraction,pasteurised,abv,meter_value,acidity,available
early,4,free-run,0,16.5,2,1.5,2
middle,4,clear,0,16.8,2,1.6,2
late,4,cloudy,0,16.9,2,1.7,2
"""
ASSESSORS = """assessor,role,style,language
M1,maker,likes,en
T1,trained,neutral,en
T2,trained,dislikes,ja
T3,trained,neutral,en
T4,expert,neutral,en
"""
ACTS = {"open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "shutil.rmtree", "shutil.move",
        "sqlite3.connect", "os.chmod"}  # fmt: skip
MARKS = 6
MORE_BOTTLES = """twin,4,cloudy,0,16.9,2,1.7,2
extra,4,clear,0,16.8,2,1.6,2
"""
NAME = "Akiko Zauberfrau"


@dataclass
class Tally:
    """What came of the kills of one command."""

    kills: int = 0
    ended: int = 0
    broken: list[str] = field(default_factory=list)


def in_child(work: Callable[[], object], *, after: float = 0, act: int = 0) -> int:
    """Run `work` in a child; kill it after some seconds, or before its n-th act on files.

    Returns the exit status of the child: negative where it was killed.
    """
    child = os.fork()
    if child == 0:
        code = 70
        try:
            code = _run(work, act)
        finally:
            os._exit(code)
    if after:
        until = time.monotonic() + after
        while time.monotonic() < until:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.001)
        os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def is_act(event: str, given: tuple[object, ...]) -> bool:
    """Tell whether an event of the interpreter is an act on files, not a mere reading."""
    reads = event == "open" and isinstance(given[1], str) and not set(given[1]) & set("wax+")
    return event in ACTS and not reads and not str(given[0]).startswith("/dev")


def _run(work: Callable[[], object], act: int) -> int:
    seen = 0

    def count(event: str, given: tuple[object, ...]) -> None:
        nonlocal seen
        if is_act(event, given):
            seen += 1
            if seen == act:
                os.kill(os.getpid(), signal.SIGKILL)

    if act:
        sys.addaudithook(count)
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        try:
            work()
        except SystemExit as end:
            return end.code if isinstance(end.code, int) else 1
    return 0


def warm_up(place: Path) -> None:
    """Load in this process what each child would load again."""
    for name in ("kikichoko.panel.report.files", "kikichoko.panel.returns.taking_in",
                 "matplotlib.pyplot", "openpyxl", "seaborn", "statsmodels.api"):  # fmt: skip
        import_module(name)
    from kikichoko.forms.paper.sheet_pdf import sheets_pdf
    from kikichoko.panel.plan.plan_file import load_open
    from kikichoko.panel.session.session_folder import load

    plan = load_open(load(place / "planned"))
    sheets_pdf([next(iter(plan.sheets.values()))], "A4")


def acts_of(work: Callable[[], object]) -> tuple[int, float]:
    """Count the acts on files of a command that is not killed, and time it."""
    read_end, write_end = os.pipe()

    def counted() -> None:
        seen = 0

        def count(event: str, given: tuple[object, ...]) -> None:
            nonlocal seen
            seen += is_act(event, given)

        sys.addaudithook(count)
        with suppress(SystemExit):
            work()
        os.write(write_end, str(seen).encode())

    began = time.monotonic()
    in_child(counted)
    took = time.monotonic() - began
    os.close(write_end)
    seen = int(os.read(read_end, 20) or b"0")
    os.close(read_end)
    return seen, took


def command(*words: object) -> None:
    """Run a command of the program in this process."""
    from kikichoko.panel.cli import main

    main([str(word) for word in words])


def said(*words: object) -> tuple[int, str]:
    """Run a command in a child; return its exit code and what it said."""
    return _told(lambda: command(*words))


def _here(work: Callable[[], object]) -> tuple[int, str]:
    """Run `work` in this process; return its exit code and what it said."""
    said, code = io.StringIO(), 0
    with redirect_stdout(said), redirect_stderr(said):
        try:
            work()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
    return code, said.getvalue()


def _told(work: Callable[[], object]) -> tuple[int, str]:
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(write_end, 1)
        os.dup2(write_end, 2)
        os.close(read_end)
        sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w")
        code = 70
        try:
            work()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    os.close(write_end)
    with os.fdopen(read_end, "rb") as out:
        text = out.read().decode("utf-8", "replace")
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), text


# ------------------------------------------------------------------ the session


def prepare(place: Path, last: str = "reported") -> None:
    """Make a session at each stage: written, planned, with sheets, read, with marks, reported.

    A place that was prepared before is used as it is. All of it is run in this process, so that
    its children find loaded what they need.
    """
    if (place / "prepared").exists():
        warm_up(place)
        return
    stage = place / "new"
    stage.mkdir(parents=True)
    for name, text in (("session.toml", SESSION), ("bottles.csv", BOTTLES),
                       ("assessors.csv", ASSESSORS)):  # fmt: skip
        (stage / name).write_text(text, "utf-8")
    _next(place, "new", "planned", lambda folder: command("plan", folder))
    warm_up(place)
    _next(place, "planned", "sheets", lambda folder: command("sheets", folder))
    _fill(place / "sheets", place / "filled")
    first = place / "filled/T1.xlsx"
    _next(place, "sheets", "begun", lambda folder: command("read", folder, first))
    _next(place, "begun", "read", lambda folder: command("read", folder, place / "filled"))
    _next(place, "begun", "marks", _with_marks)
    _next(place, "sheets", "course", _with_more)
    _next(place, "course", "changed", lambda folder: _change(folder, place))
    _next(place, "read", "named", _with_names)
    _next(place, "read", "measured", _with_measurements)
    import crash_open_flight

    crash_open_flight.stages(place)
    if last == "reported":
        _next(place, "read", "reported", lambda folder: command("report", folder))
    import crash_outputs

    crash_outputs.stages(place)
    (place / "prepared").touch()


def _next(place: Path, before: str, after: str, work: Callable[[Path], object]) -> None:
    shutil.copytree(place / before, place / after)
    code, text = _here(lambda: work(place / after))
    if code not in (0, 3):
        raise RuntimeError(f"{after}: exit code {code}: {text}")


def _fill(folder: Path, target: Path, *, without: Sequence[str] = ()) -> None:
    """Fill the sheets of all but one assessor; the last comes as a typed table."""
    from kikichoko.forms.questions.question_types import Kind
    from kikichoko.panel.demos._tools import fill_workbook
    from kikichoko.panel.plan.plan_file import load_open
    from kikichoko.panel.session.session_folder import load

    draw = random.Random(1)  # noqa: S311 - to be repeatable
    plan = load_open(load(folder))
    target.mkdir()
    rows = ["assessor,code,attribute,score"]
    for code, sheet in plan.sheets.items():
        if sheet.spare or code in without:
            continue
        answers: dict[tuple[str, str], float | str] = {}
        for cup in sheet.presentations:
            for question in sheet.questions(cup):
                for attribute in question.attributes_of(cup.codes):
                    match question.kind:
                        case Kind.LINE:
                            answers[cup.name, attribute] = draw.randint(0, 10)
                        case Kind.CATEGORY | Kind.BALANCE:
                            answers[cup.name, attribute] = draw.choice(question.options).value
                        case Kind.TICKS | Kind.FAULTS:
                            answers[cup.name, attribute] = float(draw.random() < 0.3)
                        case _:
                            continue
        if code == "T4":
            rows += [f"{code},{cup},{name},{value:g}" for (cup, name), value in answers.items()
                     if sheet.scorecard.owner(name).kind is Kind.LINE]  # fmt: skip
        else:
            fill_workbook(sheet, folder / f"sheets/{code}.xlsx", target / f"{code}.xlsx", answers)
    (target / "typed.csv").write_text("\n".join(rows) + "\n", "utf-8")


def _with_marks(folder: Path) -> None:
    """Lay marks in, as pictures of the sheet of T2 would leave them."""
    from kikichoko.forms.answers.uncertain_marks import Choice, Uncertain
    from kikichoko.panel.plan.plan_file import load_open
    from kikichoko.panel.returns.open_marks import note
    from kikichoko.panel.returns.store import Store
    from kikichoko.panel.session.session_folder import load

    plan = load_open(load(folder))
    sheet = plan.sheets["T2"]
    asked = [(cup.name, key) for cup in sheet.presentations for key in ("sweetness", "umami")]
    marks = [
        Uncertain(
            session=sheet.session, assessor="T2", code=code, attribute=attribute, file="p.jpg",
            place="page 1", reason="double", picture=f"{code}{attribute}".encode(), low=0, high=10,
            choices=(Choice("2", 2.0), Choice("7", 7.0), Choice("nothing", None)),
        )
        for code, attribute in asked[:MARKS]
    ]  # fmt: skip
    with Store(folder) as store:
        note(store, marks, plan.version)


def _with_more(folder: Path) -> None:
    """Lay in two bottles and an assessor that nobody planned, and some answers."""
    with (folder / "bottles.csv").open("a", encoding="utf-8") as out:
        out.write(MORE_BOTTLES)
    with (folder / "assessors.csv").open("a", encoding="utf-8") as out:
        out.write("N1,student,neutral,en\n")
    command("read", folder, folder.parent / "filled/T1.xlsx")


def _with_names(folder: Path) -> None:
    """Lay names beside the answers, and a sheet that bears one in its own name."""
    (folder / "names.csv").write_text(f"assessor,name\nT1,Aki\nT2,{NAME}\n", "utf-8")
    (folder / "teaching").mkdir()
    shutil.copy(folder / "sheets/T2.pdf", folder / "teaching/feedback-T2.pdf")
    command("change", folder, "label", _codes(folder)[0], "--assessor", "T2")


def _with_measurements(folder: Path) -> None:
    """Change a measurement of a bottle after planning."""
    table = (folder / "bottles.csv").read_text("utf-8")
    (folder / "bottles.csv").write_text(table.replace(",2,1.5,2", ",3,1.4,2"), "utf-8")


def _codes(folder: Path) -> list[str]:
    content = json.loads((folder / "plan/plan.json").read_text("utf-8"))
    return sorted({str(pour["code"]) for pour in content["pours"]})


def _change(folder: Path, _place: Path) -> None:
    """Make every late change; a repeat begins with the last one that was noted."""
    one, two, three = _codes(folder)
    wanted = (
        ("late", "T3", "--from-flight", "1"), ("left", "T4", "--after", "2"),
        ("label", one), ("unknown", two, "--assessor", "T2"), ("cut", "1", "--assessor", "T4"),
        ("replace", three, "--by", "twin", "--from-flight", "1", "--tasted", "T1"),
        ("add", "extra"), ("late", "N1", "--from-flight", "1"), ("undo", "4"),
    )  # fmt: skip
    for words in wanted[max(len(_changes(folder)) - 1, 0) :]:
        with suppress(SystemExit):
            command("change", folder, *words)


# ------------------------------------------------------------------ what must be so


def answers_in(folder: Path) -> list[tuple[object, ...]]:
    """Return all rows of answers, in their order, without times."""
    if not (folder / "answers.sqlite").exists():
        return []
    database = sqlite3.connect(folder / "answers.sqlite")
    try:
        if database.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            raise AssertionError("the store is damaged")
        if not database.execute("SELECT 1 FROM sqlite_master WHERE name = 'answers'").fetchone():
            return []
        return database.execute(
            "SELECT assessor, code, attribute, number, text, file, plan FROM answers ORDER BY id"
        ).fetchall()
    finally:
        database.close()


def _rows(folder: Path, query: str) -> list[tuple[object, ...]]:
    database = sqlite3.connect(folder / "answers.sqlite")
    try:
        return database.execute(query).fetchall()
    finally:
        database.close()


def check_outputs(folder: Path) -> list[str]:
    """Name what looks finished and is not: files of a list that differ, torn PDFs and workbooks."""
    from kikichoko.panel.base.whole_files import MADE, changed_files

    wrong = []
    for part in ("sheets", "report"):
        if (folder / part).exists() and not (folder / part / MADE).exists():
            wrong.append(f"{part}/ stands there without its list")
        wrong += [f"{part}/{name} is not as its list says" for name in changed_files(folder / part)
                  if not name.startswith("..")]  # fmt: skip
    for path in folder.rglob("*"):
        if any(piece.startswith(".") for piece in path.relative_to(folder).parts):
            continue
        if path.suffix == ".pdf" and b"%%EOF" not in path.read_bytes()[-20:]:
            wrong.append(f"{path.name} is torn")
        if path.suffix == ".xlsx" and not zipfile.is_zipfile(path):
            wrong.append(f"{path.name} is torn")
        if path.suffix in (".json", ".jsonl") and path.name != "log.jsonl":
            try:
                json.loads(path.read_text("utf-8"))
            except ValueError:
                wrong.append(f"{path.name} is torn")
    return wrong


def check_words(folder: Path) -> list[str]:
    """Ask `status`: it must answer in words that this program foresees, and change nothing."""
    code, text = said("status", folder)
    if code not in (0, 1, 3) or "Traceback" in text or "does not foresee" in text:
        return [f"status ended with {code}: {text[-300:]}"]
    return []


def check_read(
    folder: Path, before: Sequence[object], whole: Sequence[tuple[object, ...]]
) -> list[str]:
    """Each file is in with all of its answers or with none; what was in before stands once."""
    wrong = []
    rows = answers_in(folder)
    if list(rows[: len(before)]) != list(before):
        wrong.append("answers that were confirmed before are not as they were")
    cells = [row[:3] for row in rows]
    if len(set(cells)) != len(cells):
        wrong.append("an answer is there twice")
    read = {str(name) for (name,) in _rows(
        folder, "SELECT f.name FROM files f JOIN readings r ON r.file = f.id")}  # fmt: skip
    kept = {str(name): str(at) for name, at in _rows(folder, "SELECT name, kept_as FROM files")}
    for file in {str(row[5]) for row in whole}:
        inside = sum(row[5] == file for row in rows)
        wanted = sum(row[5] == file for row in whole)
        if inside not in (0, wanted) or (inside > 0) != (file in read):
            wrong.append(f"{file}: {inside} of {wanted} answers, read to the end: {file in read}")
        if file in kept and not (folder / "returned" / kept[file]).is_file():
            wrong.append(f"{file}: answers without their original")
    return wrong


@dataclass
class Case:
    """A command, the stage it begins at, and what must be so after a kill and after a repeat."""

    name: str
    stage: str
    work: Callable[[Path, Path], object]
    after: Callable[[Path, Path], list[str]]
    repeated: Callable[[Path, Path], list[str]]
    refuses: Callable[[Path], bool] = lambda _: False
    """Whether a repeat may say that all is done already."""

    @property
    def dear(self) -> bool:
        """Whether it takes seconds, so that few of its kills are worth many of the others."""
        return self.name.startswith(("sheets", "report", "teach", "anova"))


def cases() -> list[Case]:
    """Return all commands that write."""
    import crash_names
    import crash_open_flight
    import crash_outputs

    return [
        Case("plan", "new", lambda f, _: command("plan", f), _plan_after, _plan_whole,
             lambda f: (f / "plan/plan.json").exists()),
        Case("plan --again", "sheets", lambda f, _: command("plan", f, "--again"),
             _plan_after, _plan_whole),
        Case("sheets", "planned", lambda f, _: command("sheets", f), _nothing, _sheets_whole),
        Case("read", "begun", lambda f, place: command("read", f, place / "filled"),
             _read_after, _read_whole),
        Case("review", "marks", _review, _review_after, _review_whole),
        Case("report", "read", lambda f, _: command("report", f), _nothing, _report_whole),
        Case("change", "course", _change, _change_after, _change_whole),
        Case("measured", "measured", lambda f, _: command("measured", f), _nothing,
             _measured_whole),
        Case("key", "read", lambda f, _: command("key", f, "--reason", "cork"), _key_after,
             _key_after),
        Case("forget", "named", lambda f, _: command("forget", f, "T2", "--yes"), _forget_after,
             _forget_whole, lambda _: True),
        *crash_names.cases(),
        *crash_open_flight.cases(),
        *crash_outputs.cases(),
    ]  # fmt: skip


def _is_well(folder: Path) -> list[str]:
    """After a repeat `check` finds nothing that was lost or changed."""
    code, text = said("check", folder)
    return [] if code == 0 else [f"check ends with {code}: {text[-600:]}"]


def _change_after(folder: Path, place: Path) -> list[str]:
    """The changes that are listed are the first of those wanted, and no answer is touched."""
    wrong = []
    if answers_in(folder) != answers_in(place / "course"):
        wrong.append("answers are not as they were")
    made, wanted = (_changes(one) for one in (folder, place / "changed"))
    if made != wanted[: len(made)]:
        wrong.append(f"changes: {made}")
    code, text = said("change", folder)
    if code or len(text.splitlines()) != max(len(made), 1):
        wrong.append(f"change ended with {code}: {text[-300:]}")
    return wrong


def _changes(folder: Path) -> list[tuple[object, ...]]:
    """Return what each change says, without its time; codes are those of a plan of its own."""
    if not (folder / "plan/changes.json").exists():
        return []
    content = json.loads((folder / "plan/changes.json").read_text("utf-8"))
    return [(one["number"], one["kind"], one["assessor"], len(one["codes"]), one["undoes"])
            for one in content["changes"]]  # fmt: skip


def _change_whole(folder: Path, place: Path) -> list[str]:
    made, wanted = _changes(folder), _changes(place / "changed")
    wrong = _change_after(folder, place) + _is_well(folder)
    return wrong if made == wanted else [*wrong, f"the repeat left the changes {made}"]


def _measured_whole(folder: Path, _place: Path) -> list[str]:
    content = json.loads((folder / "plan/server/measured.json").read_text("utf-8"))
    kept = sorted((one["field"], one["now"]) for one in content["records"])
    wanted = [("acidity", 1.4), ("meter_value", 3.0)]
    return _is_well(folder) + ([] if kept == wanted else [f"recorded: {kept}"])


def _key_after(folder: Path, place: Path) -> list[str]:
    """An opening of which the store knows is in the log too; answers are untouched."""
    from kikichoko.panel.base.session_log import read_log

    (known,) = _rows(folder, "SELECT count(*) FROM openings")[0]
    told = len(read_log(folder).of("open"))
    wrong = _is_well(folder)
    if told < int(str(known)):
        wrong.append(f"{known} openings, {told} logged")
    if answers_in(folder) != answers_in(place / "read"):
        wrong.append("answers are not as they were")
    return wrong


CODE = re.compile(r"(?<![A-Z0-9])T2(?![A-Z0-9])")
"""The code of who is forgotten; a new one drawn in its place may hold these two signs."""


def _scores_of(folder: Path) -> list[tuple[object, ...]]:
    """Return code, attribute and number of all scores, without who gave them."""
    rows = [row[1:4] for row in answers_in(folder) if row[3] is not None]
    return sorted(rows, key=str)


def _forget_after(folder: Path, place: Path) -> list[str]:
    """Scores stay; a person is there as before, or it is told that forgetting was begun."""
    wrong = []
    if _scores_of(folder) != _scores_of(place / "named"):
        wrong.append("scores are not as they were")
    code, text = said("check", folder)
    if code not in (0, 3) or (code == 3 and "forgetting was not finished" not in text):
        wrong.append(f"check ends with {code}: {text[-600:]}")
    return wrong


def _forget_whole(folder: Path, place: Path) -> list[str]:
    return _forget_after(folder, place) + _is_well(folder) + _forget_tells(folder)


def _forget_tells(folder: Path) -> list[str]:
    """Name what still tells of the person."""
    wrong = []
    for path in folder.rglob("*"):
        content = path.read_bytes() if path.is_file() else b""
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as book:
                content += b"".join(book.read(name) for name in book.namelist())
        if NAME.encode() in content or (path.is_file() and CODE.search(path.name)):
            wrong.append(f"{path.name} still tells of the person")
    texts = [folder / name for name in ("assessors.csv", "plan/plan.json", "plan/changes.json")]
    return wrong + [f"{path.name} still holds the code" for path in texts
                    if path.exists() and CODE.search(path.read_text("utf-8"))]  # fmt: skip


def _nothing(_folder: Path, _place: Path) -> list[str]:
    return []


def _plan_after(folder: Path, _place: Path) -> list[str]:
    """A plan with all of its files, or none."""
    if not (folder / "plan/plan.json").exists():
        return []
    lists = ("orders.csv", "server/key.json", "server/pour_list.csv", "server/key.csv")
    return [f"a plan without {name}" for name in lists if not (folder / "plan" / name).exists()]


def _plan_whole(folder: Path, place: Path) -> list[str]:
    return _plan_after(folder, place) + _is_well(folder)


def _sheets_whole(folder: Path, place: Path) -> list[str]:
    made, wanted = (sorted(path.name for path in (one / "sheets").iterdir())
                    for one in (folder, place / "sheets"))  # fmt: skip
    return [] if made == wanted else [f"sheets: {made}"]


def _read_after(folder: Path, place: Path) -> list[str]:
    return check_read(folder, answers_in(place / "begun"), answers_in(place / "read"))


def _read_whole(folder: Path, place: Path) -> list[str]:
    """A repeat ends as a call that was never broken off."""
    wrong = _read_after(folder, place)
    if sorted(map(str, answers_in(folder))) != sorted(map(str, answers_in(place / "read"))):
        wrong.append("the repeat did not end like a call that was not broken off")
    kept, wanted = (sorted(path.name for path in (one / "returned").iterdir())
                    for one in (folder, place / "read"))  # fmt: skip
    return wrong if kept == wanted else [*wrong, f"returned/: {kept}"]


def _review(folder: Path, _place: Path) -> None:
    """Decide all marks in the terminal; each one that was confirmed is noted in a file."""
    from kikichoko.panel.returns import review_page

    given = review_page.Review.answer
    confirmed = folder.parent / "confirmed"

    def noted(self: object, number: int, *more: object) -> str:
        trouble = given(self, number, *more)
        with confirmed.open("a") as out:
            out.write(f"{number}\n")
        return trouble

    review_page.Review.answer = noted
    sys.stdin = io.StringIO("2\n" * MARKS)
    command("review", folder, "--terminal", "--by", "M1")


def _review_after(folder: Path, _place: Path) -> list[str]:
    """Each decision has its answer, once; what was confirmed is there; the rest waits."""
    from kikichoko.panel.returns.open_marks import waiting
    from kikichoko.panel.returns.store import Store

    wrong = []
    decided = [number for (number,) in _rows(folder, "SELECT uncertain FROM decisions")]
    cells = _rows(folder, "SELECT u.id, count(a.id) FROM uncertain u LEFT JOIN answers a ON "
                  "a.plan = u.plan AND a.assessor = u.assessor AND a.code = u.code AND "
                  "a.attribute = u.attribute GROUP BY u.id")  # fmt: skip
    for number, answers in cells:
        if answers != (number in decided):
            wrong.append(f"mark {number}: decided {number in decided}, answers {answers}")
    confirmed = folder.parent / "confirmed"
    noted = {int(line) for line in confirmed.read_text().split()} if confirmed.exists() else set()
    if noted - set(decided):
        wrong.append(f"confirmed and not there: {noted - set(decided)}")
    with Store(folder) as store:
        if set(waiting(store)) != {number for number, _ in cells} - set(decided):
            wrong.append("what is not decided does not wait")
    return wrong


def _review_whole(folder: Path, place: Path) -> list[str]:
    (folder.parent / "confirmed").unlink(missing_ok=True)
    wrong = _review_after(folder, place)
    left = MARKS - len(_rows(folder, "SELECT uncertain FROM decisions"))
    return [*wrong, f"{left} marks left"] if left else wrong


def _report_whole(folder: Path, place: Path) -> list[str]:
    made, wanted = (sorted(path.relative_to(one).as_posix() for path in (one / "report").rglob("*"))
                    for one in (folder, place / "reported"))  # fmt: skip
    if not (place / "reported").exists():
        wanted = made
    opened = _rows(folder, "SELECT count(*) FROM openings")[0][0]
    return ([] if made == wanted else [f"report: {made}"]) + (
        [] if opened else ["a report without a logged opening of the key"]
    )


# ------------------------------------------------------------------ the runs


def run(
    place: Path, kills: int, seed: int | str, chosen: Sequence[Case], tell: Callable[[str], object]
) -> dict[str, Tally]:
    """Kill each command `kills` times; half after a random time, half before a random act.

    A place remembers how many acts and seconds a command takes that is not killed.
    """
    tallies = {}
    for case in chosen:
        draw = random.Random(f"{seed}/{case.name}")  # noqa: S311 - to be repeatable
        scratch = place / "scratch"
        tally = tallies[case.name] = Tally()
        measured = place / f"acts of {case.name}"
        if not measured.exists():
            shutil.copytree(place / case.stage, scratch / "session")
            known = acts_of(lambda: case.work(scratch / "session", place))  # noqa: B023
            measured.write_text(json.dumps(known))
        acts, seconds = json.loads(measured.read_text())
        for number in range(kills):
            shutil.rmtree(scratch, ignore_errors=True)
            shutil.copytree(place / case.stage, scratch / "session")
            folder = scratch / "session"
            moment = {"act": draw.randint(1, max(acts, 1))}
            if number % 2:
                moment = {"after": draw.uniform(0.001, seconds)}
            ended = in_child(lambda: case.work(folder, place), **moment)  # noqa: B023
            tally.kills += ended < 0
            tally.ended += ended >= 0
            wrong = check_outputs(folder) + check_words(folder) + case.after(folder, place)
            done = case.refuses(folder)
            again = in_child(lambda: case.work(folder, place))  # noqa: B023
            if again not in ((0, 1, 3) if done else (0, 3)):
                wrong.append(f"the repeat ended with {again}")
            wrong += check_outputs(folder) + case.repeated(folder, place)
            tally.broken += [f"{case.name} {moment}: {one}" for one in dict.fromkeys(wrong)]
        shutil.rmtree(scratch, ignore_errors=True)
        tell(f"{case.name}: {tally.kills} kills, {tally.ended} ended before, "
             f"{len(tally.broken)} broken ({acts} acts, {seconds:.2f} s)")  # fmt: skip
    return tallies
