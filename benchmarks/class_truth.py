"""Is each student told what is true of them? Classes with known truth, put through the command.

    OMP_NUM_THREADS=1 nice -n 12 python benchmarks/class_truth.py [RECIPES] [N] [--only C03]
    OMP_NUM_THREADS=1 nice -n 12 python benchmarks/class_truth.py --designs --save FILE.jsonl

RECIPES is a ``classes.toml`` as in tests/outside/classes (the default). Each of its classes is
drawn N times with other seeds by the generator that stands beside the recipes, written as a
table, and handed to ``kikichoko teach`` in this process; after the first draw of a class, which
must say the same both ways, straight to the function behind the command, which is twice as fast.
With ``--save`` each class drawn is a line of a file: stop the run and start it again, and it goes
on from there. What comes back is read as a person would: the sentences for each student, not the
numbers behind them. From the recipe alone it is
worked out what is true of whom; printed is, by kind of student and number of sessions, how often
that was told, how often something false was, and in how many classes anybody was told anything
false.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import io
import json
import re
import sys
import tempfile
import tomllib
from collections import defaultdict
from contextlib import redirect_stderr, redirect_stdout
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import Any

import pandas as pd
from kikichoko.analysis.core import tidy
from kikichoko.analysis.teaching import teaching
from kikichoko.analysis.teaching.class_result import Teaching
from kikichoko.panel.cli import main as kikichoko

ROOT = Path(__file__).parents[1]
CLASSES = ROOT / "tests" / "outside" / "classes"
SAYS = {
    "reversed": r"your order runs the other way from",
    "guessing": r"(so far|in your latest sessions) your scores do not follow the bottles",
    "narrow": r"(you use a small part of the line|you use about .* range)",
    "wide": r"(you use much of the line|your distances are about)",
    "noisy": r"cups of one bottle often differ by a good deal",
    "high": r"points? higher than",
    "low": r"points? lower than",
    "nearer": r"you came clearly closer|came to agree better",
    "farther": r"first sessions were closer|agreed better at first",
    "follows": r"your order of the bottles (follows|is right)",
    "parted": r"experts do not agree with each other",
    "alike": r"so alike that even",
    "turned": r"ran the other way in sessions?|your order followed .* it runs the other way",
    "ticks": r"these ticks do not yet tell",
    "side": r"experts put the bottles in your order",
    "slip": r"the whole class differs from the expert on|you and the expert differ much on",
    "absent": r"you were not there in",
    "joined": r"you joined in session",
    "close cups": r"cups of one bottle agree (closely|fairly well)",
    "same": r"every bottle got the same mark",
    "no repeats": r"the expert tasted each bottle once",
    "early": r"one session only|two sessions are too few",
}
FAULTS = ("reversed", "guessing", "narrow", "wide", "noisy", "high", "low", "farther")
FORBIDDEN = re.compile(r"infinit|\binf\b|\bnan\b|none\b|best of|worst|rank|talent|below average"
                       r"|above average", re.IGNORECASE)  # fmt: skip


def recipes(path: Path) -> tuple[dict[str, Any], ModuleType]:
    """Read the recipes, with the base of the open ones, and the generator."""
    data = tomllib.loads(path.read_text("utf-8"))
    if "base" not in data:
        data["base"] = tomllib.loads((CLASSES / "classes.toml").read_text("utf-8"))["base"]
    spec = importlib.util.spec_from_file_location("make_class", CLASSES / "make_class.py")
    if spec is None or spec.loader is None:
        message = f"no make_class.py in {CLASSES}"
        raise FileNotFoundError(message)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return data, module


def write_table(cups: list[Any], ticks: list[Any], path: Path) -> None:
    """Write the cups as a tidy table; a spiked or clean bottle stands in ``control``."""
    control = {(row[1], row[5]): "vinegar" if row[8] else "clean" for row in ticks}
    spiked = "vinegar" in control.values()
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        heads = ["session", "assessor", "sample", "replicate", "attribute", "score"]
        out.writerow([*heads, "control"] if spiked else heads)
        for _, session, person, _, _, label, cup, attribute, score in cups:
            if score != "":
                row = [session, person, label, cup, attribute, score]
                out.writerow([*row, control[session, label]] if spiked else row)
        for _, session, person, _, _, label, cup, ticked, _ in ticks if spiked else ():
            if ticked != "":
                out.writerow([session, person, label, cup, "fault:vinegar", ticked,
                              control[session, label]])  # fmt: skip


def told(cups: list[Any], ticks: list[Any], folder: Path) -> dict[str, Any]:
    """Hand the table to the command and return what it prints as JSON."""
    path = folder / "cups.csv"
    write_table(cups, ticks, path)
    experts = sorted({row[2] for row in cups if row[3] == "expert"})
    words = ["teach", str(path), "--json"]
    for who in experts:
        words += ["--expert", who]
    printed = io.StringIO()
    with redirect_stdout(printed), redirect_stderr(io.StringIO()):
        try:
            kikichoko(words)
        except SystemExit as stop:
            if stop.code:
                message = f"kikichoko teach ended with {stop.code}: {printed.getvalue()[-500:]}"
                raise RuntimeError(message) from stop
    spoken: dict[str, Any] = json.loads(printed.getvalue())
    return spoken


def asked(cups: list[Any], ticks: list[Any]) -> Teaching:
    """Ask the function behind the command."""
    truth = {(str(row[1]), row[5]): "fault:vinegar" if row[8] else "" for row in ticks}
    rows = [(str(row[1]), row[2], row[5], row[6], row[7], float(row[8]))
            for row in cups if row[8] != ""]  # fmt: skip
    controls = None
    if "fault:vinegar" in truth.values():
        rows += [(str(row[1]), row[2], row[5], row[6], "fault:vinegar", float(row[7]))
                 for row in ticks if row[7] != ""]  # fmt: skip
        controls = pd.DataFrame([(*at, what) for at, what in truth.items()],
                                columns=["session", "sample", "truth"])  # fmt: skip
    heads = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    experts = sorted({row[2] for row in cups if row[3] == "expert"})
    return teaching(tidy(pd.DataFrame(rows, columns=heads)), experts, controls=controls)


def said(cups: list[Any], ticks: list[Any]) -> dict[str, list[str]]:
    """Return what the function behind the command says to each student."""
    found = asked(cups, ticks)
    return {who: [text.to("en") for text in one.sentences()] for who, one in found.students.items()}


def teacher_said(cups: list[Any], ticks: list[Any]) -> list[str]:
    """Ask the function behind the command; return the sentences for the teacher."""
    return [text.to("en") for text in asked(cups, ticks).sentences()]


def heard(cups: list[Any], ticks: list[Any], *, by_command: bool) -> dict[str, list[str]]:
    """Return the sentences for each student; by the command they must be those of the function."""
    spoken = said(cups, ticks)
    if by_command:
        with tempfile.TemporaryDirectory() as folder:
            printed = told(cups, ticks, Path(folder))["students"]
        if {who: one["sentences"] for who, one in printed.items()} != spoken:
            message = "the command says something else than the function behind it"
            raise AssertionError(message)
    return spoken


def constant(value: Any) -> bool:
    """Tell whether a number of the recipe stays within a tenth of itself over the sessions."""
    return not isinstance(value, list) or max(value) - min(value) < 0.1


def late(value: Any, sessions: int) -> float:
    """Return the number that holds over the latest third of the sessions."""
    if not isinstance(value, list):
        return float(value)
    kept = value[:sessions][-max(1, round(sessions / 3)) :]
    return float(sum(kept) / len(kept))


class Truth:
    """What is true of one student, worked out from the recipe.

    `must` are the things to be told, each with the attributes it may be told of (None: any
    or the whole card). `may` are true too, but lie so near to ordinary that silence is no
    fault. Everything else that names a fault is false.
    """

    def __init__(self, recipe: dict[str, Any], base: dict[str, Any], student: dict[str, Any]):
        sessions = int(recipe["sessions"])
        self.must: dict[str, set[str] | None] = {}
        self.may: dict[str, set[str] | None] = {}
        self.follows: set[str] = set(base["attributes"])
        flat = all(
            max(base["sets"][name][a]) - min(base["sets"][name][a]) == 0
            for name in recipe["sets"]
            for a in base["attributes"]
        )
        gain, noise = student.get("gain", 1.0), student.get("noise", 0.6)
        level = late(student.get("level", 0.0), sessions)
        self.changes = not constant(gain) or not constant(noise)
        gains = {a: late(student.get("gain_on", {}).get(a, gain), sessions)
                 for a in base["attributes"]}  # fmt: skip
        moving = {a for a, value in student.get("gain_on", {}).items() if not constant(value)}
        ordinary = late(gain, sessions)
        if self.changes and sessions >= 3:
            first = gain[0] if isinstance(gain, list) else gain
            last = gain[sessions - 1] if isinstance(gain, list) else gain
            rising = (
                abs(1 - last) < abs(1 - first)
                if abs(abs(1 - last) - abs(1 - first)) > 0.1
                else noise[sessions - 1] < noise[0]
            )
            self.must["nearer" if rising else "farther"] = None
        if self.changes or moving:
            # What holds depends on which sessions one looks at: told or not, it is true.
            numbers = gain if isinstance(gain, list) else [gain]
            if min(numbers) < 0.9:
                self.may |= {"narrow": None, "guessing": None}
            noises = noise if isinstance(noise, list) else [noise]
            if max(noises) > 1.0:
                self.may["noisy"] = None
            if moving:
                self.may |= {"reversed": moving, "guessing": moving}
        for kind, chosen in (
            ("reversed", {a for a, g in gains.items() if g < -0.2} - moving),
            ("guessing", {a for a, g in gains.items() if -0.2 <= g < 0.2} - moving),
            ("narrow", {a for a, g in gains.items() if 0.2 <= g <= 0.6} - moving),
            ("wide", {a for a, g in gains.items() if g >= 1.5} - moving),
        ):
            if not chosen or flat or self.changes:
                continue
            self.must[kind] = None if len(chosen) == len(gains) else chosen
            if kind in ("reversed", "guessing"):
                self.follows -= chosen
        near = {a for a, g in gains.items() if 0.6 < g < 0.95}
        if near:
            self.may.setdefault("narrow", near)
        far = {a for a, g in gains.items() if 1.05 < g < 1.5}
        if far:
            self.may.setdefault("wide", far)
        for a in sorted(moving):
            values = student["gain_on"][a]
            signs = [value > 0 for value in values]
            if sessions >= 3 and sum(x != y for x, y in pairwise(signs)) == 1:
                self.must.setdefault("turned", set())
                self.must["turned"] = {*(self.must["turned"] or ()), a}
        hit, alarm = student.get("hit", 0.8), student.get("false_alarm", 0.03)
        if recipe.get("spiked"):
            if constant(hit) and constant(alarm) and alarm >= 0.5 and hit <= alarm:
                self.must["ticks"] = None
            elif max(alarm if isinstance(alarm, list) else [alarm]) > 0.2:
                self.may["ticks"] = None
        sd = late(noise, sessions)
        if "guessing" not in self.must and not self.changes and sd / max(ordinary, 1.0) >= 1.5:
            self.must["noisy"] = None
        elif sd / max(ordinary, 1.0) > 1.0:
            self.may["noisy"] = None
        for name, sign in (("high", 1), ("low", -1)):
            if sign * level >= 1.0:
                self.must[name] = None
            elif sign * level > 0.5:
                self.may[name] = None
            on = {a for a, v in student.get("shift_on", {}).items() if sign * late(v, sessions) > 0}
            big = {a for a in on if abs(late(student["shift_on"][a], sessions)) >= 1.5}
            if big:
                self.must[name] = big
            elif on:
                self.may[name] = on
            if ordinary != 1.0 or any(g != 1.0 for g in gains.values()):
                # A gain about the middle moves a mean that does not lie there.
                self.may.setdefault(name, None)
        if any(student.get("swaps", {})):
            self.may |= dict.fromkeys(("guessing", "narrow", "noisy", "farther", "nearer"))
        if "always" in student:
            self.must, self.follows = {"same": None}, set()
            self.may = dict.fromkeys((*FAULTS, "same"))
        if flat:
            self.follows = set()
            for kind in ("reversed", "guessing", "narrow", "wide"):
                self.must.pop(kind, None)
                self.may.pop(kind, None)
            self.must["alike"] = None
        if student.get("absent"):
            self.must["absent"] = None
        if student.get("joins", 1) > 1:
            self.must["joined"] = None
        self._of_experts(recipe, base, sessions)
        self.sides = {
            a: (sum(gains[a] * late(e.get("gain_on", {}).get(a, 1.0), sessions) > 0
                    for e in recipe["experts"]), len(recipe["experts"]))
            for a in self.must.get("parted") or ()
        }  # fmt: skip
        self.plain = not (set(self.must) & {*FAULTS, "same", "nearer"}) and not self.changes
        if self.plain and not flat:
            self.must["follows"] = None

    def _of_experts(self, recipe: dict[str, Any], base: dict[str, Any], sessions: int) -> None:
        experts = recipe["experts"]
        parted = {
            a
            for a in base["attributes"]
            if len({round(late(e.get("gain_on", {}).get(a, e.get("gain", 1.0)), sessions), 1)
                    for e in experts}) > 1
        }  # fmt: skip
        if parted:
            self.must["parted"] = parted
            self.follows -= parted
            for kinds in (self.must, self.may):
                for kind in FAULTS:
                    about = kinds.get(kind)
                    if about:
                        kinds[kind] = about - parted
                        if not kinds[kind]:
                            del kinds[kind]
        if all(e.get("cups", recipe["cups"]) == 1 for e in experts):
            self.must["no repeats"] = None
        if any(e.get("swaps") for e in experts):
            self.must["slip"] = None
        if sessions == 1:
            self.must["early"] = None


def judge(
    truth: Truth, sentences: list[str], attributes: list[str]
) -> tuple[dict[str, bool], list[str]]:
    """Compare what was told with what is true: each must with yes or no, and what is false."""
    low = [text.lower() for text in sentences]
    heard: dict[str, list[str]] = {
        kind: [text for text in low if re.search(pattern, text)] for kind, pattern in SAYS.items()
    }
    got = {}
    for kind, about in truth.must.items():
        texts = heard[kind]
        if kind == "follows":
            named = {a for text in texts for a in attributes if a in text}
            whole = any("over the whole card" in text for text in texts)
            got[kind] = bool(texts) and (whole or not named or len(named) >= len(truth.follows) / 2)
        elif about is None:
            got[kind] = bool(texts)
        else:
            got[kind] = all(any(a in text for text in texts) for a in about)
    wrong = []
    allowed = {**truth.may, **truth.must}
    for kind in FAULTS:
        for text in heard[kind]:
            about = allowed.get(kind, set())
            named = {a for a in attributes if re.match(rf"{a}\b", text)}
            if kind not in allowed or (about is not None and not (named and named <= about)):
                wrong.append(text)
    for text in heard["follows"]:
        named = {a for a in attributes if re.search(rf"\b{a}\b", text)}
        if "is right" not in text and named - truth.follows:
            wrong.append(text)
    for text in heard["turned"]:
        named = {a for a in attributes if re.search(rf"\b{a}\b", text)}
        if not named <= (truth.must.get("turned") or set()):
            wrong.append(text)
    for text in heard["side"]:
        name, same, of = re.match(r"(\w+): (\d+) of (\d+)", text).groups()  # type: ignore[union-attr]
        if truth.sides.get(name) != (int(same), int(of)):
            wrong.append(text)
    for kind in ("nearer", "parted", "alike", "slip", "absent", "joined", "same", "no repeats",
                 "ticks"):  # fmt: skip
        wrong += [
            text
            for text in heard[kind]
            if kind not in allowed
            and not (kind == "alike" and "on everything" not in text and "nothing can" in text)
        ]
    wrong += [text for text in sentences if FORBIDDEN.search(text)]
    return got, wrong


def spikes(ticks: list[Any], student: str, sentences: list[str]) -> bool:
    """Tell whether the counts of hits and false alarms that were told are those of the sheets."""
    mine = [row for row in ticks if row[2] == student and row[7] != ""]
    hits = sum(row[7] for row in mine if row[8])
    n = sum(1 for row in mine if row[8])
    alarms = sum(row[7] for row in mine if not row[8])
    clean = len(mine) - n
    text = rf"\b{hits} of {n} spiked( cups?)?,? and (in )?{alarms} of {clean} "
    return n == 0 or any(re.search(text, sentence) for sentence in sentences)


def designs(data: dict[str, Any]) -> None:
    """Put our own classes in place of the recipes: every kind in 1, 3 and 6 sessions.

    Twelve to a class would make each other's budget smaller; six and six are nearer to a school.
    """
    course = {
        "improving": {"gain": [0.1, 0.3, 0.5, 0.7, 0.9, 1.0],
                      "noise": [1.6, 1.4, 1.2, 0.9, 0.6, 0.5]},
        "worsening": {"gain": [1.0, 0.9, 0.75, 0.55, 0.35, 0.2],
                      "noise": [0.5, 0.7, 0.9, 1.2, 1.5, 1.7]},
    }  # fmt: skip
    one = {"name": "E1", "noise": 0.3, "opinion_sd": 0.0}
    made = {}
    for n in (1, 3, 6):
        step = {1: [0], 3: [0, 3, 5], 6: list(range(6))}[n]
        moving = [
            {"name": name.title(), **{key: [values[at] for at in step] for key, values in
                                      kinds.items()}}
            for name, kinds in course.items()
        ]  # fmt: skip
        plain = [{"name": f"Plain{i}", "noise": 0.5 + 0.1 * i} for i in range(1, 4)]
        first = [
            {"name": "Excellent", "noise": 0.3, "opinion_sd": 0.1},
            {"name": "Reversed", "noise": 0.5, "gain_on": {"sour": -1.0}},
            {"name": "Guessing", "gain": 0.0, "noise": 1.6, "opinion_sd": 0.0},
            {"name": "Narrow", "gain": 0.35, "noise": 0.2, "opinion_sd": 0.1},
            {"name": "Noisy", "noise": 1.8, "opinion_sd": 0.2},
            plain[0],
        ]
        second = [
            {"name": "Blind", "noise": 0.5, "hit": 0.0, "false_alarm": 0.0},
            {"name": "High", "level": 1.8, "noise": 0.4, "opinion_sd": 0.2},
            {"name": "Wide", "gain": 1.7, "noise": 0.8, "opinion_sd": 0.2},
            *(moving if n > 1 else []),
            {"name": "Away", "noise": 0.5, **({"absent": [2]} if n > 1 else {})},
            *plain[:2],
        ]
        base = {
            "sessions": n, "cups": 2, "sets": (["A", "C", "D"] * 2)[:n], "experts": [one],
            "spiked": {str(i + 1): bottle for i, bottle in enumerate([2, 4, 1, 5, 3, 6][:n])},
        }  # fmt: skip
        two = {"name": "E2", "noise": 0.4, "level": 0.8, "opinion_sd": 0.1}
        apart = {"name": "E2", "noise": 0.3, "opinion_sd": 0.0, "gain_on": {"finish": -1.0}}
        some = [first[1], *plain]
        third = [
            {"name": "Wolf", "noise": 0.5, "hit": 0.9, "false_alarm": 0.9},
            *([{"name": "Turned", "noise": 0.5,
                "gain_on": {"bitter": [-1.0] * (n // 2) + [1.0] * (n - n // 2)}}] if n > 1 else []),
            *plain,
        ]  # fmt: skip
        swapped = {**one, "cups": 1, "swaps": {str(n): [2, 5]}}
        for name, experts, students in (
            ("kinds", [one], first),
            ("courses", [one], second),
            ("clean", [one], [*plain, *({**p, "name": p["name"] + "b"} for p in plain)]),
            ("two experts", [one, two], some),
            ("experts part", [one, apart], some),
            ("no repeats", [{**one, "cups": 1}], some),
            ("ticks and turns", [one], third),
            ("two and a swap", [swapped], plain[:2]),
        ):
            made[f"{name} {n}"] = {
                **base, "title": f"{name}, {n} sessions", "seed": 1000 * n + len(made),
                "experts": experts, "students": students,
            }  # fmt: skip
    data["class"] = made


def drawn(
    data: dict[str, Any], maker: ModuleType, name: str, seed: int, *, by_command: bool
) -> dict[str, Any]:
    """Draw one class, ask, compare; return what was told of whom as plain values."""
    recipe, attributes = data["class"][name], data["base"]["attributes"]
    cups, ticks = maker.draw(data, name, recipe["seed"] + 7919 * seed)
    spoken = heard(cups, ticks, by_command=by_command)
    record: dict[str, Any] = {"class": name, "seed": seed, "sessions": recipe["sessions"],
                              "got": {}, "wrong": {}, "plain": []}  # fmt: skip
    for one in recipe["students"]:
        who, truth = one["name"], Truth(recipe, data["base"], one)
        got, wrong = judge(truth, spoken[who], attributes)
        if recipe.get("spiked"):
            got["spikes counted"] = spikes(ticks, who, spoken[who])
        record["got"][who], record["wrong"][who] = got, wrong
        if truth.plain:
            record["plain"].append(who)
    return record


def summed(records: list[dict[str, Any]], titles: dict[str, str]) -> None:
    """Print how often each was told what is true, and how often anything false."""
    must: dict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0])
    pages: dict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0])
    by_class: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for record in records:
        by_class[record["class"]].append(record)
        for who, got in record["got"].items():
            sort = "ordinary" if who in record["plain"] else "with something of their own"
            pages[sort, record["sessions"]][0] += bool(record["wrong"][who])
            pages[sort, record["sessions"]][1] += 1
            for kind, yes in got.items():
                must[kind, record["sessions"]][0] += yes
                must[kind, record["sessions"]][1] += 1
    print("Told what is true, by class")
    for name, mine in by_class.items():
        each: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for record in mine:
            for who, got in record["got"].items():
                for kind, yes in got.items():
                    each[f"{who}: {kind}"][0] += yes
                    each[f"{who}: {kind}"][1] += 1
        least = [f"{key} {yes}/{n}" for key, (yes, n) in each.items()
                 if "follows" not in key or yes < 0.95 * n]  # fmt: skip
        bad = sum(any(record["wrong"].values()) for record in mine)
        print(f"  {name} ({titles[name]}): anything false to anybody in {bad}/{len(mine)}; "
              f"{'; '.join(least[:14])}")  # fmt: skip
        said = [f"{who} ({record['seed']}): {text}" for record in mine
                for who, wrong in record["wrong"].items() for text in wrong]  # fmt: skip
        for text in said[:4]:
            print(f"      false: {text[:150]}")
    print("\nTold what is true, by kind and number of sessions")
    for (kind, sessions), (yes, n) in sorted(must.items()):
        print(f"  {kind:18} {sessions} sessions: {yes}/{n} = {100 * yes / n:.1f} %")
    print("\nPages with anything false")
    for (sort, sessions), (bad, n) in sorted(pages.items()):
        print(f"  {sort:28} {sessions} sessions: {bad}/{n} = {100 * bad / n:.2f} %")


def run(path: Path, seeds: range, only: str, *, own: bool, save: Path | None) -> None:
    """Draw what is not in the file yet, one line of JSON a class, and print all of it."""
    data, maker = recipes(path)
    if own:
        designs(data)
    chosen = [name for name, one in data["class"].items()
              if one["experts"] and (not only or name in only.split(","))]  # fmt: skip
    kept = save.read_text("utf-8").splitlines() if save and save.is_file() else []
    records = [record for record in map(json.loads, kept) if record["class"] in chosen]
    done = {(record["class"], record["seed"]) for record in records}
    for seed in seeds:
        for name in chosen:
            if (name, seed) in done:
                continue
            record = drawn(data, maker, name, seed, by_command=seed == seeds[0])
            records.append(record)
            if save:
                with save.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(record, ensure_ascii=False) + "\n")
    summed(records, {name: one["title"] for name, one in data["class"].items()})


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description="Is each student told what is true of them?")
    parser.add_argument("recipes", nargs="?", type=Path, default=CLASSES / "classes.toml")
    parser.add_argument("n", nargs="?", type=int, default=20)
    parser.add_argument("--only", default="", help="classes, by comma")
    parser.add_argument("--first", type=int, default=1, help="first seed")
    parser.add_argument("--designs", action="store_true", help="every kind in 1, 3, 6 sessions")
    parser.add_argument("--save", type=Path, help="add to this file and go on from it")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.n)
    run(given.recipes, seeds, given.only, own=given.designs, save=given.save)


if __name__ == "__main__":
    sys.exit(main())
