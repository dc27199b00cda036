"""A class from session folders or tables: who teaches, who learns, what was in the bottles.

What only the teacher knows stands in ``class.toml`` beside ``session.toml``::

    margin = 1.0                      # scale points that are still good enough
    clean = ["bottle-1", "bottle-2"]  # known to carry no fault
    [spiked]
    bottle-4 = "buttery"              # a fault of the scorecard
    [repeats]
    bottle-6 = "bottle-2"             # two names of one bottle

It lies in the session folder, which only the person who pours can see, and is
never read when sheets are written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

from ...analysis.teaching.against_expert import FAULT
from ..base.errors import InputRefused
from ..base.toml_text import toml_of

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.teaching.against_expert import Teaching
    from ...forms.questions.question_types import Scorecard

FILE = "class.toml"
MARGIN = 1.0


class Known(BaseModel):
    """The content of ``class.toml``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    margin: float = Field(MARGIN, gt=0)
    clean: list[str] = []
    spiked: dict[str, str] = {}
    repeats: dict[str, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class School:
    """Everything that `kikichoko.analysis.teaching.against_expert.teaching` is asked with.

    Attributes
    ----------
    scores : DataFrame
        Tidy rows of all sessions.
    experts, students : list of str
    known : Known
    names : dict
        Attributes as people read them.
    title, date : str
        Of the last session.
    """

    scores: pd.DataFrame
    experts: list[str]
    students: list[str]
    known: Known
    names: Mapping[str, str] = field(default_factory=dict)
    title: str = ""
    date: str = "2000-01-01"

    def name(self, attribute: str) -> str:
        """Write an attribute as people read it."""
        plain = attribute.rpartition(":")[2].replace("_", " ")
        return self.names.get(attribute) or plain


def read_known(path: Path) -> Known:
    """Read ``class.toml``.

    Raises
    ------
    InputRefused
        If it is no TOML, or says something that is not understood.
    """
    try:
        return Known(**toml_of(path.read_text("utf-8")))
    except (ValueError, TypeError) as fault:
        raise InputRefused("teach.bad_class", path=path, why=fault) from fault


def from_folders(folders: Sequence[Path]) -> School:
    """Gather one or several session folders; their keys are opened on the record.

    Raises
    ------
    InputRefused
        If there is no expert or no student among the assessors.
    """
    import pandas as pd

    from ..plan.plan_file import load_open
    from ..report.build import open_context
    from ..returns.store import Store
    from ..session.session_folder import load

    parts: list[pd.DataFrame] = []
    roles: dict[str, str] = {}
    clean: list[str] = []
    spiked: dict[str, str] = {}
    repeats: dict[str, str] = {}
    margin, session = MARGIN, None
    names: dict[str, str] = {}
    for folder in folders:
        session = load(folder)
        with Store(folder) as store:
            context = open_context(session, load_open(session), store, "teach")
        scores = context.answers.scores
        parts.append(scores.assign(session=f"{session.settings.date} {session.settings.name}"))
        roles |= {code: one.role for code, one in context.roster.items()}
        names |= {str(name): context.name(str(name)) for name in scores["attribute"].unique()}
        if (folder / FILE).is_file():
            known = read_known(folder / FILE)
            margin = known.margin
            clean += [name for name in known.clean if name not in clean]
            spiked |= known.spiked
            repeats |= known.repeats
    assert session is not None  # noqa: S101 - the command asks for at least one folder
    experts = [code for code, role in roles.items() if role == "expert"]
    students = [code for code, role in roles.items() if role == "student"]
    if not experts or not students:
        raise InputRefused("teach.no_roles", experts=len(experts), students=len(students))
    return School(
        scores=pd.concat(parts, ignore_index=True),
        experts=experts,
        students=students,
        known=Known(margin=margin, clean=clean, spiked=spiked, repeats=repeats),
        names=names,
        title=session.settings.title,
        date=str(session.settings.date),
    )


def compare(school: School, *, seed: int = 1) -> Teaching:
    """Compare the students with the experts."""
    from ...analysis.core.tidy_table import tidy
    from ...analysis.teaching.against_expert import teaching

    people = {*school.experts, *school.students}
    rows = school.scores[school.scores["assessor"].isin(people)]
    return teaching(
        tidy(rows),
        school.experts,
        students=school.students,
        margin=school.known.margin,
        spiked={
            bottle: fault if fault.startswith(FAULT) else FAULT + fault
            for bottle, fault in school.known.spiked.items()
        },
        clean=school.known.clean,
        repeats=school.known.repeats,
        seed=seed,
    )


def scorecard_names(scorecard: Scorecard, language: str) -> dict[str, str]:
    """Return the names of all attributes of a scorecard."""
    return {
        name: scorecard.name(name, language)
        for question in scorecard
        for name in question.attributes
    }


__all__ = ["FILE", "Known", "School", "compare", "from_folders", "read_known", "scorecard_names"]
