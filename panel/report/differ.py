"""Do the bottles differ, and in what?"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import pandas as pd

from ...analysis.anova.whole_table import Anova
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit, p_words
from ...analysis.core.words import Sentence
from ...analysis.profile.profiles_figure import draw_profiles
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.budget import HINT
from ..overview.gaps import gaps
from .context import SCALED, Context
from .paired import with_limits
from .parts import (
    Block,
    Grid,
    Line,
    Lines,
    Picture,
    Section,
    caution,
    from_to,
    lead,
    method,
    plain,
    sized,
)

ASKED = ("scale", "word", "fault", "gap", "majority", "maker", "effect", "overall")
"""Kinds of questions that share the budget, in the order in which they are named."""
AT_ZERO = "report.at_zero"
_AT_ZERO = ("anova.not_settled", "anova.held_fallback", "anova.held")
FEW = 4
"""Bottles up to which every pair is written."""
OWN_WORDS = {"anova.no_error": "report.no_scatter", "anova.constant": "report.constant"}
"""Refusals of the intervals for which the report has words of its own: its claims have a rule
that still answers there."""


def section(context: Context) -> Section | None:
    """Compare the bottles in all scaled attributes."""
    if not context.attributes(*SCALED) or not context.products:
        return None
    if isinstance(context.anova, AnalysisError):
        return _described(context, context.anova)
    found = context.anova
    budget = context.findings.budget
    stand = [one.about for one in budget.claimed("scale", "balance")]
    said = context.said("differ", "claim")
    rest = context.said("differ", "description", "hint")
    blocks: list[Block] = [lead(*said), Lines(rest)] if said else [lead(*rest[:1]), Lines(rest[1:])]
    blocks += context.picture(lambda: _figure(context, found, stand))
    blocks += context.tabled("differ")
    blocks += [
        Grid(sentence("report.differ_table"), means_table(context, found), folded=True),
        *(
            [
                Grid(
                    sentence("report.pairs_table"),
                    pairs,
                    sentence("report.pairs_note", which=_which(context, len(pairs))),
                    folded=True,
                )
            ]
            if len(pairs := pairs_table(context))
            else []
        ),
        caution(*context.said("differ", "caution"), *_warnings(context, found)),
        method(
            sentence(
                "report.differ_budget",
                n=len(budget.judged),
                kinds=[
                    sentence(f"report.asked_{key}")
                    for key in ASKED
                    if any(one.kind == key for one in budget.judged)
                ],
            ),
            *([budget_method(context)] if budget.found is not None else []),
            sentence("report.differ_hint", alpha=f"{HINT:g}", rate=f"{100 * HINT:g}"),
            sentence("report.differ_method"),
        ),
    ]
    tables = {
        "tests": context.shown(found.tests()),
        "means": context.shown(found.means()),
        "differences": context.shown(found.differences()),
    }
    if budget.found is not None:
        tables["claims"] = context.shown(budget.found.table.rename(columns={"about": "attribute"}))
        tables["pairs"] = context.shown(budget.found.pairs.rename(columns={"about": "attribute"}))
    return Section(
        key="differ",
        title=sentence("report.differ"),
        blocks=tuple(blocks),
        tables=tables,
        data={**found.to_dict(context.language), "claims": budget.found},
    )


def budget_method(context: Context) -> Line:
    """Say how the reference of the step-down was made, with its seed."""
    made = context.findings.budget.found
    if made is None:
        return ""
    key = made.kind.replace(" ", "_")
    return sentence(f"report.reference_{key}", n=made.shuffles, seed=made.seed or 0)


def ends(context: Context, attributes: list[str]) -> dict[str, tuple[str, str]]:
    """Return the words at the ends of the lines of some attributes, as the sheets have them."""
    asked = {name: context.findings.evidence.question(name) for name in attributes}
    language = context.language
    return {
        name: (one.low_label.to(language), one.high_label.to(language))
        for name, one in asked.items()
    }


def _figure(context: Context, found: Anova, stand: list[str]) -> Picture:
    lines = [name for name in context.attributes(Kind.LINE) if name in found.attributes]
    means = context.inside(found.means())
    means = means[means["attribute"].isin(lines)]
    caption = sentence("report.means_caption")
    return profiles(context, "means", means, (lines, stand), caption)


def profiles(
    context: Context,
    name: str,
    means: pd.DataFrame,
    drawn_and_bold: tuple[list[str], list[str]],
    caption: Line,
) -> Picture:
    """Draw means with their intervals for paper, and again for a telephone."""
    drawn, bold = drawn_and_bold
    draw = partial(
        draw_profiles,
        means,
        samples=context.products,
        names={one: context.name(one) for one in drawn},
        told_apart=bold,
        ends=ends(context, drawn),
        language=context.language,
    )
    return Picture(
        name,
        draw(),
        sentence("report.means_alt", bottles=context.products),
        caption,
        draw(narrow=True),
    )


def means_table(context: Context, found: Anova) -> pd.DataFrame:
    """One row an attribute: each bottle's mean with its interval, and what the budget says."""
    budget = context.findings.budget
    means = context.inside(found.means())
    rows = []
    for name in context.attributes(*SCALED):
        if name not in found.attributes and context.findings.evidence.means[name].isna().all():
            continue
        own = means[means["attribute"] == name]
        told = {str(one["sample"]): with_limits(one) for _, one in own.iterrows()}
        row: dict[Line, object] = {sentence("report.col_attribute"): context.name(name)}
        for sample in context.products:
            if sample not in told:
                plain = context.findings.evidence.means[name].get(sample)
                row[sample] = "–" if plain is None or pd.isna(plain) else fixed(plain)
                continue
            row[sample] = told[sample]
        one = next(
            (j for j in budget.judged if j.kind in ("scale", "balance") and j.about == name), None
        )
        row[sentence("report.col_p_budget")] = (
            p_words(one.adjusted) if one is not None and one.tested else "–"
        )
        rows.append(row)
    return pd.DataFrame(rows)


