"""How each of a few assessors marks: levels, width, repeats, style, and what cannot be trusted."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.wording import fixed, limit
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings import habits, people
from ..findings.budget import Budget
from ..findings.design import orders
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement, joined, signed
from .side_by_side import ALIKE, Row, beyond_own_scatter, repeats, rows
from .side_by_side import people as everybody

if TYPE_CHECKING:
    import pandas as pd

SECTION = "tasters"
WIDER = 1.5
"""One assessor's range of marks over another's from which the scale is used more widely (a
convention, no source)."""
MIRRORED = 4.0
"""Difference of two tastings over their sum from which they mirror each other; unrelated ones
of twelve marks do in 1 of 10,000."""
BEYOND = 2.0
"""Times the scatter of all other marks that a mirrored difference has at least."""
FEWEST = 5
"""Attributes by which tastings are held against each other."""
LEVELS = 0.1
"""Share of the scale between the levels of two assessors from which it is told (a convention,
no source)."""
SHOWN = 2
"""Attributes whose mirrored differences are written out."""
RANK_EXCHANGED, RANK_FLAT = 4, 6
LOOSE = 2.0
"""Times the gap between tastings of whoever repeats next worst from which single marks of an
assessor are not to be leaned on (a convention, no source)."""
FEWEST_GAPS = 20
"""Gaps between tastings of each from which that is told; assessors who repeat alike are told in
fewer than 1 of 100 sessions."""
OPPOSITE = 0.25
"""Share of the scale, levels set aside, by which two put one bottle at opposite ends where they
are asked what they meant (a convention, no source)."""
SHARED = 0.25
"""Share of the odd mark's distance from its own other bottles that the others may have the same
way (a convention, no source)."""
MOST_CELLS = 3
"""Cells that are named as those whose tastings lie furthest apart."""
DROP = 1.0
"""Points by which everybody's palate falls below the nose where a label must know it."""


def said(
    kind: str, key: str, about: tuple[str, ...] = (), *, section: str = SECTION,
    rank: int | None = None, **values: object,
) -> Statement:  # fmt: skip
    """Make a statement from an entry of the catalogue."""
    return Statement(
        kind=kind,
        about=about,
        sentence=sentence(f"few_report.{key}", **values),
        section=section,
        rank=rank,
    )


def who(evidence: Evidence, n: int | None = None) -> Sentence | str:
    """Write everybody as the subject of a sentence: a code, both, all of so many."""
    codes = everybody(evidence)
    if len(codes) == 1:
        return codes[0]
    n = len(codes) if n is None else n
    return sentence("few_report.both" if n == 2 else "few_report.all", n=n)


def end(value: float) -> str:
    """Write the limit of an interval in points, never as 0 where it is none."""
    return limit(value)


def points(value: float) -> str:
    """Write a difference in points, with a minus that no language takes for a hyphen."""
    return fixed(value)


NOTHING_CLAIMED = Budget(found=None, judged=(), alpha=0.05, majority_from=None)
"""The budget of a report that tests nothing: few assessors get directions instead."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say what each one's habits are, and which marks are to be asked about."""
    return [
        *_exchanged(evidence),
        *_same_everywhere(evidence),
        *_levels(evidence),
        *_spread(evidence),
        *_repeats(evidence),
        *_opposite(evidence),
        *_flat(evidence),
        *_equal(evidence),
        *_style(evidence),
        *_maker(evidence),
        *_nose(evidence),
        *_last(evidence),
    ]


def _same_everywhere(evidence: Evidence) -> list[Statement]:
    """Tell who gave one mark to everything: that is no sheet to lean on."""
    return [
        Statement(
            kind="caution",
            about=(code,),
            sentence=sentence("findings.flat", assessor=code, mark=mark),
            section=SECTION,
            rank=RANK_FLAT,
        )
        for code, mark in people.flat(evidence)
    ]


