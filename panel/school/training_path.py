"""What a class practises next: a session made from what was found, which checks just that.

``kikichoko teach`` writes ``practise.toml`` beside the pages: what to practise, who, and with
which reference solution. ``kikichoko new DIR --practise FOLDER`` makes a session folder of it
that asks these attributes alone, with a ladder of doses. When that session has been tasted,
``kikichoko teach DIR`` says of each who practised what became of it.
"""

from __future__ import annotations

import json
import tomllib
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, ValidationError

from ...analysis.core.words import Sentence
from ...analysis.teaching.against_expert import FAULT
from ...forms.questions.cards import EARLIER, FULL, NO_FAULT, card
from ..base.errors import InputRefused
from ..base.whole_files import write_text
from ..base.words import reader, say, sentence
from ..session.bottles import CLEAN, COLUMNS
from ..session.reference_solutions import Solution, serving
from ..session.template_files import table_text, template, write_new

if TYPE_CHECKING:
    from ...analysis.teaching.class_result import Teaching
    from ...analysis.teaching.student_result import Student
    from .class_sessions import School

FILE = "practise.toml"
AT_ONCE = 2
"""Attributes that one practice session takes on: a ladder each, tasted twice."""
DOSES = (0.5, 1.0, 2.0)
"""Steps of a ladder, of the usual amount; the base is its lowest step."""
HALF = 0.5
"""Spiked cups named right by who has mended a fault: more than this, and no false alarm."""
POUR = 15
"""mL a cup: enough to smell and take one sip, since there are many."""
PLAIN = 2
"""Bottles of the plain base where faults are practised: one alone tells little of false alarms."""
BOTTLE = 720
"""mL of a bottle, or of what is prepared at once."""
CUPS = 2
"""How often each bottle is served in practice: own cups must be there to agree."""


