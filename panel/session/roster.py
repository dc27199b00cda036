"""The roster: codes, roles, declared taste. Names stay apart and are never read."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.headings import folded
from ..base.problems import Problem, problem
from ..base.records import Cells, read_rows
from .bottles import Bottle

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("assessor", "role", "style", "language", "tastes")
ROLES = ("maker", "trained", "expert", "student", "consumer")
STYLES = ("likes", "dislikes", "neutral")
CODE = re.compile(r"[A-Za-z0-9]{1,12}")
BREWED_BY = (
    "brewed by", "brewer", "brewers", "made by", "pressed by", "造った人", "醸造者", "仕込んだ人",
    "搾った人", "造り手",
)  # fmt: skip
"""Headings of a further column of ``bottles.csv`` that names by code who brewed a bottle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessor:
    """One assessor.

    Attributes
    ----------
    code : str
        Letters and digits; never a name.
    role : str
        One of `ROLES`.
    style : str
        What they declared about the style before tasting: likes, dislikes, neutral, or "".
    language : str
        Language of their sheet.
    tastes : bool
        False for somebody who smells only.
    spare : bool
        True for a sheet that waits for somebody who comes late.
    """

    code: str
    role: str
    style: str = ""
    language: str = "en"
    tastes: bool = True
    spare: bool = False


def read_assessors(
    folder: Path, languages: tuple[str, ...]
) -> tuple[tuple[Assessor, ...], list[Problem]]:
    """Read the assessors of a session folder; return them and all faults."""
    table, faults = read_rows(folder, "assessors", ("assessor", "role"), COLUMNS)
    assessors: list[Assessor] = []
    seen: dict[str, int] = {}
    for number, row in table.rows:
        cells = Cells(table.file, number, row, faults, {})
        code = cells.text("assessor")
        if not CODE.fullmatch(code):
            cells.note("assessor", "bad_assessor", found=code)
            continue
        if code.upper() in seen:
            cells.note("assessor", "twice", found=code, row=seen[code.upper()])
            continue
        seen[code.upper()] = number
        if not cells.text("role"):
            cells.note("role", "not_a_choice", found="", options=list(ROLES))
        assessors.append(
            Assessor(
                code=code,
                role=cells.choice("role", ROLES, default="consumer"),
                style=cells.choice("style", STYLES, default=""),
                language=cells.choice("language", languages, default="en"),
                tastes=cells.choice("tastes", ("yes", "no"), default="yes") == "yes",
            )
        )
    if table.rows and not assessors:
        faults.append(problem(table.file, "no_rows"))
    return tuple(assessors), faults


def brewed_by(bottles: Iterable[Bottle], codes: Collection[str]) -> dict[str, list[str]]:
    """Return by code which of the bottles somebody brewed, as ``bottles.csv`` says.

    Examples
    --------
    >>> one = Bottle(name="a", further={"Brewed by": "S1, s2; Mika"})
    >>> brewed_by([one, Bottle(name="b")], ["S1", "S2", "S3"])
    {'S1': ['a'], 'S2': ['a']}
    """
    headings = {folded(heading) for heading in BREWED_BY}
    found: dict[str, list[str]] = {}
    for bottle in bottles:
        named = " ".join(
            text for heading, text in bottle.further.items() if folded(heading) in headings
        )
        words = {word.upper() for word in re.findall(CODE.pattern, named)}
        for code in codes:
            if code.upper() in words:
                found.setdefault(code, []).append(bottle.name)
    return found


def without_own(scores: pd.DataFrame, own: Mapping[str, Sequence[str]]) -> pd.DataFrame:
    """Leave out what people marked of bottles that they brewed: the tank is known to them.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"assessor": ["S1", "S1", "S2"], "sample": ["a", "b", "a"]})
    >>> without_own(rows, {"S1": ["a"]}).to_numpy().tolist()
    [['S1', 'b'], ['S2', 'a']]
    """
    out = {(code, name) for code, names in own.items() for name in names}
    pairs = zip(scores["assessor"].astype(str), scores["sample"].astype(str), strict=True)
    return scores[[pair not in out for pair in pairs]]
