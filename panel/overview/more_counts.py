"""Counts by sheet: sweet and dry, faults in bottles, and gaps that one assessor alone has."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, groupby

import numpy as np
from scipy.special import stdtr

from ...analysis.core.options import ALPHA
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings import tainted
from ..findings.evidence import BALANCE, QUALITY, Evidence
from ..findings.people import judged_people
from ..findings.statement import Line, Statement, joined, signed
from ..session.bottles import CLEAN
from .gaps import size
from .steadiness import own_scatter
from .told import FAULTS, REPEATS, SWEETNESS, said

ALONE, OTHERS, SHOWN = 0.3, 4.0, 3
"""Share of the scale by which one assessor sets two bottles apart in every tasting, while the
others' mean is less than one in so many of it; so many are told (no source)."""
RISK = 0.01
"""Share of tables in which the scatter of own repeats alone may make such a gap anywhere."""
LEAST = 0.03
"""Own scatter, as a share of the scale, that is reckoned with at least: that of writing in
tenths of the scale, 1 / (10 √12)."""
FEWEST = 4
"""Assessors from whom on it is told."""
MOST = 6
"""Faults in bottles that are told by sheet."""
HALF = 0.5
"""Share of those asked who noted a fault in a bottle, from which on it is told who noted it
elsewhere and not there."""
SEVERAL = 2
"""People who noted one fault in one bottle, from whom on they and the others are named."""


def statements(evidence: Evidence) -> list[Statement]:
    """Count the sheets of sweet and dry, and those with a fault, with who wrote them."""
    return [
        *_balance(evidence),
        *_noted(evidence),
        *_who_noted(evidence),
        *_elsewhere(evidence),
        *_quality_of_held(evidence),
        *_never(evidence),
        *_alone(evidence),
    ]


def _never(evidence: Evidence) -> list[Statement]:
    """Name the faults that were asked and noted in no cup."""
    names = evidence.attributes(Kind.FAULTS)
    rows = evidence.rows(names, everybody=True, controls=True)
    ever = set(rows.loc[rows["score"] > 0, "attribute"].astype(str))
    never = [evidence.name(name) for name in names if name not in ever]
    if not never or not ever or len(never) > MOST:
        return []
    return [said("faults_never", FAULTS, listed=never, n=len(never))]


def _alone(evidence: Evidence) -> list[Statement]:
    """Tell who sets two bottles far apart in every tasting, where the others do not.

    Nearly every large table has gaps of this shape: one is told only where the scatter of that
    person's own repeats would make it, anywhere in the table, in at most `RISK` of tables
    (Student's t, Bonferroni); further ones of the same person up to `ALPHA`. It is a habit of a
    person then, and no sign of a bottle.
    """
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    rows = evidence.rows(names)
    rows = rows[rows["assessor"].isin(judged_people(evidence))]
    if evidence.replicates < 2 or len(evidence.counted) < FEWEST:
        return []
    keys = ["attribute", "assessor", "replicate"]
    cells = rows.pivot_table(index=keys, columns="sample", values="score", observed=True)
    found = []
    looks = 0
    for first, second in combinations([one for one in evidence.products if one in cells], 2):
        gap = (cells[first] - cells[second]).dropna()
        every = gap.groupby(level=[0, 1]).agg(["min", "max", "mean", "size"])
        for name, people in groupby(every.itertuples(), key=lambda row: str(row[0][0])):
            own = [(code, *numbers) for (_, code), *numbers in people]
            if len(own) < FEWEST:
                continue
            looks += len(own)
            span = evidence.question(name).high - evidence.question(name).low
            whole = float(np.sum([one[3] for one in own]))
            for code, low, high, mean, n in own:
                rest = (whole - mean) / (len(own) - 1)
                same = n > 1 and (low > 0 or high < 0)
                if same and abs(mean) >= ALONE * span and abs(rest) <= abs(mean) / OTHERS:
                    found.append((abs(mean) / span, str(code), name, first, second, mean, rest, n))
    scatter = own_scatter(evidence, of_span=True)

    def chance(share: float, code: str, n: int) -> float:
        error = max(float(scatter["repeats"][code]), LEAST) * float(np.sqrt(2 / n))
        return looks * 2 * float(stdtr(float(scatter["df"][code]), -share / error))

    told = {one[1] for one in found if chance(one[0], one[1], one[-1]) <= RISK}
    found = [one for one in found if one[1] in told and chance(one[0], one[1], one[-1]) <= ALPHA]
    parts: list[Line] = []
    for _, code, name, first, second, mean, rest, _ in sorted(found, reverse=True)[:SHOWN]:
        pair = (first, second) if mean > 0 else (second, first)
        way = 1 if mean > 0 else -1
        parts.append(
            sentence("overview.alone_of", assessor=code, attribute=evidence.name(name),
                     high=pair[0], low=pair[1], by=size(abs(mean)),
                     rest=size(way * rest, signed=True))
        )  # fmt: skip
    return [said("alone", REPEATS, listed=joined(parts))] if parts else []


