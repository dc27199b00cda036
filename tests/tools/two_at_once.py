"""Two commands on one session at once, the one halted in the midst of the other.

The first is halted (SIGSTOP) before a random one of its acts on files, or after a random time;
the second runs until it ends or has waited for a while; then the first goes on. What must be
so stands in `tests/outside/attacks/two-at-once.md` (B01 to B16).
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import crash_runs
from crash_runs import Tally, answers_in, command

PATIENCE = 1.0
"""Seconds that the second has before the first goes on."""
Work = Callable[[Path, Path], object]


@dataclass
class Pair:
    """Two commands, the stage they meet at, and what must be so afterwards."""

    name: str
    stage: str
    first: Work
    second: Work
    after: Callable[[Path, Path], list[str]]
    calm: bool = True
    """Whether `check` must find nothing afterwards."""


def start(work: Callable[[], object], told: Path, halt: int = 0) -> int:
    """Start a command in a child, which halts before its n-th act; return its process."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        with told.open("w") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
        sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w")
        if halt:
            sys.addaudithook(_halter(halt))
        work()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _halter(halt: int) -> Callable[[str, tuple[object, ...]], None]:
    seen = 0

    def count(event: str, given: tuple[object, ...]) -> None:
        nonlocal seen
        if crash_runs.is_act(event, given):
            seen += 1
            if seen == halt:
                os.kill(os.getpid(), signal.SIGSTOP)

    return count


def meet(
    first: Callable[[], object], second: Callable[[], object], moment: float, place: Path
) -> list[tuple[int, str]]:
    """Run both as described; return exit code and words of each.

    A moment that is a whole number is an act on files, any other one a time in seconds.
    """
    told = place / "first.txt", place / "second.txt"
    act = int(moment) if moment == int(moment) else 0
    one = start(first, told[0], act)
    if not act:
        time.sleep(moment)
        os.kill(one, signal.SIGSTOP)
    _, status = os.waitpid(one, os.WUNTRACED)
    halted = os.WIFSTOPPED(status)
    two = start(second, told[1])
    until = time.monotonic() + PATIENCE
    done = 0
    while not done and time.monotonic() < until:
        done, ended = os.waitpid(two, os.WNOHANG)
        time.sleep(0.002)
    if halted:
        os.kill(one, signal.SIGCONT)
        _, status = os.waitpid(one, 0)
    if not done:
        _, ended = os.waitpid(two, 0)
    return [(os.waitstatus_to_exitcode(code), path.read_text("utf-8", "replace"))
            for code, path in zip((status, ended), told, strict=True)]  # fmt: skip


# ------------------------------------------------------------------ pairs


def pairs() -> list[Pair]:
    """Return the pairs of commands."""
    kinds: list[Pair] = [
        Pair("read + report", "begun", _read_all, _report, _all_in),
        Pair("report + read", "begun", _report, _read_all, _all_in),
        Pair("read + change", "begun", _read_all, _label, _all_in_and_changed),
        Pair("change + read", "begun", _label, _read_all, _all_in_and_changed),
        Pair("read + read of others", "begun", _read("M1", "T3"), _read("T2"), _three_in),
        Pair("read + read of the same", "begun", _read("M1", "T3"), _read("T3", "M1"), _two_in),
        Pair("forget + read", "met", _forget, _read("T3"), _forgotten),
        Pair("read + forget", "met", _read("T3"), _forget, _forgotten),
        Pair("forget + read of the same", "met", _forget, _read("T2"), _forgotten_or_told),
        Pair("plan + sheets", "new", _plan, _sheets, _one_plan),
        Pair("plan --again + sheets", "planned", _again, _sheets, _one_plan),
        Pair("sheets + plan --again", "planned", _sheets, _again, _one_plan),
        Pair("plan + plan", "new", _plan, _plan, _one_plan),
        Pair("change + change", "begun", _label, _late, _both_changes),
        Pair("review + review", "marks", crash_runs._review, crash_runs._review, _reviewed),
        Pair("key + read", "begun", _key, _read_all, _all_in),
        Pair("measured + change", "measured", _measured, _label, _measured_and_changed),
        Pair("report + report", "read", _report, _report, _report_whole),
        Pair("sheets + sheets", "planned", _sheets, _sheets, crash_runs._sheets_whole),
        Pair("settle + read", "faulty", _settle, _read("T3"), _settled_and_in),
    ]
    return kinds