class Check(BaseModel):
    """One thing to practise: attribute, what was found of whom."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    attribute: str
    students: dict[str, str]


class Practice(BaseModel):
    """The content of ``practise.toml``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    checks: list[Check]
    experts: list[str]
    students: list[str]
    languages: dict[str, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Practised:
    """What became of one thing that one student practised: mended, still, or open."""

    student: str
    attribute: str
    kind: str
    state: str


def practice_of(school: School, result: Teaching) -> Practice:
    """Choose what the class practises: what most students have to work on, faults included.

    Of what is found over the whole card one attribute is taken, the first with a reference
    solution; of attributes that nobody can serve on purpose only what a fault or line names.
    """
    askable = _asked_on(EARLIER) | _asked_on(FULL)
    wanted: dict[str, dict[str, str]] = defaultdict(dict)
    for code, one in sorted(result.students.items()):
        for attribute, kind in _to_practise(one):
            name = attribute or _one_of(one, askable)
            if name in askable:
                wanted[name][code] = kind
    order = sorted(wanted, key=lambda name: (-len(wanted[name]), not serving(name), name))
    return Practice(
        checks=[Check(attribute=name, students=wanted[name]) for name in order[:AT_ONCE]],
        experts=school.experts,
        students=sorted(result.students),
        languages={code: school.language(code) for code in sorted(result.students)},
    )


def _to_practise(one: Student) -> list[tuple[str, str]]:
    """Return what a student has to practise: attribute ("" for the whole card) and kind."""
    found = [(str(row.attribute), str(row.finding)) for row in one.findings.itertuples()]
    named = {attribute for attribute, _ in found}
    for attribute, _ in one.to_work_on():
        if attribute and attribute not in named:
            found.append((attribute, "fault" if attribute.startswith(FAULT) else "next"))
    return found


def _one_of(one: Student, askable: set[str]) -> str:
    """Choose the attribute to begin with where the whole card needs practice."""
    names = [str(name) for name in one.lines["attribute"] if name in askable]
    return next((name for name in names if serving(name)), names[0] if names else "")


def write_practice_plan(practice: Practice, out: Path) -> Path | None:
    """Write ``practise.toml``; None where nothing is to be practised."""
    if not practice.checks:
        return None
    return write_text(out / FILE, _written(practice))


def _written(practice: Practice) -> str:
    lines = [say("teach.practise_head")]
    lines += [f"{name} = {_toml(getattr(practice, name))}" for name in ("experts", "students")]
    for check in practice.checks:
        lines += ["", "[[checks]]", f"attribute = {_toml(check.attribute)}", "[checks.students]"]
        lines += [f"{_toml(code)} = {_toml(kind)}" for code, kind in check.students.items()]
    if practice.languages:
        lines += ["", "[languages]"]
        lines += [f"{_toml(code)} = {_toml(own)}" for code, own in practice.languages.items()]
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def read_practice(path: Path) -> Practice:
    """Read ``practise.toml``, or that of a folder.

    Raises
    ------
    InputRefused
        If there is none, or it is not understood.
    """
    path = path / FILE if path.is_dir() else path
    if not path.is_file():
        raise InputRefused("teach.no_practise", path=path)
    try:
        return Practice(**tomllib.loads(path.read_text("utf-8")))
    except (tomllib.TOMLDecodeError, ValidationError) as fault:
        raise InputRefused("teach.bad_practise", path=path, why=fault) from fault


def _asked_on(named: str) -> set[str]:
    """Return the attributes of a card."""
    return {name for question in card(named) for name in question.attributes}


def write_practice_session(folder: Path, practice: Practice) -> list[Path]:
    """Write a session folder that asks what is practised, and nothing else."""
    chosen = {check.attribute for check in practice.checks}
    faults = {name for name in chosen if name.startswith(FAULT)}
    # Of a cup without a fault nothing else would tell that it was judged.
    options = ["no_fault"] if faults and faults == chosen else []
    named = EARLIER if chosen <= _asked_on(EARLIER) and not options else FULL
    content = template(named)
    kept = chosen | {NO_FAULT}
    dropped = [one.key for one in card(named, options) if not kept & set(one.attributes)]
    text = content["session.toml"].decode()
    told = tomllib.loads(text)
    for old, new in (
        ('name = "tasting-1"', 'name = "practice-1"'),
        (f'title = "{told["title"]}"', f"title = {_toml(say('teach.practise_title'))}"),
        (f'question = "{told["question"]}"',
         f"question = {_toml(say('teach.practise_question'))}"),
        ("replicates = 2", f"replicates = {CUPS}"),
        ("pour_ml = 25", f"pour_ml = {POUR}"),
        ('appearance = "flight"', 'appearance = "off"'),
        ("spare_sheets = 1", "spare_sheets = 0"),
        ("\noptions = []\n", f"\noptions = {_toml(options)}\n"),
        ("\ndrop = []\n", f"\ndrop = {_toml(dropped)}\n"),
    ):  # fmt: skip
        if text.count(old) != 1:
            message = f"the template of session.toml has no single {old!r}"
            raise AssertionError(message)
        text = text.replace(old, new)
    people = [(code, "expert", practice.languages.get(code, "en")) for code in practice.experts]
    people += [(code, "student", practice.languages.get(code, "en")) for code in practice.students]
    head = ("assessor", "role", "style", "language", "tastes")
    rows = [dict(zip(head, (code, role, "neutral", own, "yes"), strict=True))
            for code, role, own in people]  # fmt: skip
    content |= {
        "session.toml": text.encode(),
        "bottles.csv": table_text(COLUMNS, _bottles(practice)),
        "assessors.csv": table_text(head, rows),
    }
    if practice.checks:
        content[FILE] = _written(practice).encode()
    return write_new(folder, content)


def _bottles(practice: Practice) -> list[dict[str, str]]:
    """Return a ladder of doses for each attribute, each base once; what was put in is on record."""
    people = len(practice.experts) + len(practice.students)
    available = str(-(-people * CUPS * POUR // BOTTLE))
    asks_faults = any(check.attribute.startswith(FAULT) for check in practice.checks)
    rows: dict[str, dict[str, str]] = {}

    def pour(name: str, what: str, control: str) -> None:
        known = control if asks_faults else ""
        rows[name] = {"bottle": name, "use": "sample", "available": available,
                      "volume_ml": str(BOTTLE),
                      "storage": what, "group": "1", "control": known}  # fmt: skip

    for check in practice.checks:
        known = serving(check.attribute)
        if not known:
            for step in ("weak", "strong"):
                name = f"{check.attribute} {step}".replace("_", " ").replace(":", " ")
                pour(name, say("teach.practise_choose"), CLEAN)
            continue
        best = known[0]
        fault = check.attribute.removeprefix(FAULT) if check.attribute.startswith(FAULT) else CLEAN
        for place in range(1, (PLAIN if asks_faults else 1) + 1):
            name = f"{best.base} plain" + (f" {place}" if place > 1 else "")
            pour(name, say(f"references.base_{best.base}"), CLEAN)
        for dose in DOSES:
            pour(f"{best.key} x{dose:g}", _recipe(best, dose), fault)
    return list(rows.values())


def _recipe(one: Solution, dose: float) -> str:
    base, amount = say(f"references.base_{one.base}"), f"{one.amount * dose:g} {one.unit}"
    return say(
        "teach.practise_recipe",
        amount=amount,
        compound=one.said("compound", reader()),
        base=base,
        mark=one.mark_in(reader()),
    )


def outcomes(practice: Practice, result: Teaching) -> list[Practised]:
    """Tell what became of what was practised: by the findings of the practice session itself."""
    told = []
    for check in practice.checks:
        for code, kind in check.students.items():
            one = result.students.get(code)
            if one is not None:
                state = _state(one, check.attribute, kind)
                told.append(
                    Practised(student=code, attribute=check.attribute, kind=kind, state=state)
                )
    return told


def _state(one: Student, attribute: str, kind: str) -> str:
    if kind == "fault":
        if one.faults is None:
            return "open"
        mine = one.faults[one.faults["truth"] == attribute]
        share = float((mine["outcome"] == "right").mean()) if len(mine) else float("nan")
        alarms = (one.faults["outcome"] == "false alarm").any()
        return "mended" if share > HALF and not alarms else "still" if share <= HALF else "open"
    at = one.findings["attribute"].isin([attribute, ""])
    if (at & (one.findings["finding"] == kind)).any():
        return "still"
    follows = attribute in one.follows
    return "mended" if follows and kind in ("reversed", "guessing", "next") else "open"


def said_to(school: School, practice: Practice, result: Teaching) -> dict[str, list[Sentence]]:
    """Say to each who practised what became of it, as counted where it is a fault."""
    said: dict[str, list[Sentence]] = defaultdict(list)
    for one in outcomes(practice, result):
        language = school.language(one.student)
        said[one.student].append(
            sentence(
                f"feedback.practised_{one.state}",
                attribute=school.name(one.attribute, language),
                counted=_counted(result.students[one.student], one.attribute),
            )
        )
    return dict(said)


def _counted(one: Student, attribute: str) -> Sentence:
    faults = one.faults if attribute.startswith(FAULT) else None
    if faults is None:
        return sentence("feedback.practised_uncounted")
    mine, clean = faults[faults["truth"] == attribute], faults[faults["truth"] == ""]
    return sentence(
        "feedback.practised_counted",
        n=int((mine["outcome"] == "right").sum()), of=len(mine),
        alarms=int((clean["outcome"] == "false alarm").sum()), clean=len(clean),
    )  # fmt: skip


def said_of(school: School, found: list[Practised]) -> list[Sentence]:
    """Say to the teacher what became of it, student by student."""
    return [
        sentence(
            f"teach.practised_{one.state}",
            student=one.student,
            attribute=school.name(one.attribute).lower(),
            what=sentence(f"teach.practised_kind_{one.kind}"),
        )
        for one in found
    ]