def _balance(evidence: Evidence) -> list[Statement]:
    """Say of each bottle on how many sheets it is too dry, just right, too sweet."""
    if BALANCE not in set(evidence.scores["attribute"]) or evidence.replicates < 2:
        return []
    rows = evidence.rows([BALANCE])
    listed = []
    for sample in evidence.products:
        own = rows[rows["sample"] == sample]
        if own.empty:
            continue
        side = np.sign(own["score"].to_numpy(float))
        listed.append(
            sentence("overview.balance_of", bottle=sample, n=len(own), dry=int((side < 0).sum()),
                     right=int((side == 0).sum()), sweet=int((side > 0).sum()))
        )  # fmt: skip
    if not listed:
        return []
    return [said("balance_sheets", SWEETNESS, (BALANCE,), listed=joined(listed))]


def _noted(evidence: Evidence) -> list[Statement]:
    """Say of each fault that was noted in a bottle who noted it, and in how many cups."""
    names = evidence.attributes(Kind.FAULTS)
    rows = evidence.rows(names, everybody=True)
    if rows.empty or evidence.replicates < 2:
        return []
    cups = Counter(zip(rows["sample"].astype(str), rows["attribute"].astype(str), strict=True))
    listed: list[Sentence] = []
    for (sample, name), own in rows[rows["score"] > 0].groupby(
        ["sample", "attribute"], observed=True
    ):
        who = own["assessor"].astype(str).value_counts(sort=False)
        each = [sentence("findings.pair_value", name=code, value=f"{k}") for code, k in who.items()]
        listed.append(
            sentence("overview.noted_of" if len(own) > 1 else "overview.noted_once",
                     bottle=str(sample), fault=evidence.name(str(name)), k=len(own),
                     n=cups[str(sample), str(name)], each=each, who=str(who.index[0]),
                     severity=size(float(own["score"].mean())))
        )  # fmt: skip
    if not listed or len(listed) > MOST:
        return []
    return [said("noted_sheets", FAULTS, listed=joined(listed))]


def _who_noted(evidence: Evidence) -> list[Statement]:
    """Name who noted a fault that several noted in a bottle, and who did not."""
    rows = evidence.rows(evidence.attributes(Kind.FAULTS), everybody=True)
    rows = rows[rows["score"].notna()]
    listed: list[Sentence] = []
    about: list[str] = []
    makers: list[Statement] = []
    for (sample, name), own in rows.groupby(["sample", "attribute"], observed=True):
        worst: dict[str, float] = {}
        for code, score in zip(own["assessor"].astype(str), own["score"], strict=True):
            worst[code] = max(score, worst.get(code, score))
        noted = {code: worst[code] for code in sorted(worst) if worst[code] > 0}
        not_noted = [code for code in sorted(worst) if worst[code] <= 0]
        if len(noted) < SEVERAL:
            continue
        each = [sentence("findings.pair_value", name=code, value=f"{severity:g}")
                for code, severity in noted.items()]  # fmt: skip
        key = "who_noted_all" if not not_noted else "who_noted"
        listed.append(
            sentence(f"overview.{key}", bottle=str(sample), fault=evidence.name(str(name)),
                     each=each, others=not_noted, n=len(not_noted))
        )  # fmt: skip
        about += [str(sample), str(name)]
        makers += [
            said("maker_fault", FAULTS, (code, str(sample), str(name)), maker=code,
                 bottle=str(sample), fault=evidence.name(str(name)), n=len(noted) - 1)
            for code in evidence.makers
            if code in noted and len(evidence.makers) == 1
        ]  # fmt: skip
    if not listed or len(listed) > MOST:
        return []
    about = list(dict.fromkeys(about))
    return [said("who_noted_in", FAULTS, tuple(about), listed=joined(listed)), *makers]


