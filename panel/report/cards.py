"""What the cards for one kind of sake, for grades and for guests ask besides the profile."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import isnan
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed
from ...analysis.ordinal import ordinal
from ...analysis.profile.liking_of_people import divides, liked_best, moved
from ...forms.questions.cards import (
    AGEING,
    BUBBLES_AND_LEES,
    CHOICE,
    DEMERITS,
    GRADES,
    KEEP,
    REASONS,
    SUMMERS,
)
from ...rounding import half_up
from ..base.words import sentence
from ..findings.statement import Statement
from .context import Context
from .paired import paired, with_limits
from .parts import Block, Grid, Line, Section, from_to, method, plain, sized

if TYPE_CHECKING:
    import pandas as pd

RANK_DIVIDES = 43
HUNDRED = 100
GRADED = ("grade", "aroma_grade", "taste_grade")
_TELLING = {"bubbles": {"lees", "settling", "bubbles", "gas_pressure", "prickle_after"},
            "ageing": {"maturity", "aged_or_stale", "roundness"}}  # fmt: skip


def bubbles(context: Context) -> Section | None:
    """Show lees and bubbles of each bottle, from the cup at rest to what stays."""
    return _means(context, "bubbles", BUBBLES_AND_LEES)


def ageing(context: Context) -> Section | None:
    """Show how each bottle has aged, and what more time in store would do to it."""
    kept = (*_counts(context, "summers", SUMMERS), *_counts(context, "keep", KEEP))
    return _means(context, "ageing", AGEING, kept)


def grades(context: Context) -> Section | None:
    """Show the grades of each bottle by the ordinal model, and why they were not better."""
    rows = _rows(context, GRADED)
    if "grade" not in set(rows["attribute"]):
        return None
    blocks: list[Block] = [plain(sentence("report.grades_plain"))]
    tables: dict[str, pd.DataFrame] = {}
    data: dict[str, object] = {}
    for name in [one for one in GRADED if one in set(rows["attribute"])]:
        own = rows[rows["attribute"] == name]
        heading = sentence("report.grades_table", what=context.name(name))
        blocks += _counts(context, name, GRADES, heading)
        try:
            found = ordinal(own, name)
        except AnalysisError as refusal:
            blocks.append(plain(context.named(refusal.sentence)))
            continue
        if found.separated:
            blocks.append(plain(sentence("report.grades_apart", names=list(found.separated))))
        heading = sentence("report.grades_shares", what=context.name(name))
        note = sentence("report.grades_note", n=found.assessors)
        if not _all_add_up(found.shares):
            note = sentence("report.rounded_besides", text=note)
        blocks.append(Grid(heading, _shares(context, found.shares), note))
        tables[f"{name}_shares"] = found.shares
        tables[f"{name}_differences"] = found.differences
        data[name] = found.shares.to_dict("records")
    blocks += _ticked(context, "demerit", DEMERITS, "report.demerits")
    blocks.append(method(sentence("report.grades_method")))
    title = sentence("report.grades")
    return Section(key="grades", title=title, blocks=tuple(blocks), tables=tables, data=data)


def liking(context: Context) -> Section | None:
    """Show what people like: the spread over people, their choice, and whether it moved."""
    rows = _rows(context, ("liking", "quality", "quality_again", "choice", "style_liking"))
    there = set(rows["attribute"]) - {"quality"}
    blocks: list[Block] = []
    said: list[Statement] = []
    tables: dict[str, pd.DataFrame] = {}
    if "liking" in there:
        found = liked_best(rows[rows["attribute"] == "liking"], "liking")
        tables["liking"] = found
        note = sentence("report.liking_note")
        blocks.append(Grid(sentence("report.liking_table"), _liked(context, found), note))
        said = _divided(context, rows[rows["attribute"] == "liking"])
        blocks += [plain(one.sentence) for one in said]
    if "choice" in there:
        blocks += _counts(context, "choice", CHOICE, sentence("report.choice_table"))
        blocks += _ticked(context, "choice_reason", REASONS, "report.choice_reasons")
    if "quality_again" in there:
        asked = ("quality", "quality_again")
        again = paired(context, rows, asked, ("alone", "beside"))
        if again is not None:
            shown, tables["side_by_side"] = again
            heading, note = sentence("report.again_table"), sentence("report.again_note")
            blocks.append(Grid(heading, shown, note))
    if "style_liking" in there:
        try:
            people, change = moved(rows, "style_liking")
        except AnalysisError as refusal:
            blocks.append(plain(context.named(refusal.sentence)))
        else:
            tables["style_moved"] = people
            blocks.append(plain(_change(people, change)))
    if not blocks:
        return None
    plainly = "report.liking_plain" if "liking" in there else "report.choice_plain"
    return Section(
        key="liking",
        title=sentence("report.liking" if "liking" in there else "report.choice"),
        blocks=(plain(sentence(plainly)), *blocks, method(sentence("report.liking_method"))),
        tables=tables,
        data={name: table.to_dict("records") for name, table in tables.items()},
        statements=tuple(said),
    )


def _divided(context: Context, rows: pd.DataFrame) -> list[Statement]:
    """Say over which bottle people lie further apart than over any other, with counts."""
    found = divides(rows, "liking")
    question = next(one for one in context.session.scorecard if one.key == "liking")
    middle = (question.high + question.low) / 2
    own = rows.groupby(["sample", "assessor"])["score"].mean()
    said = []
    for row in found[found["told"]].to_dict("records"):
        marks = own[row["sample"]]
        values = {
            "sample": str(row["sample"]),
            "sd": fixed(row["sd"]),
            "others": fixed(row["others_sd"]),
            "above": int((marks > middle).sum()),
            "below": int((marks < middle).sum()),
            "n": int(row["n"]),
            "mean": fixed(marks.mean()),
        }
        said.append(
            Statement(
                kind="description",
                about=(str(row["sample"]), "liking"),
                sentence=sentence("report.liking_divides", **values),
                section="liking",
                rank=RANK_DIVIDES,
            )
        )
    return said


def _rows(context: Context, attributes: Sequence[str]) -> pd.DataFrame:
    """Return the answers of those who count to some questions, of the products alone."""
    rows = context.table(list(attributes))
    return rows[rows["sample"].isin(context.products)]


def _means(
    context: Context, key: str, attributes: Sequence[str], more: Sequence[Block] = ()
) -> Section | None:
    """Show the means of the questions of one kind of sake, with limits."""
    import pandas as pd

    rows = _rows(context, attributes)
    asked = [name for name in attributes if name in set(rows["attribute"])]
    if not _TELLING[key] & set(asked):
        return None
    means = context.panel_means(asked)
    shown = []
    for sample in context.products:
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for name in asked:
            own = means[(means["sample"] == sample) & (means["attribute"] == name)]
            row[context.name(name)] = with_limits(own.iloc[0]) if len(own) else "–"
        shown.append(row)
    heading = sentence("report.means_table")
    return Section(
        key=key,
        title=sentence(f"report.{key}"),
        blocks=(
            plain(sentence(f"report.{key}_plain")),
            Grid(heading, pd.DataFrame(shown)),
            *more,
            method(sentence("report.means_method")),
        ),
        tables={key: means},
        data=means.to_dict("records"),
    )


def _percent(value: float) -> str:
    return "–" if isnan(value) else fixed(100 * value, 0)


def _counts(
    context: Context, attribute: str, names: Sequence[str], heading: Line = ""
) -> tuple[Block, ...]:
    """Count the answers to a question of categories, bottle by bottle."""
    import pandas as pd

    rows = _rows(context, (attribute,))
    if rows.empty:
        return ()
    labels = {option.key: option for option in context.session.scorecard[attribute].options}
    shown = []
    for sample in context.products:
        own = rows.loc[rows["sample"] == sample, "score"]
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for place, name in enumerate(names, start=1):
            row[labels[name].label.to(context.language)] = f"{int((own == place).sum())}"
        shown.append(row)
    told = heading or sentence("report.answers_to", what=context.name(attribute))
    return (Grid(told, pd.DataFrame(shown)),)


def _ticked(context: Context, key: str, names: Sequence[str], heading: str) -> tuple[Block, ...]:
    """Count the assessors who ticked each reason, bottle by bottle; unticked ones are left out."""
    import pandas as pd

    rows = _rows(context, [f"{key}:{name}" for name in names])
    ticked = rows[rows["score"] > 0][["sample", "assessor", "attribute"]].drop_duplicates()
    counted = Counter(zip(ticked["sample"], ticked["attribute"], strict=True))
    there = set(ticked["attribute"])
    used = [one for one in (f"{key}:{name}" for name in names) if one in there]
    if not used:
        return ()
    shown = []
    for sample in context.products:
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for name in used:
            row[context.name(name)] = f"{counted[sample, name]}"
        shown.append(row)
    return (Grid(sentence(heading), pd.DataFrame(shown)),)


def _all_add_up(shares: pd.DataFrame) -> bool:
    """Tell whether the grades of every bottle add up to 100 as they are written."""
    whole = shares.groupby("sample", observed=True)["share"]
    return all(sum(half_up(100 * one, 0) for one in own) == HUNDRED for _, own in whole)


def _shares(context: Context, shares: pd.DataFrame) -> pd.DataFrame:
    """Write the model's share of each grade with its limits, one row a bottle."""
    import pandas as pd

    shown = []
    for sample in context.products:
        own = shares[shares["sample"] == sample]
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for _, one in own.iterrows():
            share, low, high = (_percent(one[name]) for name in ("share", "low", "high"))
            known = one["low"] < one["high"]
            row[f"{one['category']:g}"] = sized(share, low, high) if known else share
        shown.append(row)
    return pd.DataFrame(shown)