def _warnings(context: Context, found: Anova) -> list[Line]:
    """Say each kind of warning once, with the attributes it holds for."""
    said: list[Line] = [context.named(warning) for warning in found.warnings]
    kinds: dict[str, list[str]] = {}
    first: dict[str, Line] = {}
    for name, one in found.attributes.items():
        for warning in one.warnings:
            if warning.key == "anova.below_zero":
                continue
            key = AT_ZERO if warning.key in _AT_ZERO else warning.key
            if name not in kinds.setdefault(key, []):
                kinds[key].append(name)
            first.setdefault(key, context.named(warning))
    for key, names in kinds.items():
        listed = [context.name(one).lower() for one in names]
        if key == AT_ZERO:
            said.append(sentence(key, n=len(names), attributes=listed))
        else:
            said.append(sentence("report.warned", text=first[key], attributes=listed))
    return said + refusals(context, found.refused)


def refusals(context: Context, refused: Mapping[str, Sentence]) -> list[Line]:
    """Write a refusal that several attributes share once, with the attributes it covers."""
    groups: dict[str, list[str]] = {}
    first: dict[str, Line] = {}
    for name, why in refused.items():
        groups.setdefault(why.key, []).append(context.name(name).lower())
        first.setdefault(why.key, context.named(why))
    said: list[Line] = []
    for key, names in groups.items():
        if key in OWN_WORDS:
            said.append(sentence(OWN_WORDS[key], n=len(names), attributes=names))
        elif len(names) == 1:
            said.append(first[key])
        else:
            said.append(sentence("report.warned", text=first[key], attributes=names))
    return said