def _levels(evidence: Evidence) -> list[Statement]:
    """Tell levels that lie far apart: a habit, and no difference between the bottles."""
    found = habits.levels(evidence)
    lines = [row for row in rows(evidence) if _is_line(evidence, row)]
    span = {evidence.question(row.attribute).high - evidence.question(row.attribute).low
            for row in lines}  # fmt: skip
    if len(found) < 2 or len(span) != 1 or found.iloc[-1] - found.iloc[0] < LEVELS:
        return []
    low, high = str(found.index[0]), str(found.index[-1])
    by_ = points(float(found.iloc[-1] - found.iloc[0]) * span.pop())
    return [said("description", "levels", (low, high), low=low, high=high, by=by_)]


def _level(lines: list[Row], code: str) -> float:
    """Return the mean mark of one assessor over all lines and bottles."""
    own = [row.marks.loc[code].to_numpy(float) for row in lines if code in row.marks.index]
    return float(np.nanmean(np.concatenate(own)))


def _spread(evidence: Evidence) -> list[Statement]:
    """Say how widely each uses the scale, where there are two to compare."""
    lines = [row for row in rows(evidence) if _is_line(evidence, row)]
    ranges = {
        code: float(np.mean([np.ptp(row.marks.loc[code]) for row in lines if code in row.marks.index
                             and row.marks.loc[code].notna().all()] or [np.nan]))
        for code in everybody(evidence)
    }  # fmt: skip
    known = {code: value for code, value in ranges.items() if not np.isnan(value)}
    if len(known) < 2:
        return []
    widest = max(known, key=lambda code: known[code])
    wide = known[widest] >= WIDER * min(known.values()) and min(known.values()) > ALIKE
    weighs: Line = sentence("few_report.weighs") if widest in evidence.counted else ""
    return [
        said(
            "description",
            "spread",
            tuple(known),
            levels=[
                sentence("few_report.spread_one", assessor=code, by=points(_level(lines, code)))
                for code in known
            ],
            listed=[
                sentence("few_report.spread_one", assessor=code, by=points(value))
                for code, value in known.items()
            ],
            wider=sentence("few_report.wider", assessor=widest, weighs=weighs) if wide else "",
        )
    ]


def _is_line(evidence: Evidence, row: Row) -> bool:
    return evidence.question(row.attribute).kind is not Kind.BALANCE


def _repeats(evidence: Evidence) -> list[Statement]:
    found = list(repeats(evidence))
    if not found:
        return []
    listed = [
        sentence("few_report.repeat_one", assessor=code, by=points(mean), most=points(most),
                 at=_widest_gaps(evidence, code, most))
        for code, mean, most, _ in found
    ]  # fmt: skip
    worst, *others = sorted(found, key=lambda one: -one[1])
    loose: Line = ""
    swapped = {code for code, *_ in mirrored(evidence)}
    enough = min(n for *_, n in found) >= FEWEST_GAPS and worst[0] not in swapped
    if others and enough and worst[1] >= LOOSE * others[0][1] > 0:
        loose = sentence("few_report.loose", assessor=worst[0])
    return [
        said(
            "description", "repeat", tuple(code for code, *_ in found), listed=listed, loose=loose
        ),
        *_beyond(evidence),
    ]


def _widest_gaps(evidence: Evidence, code: str, most: float) -> Line:
    """Name the few cells whose tastings lie furthest apart; nothing where they are many."""
    table = evidence.rows([row.attribute for row in rows(evidence)], everybody=True)
    own = table[table["assessor"] == code].groupby(["attribute", "sample"], observed=True)["score"]
    gaps = own.max() - own.min()
    cells = [(str(name), str(bottle)) for name, bottle in gaps.index[gaps >= most - ALIKE]]
    if most <= 1 or len(cells) > MOST_CELLS:
        return ""
    listed = [
        sentence("few_report.cell_of", attribute=evidence.name(name).lower(), bottle=bottle)
        for name, bottle in cells
    ]
    return sentence("few_report.repeat_at", listed=listed)


def _beyond(evidence: Evidence) -> list[Statement]:
    """Say from what difference on two bottles of one person pass that person's own scatter."""
    found = [one for one in beyond_own_scatter(evidence) if one[2] >= FEWEST_GAPS and one[1] > 0]
    if not found:
        return []
    listed = [
        sentence("few_report.nose_each", assessor=code, by=points(reach))
        for code, reach, _ in found
    ]
    about = tuple(code for code, *_ in found)
    return [said("description", "repeat_from", about, listed=listed, n=evidence.replicates)]


