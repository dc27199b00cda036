"""A screening evening: what is poured, under which codes, what is asked, and what came back.

Four files in a folder: ``pass_marks.csv`` (stated before anybody tastes), ``server.csv`` (what
to pour under which code; for the server alone), ``answers.csv`` (to fill in, codes only) and,
of each candidate, ``sheet-CODE.pdf``. No code stands on two cups of an evening, up to as many
cups as there are plain codes; beyond, on no two of one candidate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from ...analysis.teaching.pass_marks import STEPS, TASKS, pass_mark, row_is_right
from ...forms.free_words.near_misses import mark_words
from ...rounding import rounded
from ..base.errors import InputRefused
from ..base.whole_files import whole_folder, write_text
from ..base.words import reader, say, sentence
from ..plan.code_draw import PLAIN
from ..plan.secret_draw import Draw
from ..session.reference_solutions import Solution, solutions

if TYPE_CHECKING:
    import pandas as pd

MATCHED = ("sweet", "sour", "bitter", "umami", "salty", "astringent", "metallic", "water")
"""Solutions that are named, at the amounts of the training table, and plain water."""
WEAK = {"sweet": 0.5, "sour": 0.5, "bitter": 0.5, "salty": 0.5}
"""Solutions told from water, and the part of the training amount (ISO 8586: 12 g/L sucrose,
0.6 g/L citric acid, 0.27 g/L caffeine, 2 g/L salt; from memory)."""
SETS = 2
"""Triangles of each weak solution."""
ROWS = {
    "sour": (0.10, 0.15, 0.22, 0.34),
    "sweet": (8.0, 12.0, 18.0, 27.0),
    "bitter": (0.18, 0.27, 0.40, 0.60),
}
"""Rows to be put in order, g/L: citric acid as in ISO 8586 (from memory), the others with the
same step of one and a half (common practice, no source)."""
DESCRIBED = ("banana", "apple", "acetic", "paper")
"""Aromas to be described, in a neutral sake."""
POINTS = {"same": 1.0, "group": 2 / 3, "family": 1 / 3}
"""Parts of a cup's points for the term, its group, its family (three, two, one of three;
common practice, no source)."""
SERVER, ANSWERS, MARKS = "server.csv", "answers.csv", "pass_marks.csv"
ANSWER_COLUMNS = ("assessor", "task", "item", "codes", "answer")
SERVER_COLUMNS = ("assessor", "task", "item", "code", "pour", "truth")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """One cup of one candidate: what is poured, and what it means for the answer."""

    task: str
    item: str
    pour: str
    truth: str
    taste: str = ""
    """Of a row to be put in order: in what it is, which its sheet says."""


def cups_of(draw: Draw, who: str) -> list[Cup]:
    """Return one candidate's cups in the order of serving, drawn by lot.

    `truth` is the name to be given (matching, description), ``odd`` or ``same`` (detection), or
    the place from the weakest, 1 to `STEPS` (ranking).
    """
    known = {one.key: one for one in solutions()}
    cups = [
        Cup(task="matching", item=f"m{number}", pour=_pour(known.get(key)), truth=key)
        for number, key in enumerate(draw.shuffled(MATCHED, who, "matching"), 1)
    ]
    sets = draw.shuffled([key for key in WEAK for _ in range(SETS)], who, "sets")
    for number, key in enumerate(sets, 1):
        (kind,) = draw.shuffled(["AAB", "BBA"], who, "kind", number)[:1]
        for letter in draw.shuffled(kind, who, "triangle", number):
            weak = _pour(known[key], known[key].amount * WEAK[key], say("screen.source_standard"))
            pour = weak if letter == "B" else _pour()
            odd = "odd" if kind.count(letter) == 1 else "same"
            cups.append(Cup(task="detection", item=f"d{number}", pour=pour, truth=odd))
    for number, key in enumerate(draw.shuffled(ROWS, who, "rows"), 1):
        for place in draw.shuffled(range(STEPS), who, "row", key):
            source = say(f"screen.source_{'standard' if key == 'sour' else 'practice'}")
            pour = _pour(known[key], ROWS[key][place], source)
            cups.append(Cup(task="ranking", item=f"r{number}", pour=pour, truth=str(place + 1),
                            taste=key))  # fmt: skip
    cups += [
        Cup(task="description", item=f"w{number}", pour=_pour(known[key]), truth=key)
        for number, key in enumerate(draw.shuffled(DESCRIBED, who, "described"), 1)
    ]
    return cups


def _pour(one: Solution | None = None, amount: float | None = None, source: str = "") -> str:
    """Say what to pour: amount, substance, base and where the amount comes from."""
    if one is None:
        return say("screen.water")
    given = one.amount if amount is None else amount
    return say(
        "screen.pour", amount=f"{given:g} {one.unit}", compound=one.said("compound", reader()),
        base=say(f"references.base_{one.base}"),
        source=source or one.said("source", reader()),
    )  # fmt: skip


def plan_screening(
    folder: Path, assessors: Sequence[str], *, draw: Draw, day: str, paper: str, language: str
) -> list[Path]:
    """Write a screening evening for these candidates.

    Parameters
    ----------
    folder : Path
        To be made.
    assessors : sequence of str
        Codes of the candidates.
    draw : Draw
        What the lots are drawn from.
    day : str
        Date of the evening; the record over time goes by it.
    paper : {"A4", "Letter"}
    language : str
        Of the sheets.

    Raises
    ------
    InputRefused
        Without a candidate, for a code that stands twice, or where the folder is there already.
    """
    from .screening_sheet import write_sheet
    from .student_pages import file_names

    codes = [code.strip() for code in assessors if code.strip()]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if not codes or twice:
        raise InputRefused("screen.bad_codes", found=list(twice) or "-")
    if folder.exists():
        raise InputRefused("screen.there", folder=folder)
    server: list[tuple[str, ...]] = []
    asked: list[tuple[str, ...]] = []
    sheets: dict[str, list[tuple[str, str, list[str]]]] = {}
    poured = {who: cups_of(draw, who) for who in codes}
    labelled = _labels(draw, {who: len(cups) for who, cups in poured.items()})
    for who, cups in poured.items():
        labels = labelled[who]
        items: dict[tuple[str, str], list[str]] = {}
        for cup, label in zip(cups, labels, strict=True):
            server.append((who, cup.task, cup.item, label, cup.pour, cup.truth))
            items.setdefault((cup.task, cup.item), []).append(label)
        asked += [(who, task, item, " ".join(of), "") for (task, item), of in items.items()]
        tastes = {cup.item: cup.taste for cup in cups}
        sheets[who] = [(task, tastes[item], of) for (task, item), of in items.items()]
    with whole_folder(folder) as aside:
        _write_csv(aside / SERVER, SERVER_COLUMNS, server)
        _write_csv(aside / ANSWERS, ANSWER_COLUMNS, asked)
        marks = []
        for task in TASKS:
            mark = pass_mark(task, sum(row[1] == task for row in asked) // len(codes))
            marks.append((day, task, str(mark.n), f"{mark.needed:g}",
                          _known(rounded(mark.risk, ".2g")),
                          _known(rounded(mark.able, ".3f"))))  # fmt: skip
        _write_csv(aside / MARKS, ("date", "task", "n", "needed", "risk", "able"), marks)
        names = file_names(codes, "sheet")
        for who, own in sheets.items():
            write_sheet(aside / names[who], who, own, MATCHED, paper=paper, language=language,
                        date=day)  # fmt: skip
    return sorted(path for path in folder.iterdir() if not path.name.startswith("."))


def codes_repeat(cups: int) -> bool:
    """Tell whether so many cups of an evening are too many for each to have a code of its own."""
    return cups > len(PLAIN)


def _labels(draw: Draw, cups: Mapping[str, int]) -> dict[str, list[str]]:
    """Deal the codes: none stands on two cups of the evening where there are enough.

    A tray that goes to another candidate is then noticed at the first cup. Where there are too
    few codes, none stands twice on one candidate's sheet.
    """
    if codes_repeat(sum(cups.values())):
        return {who: draw.shuffled(PLAIN, who, "codes")[:n] for who, n in cups.items()}
    left = iter(draw.shuffled(PLAIN, "evening", "codes"))
    return {who: list(islice(left, n)) for who, n in cups.items()}


def _known(text: str) -> str:
    """Leave a cell empty where there is no number."""
    return "" if text == "nan" else text


def _write_csv(path: Path, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    write_text(path, out.getvalue(), encoding="utf-8-sig")


def answers_of(folder: Path) -> pd.DataFrame:
    """Read the answers of an evening and mark them: ``date, assessor, task, item, right``.

    Raises
    ------
    InputRefused
        If a file or a column is missing, or an answer names a code or a solution that its
        set does not hold; with the row and what was expected.
    """
    import pandas as pd

    tables = {name: _read(folder / name) for name in (SERVER, ANSWERS, MARKS)}
    poured: dict[tuple[str, str, str], dict[str, str]] = {}
    for who, task, item, code, _, truth in _rows(tables[SERVER], SERVER_COLUMNS):
        poured.setdefault((who, task, item), {})[code] = truth
    date = str(tables[MARKS]["date"].iloc[0])
    rows = []
    for place, (who, task, item, _, answer) in enumerate(_rows(tables[ANSWERS], ANSWER_COLUMNS), 2):
        if (who, task, item) not in poured:
            raise InputRefused("screen.not_poured", path=folder / ANSWERS, row=place,
                               assessor=who, item=item)  # fmt: skip
        where = {"path": folder / ANSWERS, "row": place}
        text = answer.strip()
        right = _right(task, text, poured[who, task, item], where=where) if text else None
        rows.append((date, who, task, item, right))
    return pd.DataFrame(rows, columns=["date", "assessor", "task", "item", "right"])


def cups_poured(folder: Path) -> int:
    """Return how many cups are poured for a planned evening."""
    return len(_read(folder / SERVER))


def _rows(table: pd.DataFrame, columns: Sequence[str]) -> list[list[str]]:
    cells: list[list[str]] = table[list(columns)].to_numpy().tolist()
    return cells


def _read(path: Path) -> pd.DataFrame:
    from ..base.table_files import read_table

    needed = {SERVER: SERVER_COLUMNS, ANSWERS: ANSWER_COLUMNS, MARKS: ("date", "task", "n")}
    table = read_table(path)
    missing = [name for name in needed[path.name] if name not in table.columns]
    if missing or not len(table):
        raise InputRefused("screen.no_column", path=path, missing=list(missing) or "-")
    return table.astype(object).where(table.notna(), "").astype(str)


def _right(task: str, text: str, cups: dict[str, str], *, where: dict[str, object]) -> float:
    """Mark one answer: 1, 0, or for a description a part."""
    if task == "matching":
        return float(_solution(text, where) == next(iter(cups.values())))
    if task == "description":
        found = mark_words(text, say(f"screen.word_{next(iter(cups.values()))}"))
        return max((POINTS[pair.near] for pair in found.pairs), default=0.0)
    named = text.replace(",", " ").replace("<", " ").split()
    wanted = 1 if task == "detection" else len(cups)
    if len(named) != wanted or set(named) - set(cups) or len(set(named)) != wanted:
        raise InputRefused(f"screen.bad_{task}", **where, found=text, codes=" ".join(cups))
    if task == "detection":
        return float(cups[named[0]] == "odd")
    return float(row_is_right([int(cups[code]) - 1 for code in named]))


def _solution(text: str, where: dict[str, object]) -> str:
    from ...forms.questions.words import languages

    names = {say(f"screen.name_{key}", language).casefold(): key
             for key in MATCHED for language in languages()}  # fmt: skip
    key = {**{key: key for key in MATCHED}, **names}.get(text.casefold())
    if key is None:
        listed = [sentence(f"screen.name_{one}") for one in MATCHED]
        raise InputRefused("screen.bad_matching", **where, found=text, known=listed)
    return key
