"""An invented school screens four candidates in one evening, before training begins.

The evening is planned as anybody would plan it, the column of answers filled from
``demo_sessions/screening/truth.toml``, and judged: one candidate is able in everything, one
guesses, one does not taste weak solutions, one left before the last task.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..base.whole_files import write_text
from ..base.words import reader, say
from ..plan.secret_draw import Draw
from ..school.screening_plan import (
    ANSWER_COLUMNS,
    ANSWERS,
    MATCHED,
    SERVER,
    answers_of,
    plan_screening,
)
from ._tools import Demonstration, refuse_filled, secret_of, truth

if TYPE_CHECKING:
    import numpy as np

NAME = "screening"
RESULT = "result.txt"
STEPS = 3


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Plan, fill and judge the evening in a new folder.

    Raises
    ------
    InputRefused
        If the folder holds files already.
    """
    import numpy as np

    from ...analysis.teaching.pass_marks import screening

    refuse_filled(folder)
    known = truth(NAME)
    rng = np.random.default_rng(known["seed"] if seed is None else seed)
    evening = folder / "evening"
    folder.mkdir(parents=True, exist_ok=True)
    plan_screening(
        evening, list(known["candidates"]), draw=Draw(secret_of(NAME)), day=known["date"],
        paper="A4", language=reader(),
    )  # fmt: skip
    tick()
    taken = _fill(evening, known["candidates"], rng)
    tick()
    result = screening(answers_of(evening))
    report = write_text(folder / RESULT, result.text(reader(), people=True) + "\n")
    tick()
    return Demonstration(folder=folder, report=report, taken=taken, faults=[])


def _fill(evening: Path, candidates: dict[str, Any], rng: np.random.Generator) -> int:
    """Type into the column of answers what each candidate would write."""
    poured: dict[tuple[str, str], dict[str, str]] = {}
    for row in _rows(evening / SERVER):
        poured.setdefault((row["assessor"], row["item"]), {})[row["code"]] = row["truth"]
    rows = _rows(evening / ANSWERS)
    for row in rows:
        able = candidates[row["assessor"]]
        row["answer"] = _answer(row["task"], poured[row["assessor"], row["item"]], able, rng)
    out = io.StringIO()
    writer = csv.DictWriter(out, ANSWER_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    write_text(evening / ANSWERS, out.getvalue(), encoding="utf-8-sig")
    return sum(bool(row["answer"]) for row in rows)


def _answer(task: str, cups: dict[str, str], able: dict[str, Any], rng: np.random.Generator) -> str:
    codes = list(cups)
    match task:
        case "matching":
            (key,) = cups.values()
            found = key if rng.random() < able["names"] else str(rng.choice(MATCHED))
            return say(f"screen.name_{found}")
        case "detection":
            odd = next(code for code in codes if cups[code] == "odd")
            return odd if rng.random() < able["tastes"] else str(rng.choice(codes))
        case "ranking" if "orders" in able:
            right = sorted(codes, key=lambda code: int(cups[code]))
            return " ".join(right if rng.random() < able["orders"] else rng.permutation(codes))
        case "description" if able["described"]:
            (key,) = cups.values()
            word = {"banana": "melon", "apple": "pear", "acetic": "sour", "paper": "old"}[key]
            return say(f"screen.word_{key}") if able["described"] == "own" else word
    return ""


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))
