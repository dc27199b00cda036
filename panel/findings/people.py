"""The maker beside the others, single assessors, and how far the panel agrees."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.errors import AnalysisError
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from .budget import ASSESSORS, WHOLE, Budget
from .evidence import QUALITY, SCALED, Evidence, once
from .statement import Statement

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.agreement.panel_agreement import Agreement
    from ...analysis.performance.assessor_findings import Assessors

RANK_MAKER, RANK_ASSESSOR, RANK_AGREE = 46, 48, 50
POOR, MODERATE, GOOD = 0.5, 0.75, 0.9
"""Koo & Li 2016, J. Chiropr. Med. 15:155-163: poor, moderate, good, excellent."""


@once
def assessors_found(evidence: Evidence) -> Assessors | AnalysisError:
    """Compare every assessor with the rest, within the report's budget."""
    from ...analysis.performance.assessor_findings import assessors

    try:
        table = evidence.tidy(evidence.attributes(Kind.LINE, Kind.CATEGORY), everybody=True)
        return assessors(table, alpha=ASSESSORS)
    except AnalysisError as refusal:
        return refusal


@once
def agreement_found(evidence: Evidence) -> Agreement | AnalysisError:
    """Return how far the panel agrees, attribute by attribute."""
    from ...analysis.agreement.panel_agreement import agreement

    try:
        return agreement(evidence.tidy(evidence.attributes(Kind.LINE, Kind.CATEGORY)))
    except AnalysisError as refusal:
        return refusal


@once
def flat(evidence: Evidence) -> list[tuple[str, str]]:
    """Return who gave every bottle the same mark on every scale, and that mark."""
    rows = evidence.rows(
        evidence.attributes(Kind.LINE, Kind.CATEGORY), everybody=True, controls=True
    )
    found = []
    for code in evidence.roles:
        own = rows[rows["assessor"] == code]
        several = min(len(set(own["sample"])), len(set(own["attribute"]))) > 1
        if several and len(set(own["score"])) == 1:
            found.append((code, f"{own['score'].iloc[0]:g}"))
    return found


@once
def maker_table(evidence: Evidence) -> pd.DataFrame:
    """Return the maker's mean and that of the others, bottle by bottle.

    Returns
    -------
    DataFrame
        ``attribute, sample, maker, others, n_others, apart``; only where both
        sides scored.
    """
    rows = evidence.rows(evidence.attributes(*SCALED), everybody=True)
    cells = rows.groupby(["attribute", "sample", "assessor"])["score"].mean().reset_index()
    own = cells["assessor"].isin(evidence.makers)
    keys = ["attribute", "sample"]
    mine = cells[own].groupby(keys)["score"].mean().rename("maker")
    rest = cells[~own].groupby(keys)["score"].agg(others="mean", n_others="size")
    table = rest.join(mine, how="inner").reset_index()
    kept: pd.DataFrame = table.assign(apart=table["maker"] - table["others"])
    return kept


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say where the maker stands, who differs from the rest, how far the panel agrees."""
    return [
        *maker_statements(evidence, budget),
        *_kept_with_maker(evidence, budget),
        *_assessors(evidence),
        *_flat(evidence),
        *_agreement(evidence, budget),
    ]


def maker_statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say whether the maker stands apart as a whole, and where the widest gap is."""
    if not evidence.makers or not evidence.maker_apart:
        return []
    said = []
    for one in budget.claimed("maker"):
        key = "findings.maker_above" if one.shift > 0 else "findings.maker_below"
        said.append(
            Statement(
                kind="claim",
                about=(one.sample, one.about),
                sentence=sentence(
                    key, attribute=evidence.name(one.about), by=f"{abs(one.shift):.1f}"
                ),
                section="maker",
                p=one.p,
                p_adjusted=one.adjusted,
                family="maker",
                rank=RANK_MAKER,
            )
        )
    table = maker_table(evidence)
    if len(table):
        widest = table.sort_values("apart", key=abs, kind="stable").iloc[-1]
        said.append(
            Statement(
                kind="description",
                about=(str(widest["sample"]), str(widest["attribute"])),
                sentence=sentence(
                    "findings.maker_widest",
                    sample=str(widest["sample"]),
                    attribute=evidence.name(str(widest["attribute"])),
                    apart=f"{widest['apart']:+.1f}",
                    maker=f"{widest['maker']:.1f}",
                    others=f"{widest['others']:.1f}",
                    n=int(widest["n_others"]),
                ),
                section="maker",
            )
        )
    if not budget.claimed("maker"):
        said.append(
            Statement(
                kind="description",
                about=(),
                sentence=sentence("findings.maker_open"),
                section="maker",
            )
        )
    return said


