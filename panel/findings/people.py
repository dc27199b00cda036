"""The maker beside the others, single assessors, and how far the panel agrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.errors import AnalysisError
from ...analysis.core.p_values import holds
from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from . import habits, twins
from .budget import ASSESSORS, HINT, WHOLE, Budget, Weighed
from .evidence import QUALITY, SCALED, Evidence, once
from .exchanged import exchanges, suspected
from .exchanged import statements as exchanged
from .statement import Line, Statement, joined, limits, signed

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.agreement.agreement_result import Agreement
    from ...analysis.performance.assessors_result import Assessors

RANK_MAKER, RANK_ASSESSOR, RANK_AGREE = 46, 48, 50
DIFFERENCES, LEVELS_TOO = "ICC(C,1)", "ICC(A,1)"
_SHOWN = 0.005
"""Half of the last digit that is shown of a coefficient."""
POOR, MODERATE, GOOD = 0.5, 0.75, 0.9
"""Koo & Li 2016, J. Chiropr. Med. 15:155-163: poor, moderate, good, excellent."""


def judged_people(evidence: Evidence) -> list[str]:
    """Name those who are compared as assessors: consumers say what they like, and are not."""
    return [code for code, role in evidence.roles.items() if role != "consumer"]


WIDTHS = ("guessing", "narrow", "wide")
"""Findings that set an assessor's marks beside the panel's order of the bottles."""


def followed(found: Assessors, budget: Budget) -> Assessors:
    """Return the findings that can be told: of widths only where there is something to follow.

    Where no difference between the bottles is claimed, the panel's order is
    scatter, and whoever scatters most would be told to use a wide scale.
    """
    if budget.claimed("scale", "balance", "overall"):
        return found
    kept = ~found.findings["finding"].isin(WIDTHS)
    return replace(found, findings=found.findings[kept].reset_index(drop=True))


@once
def assessors_found(evidence: Evidence) -> Assessors | AnalysisError:
    """Compare every assessor with the rest, consumers aside, within the report's budget."""
    from ...analysis.core.tidy_table import tidy
    from ...analysis.performance.assessor_findings import assessors

    rows = evidence.rows(evidence.attributes(Kind.LINE, Kind.CATEGORY), everybody=True, twins=True)
    try:
        table = tidy(rows[rows["assessor"].isin(judged_people(evidence))])
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
def tables_of_makers(evidence: Evidence) -> dict[str, pd.DataFrame]:
    """Return of each maker the mean and that of the others, who are no makers, by bottle.

    Returns
    -------
    dict of DataFrame
        By the maker's code: ``attribute, sample, maker, others, n_others, apart``; only where
        both sides scored.
    """
    rows = evidence.rows(evidence.attributes(*SCALED), everybody=True)
    cells = rows.groupby(["attribute", "sample", "assessor"])["score"].mean().reset_index()
    keys = ["attribute", "sample"]
    others = cells[~cells["assessor"].isin(evidence.makers)]
    rest = others.groupby(keys)["score"].agg(others="mean", n_others="size")
    made = {}
    for code in evidence.makers:
        own = cells[cells["assessor"] == code].groupby(keys)["score"].mean().rename("maker")
        table = rest.join(own, how="inner").reset_index()
        made[code] = table.assign(apart=table["maker"] - table["others"])
    return made


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say where the maker stands, who differs from the rest, how far the panel agrees."""
    return [
        *maker_statements(evidence, budget),
        *_kept_with_maker(evidence, budget),
        *assessor_statements(evidence, budget),
        *_flat(evidence),
        *exchanged(evidence),
        *twins.statements(evidence),
        *habits.statements(evidence, budget),
        *_agreement(evidence, budget),
    ]


def maker_statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say whether the maker stands apart as a whole, and where the widest gap is."""
    if not evidence.makers or not evidence.maker_apart:
        return []
    asked = {one.attribute for one in evidence.primary if one.kind == "maker"}
    said = [
        Statement(
            kind="claim",
            about=(one.sample, one.about),
            sentence=_level("maker", _maker(evidence, one.sample), one, evidence),
            section="maker",
            p=one.p,
            p_adjusted=one.adjusted,
            family="maker",
            rank=None if one.about in asked else RANK_MAKER,  # the answer stands in the box
        )
        for one in budget.claimed("maker")
    ]
    for code, table in tables_of_makers(evidence).items():
        if table.empty:
            continue
        widest = table.sort_values("apart", key=abs, kind="stable").iloc[-1]
        said.append(
            Statement(
                kind="description",
                about=(str(widest["sample"]), str(widest["attribute"])),
                sentence=sentence(
                    "findings.maker_widest",
                    who=_maker(evidence, code),
                    sample=str(widest["sample"]),
                    attribute=evidence.name(str(widest["attribute"])),
                    apart=signed(float(widest["apart"])),
                    maker=fixed(widest["maker"]),
                    others=fixed(widest["others"]),
                    n=int(widest["n_others"]),
                ),
                section="maker",
            )
        )
    furthest: dict[str, Weighed] = {}
    for one in sorted(budget.judged, key=lambda judged: judged.p):
        if one.kind == "maker":
            furthest.setdefault(one.sample, one)
    if furthest and not budget.claimed("maker"):
        several = len(furthest) > 1
        listed = joined(
            [
                _level("maker_level", f"{who}: " if several else "", one, evidence)
                for who, one in furthest.items()
            ]
        )
        said.append(
            Statement(
                kind="description",
                about=tuple(furthest),
                sentence=sentence(
                    "findings.maker_open",
                    n=len(furthest),
                    asked=len({one.about for one in budget.judged if one.kind == "maker"}),
                    listed=listed,
                ),
                section="maker",
            )
        )
    return said


