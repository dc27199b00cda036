"""Who makes a gap, who said the same each time, and who stays at the end of the scale."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.evidence import BALANCE, QUALITY, SCALED, Evidence
from ..findings.exchanged import suspected
from ..findings.people import judged_people
from ..findings.statement import Line, Rows, Statement, joined
from .gaps import FEWEST, NAMED, Gap, clear_of_zero, end, gaps, limits, size
from .left_out import apart
from .steadiness import AGAINST, FEWEST_PEOPLE, STEP, along_card, along_without, ways
from .told import DIFFER, REPEATS, SWEETNESS, said

FAR, TIMES = 0.2, 2.0
"""Share of the scale by which one sets the highest bottle above the own others, and so many times
as far as the mean of all others, from which that is told of an attribute that is shown."""
WIDEST = 4
"""Open gaps that are told with their sizes; those as wide as the last are named."""
HALF = 0.5
"""Share of an open gap's sum that two people make, from which they are named (no source)."""
OFTEN, PAIR = 3, 2
"""Tastings from which on, and bottles of which, it is told who sets them apart for themselves."""
MANY = 3
"""People who found a bottle off balance to one side, more than half, from whom on somebody who
alone found the other is named (no source)."""
STRAY_BOTTLES = 4
"""Bottles from which on it is told that one does not go with others who all go together: of three
chance makes such a one in up to one panel of nine (`AGAINST`, no source)."""
STEPS = 5
"""Widest steps between two tastings that are told."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say who makes what, and who does not run the other way."""
    return [
        *_far_alone(evidence, budget),
        *_without_expert(evidence, budget),
        *_widest_open(evidence, budget),
        *_nobody_against(evidence, budget),
        *_widest_steps(evidence),
        *_own_gaps(evidence, budget),
        *_stands_out(evidence, budget),
        *_stays_at_end(evidence),
        *_same_side(evidence),
        *_other_side(evidence),
    ]