def with_and_without(evidence: Evidence, budget: Budget) -> list[dict[str, object]]:
    """Return the widest claimed gap of each attribute, with the maker and without.

    Returns
    -------
    list of dict
        ``attribute, high, low, without, with``; scale points.
    """
    if not evidence.makers or len(evidence.people) == len(evidence.makers):
        return []
    wanted = [one for one in budget.claimed("scale", "balance") if one.pairs]
    names = [one.about for one in wanted]
    if QUALITY not in names and QUALITY in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        names.append(QUALITY)
    rows = evidence.rows(names, everybody=True)
    cells = rows.groupby(["attribute", "assessor", "sample"])["score"].mean()
    made = []
    pairs = {one.about: one.pairs for one in wanted}
    for name in names:
        own = cells[name].reset_index()
        wide = own.pivot_table(index="assessor", columns="sample", values="score")
        apart = wide[~wide.index.isin(evidence.makers)]
        means = apart.mean()
        high, low = max(
            pairs.get(name, ((str(means.idxmax()), str(means.idxmin())),)),
            key=lambda pair: abs(means[pair[0]] - means[pair[1]]),
        )
        gaps = [part[high] - part[low] for part in (apart, wide)]
        if high == low or any(gap.dropna().empty for gap in gaps):
            continue
        made.append(
            {
                "attribute": name,
                "claimed": name in pairs,
                "high": high,
                "low": low,
                "without": float(gaps[0].mean()),
                "with": float(gaps[1].mean()),
            }
        )
    return made