def _maker(evidence: Evidence, who: str) -> Sentence:
    """Name the maker, or which of several."""
    if len(evidence.makers) == 1:
        return sentence("findings.the_maker")
    return sentence("findings.the_maker_named", maker=who)


def _level(key: str, who: Line, one: Weighed, evidence: Evidence) -> Sentence:
    """Write how far a maker's marks lie from the others', with what one more person reaches."""
    return sentence(
        f"findings.{key}_{'above' if one.shift > 0 else 'below'}",
        who=who,
        attribute=evidence.name(one.about),
        by=fixed(one.away[0]),
        limits=limits(*one.away[1:]),
    )


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
                    sentence=sentence(
                        f"findings.{key}",
                        n=len(names),
                        makers=len(evidence.makers),
                        attributes=listed,
                    ),
                    section="maker",
                )
            )
    return said


def assessor_statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name who differs from the rest, as far as the budget allows; no hints."""
    found = assessors_found(evidence)
    if isinstance(found, AnalysisError) or not found.compared:
        return []
    found = followed(found, budget)
    shown = found.findings[found.findings["shown"].astype(bool)]
    reverse = shown[shown["finding"] == "reversed"]
    same = {code for code, _ in flat(evidence)}
    said = []
    cleared = {one.assessor for one in exchanges(evidence)}
    asked = {one.assessor for one in suspected(evidence)}
    against = turned(evidence, budget)
    rest = habits.without(evidence, against, _turned_in(reverse, against)) if against else None
    for name in dict.fromkeys(shown["assessor"]):
        if name in same:
            continue
        p = float(shown.loc[shown["assessor"] == name, "p"].min())
        adjusted = min(p * max(found.n_tests, 1) * WHOLE / ASSESSORS, WHOLE)
        lines = [
            _in_words(evidence, line)
            for line in found.advice(str(name))
            if line.key != "assessors.hints"
        ]
        if name in cleared or (name in asked and name not in against):
            lines = [sentence("findings.exchanged_assessor", assessor=str(name))]
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
        said.append(_each("assessors_none", n=len(found.compared)))
    told = {*same, *cleared, *asked, *shown["assessor"]}
    for name, hints in _hinted(found).groupby("assessor"):
        if name not in told:
            said += habits.against(evidence, str(name), hints)
    said += [rest] if rest is not None else []
    aside = [code for code in judged_people(evidence) if code not in found.compared]
    if aside:
        said.append(_each("assessors_aside", about=aside, n=len(aside), who=aside))
    claimed = {one.about for one in budget.claimed("scale")}
    open_ = [name for name in dict.fromkeys(found.measures["attribute"]) if name not in claimed]
    if open_:
        listed = [evidence.name(str(name)) for name in open_]
        every = not claimed
        said.append(_each("slopes_all" if every else "slopes", n=len(open_), attributes=listed))
    return said


def turned(evidence: Evidence, budget: Budget) -> list[str]:
    """Name who is shown to run the other way round, but for those whose cups look exchanged."""
    found = assessors_found(evidence)
    if isinstance(found, AnalysisError) or not found.compared:
        return []
    table = followed(found, budget).findings
    reverse = table[table["shown"].astype(bool) & (table["finding"] == "reversed")]
    cleared = {one.assessor for one in exchanges(evidence)}
    return [str(name) for name in dict.fromkeys(reverse["assessor"]) if name not in cleared]


def _in_words(evidence: Evidence, line: Sentence) -> Sentence:
    """Write people's names where a sentence of the comparison holds an attribute's key."""
    asked = set(evidence.attributes(Kind.LINE, Kind.CATEGORY))
    values = [
        (key, evidence.name(value) if isinstance(value, str) and value in asked else value)
        for key, value in line.values
    ]
    return replace(line, values=tuple(values))


def _hinted(found: Assessors) -> pd.DataFrame:
    """Return who runs against the rest in an attribute, not shown, but at the rate of a hint."""
    table = found.findings
    table = table.assign(p_adjusted=table["p"].astype(float) * WHOLE / found.p_limits[1])
    opposed = table["finding"].isin(("reversed", "guessing")) & (table["value"] < 0)
    unsure = ~table["shown"].astype(bool) & (table["attribute"].isin(found.measures["attribute"]))
    return table[opposed & unsure & holds(table["p_adjusted"], HINT)]


def _turned_in(reverse: pd.DataFrame, turned: Sequence[str]) -> list[str]:
    """Return the attributes in which some run the other way; empty for the whole card."""
    from ...analysis.performance.assessor_measures import WHOLE_CARD

    found = reverse.loc[reverse["assessor"].isin(list(turned)), "attribute"]
    return [] if WHOLE_CARD in set(found) else [str(name) for name in dict.fromkeys(found)]


def _each(key: str, about: Sequence[str] = (), **values: object) -> Statement:
    return Statement(
        kind="description",
        about=tuple(about),
        sentence=sentence(f"findings.{key}", **values),
        section="each",
    )


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
    rest = habits.without(evidence, [code for code, _ in found], key="without_flat")
    return [
        *(
            Statement(
                kind="caution",
                about=(code,),
                sentence=sentence("findings.flat", assessor=code, mark=mark),
                section="each",
                rank=RANK_ASSESSOR,
            )
            for code, mark in found
        ),
        *([rest] if found and rest is not None else []),
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

    On a line scale agreement on the differences between bottles, ICC(C,1): a level of
    one's own is a habit of marking and no disagreement about the bottles.

    Returns
    -------
    DataFrame
        ``attribute, measure, estimate, low, high, word_low, word_high, absolute``; the
        last is ICC(A,1), in which levels count too. Empty where agreement cannot be
        measured.
    """
    import pandas as pd

    found = agreement_found(evidence)
    if isinstance(found, AnalysisError):
        return pd.DataFrame()
    rows = []
    for name, one in found.attributes.items():
        measures = one.measures.set_index("measure")
        measure = DIFFERENCES if DIFFERENCES in measures.index else one.main
        if measure is None or np.isnan(float(measures["estimate"][measure])):
            continue
        estimate, low, high = measures.loc[measure, ["estimate", "low", "high"]].astype(float)
        level = measures["estimate"].get(LEVELS_TOO, np.nan)
        rows.append((name, measure, estimate, low, high, float(level)))
    columns = ["attribute", "measure", "estimate", "low", "high", "absolute"]
    kept = pd.DataFrame(rows, columns=columns)
    return kept.assign(
        word_low=[word_of(x) for x in kept["low"].fillna(-1.0)],
        word_high=[word_of(x) for x in kept["high"].fillna(1.0)],
    )