def _liked(context: Context, found: pd.DataFrame) -> pd.DataFrame:
    """Write how each bottle is liked, one row a bottle in the order of the bottles."""
    import pandas as pd

    by_name = {str(row["sample"]): row for _, row in found.iterrows()}
    shown = []
    for sample in [name for name in context.products if name in by_name]:
        one = by_name[sample]
        share = sentence("report.people_of", k=int(one["best"]), n=int(one["of"]))
        shown.append(
            {
                sentence("report.col_bottle"): sample,
                sentence("report.col_people"): f"{int(one['n'])}",
                sentence("report.col_liked"): with_limits(one),
                sentence("report.col_spread"): from_to(fixed(one["lowest"]), fixed(one["highest"])),
                sentence("report.col_best"): share,
                sentence("report.col_best_share"): from_to(
                    _percent(one["best_low"]), _percent(one["best_high"])
                ),
            }
        )
    return pd.DataFrame(shown)


def _change(people: pd.DataFrame, change: tuple[int, float, float, float]) -> Line:
    """Say how the liking of the style moved from the first cup to the last."""
    n, mean, low, high = change
    counts = {
        "up": int((people["change"] > 0).sum()),
        "down": int((people["change"] < 0).sum()),
        "n": n,
    }
    if not low < high:
        return sentence("report.style_moved_one", **counts)
    ends = {
        name: fixed(value, sign=True)
        for name, value in (("mean", mean), ("low", low), ("high", high))
    }
    return sentence("report.style_moved", **counts, **ends)