def _read(*names: str) -> Work:
    return lambda f, place: command("read", f, *[place / f"filled/{one}.xlsx" for one in names])


def _read_all(folder: Path, place: Path) -> None:
    command("read", folder, place / "filled")


def _report(folder: Path, _place: Path) -> None:
    command("report", folder)


def _plan(folder: Path, _place: Path) -> None:
    command("plan", folder)


def _again(folder: Path, _place: Path) -> None:
    command("plan", folder, "--again")


def _sheets(folder: Path, _place: Path) -> None:
    command("sheets", folder)


def _forget(folder: Path, _place: Path) -> None:
    command("forget", folder, "T2", "--yes")


def _key(folder: Path, _place: Path) -> None:
    command("key", folder, "--reason", "cork")


def _measured(folder: Path, _place: Path) -> None:
    command("measured", folder)


def _label(folder: Path, _place: Path) -> None:
    command("change", folder, "label", crash_runs._codes(folder)[0])


def _late(folder: Path, _place: Path) -> None:
    command("change", folder, "late", "T3", "--from-flight", "1")


def _settle(folder: Path, _place: Path) -> None:
    command("status", folder, "--settle", "1", "--why", "seen")


# ------------------------------------------------------------------ what must be so


def _once(folder: Path, place: Path, files: set[str]) -> list[str]:
    """The answers of these files are in, each once."""
    wanted = [row for row in answers_in(place / "read") if row[5] in files]
    have = [row for row in answers_in(folder) if row[5] in files]
    wrong = [] if sorted(map(str, have)) == sorted(map(str, wanted)) else [
        f"{len(have)} answers of {len(wanted)}"]  # fmt: skip
    kept = crash_runs._rows(folder, "SELECT kept_as FROM files")
    wrong += [f"{name} was not kept" for (name,) in kept
              if not (folder / "returned" / str(name)).is_file()]  # fmt: skip
    lost = {path.name for path in (folder / "returned").iterdir()} - {str(one) for (one,) in kept}
    return wrong + [f"returned/{name} is of nobody" for name in lost]


def _all_in(folder: Path, place: Path) -> list[str]:
    names = {str(row[5]) for row in answers_in(place / "read")}
    return _once(folder, place, names) + crash_runs._read_whole(folder, place)


def _kinds(folder: Path) -> list[str]:
    return sorted(str(one[1]) for one in crash_runs._changes(folder))


def _all_in_and_changed(folder: Path, place: Path) -> list[str]:
    made = _kinds(folder)
    return _all_in(folder, place) + ([] if made == ["label"] else [f"changes: {made}"])


def _three_in(folder: Path, place: Path) -> list[str]:
    return _once(folder, place, {"M1.xlsx", "T1.xlsx", "T2.xlsx", "T3.xlsx"})


def _two_in(folder: Path, place: Path) -> list[str]:
    return _once(folder, place, {"M1.xlsx", "T1.xlsx", "T3.xlsx"})


def _scores_of(folder: Path, file: str) -> list[str]:
    return sorted(str(row[1:4]) for row in answers_in(folder) if row[5] == file)


def _forgotten(folder: Path, place: Path) -> list[str]:
    wrong = crash_runs._forget_tells(folder)
    if _scores_of(folder, "T3.xlsx") != _scores_of(place / "read", "T3.xlsx"):
        wrong.append("the answers of T3 are not all in, once")
    return wrong


def _forgotten_or_told(folder: Path, _place: Path) -> list[str]:
    rows = answers_in(folder)
    wrong = ["answers under the old code"] if any(row[0] == "T2" for row in rows) else []
    cells = [row[:3] for row in rows]
    return wrong + (["an answer is there twice"] if len(set(cells)) != len(cells) else [])


def _one_plan(folder: Path, _place: Path) -> list[str]:
    """All sheets are of the present plan, or nobody takes them for it."""
    from openpyxl import load_workbook

    wrong = crash_runs._plan_after(folder, folder)
    plan = json.loads((folder / "plan/plan.json").read_text("utf-8"))
    codes = {str(pour["code"]) for pour in plan["pours"]}
    shown = set()
    for path in (folder / "sheets").glob("*.xlsx"):
        book = load_workbook(path)
        cells = {str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row}
        shown.add(bool(codes & cells))
    if len(shown) > 1:
        wrong.append("sheets of two plans")
    if shown == {False} and not any(crash_runs.said(word, folder)[0] for word in ("check",)):
        wrong.append("sheets of an earlier plan, and nobody tells")
    return wrong