def _agreement(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Describe the agreement in one sentence; nothing is claimed."""
    asked = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    if len(evidence.counted) < 2 or not asked:
        return []
    if len(evidence.products) < 2:
        return [_trust("agreement_one_bottle", [])] if evidence.products else []
    if not set(evidence.counted) & set(judged_people(evidence)):
        return [_trust("agreement_consumers", [])]
    found = agreement_found(evidence)
    if isinstance(found, AnalysisError):
        return [Statement(kind="description", about=(), sentence=found.sentence, section="trust")]
    rows = agreement_rows(evidence)
    if rows.empty:
        return []
    claimed = {one.about for one in budget.claimed("scale")}
    rows = rows[rows["attribute"].isin(claimed)]
    if rows.empty:
        elsewhere = bool(budget.claimed("scale", "balance"))
        made = _trust("agreement_elsewhere" if elsewhere else "agreement_nothing", [])
        return [replace(made, rank=RANK_AGREE)]
    ordered = rows.sort_values("estimate", kind="stable")
    worst, best = ordered.iloc[0], ordered.iloc[-1]
    aside = [evidence.name(one.about) for one in budget.claimed("balance")]
    made = _trust(
        "agreement",
        [str(name) for name in rows["attribute"]],
        n=len(rows),
        without=sentence("findings.agreement_without", attributes=aside) if aside else "",
        worst=evidence.name(str(worst["attribute"])),
        least=_with_limits(worst),
        best=evidence.name(str(best["attribute"])),
        most=_with_limits(best),
    )
    return [replace(made, rank=RANK_AGREE)]


def _trust(key: str, about: Sequence[str], **values: object) -> Statement:
    return Statement(
        kind="description",
        about=tuple(about),
        sentence=sentence(f"findings.{key}", **values),
        section="trust",
    )


def in_words(low: str, high: str) -> Sentence:
    """Write the words for both ends of an interval, or the one word for both."""
    first, last = (sentence(f"findings.icc_{word}") for word in (low, high))
    return first if low == high else sentence("findings.from_to", low=first, high=last)


def icc_written(value: float) -> Sentence | str:
    """Write a coefficient; below 0 it says only that nothing is shared."""
    return sentence("findings.icc_below") if value < -_SHOWN else fixed(max(value, 0.0), 2)


def _with_limits(row: pd.Series) -> Sentence:
    """Write an estimate with its interval; without one where its ends are written alike."""
    estimate, low, high = (icc_written(float(row[name])) for name in ("estimate", "low", "high"))
    key = "plain" if np.isnan(row["low"]) or str(low) == str(high) else "limits"
    return sentence(f"findings.estimate_{key}", estimate=estimate, low=low, high=high)
