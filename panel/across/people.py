"""Who stands apart by who they are: the maker, and those who declared a taste."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.result import Result
from ...analysis.core.words import Sentence
from ..base.words import say, sentence
from ..findings.budget import judge

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd

    from ...analysis.core.tidy_table import Tidy
    from ...analysis.performance.shift_of_group import GroupShift, Stability
    from ..report.context import Context

GROUPS = ("maker", "likes", "dislikes")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class People(Result):
    """Shifts of the groups of a panel, and which conclusions hang on one person.

    Attributes
    ----------
    shifts : dict of str to GroupShift
        By group: ``maker``, ``likes``, ``dislikes``, or the label given.
    stability : Stability or None
        Of the panel that is counted; None where it could not be told.
    refused : dict of str to Sentence
        Groups, or ``stability``, that could not be told, and why.
    """

    shifts: Mapping[str, GroupShift]
    stability: Stability | None
    refused: Mapping[str, Sentence]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say each group's shifts, then the stability."""
        said = [text for one in self.shifts.values() for text in one.sentences()]
        if self.stability is not None:
            said += self.stability.sentences()
        said += [
            sentence("shift.refused", what=sentence(f"shift.what_{name}"), why=why)
            for name, why in self.refused.items()
        ]
        return tuple(said) or (sentence("shift.nobody"),)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the shifts of all groups, and the stability."""
        import pandas as pd

        shown = {}
        if self.shifts:
            parts = [one.table.assign(group=one.label) for one in self.shifts.values()]
            both = pd.concat(parts, ignore_index=True)
            shown["groups.heading_shift"] = both[["group", *both.columns[:-1]]]
        if self.stability is not None:
            shown |= self.stability.tables()
        return shown


def from_table(table: Tidy, group: Sequence[str], label: str = "") -> People:
    """Compare one group of a table with the others; stability without the group."""
    from ...analysis.core.tidy_table import Tidy as Checked
    from ...analysis.performance.shift_of_group import group_shift, stability

    shifts = {label or ", ".join(group): group_shift(table, group, label=label)}
    rest = table.data[~table.data["assessor"].isin(list(group))].reset_index(drop=True)
    refused = {}
    try:
        firm = stability(Checked(data=rest, dropped=table.dropped))
    except AnalysisError as refusal:
        firm, refused = None, {"stability": refusal.sentence}
    return People(shifts=shifts, stability=firm, refused=refused)


def from_folder(folder: Path) -> People:
    """Compare the groups of a session folder; its key is opened, on the record."""
    from ..plan.plan_file import load_open
    from ..report.build import open_context
    from ..returns.store import Store
    from ..session.session_folder import load

    session = load(folder)
    with Store(folder) as store:
        context = open_context(session, load_open(session), store, "shift")
    return from_context(context)


def from_context(context: Context) -> People:
    """Compare the groups of an opened session.

    The maker is compared with all others, those who like or dislike the style
    with those who declared neither; makers stand outside both.
    """
    from ...analysis.performance.shift_of_group import group_shift, stability
    from ..report.context import SCALED

    attributes = context.attributes(*SCALED)
    table = context.tidy(attributes, everybody=True)
    present = set(table.assessors)
    style = {
        code: one.style
        for code, one in context.roster.items()
        if code in present and code not in context.makers
    }
    neither = [code for code, taste in style.items() if taste not in ("likes", "dislikes")]
    sides = {
        "maker": ([code for code in context.makers if code in present], list(style)),
        "likes": ([code for code, taste in style.items() if taste == "likes"], neither),
        "dislikes": ([code for code, taste in style.items() if taste == "dislikes"], neither),
    }
    shifts: dict[str, GroupShift] = {}
    refused: dict[str, Sentence] = {}
    for name, (group, others) in sides.items():
        if not group:
            continue
        try:
            label = say(f"shift.label_{name}")
            shifts[name] = group_shift(table, group, others=others, label=label)
        except AnalysisError as refusal:
            refused[name] = refusal.sentence
    firm = None
    try:
        firm = stability(context.tidy(attributes), judge=_by_budget(context))
    except AnalysisError as refusal:
        refused["stability"] = refusal.sentence
    return People(shifts=shifts, stability=firm, refused=refused)


def _by_budget(context: Context) -> Callable[[Tidy], dict[str, float]]:
    """Judge as the report does, so that nothing said with one left out contradicts its verdict."""
    evidence = context.findings.evidence

    def adjusted(table: Tidy) -> dict[str, float]:
        left = {*table.assessors, *evidence.makers}
        part = replace(
            evidence,
            people=tuple(one for one in evidence.people if one.code in left),
            scores=evidence.scores[evidence.scores["assessor"].isin(left)],
        )
        return {
            one.about: one.adjusted
            for one in judge(part).judged
            if one.kind in ("scale", "balance") and one.tested
        }

    return adjusted


__all__ = ["GROUPS", "People", "from_context", "from_folder", "from_table"]