def _both_changes(folder: Path, _place: Path) -> list[str]:
    made = crash_runs._changes(folder)
    numbers = sorted(int(str(one[0])) for one in made)
    right = _kinds(folder) == ["label", "late"] and numbers == [1, 2]
    return [] if right else [f"changes: {made}"]


def _reviewed(folder: Path, place: Path) -> list[str]:
    return crash_runs._review_whole(folder, place)


def _measured_and_changed(folder: Path, place: Path) -> list[str]:
    wrong = crash_runs._measured_whole(folder, place)
    return wrong + ([] if _kinds(folder) == ["label"] else [f"changes: {_kinds(folder)}"])


def _report_whole(folder: Path, place: Path) -> list[str]:
    return crash_runs._report_whole(folder, place)


def _settled_and_in(folder: Path, place: Path) -> list[str]:
    settled = len(crash_runs._rows(folder, "SELECT * FROM settled"))
    wrong = [] if settled == 1 else [f"settled {settled} times"]
    return wrong + _once(folder, place, {"T1.xlsx", "T3.xlsx"})


# ------------------------------------------------------------------ the runs


def prepare(place: Path) -> None:
    """Make the stages of the crash runs, and one with names before T3 is in."""
    crash_runs.prepare(place)
    if (place / "met").exists():
        return
    crash_runs._next(place, "sheets", "met", lambda folder: command(
        "read", folder, place / "filled/T1.xlsx", place / "filled/T2.xlsx"))  # fmt: skip
    (place / "met/names.csv").write_text(f"assessor,name\nT1,Aki\nT2,{crash_runs.NAME}\n", "utf-8")


def run(
    place: Path, times: int, seed: int | str, chosen: Sequence[Pair], tell: Callable[[str], object]
) -> dict[str, Tally]:
    """Let each pair meet `times` times, each at a random act of the first."""
    tallies = {}
    for pair in chosen:
        draw = random.Random(f"{seed}/{pair.name}")  # noqa: S311 - to be repeatable
        tally = tallies[pair.name] = Tally()
        scratch = place / "scratch"
        known = place / f"acts of {pair.name}"
        if not known.exists():
            shutil.rmtree(scratch, ignore_errors=True)
            shutil.copytree(place / pair.stage, scratch / "session")
            counted = crash_runs.acts_of(lambda: pair.first(scratch / "session", place))  # noqa: B023
            known.write_text(json.dumps(counted))
        acts, seconds = json.loads(known.read_text())
        for number in range(times):
            shutil.rmtree(scratch, ignore_errors=True)
            shutil.copytree(place / pair.stage, scratch / "session")
            halt = float(draw.randint(1, max(acts, 1)))
            if number % 2:
                halt = draw.uniform(0.001, seconds)
            wrong = _met(pair, halt, scratch / "session", place)
            tally.kills += 1
            tally.broken += [f"{pair.name} at {halt:g}: {one}" for one in dict.fromkeys(wrong)]
            for one in dict.fromkeys(wrong):
                tell(f"BROKEN {pair.name} at {halt:g}: {one}")
        shutil.rmtree(scratch, ignore_errors=True)
        tell(f"{pair.name}: {tally.kills} meetings, {len(tally.broken)} broken ({acts} acts)")
    return tallies


def _met(pair: Pair, halt: float, folder: Path, place: Path) -> list[str]:
    wrong = []
    works = [lambda: pair.first(folder, place), lambda: pair.second(folder, place)]
    for which, (code, text) in zip(("first", "second"), meet(*works, halt, folder.parent),
                                   strict=True):  # fmt: skip
        if code not in (0, 1, 3) or "Traceback" in text or "does not foresee" in text:
            wrong.append(f"the {which} ended with {code}: {text[-700:]}")
    wrong += crash_runs.check_outputs(folder) + crash_runs.check_words(folder)
    for work in works:  # said again, one after the other, they end as if they had never met
        code, text = crash_runs._told(work)
        if code not in (0, 1, 3) or "Traceback" in text or "does not foresee" in text:
            wrong.append(f"the repeat ended with {code}: {text[-700:]}")
    wrong += crash_runs.check_outputs(folder) + pair.after(folder, place)
    return wrong + (crash_runs._is_well(folder) if pair.calm else [])
