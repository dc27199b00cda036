"""Chapters beside the claims: the first page's sentences, preference, steadiness, known cups."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.profile.profiles_figure import fitting
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.evidence import QUALITY
from ..overview import known_cups, steadiness
from ..overview.gaps import size
from ..overview.told import KNOWN, QUALITY_, REPEATS, SURE
from .context import Context
from .differ import profiles
from .parts import Block, Grid, Line, Points, Section, method

if TYPE_CHECKING:
    import pandas as pd

ROOM, ROOM_OF_MANY, MANY = 2.8, 2.3, 4
"""Inches of height that the first page has for its figure, and with more than `MANY` bottles:
printed a little smaller its letters still have 7 pt."""
FEWEST = 2
"""Attributes in that figure at least."""


def sure(context: Context) -> Section | None:
    """Say in a few sentences how sure all this is, who parts, and the cheapest next step."""
    said = context.said(SURE)
    picture = _short_figure(context)
    if not said and not picture:
        return None
    return Section(
        key=SURE,
        title=sentence("overview.sure"),
        blocks=(Points(said), *picture),
        data={"sentences_of": "statements"},
    )


def _short_figure(context: Context) -> list[Block]:
    """Draw the attributes that are shown, the surest first, and quality."""
    found = context.anova
    if isinstance(found, AnalysisError) or len(context.products) < 2:
        return []
    lines = [name for name in context.attributes(Kind.LINE) if name in found.attributes]
    room = ROOM if len(context.products) <= MANY else ROOM_OF_MANY
    most = max(FEWEST, fitting(len(context.products), room))
    shown = [one.about for one in context.findings.budget.claimed("scale") if one.about in lines]
    last = [QUALITY] if QUALITY in lines else []  # where it was not asked, one more has its place
    drawn = [*shown[: most - len(last)], *last]
    drawn = list(dict.fromkeys(drawn)) or lines[:most]
    means = context.inside(found.means())
    means = means[means["attribute"].isin(drawn)]
    means = means.sort_values("attribute", key=lambda own: own.map(drawn.index), kind="stable")
    if means.empty:
        return []

    every = {one.about for one in context.findings.budget.claimed("scale", "balance")}
    n = len(every.intersection(drawn))
    what = sentence(f"report.short_{_what_is_drawn(drawn, shown, len(every))}", n=n, m=len(every))
    caption = sentence("report.short_caption", what=what)
    return context.picture(lambda: profiles(context, "short", means, (drawn, shown), caption))


def _what_is_drawn(drawn: list[str], shown: list[str], many: int) -> str:
    """Tell how the caption names what is drawn: all or part of what is shown, quality, neither.

    `many` is how many attributes the report shows to differ.
    """
    claimed = any(name in shown for name in drawn)
    besides = QUALITY in drawn and QUALITY not in shown
    if claimed:
        named = "shown" if len(set(drawn).intersection(shown)) == many else "part"
        return f"{named}_quality" if besides else named
    return "quality" if besides else "none"


def preferred(context: Context) -> Section | None:
    """Say what the panel prefers beyond the order: taste, and where the maker leans."""
    said = context.said(QUALITY_)
    if not said:
        return None
    title = sentence("overview.preferred")
    return Section(key=QUALITY_, title=title, blocks=(Points(said),))


def repeats(context: Context) -> Section | None:
    """Show level, spread, repeats and agreement with the others of each assessor."""
    found = steadiness.table(context.findings.evidence, context.findings.budget).drop(columns="df")
    said = context.said(REPEATS)
    if len(found) < 2 or not said:
        return None
    evidence = context.findings.evidence
    listed = {str(one) for one in found["assessor"]}
    left = [
        one.code for one in evidence.people if one.role == "consumer" and one.code not in listed
    ]
    key = "repeats_note_consumers" if left else "repeats_note"
    note = sentence(f"report.{key}", who=left, n=len(left))
    grid = Grid(sentence("report.repeats_table"), _steady(found), note)
    one = len(context.products) == 1
    how = () if one else (method(sentence("report.repeats_method")),)
    return Section(
        key=REPEATS,
        title=sentence("overview.repeats_title"),
        blocks=(Points(said), grid, *how),
        tables={"steadiness": found},
        data=found.to_dict("records"),
    )


def _steady(found: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    def written(value: float) -> str:
        return "–" if pd.isna(value) else size(value)

    columns: dict[Line, list[str]] = {
        sentence("report.col_who"): [str(one) for one in found["assessor"]],
        sentence("report.col_level"): [written(one) for one in found["mean"]],
        sentence("report.col_wide"): [written(one) for one in found["spread"]],
        sentence("report.col_repeats"): [written(one) for one in found["repeats"]],
        sentence("report.col_follows"): [
            "–" if pd.isna(one) else steadiness.coefficient(one) for one in found["follows"]
        ],
    }
    return pd.DataFrame(columns)


def known(context: Context) -> Section | None:
    """Show who found what was put in, and who noted a fault in a sound cup."""
    evidence = context.findings.evidence
    said = context.said(KNOWN)
    if not said:
        return None
    table = _known_table(context)
    blocks: list[Block] = [Points(said)]
    if len(table):
        note = sentence("report.known_note")
        blocks.append(Grid(sentence("report.known_table"), table, note))
    return Section(
        key=KNOWN,
        title=sentence("overview.known"),
        blocks=tuple(blocks),
        tables={"known_cups": table} if len(table) else {},
        data=[
            {"assessor": one.code, "found": one.found, "spiked_cups": one.cups,
             "false": one.false, "clean_cups": one.sound}
            for one in known_cups.noses(evidence)
        ],
    )  # fmt: skip


def _known_table(context: Context) -> pd.DataFrame:
    import pandas as pd

    evidence = context.findings.evidence
    rows = []
    for one in known_cups.noses(evidence):
        row: dict[Line, object] = {sentence("report.col_who"): one.code}
        for sample, fault in known_cups.spiked(evidence).items():
            k, n, others = one.by_control[sample]
            head = sentence("report.known_spiked", sample=sample, fault=evidence.name(fault))
            instead = [evidence.name(name) for name in others]
            key = "report.known_instead" if instead else "report.k_of_n"
            row[head] = sentence(key, k=k, n=n, others=instead)
        if one.sound:
            row[sentence("report.known_clean")] = sentence(
                "report.k_of_n", k=one.false, n=one.sound
            )
        rows.append(row)
    return pd.DataFrame(rows).fillna("–")