def _far_alone(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name who sets the highest bottle much further off than the others, where it is shown."""
    parts, about = [], []
    claimed = {one.attribute for one in gaps(evidence, budget) if one.claimed}
    names = [one for one in evidence.attributes(*SCALED) if one in claimed - {BALANCE, QUALITY}]
    for name, wide in evidence.wide(names).items():
        whole = wide[[one for one in wide if one in evidence.compared]].dropna()
        if len(whole) < FEWEST or whole.shape[1] < 3:
            continue
        top = str(whole.mean().idxmax())
        lead = whole[top] - whole.drop(columns=top).mean(axis=1)
        code = str(lead.idxmax())
        own, rest = float(lead[[code]].to_numpy(float)[0]), float(lead.drop(code).mean())
        question = evidence.question(name)
        if own < FAR * (question.high - question.low) or own < TIMES * rest:
            continue
        steps = [
            sentence("findings.pair_value", name=str(other), value=size(float(by)))
            for other in whole.drop(columns=top)
            for by in (whole[top] - whole[other]).loc[[code]].to_numpy(float)
        ]
        parts.append(
            sentence("overview.far_alone_of", who=code, attribute=evidence.name(name), bottle=top,
                     by=size(own), rest=size(rest, signed=True), steps=steps)
        )  # fmt: skip
        about += [name, code]
    return [said("far_alone", DIFFER, tuple(about), listed=joined(parts))] if parts else []


def _without_expert(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say whether each claimed gap is clear of 0 by itself without the only expert."""
    experts = [code for code in evidence.counted if evidence.roles[code] == "expert"]
    own = [one for one in gaps(evidence, budget) if one.claimed]
    if len(experts) != 1 or not own or len(evidence.counted) - 1 < FEWEST:
        return []
    wide = evidence.wide([one.attribute for one in own])
    lost: list[Gap] = []
    for one in own:
        gap = (wide[one.attribute][one.high] - wide[one.attribute][one.low]).dropna()
        rest = gap.drop(experts[0], errors="ignore").to_numpy(float)
        if len(rest) < 2 or not limits(rest)[1] > 0:
            lost.append(one)
    names = [evidence.name(name) for name in dict.fromkeys(one.attribute for one in own)]
    key = "without_expert_lost" if lost else "without_expert"
    listed = [
        sentence("overview.gap_named", attribute=evidence.name(one.attribute), high=one.high,
                 low=one.low)
        for one in lost
    ]  # fmt: skip
    about = (experts[0], *dict.fromkeys(one.attribute for one in own))
    return [
        said(key, REPEATS, about, expert=experts[0], n=len(own), attributes=names, m=len(names),
             listed=joined(listed) if listed else "", k=len(lost))
    ]  # fmt: skip


def _widest_open(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name the widest gaps of the attributes in which nothing is shown or clear of 0.

    Of each attribute the widest, and who makes most of it; those as wide as the last of them, as
    they are written, are named too.
    """
    every = gaps(evidence, budget)
    told = {one.attribute for one in every if one.claimed or one.least > 0} | {BALANCE}
    open_: dict[str, list[Gap]] = {}
    for one in every:
        if one.attribute not in told and one.n >= FEWEST:
            open_.setdefault(one.attribute, []).append(one)
    found = [
        one
        for own in open_.values()
        for one in own
        if size(one.by) == size(max(each.by for each in own))
    ]
    found.sort(key=lambda one: -float(size(one.by)))
    widest = found[:WIDEST]
    as_wide = [one for one in found[WIDEST:] if size(one.by) == size(widest[-1].by)]
    if not widest:
        return []
    parts = []
    for one in widest:
        wide = evidence.wide([one.attribute])[one.attribute]
        gap = (wide[one.high] - wide[one.low]).dropna().sort_values(ascending=False, kind="stable")
        two = gap.iloc[:2]
        mostly = len(gap) > NAMED and two.sum() >= HALF * gap[gap > 0].sum() > 0
        most = [
            sentence("findings.pair_value", name=str(code), value=size(float(by)))
            for code, by in two.items()
        ]
        parts.append(
            sentence("overview.open_mostly" if mostly else "overview.gap",
                     attribute=evidence.name(one.attribute), high=one.high, low=one.low,
                     by=size(one.by), least=end(one.least), most=end(one.most), going=one.going,
                     who=most)
        )  # fmt: skip
    rest = [
        sentence("overview.gap_named", attribute=evidence.name(one.attribute), high=one.high,
                 low=one.low)
        for one in as_wide
    ]  # fmt: skip
    about = tuple(dict.fromkeys(one.attribute for one in (*widest, *as_wide)))
    key = "open_widest_tied" if rest else "open_widest"
    return [said(key, DIFFER, about, listed=joined(parts), rest=rest, n=len(parts))]


def _nobody_against(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say that nobody is shown to run the other way, and what values below 0 leave open.

    Who is below 0 where all others go together is told apart from who is so where nothing tells
    the bottles apart; of neither is it said that it is chance.
    """
    found = along_card(evidence)
    if len(found) < FEWEST or apart(evidence, budget):
        return []
    exchanged = {one.assessor for one in suspected(evidence)}
    below = [code for code, value in found.items() if value < 0 and code not in exchanged]
    if not below:
        return [said("nobody_against", REPEATS, tuple(found))]
    rest = along_without(evidence, below)
    stray = len(rest) >= FEWEST_PEOPLE and float(rest.min()) >= AGAINST
    stray = stray and len(evidence.products) >= STRAY_BOTTLES
    listed = []
    for code in below:
        along, other = ways(evidence, code)
        listed.append(sentence("overview.ways_of", who=code, k=along, m=other))
    key = "nobody_against_stray" if stray else "nobody_against_below"
    return [said(key, REPEATS, tuple(found), who=below, n=len(below), listed=joined(listed))]


def _widest_steps(evidence: Evidence) -> list[Statement]:
    """Name the widest steps between two tastings of one bottle, of everybody and on any line."""
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    rows = evidence.rows(names, everybody=True)
    rows = rows[rows["assessor"].isin(judged_people(evidence))]
    if evidence.replicates < 2 or rows.empty or len(names) < 2:
        return []
    marks = rows.groupby(["attribute", "assessor", "sample"], observed=True)["score"]
    ends = marks.agg(["min", "max", "size"])
    ends = ends[ends["size"] > 1]
    spans = {name: evidence.question(name).high - evidence.question(name).low for name in names}
    step = ends["max"] - ends["min"]
    span = ends.index.get_level_values(0).map(spans).to_numpy(float)
    far = step[step.to_numpy(float) >= STEP * span].sort_values(ascending=False, kind="stable")
    if far.empty:
        return []
    listed = [
        sentence("overview.widest_step_of", who=str(code), bottle=str(bottle),
                 attribute=evidence.name(str(name)), by=size(float(by)))
        for (name, code, bottle), by in zip(far.index.to_list(), far.head(STEPS), strict=False)
    ]  # fmt: skip
    return [said("widest_steps", REPEATS, listed=joined(listed), n=len(far), of=len(step))]


def own_gaps(evidence: Evidence) -> tuple[list[tuple[str, str, str, str, float]], int]:
    """Return who sets two bottles apart beyond the own repeats, each for itself, and of how many.

    Student's t of one person's tastings in one attribute, two-sided at `ALPHA`; as assessor,
    attribute, higher and lower bottle and points, the surest first.
    """
    found, looked = [], 0
    rows = evidence.rows(evidence.attributes(Kind.LINE, Kind.CATEGORY), everybody=True)
    rows = rows[rows["sample"].isin(evidence.compared)]
    marks = rows.groupby(["attribute", "assessor", "sample"], observed=True)["score"]
    inner = marks.agg(["mean", "var", "size"])
    for (name, code), own in inner.groupby(level=[0, 1]):
        cells = own.droplevel([0, 1]).dropna()
        for first, second in combinations(cells.index, 2):
            one, other = cells.loc[first], cells.loc[second]
            df = one["size"] + other["size"] - 2
            pooled = ((one["size"] - 1) * one["var"] + (other["size"] - 1) * other["var"]) / df
            looked += 1
            gap = float(one["mean"] - other["mean"])
            error = float((pooled * (1 / one["size"] + 1 / other["size"])) ** 0.5)
            if error > 0 and abs(gap) / error > float(-stdtrit(df, ALPHA / 2)):
                pair = (str(first), str(second)) if gap > 0 else (str(second), str(first))
                found.append((abs(gap) / error, str(code), str(name), *pair, abs(gap)))
    found.sort(key=lambda one: (-one[0], one[1:]))
    return [one[1:] for one in found], looked


def _own_gaps(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say who sets two bottles apart beyond the own repeats, where each came three times."""
    if evidence.replicates < OFTEN or len(evidence.compared) != PAIR:
        return []
    found, looked = own_gaps(evidence)
    if not looked:
        return []
    listed = [
        sentence("overview.own_gap", who=code, attribute=evidence.name(name), high=high, low=low,
                 by=size(by))
        for code, name, high, low, by in found
    ]  # fmt: skip
    key = "own_gaps" if listed else "own_gaps_none"
    same = Counter((name, high) for _, name, high, _, _ in found)
    shared = max(same.values(), default=0) > HALF * len(evidence.counted)
    claimed = shared or any(one.claimed for one in gaps(evidence, budget))
    return [
        said("own_gaps_shown" if listed and claimed else key, REPEATS, n=looked, m=len(listed),
             listed=joined(listed) if listed else "", k=size(ALPHA * looked))
    ]  # fmt: skip


def _stands_out(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say in what each bottle is clear of the mean of the others, where anything is told at all."""
    names = evidence.attributes(*SCALED)
    kinds = ("scale", "balance")
    if len(evidence.compared) < 3 or not (budget.claimed(*kinds) or budget.hinted(*kinds)):
        return []
    parts, about, cells, looked = [], [], [], 0
    whole = {
        name: wide[evidence.compared].dropna().to_numpy(float)
        for name, wide in evidence.wide(names).items()
        if set(evidence.compared) <= set(wide)
    }
    whole = {name: marks for name, marks in whole.items() if len(marks) >= FEWEST}
    for bottle in evidence.compared:
        own = []
        for name, marks in whole.items():
            others = marks[:, np.array(evidence.compared) != bottle]
            gap = marks[:, evidence.compared.index(bottle)] - others.mean(axis=1)
            looked += 1
            clear = clear_of_zero("overview.known_gap", gap, attribute=evidence.name(name))
            if clear:
                about.append(name)
                own.append(clear)
                cells.append(_cells(bottle, evidence.row_name(name), clear))
        if own:
            parts.append(sentence("overview.stands_out_of", bottle=bottle, listed=own))
    if not parts:
        return []
    chance = max(round(ALPHA * looked), 1)
    rows = Rows(
        heading=sentence("overview.stands_out_table"),
        columns=tuple(
            sentence(key)
            for key in ("report.col_bottle", "report.col_attribute", "report.col_difference",
                        "report.col_interval", "overview.col_going")
        ),
        cells=tuple(cells),
        note=sentence("overview.stands_out_note", n=looked, k=chance),
    )  # fmt: skip
    made = said("stands_out", DIFFER, tuple(dict.fromkeys(about)), listed=joined(parts), n=looked,
                k=chance)  # fmt: skip
    return [replace(made, rows=rows)]


def _cells(bottle: str, attribute: str, clear: Sentence) -> tuple[Line, ...]:
    """Write what a bottle stands out in as a row of a table."""
    told = dict(clear.values)
    going = sentence("overview.some_go", k=told["k"], n=told["n"])
    ends = sentence("report.ends", low=told["least"], high=told["most"])
    return (bottle, attribute, str(told["by"]), ends, going)


def _stays_at_end(evidence: Evidence) -> list[Statement]:
    """Name who gave a cup the mark at the end of the scale in quality in each tasting."""
    rows = evidence.rows([QUALITY], everybody=True, controls=True)
    if evidence.replicates < 2 or rows.empty:
        return []
    question = evidence.question(QUALITY)
    parts, about = [], []
    for side in ("low", "high"):
        mark = float(getattr(question, side))
        at = (rows["score"] == mark).groupby([rows["assessor"], rows["sample"]], observed=True)
        counts = at.agg(["sum", "size"])
        for code, sample in counts.index[(counts["sum"] == counts["size"]) & (counts["size"] > 1)]:
            parts.append(
                sentence(f"overview.stays_{side}", who=str(code), bottle=str(sample),
                         mark=f"{mark:g}")
            )  # fmt: skip
            about += [str(code), str(sample)]
    if not 0 < len(parts) <= WIDEST:
        return []
    return [said("stays_at_end", REPEATS, (QUALITY, *about), listed=joined(parts))]


def _same_side(evidence: Evidence) -> list[Statement]:
    """Name who found a bottle too sweet, or too dry, in every tasting."""
    if BALANCE not in set(evidence.scores["attribute"]) or evidence.replicates < 2:
        return []
    rows = evidence.rows([BALANCE], everybody=True)
    found: dict[tuple[str, str], list[str]] = {}
    aside: dict[tuple[str, str], list[str]] = {}  # whom the counts beside it leave out
    for (sample, code), own in rows.groupby(["sample", "assessor"], observed=True)["score"]:
        for side, holds in (("dry", own < 0), ("sweet", own > 0)):
            if len(own) > 1 and bool(holds.all()):
                names = found if str(code) in evidence.counted else aside
                names.setdefault((str(sample), side), []).append(str(code))
    order = sorted({*found, *aside}, key=lambda one: (evidence.products.index(one[0]), one[1]))
    if not order:
        return [said("same_side_none", SWEETNESS, (BALANCE,))]
    listed = []
    for sample, side in order:
        who, others = found.get((sample, side), []), aside.get((sample, side), [])
        apart = sentence("overview.same_side_aside", who=others) if others else ""
        key = f"overview.same_side_{side}" if who else f"overview.same_side_{side}_aside"
        listed.append(sentence(key, bottle=sample, who=who or others, aside=apart))
    return [said("same_side", SWEETNESS, (BALANCE,), listed=joined(listed))]


def _other_side(evidence: Evidence) -> list[Statement]:
    """Name who alone found a bottle too sweet where more than half found it too dry, or so."""
    if BALANCE not in set(evidence.scores["attribute"]) or evidence.replicates > 1:
        return []
    rows = evidence.rows([BALANCE]).dropna(subset=["score"])
    listed: list[Line] = []
    about: list[str] = []
    for sample in evidence.products:
        own = rows[rows["sample"] == sample]
        sides = {"sweet": own[own["score"] > 0], "dry": own[own["score"] < 0]}
        for side, other in (("sweet", "dry"), ("dry", "sweet")):
            many = len(sides[other])
            if len(sides[side]) == 1 and many >= MANY and many > len(own) * HALF:
                who = str(sides[side]["assessor"].iloc[0])
                about += [who, sample]
                listed.append(
                    sentence(f"overview.other_side_{side}", bottle=sample, who=who, k=many,
                             n=len(own))
                )  # fmt: skip
    return (
        [said("other_side", SWEETNESS, (BALANCE, *about), listed=joined(listed))] if listed else []
    )