def _opposite(evidence: Evidence) -> list[Statement]:
    """Name the mark that goes furthest against the others' marks of that bottle.

    Levels are set aside: a mark is held against the same person's other bottles, and the others'
    marks of that bottle against theirs, which hardly go the same way or go the other.
    """
    found = []
    for row in rows(evidence):
        question = evidence.question(row.attribute)
        described = row.attribute != QUALITY and _is_line(evidence, row)
        if not described or not row.whole or len(row.marks) < 2:
            continue
        centred = row.marks.sub(row.marks.mean(axis=1), axis=0)
        for code in centred.index:
            others = centred.drop(index=code).mean()
            for bottle, own in centred.loc[code].items():
                rest = float(others[bottle])
                gap = abs(own - rest) / (question.high - question.low)
                alone = all(own * one <= 0 or abs(one) <= SHARED * abs(own)
                            for one in centred.drop(index=code)[bottle])  # fmt: skip
                if alone and abs(own) >= abs(rest) and gap >= OPPOSITE - ALIKE:
                    found.append((gap, row, str(bottle), str(code)))
    if not found:
        return []
    _, row, bottle, code = max(found, key=lambda one: one[0])
    listed = [
        sentence("few_report.maker_other", assessor=str(who), by=points(float(mark)))
        for who, mark in row.marks[bottle].items()
    ]
    away = row.from_others(bottle)
    return [
        said("caution", "odd", (row.attribute, bottle, code),
             attribute=evidence.name(row.attribute), bottle=bottle, listed=listed, assessor=code,
             by=signed(float(away[code])),
             others=[sentence("few_report.maker_other", assessor=str(who), by=signed(float(gap)))
                     for who, gap in away.items() if who != code])
    ]  # fmt: skip


def _flat(evidence: Evidence) -> list[Statement]:
    """Tell who set no bottle apart in an attribute in which somebody else did."""
    whole = {code for code, _ in people.flat(evidence)}
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = {}
    for row in rows(evidence):
        flat = tuple(code for code in row.flat if code not in whole)
        others = tuple(str(code) for code in row.marks.index if code not in row.flat)
        if flat and others and _is_line(evidence, row):
            found.setdefault((flat, others), []).append(row.attribute)
    if len(found) > 1:
        listed = [
            sentence("few_report.same_mark_one", assessors=list(flat),
                     attributes=[evidence.name(name) for name in names])
            for (flat, _), names in found.items()
        ]  # fmt: skip
        about = dict.fromkeys(one for (flat, _), names in found.items() for one in (*flat, *names))
        return [said("description", "same_marks", tuple(about), listed=joined(listed))]
    return [
        said("description", "same_mark", (*flat, *names), assessors=list(flat),
             attributes=[evidence.name(name) for name in names], others=list(others),
             n=len(flat))
        for (flat, others), names in found.items()
    ]  # fmt: skip


def _equal(evidence: Evidence) -> list[Statement]:
    equal = [
        row.attribute
        for row in rows(evidence)
        if _is_line(evidence, row) and (row.equal_steps or row.equal_pairs)
    ]
    if not equal:
        return []
    names = [evidence.name(name) for name in equal]
    return [said("caution", "equal_steps", tuple(equal), who=inside(evidence), attributes=names)]


def inside(evidence: Evidence) -> Sentence | str:
    """Write everybody inside a sentence."""
    n = len(everybody(evidence))
    return sentence("few_report.inside_both" if n == 2 else "few_report.inside_all", n=n)


def _style(evidence: Evidence) -> list[Statement]:
    """Say whose quality is partly taste, and whether the other marks go with somebody else's.

    Where quality was not asked, who likes the style is told, and of quality nothing.
    """
    made = []
    asked = "" if any(row.attribute == QUALITY for row in rows(evidence)) else "_unasked"
    for one in evidence.people:
        if one.style not in ("likes", "dislikes"):
            continue
        others = [other.code for other in evidence.people if other.code != one.code]
        agrees: Line = ""
        if others:
            k, n = _pairs_alike(evidence, one.code, others)
            agrees = (
                sentence(f"few_report.style_agrees{asked}", k=k, n=n, others=others) if n else ""
            )
        made.append(
            said("caution", f"style_{one.style}{asked}", (one.code,), assessor=one.code,
                 agrees=agrees)
        )  # fmt: skip
    return made


