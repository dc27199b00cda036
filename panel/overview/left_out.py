"""Whose marks hardly move or run against the others, and what the others make without them."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtr

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import p_words
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.differences import with_end
from ..findings.evidence import SCALED, Evidence, once
from ..findings.exchanged import suspected
from ..findings.habits import in_order
from ..findings.people import flat, judged_people, turned
from ..findings.statement import Statement, joined
from ..findings.ticks import SECTION, questions
from .gaps import FEWEST, Gap, end, limits, size
from .steadiness import along_card, coefficient, own_scatter, running_against
from .told import DIFFER, REPEATS, SURE, WORDS, said

if TYPE_CHECKING:
    from ...analysis.anova.residuals import ResidualChecks

HARDLY, OTHERS = 0.8, 0.5
"""Share of the own marks that are one and the same, from which they hardly move, where it is at
most the second share for each of the others (no source)."""
FEWEST_MARKS = 20
"""Marks from which on that is told."""
MOST = 12
"""Gaps without somebody that are told, the surest first."""
TOGETHER, AGAINST = 0.01, 0.01
"""p of the others' order of the bottles, and of a slope below 0 of one's own marks on their mean,
up to which one runs against the others in an attribute (no source)."""
BOTTLES, PEOPLE = 3, 4
"""Bottles, and people, from whom on it is looked at."""
FEWEST_TICKS = 3
"""Ticks from which on it is told how far words go with those of the others."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say who hardly moves, what stands without those who do so or run against, and their words."""
    if len(evidence.products) < 2:
        return []
    return [
        *_hardly(evidence),
        *_suspected(evidence, budget),
        *_partly(evidence, budget),
        *_along(evidence),
        *_far_off(evidence),
        *_without(evidence, budget),
        *_words(evidence, budget),
    ]


@once
def hardly_moving(evidence: Evidence) -> list[tuple[str, str, int, int]]:
    """Return who gave nearly all marks alike: code, that mark, how often, and of how many."""
    rows = evidence.rows(evidence.attributes(Kind.LINE, Kind.CATEGORY), everybody=True)
    still = {code for code, _ in flat(evidence)}
    most: dict[str, tuple[str, int, int]] = {}
    for code, own in rows.groupby("assessor", observed=True)["score"]:
        mark, k = Counter(own).most_common(1)[0]
        most[str(code)] = f"{mark:g}", k, len(own)
    share = {code: k / n for code, (_, k, n) in most.items() if code not in still}
    return [
        (code, *most[code])
        for code, own in share.items()
        if own >= HARDLY
        and most[code][2] >= FEWEST_MARKS
        and all(rest <= OTHERS for other, rest in share.items() if other != code)
    ]


def apart(evidence: Evidence, budget: Budget) -> list[str]:
    """Name those of the panel who hardly move, or whose marks run against the others."""
    found = [code for code, *_ in hardly_moving(evidence)]
    found += [*turned(evidence, budget), *running_against(evidence), *against_in(evidence)]
    return [code for code in dict.fromkeys(found) if code in evidence.counted]


@once
def against_in(evidence: Evidence) -> dict[str, list[tuple[str, float]]]:
    """Return who runs against the others in some attributes, beyond the own scatter.

    The others put the bottles in one order there (F, `TOGETHER`), and the slope of the own marks
    on their mean is below 0 by a t test on the own repeats (`AGAINST`); without repeats, on what
    is left around the line. Beside each attribute stands that slope, 1 for one like the others.
    Of whom two glasses may have been exchanged that is told instead.
    """
    exchanged = {one.assessor for one in suspected(evidence)}
    found: dict[str, list[tuple[str, float]]] = {}
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    scatter = own_scatter(evidence)
    if len(evidence.products) < BOTTLES:
        return found
    for name, wide in evidence.wide(names).items():
        whole = wide.dropna()
        if len(whole) < PEOPLE:
            continue
        marks = whole.to_numpy(float)
        for place, code in enumerate(map(str, whole.index)):
            rest, own = np.delete(marks, place, axis=0), marks[place]
            if code in exchanged or not in_order(rest, TOGETHER):
                continue
            along, deviations = rest.mean(axis=0) - rest.mean(), own - own.mean()
            squares = float(along @ along)
            slope = float(along @ deviations) / squares
            if code in scatter.index and evidence.replicates > 1:
                error, df = float(scatter["repeats"][code]), float(scatter["df"][code])
                error /= (squares * evidence.replicates) ** 0.5
            else:
                left, df = deviations - slope * along, float(len(own) - 2)
                error = (float(left @ left) / df / squares) ** 0.5
            if error > 0 and float(stdtr(df, slope / error)) <= AGAINST:
                found.setdefault(code, []).append((name, slope))
    return found


