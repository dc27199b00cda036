"""Do the bottles differ, and in what?"""

from __future__ import annotations

import pandas as pd

from ...analysis.anova.whole_table import Anova
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import p_words, short
from ...analysis.profile.profiles_figure import draw_profiles
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from .context import SCALED, Context
from .parts import Block, Grid, Line, Lines, Picture, Section, caution, lead, method

CLAIM = 0.05
"""Chance of any false alarm over all attributes together (Holm)."""


def section(context: Context) -> Section:
    """Compare the bottles in all scaled attributes."""
    if isinstance(context.anova, AnalysisError):
        return _described(context, context.anova)
    found = context.anova
    tests = found.tests()
    stand = tests.loc[tests["p_holm"] < CLAIM, "attribute"].tolist()
    hints = tests.loc[(tests["p"] < CLAIM) & (tests["p_holm"] >= CLAIM), "attribute"].tolist()
    rest = [name for name in tests["attribute"] if name not in stand and name not in hints]
    said: list[Line] = []
    if stand:
        said.append(sentence("report.differ_in", n=len(stand), attributes=_names(context, stand)))
    else:
        said.append(sentence("report.differ_none", n=len(tests)))
    details = tuple(context.named(line) for name in stand for line in found[name].sentences()[:1])
    later: list[Line] = []
    if hints:
        names = _names(context, hints)
        later.append(sentence("report.differ_hints", n=len(hints), attributes=names))
    if rest:
        later.append(sentence("report.differ_open", n=len(rest), attributes=_names(context, rest)))
    lines = [name for name in context.attributes(Kind.LINE) if name in found.attributes]
    means = found.means()
    figure = draw_profiles(
        means[means["attribute"].isin(lines)],
        samples=context.samples,
        names={name: context.name(name) for name in lines},
        told_apart=stand,
        low_word=say("report.scale_low", context.language),
        high_word=say("report.scale_high", context.language),
        language=context.language,
    )
    blocks: list[Block] = [
        lead(*said),
        Lines(details),
        Lines(tuple(later)),
        Picture(
            "means",
            figure,
            sentence("report.means_alt", bottles=context.samples),
            sentence("report.means_caption"),
        ),
        Grid(sentence("report.differ_table"), _table(context, found), folded=True),
        caution(*_warnings(context, found)),
        method(
            sentence("report.differ_method"),
            sentence("report.differ_sd"),
            sentence("report.differ_holm", n=len(tests)),
        ),
    ]
    return Section(
        key="differ",
        title=sentence("report.differ"),
        blocks=tuple(blocks),
        short=tuple(said),
        tables={
            "tests": context.shown(tests),
            "means": context.shown(means),
            "differences": context.shown(found.differences()),
        },
        data=found.to_dict(),
    )


def _names(context: Context, attributes: list[str]) -> list[str]:
    return [context.name(one).lower() for one in attributes]


def _table(context: Context, found: Anova) -> pd.DataFrame:
    """One row an attribute: mean of each bottle, test, and which bottles share a letter."""
    language = context.language
    tests, means = found.tests(), found.means()
    cells = zip(means["attribute"], means["sample"], means["mean"], strict=True)
    means_of = {(str(name), str(sample)): float(mean) for name, sample, mean in cells}
    rows = []
    for test in tests.to_dict("records"):
        attribute = str(test["attribute"])
        row: dict[str, object] = {say("report.col_attribute", language): context.name(attribute)}
        letters = found[attribute].letters()
        shared = dict(zip(letters["sample"], letters["letters"], strict=True))
        for sample in context.samples:
            value = means_of.get((attribute, sample))
            row[sample] = "–" if value is None else f"{value:.1f} {shared.get(sample, '')}"
        row["F"] = f"F({test['df_num']:.3g}, {test['df_den']:.3g}) = {short(test['F'])}"
        row[say("report.col_p", language)] = p_words(test["p"]).to(language)
        row[say("report.col_p_holm", language)] = p_words(test["p_holm"]).to(language)
        rows.append(row)
    return pd.DataFrame(rows)


def _warnings(context: Context, found: Anova) -> list[Line]:
    """Say each kind of warning once, with the attributes it holds for."""
    said: list[Line] = [context.named(warning) for warning in found.warnings]
    kinds: dict[str, list[str]] = {}
    first: dict[str, Line] = {}
    for name, one in found.attributes.items():
        for warning in one.warnings:
            kinds.setdefault(warning.key, []).append(name)
            first.setdefault(warning.key, context.named(warning))
    for key, names in kinds.items():
        if key == "anova.below_zero":
            said.append(sentence("report.below_zero", attributes=_names(context, names)))
        else:
            said.append(
                sentence("report.warned", text=first[key], attributes=_names(context, names))
            )
    return said + [context.named(refusal) for refusal in found.refused.values()]


def _described(context: Context, refusal: AnalysisError) -> Section:
    """Describe where nothing can be compared, and say what it would take."""
    attributes = context.attributes(*SCALED)
    rows = context.table(attributes, everybody=True)
    wide = rows.pivot_table(index="attribute", columns="sample", values="score", sort=False)
    shown = wide.map(lambda value: f"{value:.1f}").reset_index()
    shown["attribute"] = [context.name(one) for one in shown["attribute"]]
    shown = shown.rename(columns={"attribute": say("report.col_attribute", context.language)})
    why = context.named(refusal.sentence)
    return Section(
        key="differ",
        title=sentence("report.differ"),
        blocks=(
            lead(sentence("report.described_only")),
            caution(why),
            Grid(sentence("report.described_table"), shown),
        ),
        short=(sentence("report.described_only"),),
        tables={"means": shown},
        data={"refused": str(why)},
    )