def _described(context: Context, refusal: AnalysisError) -> Section:
    """Describe where nothing can be compared, and say what it would take."""
    rows = context.table(context.attributes(*SCALED))
    rows = rows[rows["sample"].isin(context.products)]
    shown = []
    for name in context.attributes(*SCALED):
        row: dict[Line, object] = {sentence("report.col_attribute"): context.name(name)}
        for sample in context.products:
            here = rows[(rows["attribute"] == name) & (rows["sample"] == sample)]
            own = here.groupby("assessor")["score"].mean()
            if own.empty:
                row[sample] = "–"
                continue
            ends = fixed(own.min()), fixed(own.max())
            mean = fixed(own.mean())
            row[sample] = sized(mean, *ends) if ends[0] != ends[1] else mean
        shown.append(row)
    table = pd.DataFrame(shown)
    refused = refusal.sentence
    each = dict(refused.values).get("refused") or [(context.attributes(*SCALED)[0], refused)]
    several = len(context.products) > 1
    # One bottle and one assessor are told as such; the refusal would say it again.
    why = refusals(context, dict(each)) if isinstance(each, list) else [context.named(refused)]
    said = context.said("differ")
    return Section(
        key="differ",
        title=sentence("report.differ" if several else "report.describe_one"),
        blocks=(
            lead(sentence("report.described_only" if several else "report.described_one")),
            *([Lines(said), *context.tabled("differ")] if several else []),
            *([caution(*why)] if several and len(context.roster) > 1 else []),
            Grid(sentence("report.described_table"), table),
            *_repeats(rows),
        ),
        tables={"means": table},
        data={"refused": why},
    )


def _repeats(rows: pd.DataFrame) -> list[Block]:
    """Say how far one assessor's marks of the same bottle lie apart, where any tasted it twice."""
    cells = rows.groupby(["assessor", "sample", "attribute"])["score"].agg(["size", "min", "max"])
    twice = cells[cells["size"] > 1]
    if twice.empty:
        return []
    apart = twice["max"] - twice["min"]
    each = apart.groupby(level="assessor").mean()
    listed = [
        sentence("findings.pair_value", name=str(code), value=fixed(by))
        for code, by in each.items()
    ]
    return [plain(sentence("report.described_repeats", by=fixed(apart.mean()), listed=listed))]


def _span(context: Context, attribute: str) -> float:
    """Return the widest difference that two marks of an attribute can have."""
    question = context.findings.evidence.question(attribute)
    if question.kind is Kind.BALANCE:
        return float(len(question.options) - 1)
    return question.high - question.low


def _which(context: Context, n: int) -> Sentence:
    """Say whether the table has every pair, or which of them."""
    evidence, scaled = context.findings.evidence, context.attributes(*SCALED)
    every = sum(one.attribute in scaled for one in gaps(evidence, context.findings.budget))
    if n == every:
        return sentence("report.pairs_every")
    return sentence("report.pairs_some", n=n, all=every)


def pairs_table(context: Context) -> pd.DataFrame:
    """Write the pairs of bottles with interval, and how many marked them this way and the other.

    All of at most `FEW` bottles; of more those that are claimed, widest or clear of 0.
    """
    found = gaps(context.findings.evidence, context.findings.budget)
    few = len(context.products) <= FEW
    rows = []
    for name in context.attributes(*SCALED):
        own = [one for one in found if one.attribute == name]
        widest = max((one.by for one in own), default=0.0)
        for one in own:
            if not (few or one.claimed or one.clear or one.by == widest):
                continue
            span = _span(context, name)
            low, high = max(one.least, -span), min(one.most, span)
            ends = limit(low), limit(high)
            rows.append(
                {
                    sentence("report.col_attribute"): context.name(name),
                    sentence("report.col_gap"): f"{one.high} – {one.low}",
                    sentence("report.col_apart"): fixed(one.by),
                    sentence("report.col_interval"): from_to(*ends) if ends[0] != ends[1] else "–",
                    sentence("report.col_ways"): f"{len(one.along)} : {len(one.against)} / {one.n}",
                    sentence("report.col_claimed"): sentence("report.yes") if one.claimed else "–",
                }
            )
    return pd.DataFrame(rows)