def _elsewhere(evidence: Evidence) -> list[Statement]:
    """Name who missed in a bottle what most noted there, and noted it in a cup held for sound."""
    rows = evidence.rows(evidence.attributes(Kind.FAULTS), everybody=True, controls=True)
    sound = [one for one in evidence.samples if evidence.bottle(one).control in ("", CLEAN)]
    rows = rows[rows["sample"].astype(str).isin(sound)].astype({"assessor": str, "sample": str})
    worst = rows.groupby(["attribute", "sample", "assessor"], observed=True)["score"].max()
    made = []
    for name, own in worst.groupby(level="attribute", observed=True):
        of = own.droplevel("attribute").unstack("sample")
        counts = zip(of, (of > 0).sum(), of.notna().sum(), strict=True)
        most = [str(one) for one, noted, asked in counts if noted >= max(HALF * asked, SEVERAL)]
        others = [one for one in evidence.samples if one in of and one not in most]
        for bottle in [one for one in most if one in evidence.products]:
            missed = of.loc[of[bottle] == 0, others]
            told = [
                sentence(
                    "findings.pair_value",
                    name=str(code),
                    value=[f"{one} {mark:g}" for one, mark in marks.items() if mark > 0],
                )
                for code, marks in missed.iterrows()
                if (marks > 0).any()
            ]
            if told:
                made.append(
                    said("missed_here", FAULTS, (bottle, str(name)), bottle=bottle,
                         fault=evidence.name(str(name)), each=joined(told))
                )  # fmt: skip
    return made[:MOST]


def _quality_of_held(evidence: Evidence) -> list[Statement]:
    """Say what each gives a bottle that is held back in quality, beside the own other bottles."""
    rows = evidence.rows([QUALITY])
    held = tainted.held(evidence)
    rest = [name for name in evidence.products if name not in held]
    if rows.empty or not held or not rest:
        return []
    wide = rows.pivot_table(index="assessor", columns="sample", values="score", observed=True)
    made = []
    for name in [one for one in held if one in wide]:
        gap = (wide[name] - wide[[one for one in rest if one in wide]].mean(axis=1)).dropna()
        noses = tainted.who_noted(evidence, name)
        each = {
            found: [
                sentence("findings.pair_value", name=str(code), value=signed(float(by)))
                for code, by in gap.sort_index().items()
                if (str(code) in noses) == found
            ]
            for found in (True, False)
        }
        if len(gap) > 1:
            parts = [sentence(f"overview.held_quality_{'noted' if found else 'not'}", each=told)
                     for found, told in each.items() if told]  # fmt: skip
            made.append(said("held_quality", FAULTS, (name, QUALITY), bottle=name, n=len(rest),
                             rest=rest, parts=joined(parts)))  # fmt: skip
        made += _in_cups(evidence, name)
    return made


def _in_cups(evidence: Evidence, name: str) -> list[Statement]:
    """Set one person's quality in cups with a note that holds back beside that without, makers too.

    One bottle each: what they differ in is the note, the day and the scatter of the own marks.
    """
    found = tainted.quality_by_note(evidence, name)
    parts = [
        sentence("overview.cups_of", who=code, noted=with_, without=without)
        for code, (with_, without) in found.items()
    ]
    if not parts:
        return []
    return [said("cups_quality", FAULTS, (name, *found, QUALITY), bottle=name,
                 listed=joined(parts))]  # fmt: skip