def _suspected(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Ask whether two glasses were exchanged, but of who is shown to run against the others."""
    shown = turned(evidence, budget)
    return [
        said("exchange_in" if evidence.replicates > 1 else "exchange", SURE,
             (one.assessor, *one.samples), kind="caution", assessor=one.assessor,
             first=one.samples[0], second=one.samples[1], tasting=one.replicate,
             turned=one.turned, of=one.of)
        for one in suspected(evidence)
        if one.assessor not in shown
    ]  # fmt: skip


def _partly(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say who runs against the others in some attributes, and where with them."""
    told = {*turned(evidence, budget), *running_against(evidence)}
    made = []
    for code, own in against_in(evidence).items():
        if code in told:
            continue
        names = [evidence.name(name) for name, _ in own]
        made.append(
            said("partly", SURE, (code, *(name for name, _ in own)), kind="caution", assessor=code,
                 attributes=names, n=len(names))
        )  # fmt: skip
    return made


def _along(evidence: Evidence) -> list[Statement]:
    """Say how far everybody goes with the others over the whole card."""
    found = along_card(evidence)
    if len(found) < PEOPLE:
        return []
    listed = [
        sentence("findings.pair_value", name=code, value=coefficient(value))
        for code, value in sorted(found.items())
    ]
    return [said("along_card", REPEATS, tuple(found), listed=listed)]


@once
def checks_of_means(evidence: Evidence) -> ResidualChecks:
    """Return how far each mean of assessor and bottle lies from what both let expect."""
    from ...analysis.anova.residuals import residual_checks

    return residual_checks(evidence.tidy(evidence.attributes(*SCALED)))


def _far_off(evidence: Evidence) -> list[Statement]:
    """Name each mean of one assessor that lies far off, by Holm's p over those of the attribute.

    One in twenty attributes has such a mean by chance, which is said. Consumers are not judged.
    """
    if not evidence.attributes(*SCALED):
        return []
    checks = checks_of_means(evidence)
    looked = checks.cells.dropna(subset=["p_adjusted"])["attribute"].nunique()
    far = checks.far
    far = far[far["sample"].isin(evidence.compared)]
    far = far[far["assessor"].isin(judged_people(evidence))]
    if far.empty:
        return []
    parts, about = [], []
    for row in far.to_dict("records"):
        name, code, bottle = (str(row[key]) for key in ("attribute", "assessor", "sample"))
        rest = evidence.wide([name])[name][bottle].drop(code)
        parts.append(
            sentence("overview.far_off_of", who=code, attribute=evidence.name(name), bottle=bottle,
                     own=size(row["mean"]), expected=size(row["expected"]),
                     others=size(float(rest.mean())), p=p_words(row["p_adjusted"]))
        )  # fmt: skip
        about += [code, name, bottle]
    return [
        said("far_off", REPEATS, tuple(dict.fromkeys(about)), listed=joined(parts), n=looked,
             k=max(round(ALPHA * looked), 1), bar=f"{ALPHA:g}")
    ]  # fmt: skip


def _hardly(evidence: Evidence) -> list[Statement]:
    made = []
    for code, mark, k, n in hardly_moving(evidence):
        key = "hardly" if code in evidence.counted else "hardly_apart"
        made.append(
            said(key, SURE, (code,), kind="caution", assessor=code, mark=mark, k=k, n=n,
                 people=len(evidence.counted))
        )  # fmt: skip
    return made


def gaps_without(
    evidence: Evidence, codes: list[str], names: list[str]
) -> tuple[list[tuple[Gap, float]], int]:
    """Return gaps that are clear of 0 without some assessors, and how many were looked at.

    Beside each stands its size with everybody; limits are t limits over the assessors' own gaps.
    """
    made = []
    looked = 0
    for name, wide in evidence.wide(names).items():
        for first, second in combinations([one for one in evidence.compared if one in wide], 2):
            every = (wide[first] - wide[second]).dropna()
            own = every[~every.index.isin(codes)]
            if len(own) < FEWEST or len(own) == len(every):
                continue
            looked += 1
            high, low, way = (first, second, 1) if own.mean() >= 0 else (second, first, -1)
            by, least, most = limits(way * own.to_numpy(float))
            one = Gap(
                attribute=name, high=high, low=low, by=by, least=least, most=most,
                along=tuple(map(str, own.index[way * own > 0])),
                against=tuple(map(str, own.index[way * own < 0])), n=len(own), claimed=False,
            )  # fmt: skip
            if one.clear:
                made.append((one, way * float(every.mean())))
    return sorted(made, key=lambda each: -each[0].least / each[0].by), looked


def _without(evidence: Evidence, budget: Budget) -> list[Statement]:
    codes = apart(evidence, budget)
    partly = {code: own for code, own in against_in(evidence).items() if code in codes}
    whole = [code for code, *_ in hardly_moving(evidence)]
    whole += [*turned(evidence, budget), *running_against(evidence)]
    names = evidence.attributes(*SCALED)
    if not set(codes) & set(whole):  # then only where they run against the others
        against = {name for own in partly.values() for name, _ in own}
        names = [name for name in names if name in against]
    found, looked = gaps_without(evidence, codes, names) if codes else ([], 0)
    if not found:
        return []
    listed: list[Sentence] = [
        sentence("overview.gap_without", attribute=with_end(evidence, one.attribute), high=one.high,
                 low=one.low, by=size(one.by), least=end(one.least), most=end(one.most),
                 going=one.going, every=size(every))
        for one, every in found[:MOST]
    ]  # fmt: skip
    about = (*codes, *dict.fromkeys(one.attribute for one, _ in found[:MOST]))
    return [
        said("without", DIFFER, about, who=codes, listed=joined(listed), n=looked,
             k=max(round(ALPHA * looked), 1))
    ]  # fmt: skip


def _words(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say how many ticks of such a person stand on the bottle to which the others give the word."""
    names = questions(evidence).get(SECTION, [])
    rows = evidence.rows(names, everybody=True)
    given = rows[rows["score"] > 0].astype({"assessor": str, "sample": str, "attribute": str})
    made = []
    for code in apart(evidence, budget):
        mine, rest = given[given["assessor"] == code], given[given["assessor"] != code]
        counts = Counter(zip(rest["attribute"], rest["sample"], strict=True))
        most = {name: max(k for (word, _), k in counts.items() if word == name)
                for name in set(rest["attribute"])}  # fmt: skip
        pairs = zip(mine["attribute"], mine["sample"], strict=True)
        own = [(name, sample) for name, sample in pairs if name in most]
        if len(own) >= FEWEST_TICKS:
            k = sum(counts[pair] == most[pair[0]] for pair in own)
            made.append(said("own_words", WORDS, (code,), assessor=code, k=k, n=len(own)))
    return made