def _pairs_alike(evidence: Evidence, first: str, others: list[str]) -> tuple[int, int]:
    """Count pairs of bottles, over all attributes but quality, in one order with others' mean."""
    alike = of = 0
    for row in rows(evidence):
        if row.attribute == QUALITY or not {first, *others} <= set(row.marks.index):
            continue
        for a, b in combinations(row.marks.columns, 2):
            gaps = row.marks[a] - row.marks[b]
            own, rest = float(gaps[first]), float(gaps[others].mean())
            if abs(own) > ALIKE and abs(rest) > ALIKE:
                of += 1
                alike += int(own * rest > 0)
    return alike, of


def _maker(evidence: Evidence) -> list[Statement]:
    """Say what the maker knows, and how far the maker's favourite stands apart."""
    others = [code for code in everybody(evidence) if code not in evidence.makers]
    if not evidence.makers or not others:
        return []
    made = [
        said("caution", "maker", tuple(evidence.makers), maker=list(evidence.makers), others=others)
    ]
    row = next((row for row in rows(evidence) if row.attribute == QUALITY), None)
    if row is None or not row.whole:
        return made
    for code in evidence.makers:
        top = str(row.marks.loc[code].idxmax())
        by = row.from_others(top)
        if by[code] - by[others].mean() >= DROP:
            each = [
                sentence("few_report.maker_other", assessor=one, by=signed(float(by[one])))
                for one in others
            ]
            made.append(
                said("caution", "maker_quality", (code, top), maker=code, bottle=top,
                     by=points(float(by[code])), others=each)
            )  # fmt: skip
    if len(made) == 1:
        made.append(said("description", "maker_plain", tuple(evidence.makers),
                         maker=list(evidence.makers)))  # fmt: skip
    return made


def _nose(evidence: Evidence) -> list[Statement]:
    """Set the palate beside the nose, for each bottle and assessor."""
    pair = evidence.promise_pair
    of = {row.attribute: row.marks for row in rows(evidence)}
    if pair is None or not set(pair) <= set(of):
        return []
    nose, palate = pair
    gaps = (of[palate] - of[nose]).dropna(how="all").dropna(axis="columns", how="all")
    if gaps.empty:
        return []
    doubted = {code: (first, second) for code, first, second, *_ in mirrored(evidence)}
    listed = [
        sentence(
            "few_report.nose_one",
            bottle=str(bottle),
            each=[
                sentence(
                    "few_report.nose_each",
                    assessor=str(code),
                    by=_each_tasting(evidence, pair, str(code), str(bottle))
                    if str(bottle) in doubted.get(str(code), ())
                    else signed(float(value)),
                )
                for code, value in gaps[bottle].dropna().items()
            ],
        )
        for bottle in gaps
    ]
    made = [
        said("description", "nose", pair, nose=evidence.name(nose), palate=evidence.name(palate),
             listed=joined(listed))
    ]  # fmt: skip
    known = gaps.copy()
    for code, pair_ in doubted.items():
        known.loc[code, list(pair_)] = float("nan")
    below = [str(bottle) for bottle in known if _all(known[bottle] <= -DROP, known[bottle])]
    keeps = [str(bottle) for bottle in known if _all(known[bottle].abs() < DROP, known[bottle])]
    if below:
        sound = [str(code) for code in known.index if known.loc[code, below].notna().all()]
        whole = len(sound) == len(everybody(evidence)) > 1
        made.append(
            said("advice", "nose_below", tuple(below), bottles=below,
                 who=inside(evidence) if whole else sound)
        )  # fmt: skip
    if below and keeps:
        made.append(said("description", "nose_keeps", tuple(keeps), bottles=keeps, n=len(keeps)))
    return made