def _kept_with_maker(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which findings keep their direction with the maker counted and without."""
    rows = [row for row in with_and_without(evidence, budget) if row["claimed"]]
    if not rows:
        return []
    turned = [
        str(row["attribute"])
        for row in rows
        if np.sign(float(str(row["with"]))) != np.sign(float(str(row["without"])))
    ]
    kept = [str(row["attribute"]) for row in rows if row["attribute"] not in turned]
    said = []
    for key, names in (("with_maker_kept", kept), ("with_maker_turned", turned)):
        if names:
            listed = [evidence.name(name) for name in names]
            said.append(
                Statement(
                    kind="description",
                    about=tuple(names),
                    sentence=sentence(f"findings.{key}", n=len(names), attributes=listed),
                    section="maker",
                )
            )
    return said


def _assessors(evidence: Evidence) -> list[Statement]:
    """Name who differs from the rest, as far as the budget allows; no hints."""
    found = assessors_found(evidence)
    if isinstance(found, AnalysisError) or not found.compared:
        return []
    shown = found.findings[found.findings["shown"].astype(bool)]
    same = {code for code, _ in flat(evidence)}
    said = []
    for name in dict.fromkeys(shown["assessor"]):
        if name in same:
            continue
        p = float(shown.loc[shown["assessor"] == name, "p"].min())
        adjusted = min(p * max(found.n_tests, 1) * WHOLE / ASSESSORS, WHOLE)
        lines = [line for line in found.advice(str(name)) if line.key != "assessors.hints"]
        said += [
            Statement(
                kind="claim",
                about=(str(name),),
                sentence=line,
                section="each",
                p=p,
                p_adjusted=adjusted,
                family="assessor",
                rank=RANK_ASSESSOR if number == 0 else None,
                box="findings.box_assessors" if number == 0 else "",
                brief=str(name),
            )
            for number, line in enumerate(lines)
        ]
    if not said:
        said.append(
            Statement(
                kind="description",
                about=(),
                sentence=sentence("findings.assessors_none", n=len(found.compared)),
                section="each",
            )
        )
    return said


def _flat(evidence: Evidence) -> list[Statement]:
    found = flat(evidence)
    if found and len(found) == len(evidence.people):
        marks = {mark for _, mark in found}
        if len(marks) == 1:
            return [
                Statement(
                    kind="caution",
                    about=tuple(code for code, _ in found),
                    sentence=sentence(
                        "findings.all_the_same", mark=marks.pop(), n=len(evidence.people)
                    ),
                    section="trust",
                    rank=20,
                )
            ]
    return [
        Statement(
            kind="caution",
            about=(code,),
            sentence=sentence("findings.flat", assessor=code, mark=mark),
            section="each",
            rank=RANK_ASSESSOR,
        )
        for code, mark in found
    ]


def word_of(value: float) -> str:
    """Name an intraclass correlation.

    >>> word_of(0.3), word_of(0.6), word_of(0.8), word_of(0.95)
    ('poor', 'moderate', 'good', 'excellent')
    """
    limits = ((POOR, "poor"), (MODERATE, "moderate"), (GOOD, "good"))
    return next((word for limit, word in limits if value < limit), "excellent")


def agreement_rows(evidence: Evidence) -> pd.DataFrame:
    """Return estimate, limits and a plain word of each attribute's agreement.

    Returns
    -------
    DataFrame
        ``attribute, measure, estimate, low, high, word_low, word_high``; empty
        where agreement cannot be measured.
    """
    import pandas as pd

    found = agreement_found(evidence)
    if isinstance(found, AnalysisError):
        return pd.DataFrame()
    main = found.tables().get("agreement.heading_main")
    if main is None or main.empty:
        return pd.DataFrame()
    kept = main[["attribute", "measure", "estimate", "low", "high"]].dropna(subset=["estimate"])
    return kept.assign(
        word_low=[word_of(x) for x in kept["low"].fillna(-1.0)],
        word_high=[word_of(x) for x in kept["high"].fillna(1.0)],
    ).reset_index(drop=True)


def _agreement(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Describe the agreement in one sentence; nothing is claimed."""
    found = agreement_found(evidence)
    if len(evidence.counted) < 2 or len(evidence.products) < 2:
        return []
    if isinstance(found, AnalysisError):
        return [Statement(kind="description", about=(), sentence=found.sentence, section="trust")]
    rows = agreement_rows(evidence)
    if rows.empty:
        return []
    claimed = {one.about for one in budget.claimed("scale")}
    rows = rows[rows["attribute"].isin(claimed)]
    if rows.empty:
        return [
            Statement(
                kind="description",
                about=(),
                sentence=sentence(
                    "findings.agreement_elsewhere"
                    if budget.claimed("scale", "balance")
                    else "findings.agreement_nothing"
                ),
                section="trust",
            )
        ]
    ordered = rows.sort_values("estimate", kind="stable")
    worst, best = ordered.iloc[0], ordered.iloc[-1]
    middle = round(float(rows["estimate"].median()), 2)
    return [
        Statement(
            kind="description",
            about=tuple(str(name) for name in rows["attribute"]),
            sentence=sentence(
                "findings.agreement",
                n=len(rows),
                middle=f"{middle:.2f}",
                word=sentence(f"findings.icc_{word_of(middle)}"),
                worst=evidence.name(str(worst["attribute"])),
                least=_with_limits(worst),
                best=evidence.name(str(best["attribute"])),
                most=_with_limits(best),
            ),
            section="trust",
            rank=RANK_AGREE,
        )
    ]


def _with_limits(row: pd.Series) -> Sentence:
    """Write an estimate with its interval; without one where its ends are written alike."""
    estimate, low, high = (f"{row[name]:.2f}" for name in ("estimate", "low", "high"))
    key = "plain" if low == high else "limits"
    return sentence(f"findings.estimate_{key}", estimate=estimate, low=low, high=high)