def _all(holds: pd.Series, known: pd.Series) -> bool:
    """Tell whether something holds of everybody who is known, and of somebody."""
    return bool(known.notna().any() and holds[known.notna()].all())


def _each_tasting(evidence: Evidence, pair: tuple[str, str], code: str, bottle: str) -> str:
    """Write palate less nose tasting by tasting, where the mean of both may hide two bottles."""
    table = evidence.rows(pair, everybody=True)
    own = table[(table["assessor"] == code) & (table["sample"] == bottle)]
    marks = own.pivot_table(index="replicate", columns="attribute", values="score", observed=True)
    return " / ".join(signed(float(gap)) for gap in (marks[pair[1]] - marks[pair[0]]).dropna())


def _last(evidence: Evidence) -> list[Statement]:
    """Say which bottle came last to everybody, in one tasting or in all."""
    every = [order for order in orders(evidence) if len(order) > 1]
    if len(evidence.people) < 2 or len(every) < 2 or len(set(every)) == 1:
        return []
    last = {order[-1] for order in every}
    if len(last) > 1:
        return []
    bottle = last.pop()
    return [said("caution", "last_to_all", (bottle,), bottle=bottle)]


@once
def mirrored(evidence: Evidence) -> list[tuple[str, str, str, pd.DataFrame, float]]:
    """Find two tastings of one assessor that mirror each other between two bottles.

    Between two bottles the differences of the two tastings are near opposites in all
    attributes, and far larger than all other marks scatter from tasting to tasting.

    Returns
    -------
    list of (assessor, first, second, gaps, scatter)
        `gaps` has a row a tasting and a column an attribute: first less second.
    """
    import pandas as pd

    names = [row.attribute for row in rows(evidence) if _is_line(evidence, row)]
    table = evidence.rows(names, everybody=True)
    wide = table.pivot_table(
        index=["assessor", "sample", "replicate"], columns="attribute", values="score",
        observed=True,
    ).reindex(columns=names)  # fmt: skip
    found = []
    for code in everybody(evidence):
        for first, second in combinations(evidence.products, 2):
            try:
                one_cup, other_cup = (wide.xs(code).xs(name) for name in (first, second))
                gaps = one_cup - other_cup
            except KeyError:
                continue
            gaps = pd.DataFrame(gaps).dropna(how="all").dropna(axis="columns")
            if len(gaps) != 2 or gaps.shape[1] < FEWEST:
                continue
            one, two = gaps.to_numpy(float)
            apart, together = (float(np.sqrt(np.mean(x**2))) for x in (one - two, one + two))
            scatter = _scatter(wide, code, {first, second})
            if apart >= MIRRORED * together and apart / 2 >= BEYOND * np.sqrt(2) * scatter > 0:
                found.append((code, first, second, gaps, scatter))
    return found


def _scatter(wide: pd.DataFrame, code: str, bottles: set[str]) -> float:
    """Return how far all other marks scatter from tasting to tasting (standard deviation)."""
    who, what, _ = (wide.index.get_level_values(level) for level in range(3))
    rest = wide[~((who == code) & what.isin(bottles))]
    variances = rest.groupby(level=["assessor", "sample"]).var().to_numpy(float)
    known = variances[~np.isnan(variances)]
    return float(np.sqrt(known.mean())) if known.size else 0.0


def _exchanged(evidence: Evidence) -> list[Statement]:
    made = []
    for code, first, second, gaps, scatter in mirrored(evidence):
        shown = gaps.abs().max().sort_values(ascending=False).index[:SHOWN]
        listed = [
            sentence(
                "few_report.exchanged_one",
                attribute=evidence.name(str(name)),
                first=signed(float(gaps[name].iloc[0])),
                second=signed(float(gaps[name].iloc[1])),
            )
            for name in gaps.columns
            if name in shown
        ]
        made.append(
            said("caution", "exchanged", (code, first, second), rank=RANK_EXCHANGED,
                 assessor=code, first=first, second=second, n=gaps.shape[1],
                 others=[name for name in evidence.products if name not in (first, second)],
                 by=points(scatter), listed=listed)
        )  # fmt: skip
    return made
