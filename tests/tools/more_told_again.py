"""More of what the overview says of the demonstration, worked out again: numpy, pandas, scipy.

No line of this program is used; see `page_again`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from claims_again import PAIRS
from overview_again import clear_gaps, gap_of, going, written
from page_again import BOTTLES, Again, edge, label, plainly, signed, t_limits
from scipy import stats

STEP = 2.5
"""A quarter of the scale."""


def fragments(one: Again) -> list[str]:
    """Return the sentences' parts with numbers, as the page must write them."""
    return [
        *_far_alone(one),
        *_open(one),
        *stands_out(one),
        _looked(one),
        *_firsts(one),
        *_by_number(one),
        f"all {sum(len(pairs) for _, pairs in _shown(one))} claimed gaps",
        *_steps(one),
        *_asked(one),
        *_places(one),
    ]


HELD = "cloudy"
"""The bottle that is held back: no answer to what is to be released."""


def _asked(one: Again) -> list[str]:
    """Write the bottles that are left with their quality, and the order without who declared."""
    wide = one.wide("quality").dropna()
    said = []
    for bottle in [name for name in BOTTLES if name != HELD]:
        alone = (wide[bottle] > wide.drop(columns=bottle).max(axis=1)).sum()
        mean = plainly(one.wide("quality")[bottle].mean())
        said.append(f"{bottle} ({mean}; first for {alone} of {len(wide)})")
    foes = one.planned.index[one.planned["style"] == "dislikes"]
    rest = wide[~wide.index.isin(foes)].mean().sort_values(ascending=False)
    listed = ", ".join(f"{bottle} {plainly(mean)}" for bottle, mean in rest.items())
    return [*said, f"the quality of the {len(wide) - len(foes)} others is: {listed}"]


def _places(one: Again) -> list[str]:
    """Write what one place on the tray does where clear of 0: cells and place by least squares."""
    said = []
    trays = one.everybody[["assessor", "replicate", "position"]].dropna().drop_duplicates()
    trays["place"] = trays.groupby(["assessor", "replicate"])["position"].rank()
    for name in one.scaled:
        own = one.scores[one.scores["attribute"] == name].dropna(subset=["score"])
        own = own.merge(trays, on=["assessor", "replicate", "position"])
        cells = own.groupby(["assessor", "sample"])
        y, x = (own[part] - cells[part].transform("mean") for part in ("score", "place"))
        df = len(own) - cells.ngroups - 1
        if df < 1:  # looked at once: bottles and people alone, and not clear of 0
            continue
        by = float((x * y).sum() / (x**2).sum())
        se = float(np.sqrt(((y - by * x) ** 2).sum() / df / (x**2).sum()))
        half = stats.t.ppf(0.975, df) * se
        if abs(by) > half:
            least, most = edge(by - half, signed), edge(by + half, signed)
            said.append(f"{_low(name)} {signed(by)} ({least} to {most})")
    return [*said, f"Of {len(one.scaled)} looked at about 1 would look so by chance"]


def _low(name: str) -> str:
    """Write an attribute within a sentence."""
    return label(name).lower()


def _shown(one: Again) -> list[tuple[str, list[tuple[str, str]]]]:
    return [(name, one.pairs_claimed(kind, name)) for kind, name in one.claimed("scale", "balance")]


def _lead(one: Again, name: str, bottle: str) -> pd.Series:
    """Return by how much each sets a bottle above the mean of the others."""
    wide = one.wide(name).dropna()
    return wide[bottle] - wide.drop(columns=bottle).mean(axis=1)


def _far_alone(one: Again) -> list[str]:
    """Write who sets the highest bottle a fifth of the scale off, twice as far as the rest."""
    said = []
    for _, name in one.claimed("scale"):
        top = str(one.wide(name).dropna().mean().idxmax())
        lead = _lead(one, name, top)
        who = str(lead.idxmax())
        own, rest = lead[who], lead.drop(who).mean()
        if name != "quality" and own >= 2 and own >= 2 * rest:
            mine = one.wide(name).loc[who]
            steps = ", ".join(f"{b} {plainly(mine[top] - mine[b])}" for b in BOTTLES if b != top)
            said.append(
                f"{who}, {_low(name)}: {top} {plainly(own)} above his or her other bottles "
                f"(by bottle: {steps}), the mean of all others {signed(rest)}"
            )
    return said


def _open(one: Again) -> list[str]:
    """Write the widest gap of four attributes in which none is claimed or clear of zero."""
    told = {name for _, name in one.claimed("scale")} | {gap[0] for gap in clear_gaps(one)}
    widest = {
        name: max((gap_of(one, "scale", name, place) for place in range(3)), key=lambda x: x[2])
        for name in one.lines
        if name not in told
    }
    said = []
    for name, (high, low, *sizes) in sorted(widest.items(), key=lambda each: -each[1][2])[:4]:
        own = (one.wide(name)[high] - one.wide(name)[low]).dropna()
        two = own.sort_values(ascending=False, kind="stable")[:2]
        mostly = len(own) > 3 and two.sum() >= own[own > 0].sum() / 2 > 0
        by = ", ".join(f"{who} {plainly(k)}" for who, k in two.items())
        told_of = going(one, name, high, low) + (f"; made mostly by {by}" if mostly else "")
        said.append(written(name, (high, low), tuple(sizes), told_of))
    return said


def rows_of_what_stands_out(one: Again) -> list[list[str]]:
    """Return in what each bottle is clear of the mean of the others, by Student's t."""
    rows = []
    for bottle in BOTTLES:
        for name in one.scaled:
            lead = _lead(one, name, bottle)
            mean, low, high = t_limits(lead)
            if low > 0 or high < 0:
                way = int((np.sign(lead) == np.sign(mean)).sum())
                ends = f"{edge(low, signed)} to {edge(high, signed)}"
                rows.append([bottle, label(name), signed(mean), ends, f"{way} of {len(lead)}"])
    return rows


def _looked(one: Again) -> str:
    looked = len(BOTTLES) * len(one.scaled)
    return f"Of {looked} looked at about {round(0.05 * looked)} would"


def stands_out(one: Again) -> list[str]:
    """Write the same as the file of numbers has it, a part for each bottle."""
    rows = rows_of_what_stands_out(one)
    said = []
    for bottle in BOTTLES:
        parts = [
            f"{name.lower()} {by} ({ends}; {way})"
            for sample, name, by, ends, way in rows
            if sample == bottle
        ]
        said.append(f"{bottle}: {', '.join(parts)}")
    return said


def _firsts(one: Again) -> list[str]:
    """Write who has one bottle first in quality in both tastings, and what the lead rests on."""
    rows = one.scores[one.scores["attribute"] == "quality"]
    cells = rows.pivot_table(index=["assessor", "replicate"], columns="sample", values="score")
    cells = cells[BOTTLES].dropna()
    same, people = [], 0
    for who, own in cells.groupby(level=0):
        if len(own) == 2:
            people += 1
            tops = [set(own.columns[row == row.max()]) for row in own.to_numpy()]
            if tops[0] == tops[1] and len(tops[0]) == 1:
                same.append(f"{who} ({next(iter(tops[0]))})")
    said = [(f"{', '.join(same)}; {len(same)} of {people} assessors, where blind guessing would "
            f"give about {plainly(people / 3)}")]  # fmt: skip
    wide = one.wide("quality").dropna()
    means = wide.mean().sort_values(ascending=False)
    top, second = map(str, means.index[:2])
    said.append(f"{top} comes first in quality ({plainly(means[top] - means[second])} above "
                f"{second}) turns on single assessors")  # fmt: skip
    for who in wide.index:
        rest = wide.drop(who).mean().round(9)
        first = list(map(str, rest.index[rest == rest.max()]))
        if first != [top]:
            said.append(f"without {who} {', '.join(first)} come first together")
    lead = _lead(one, "quality", top)
    gone = [lead.mean() - lead.drop(who).mean() for who in lead.index]
    assert max(gone) < 0.25  # nobody carries so much that the place is said to rest on one
    return said


def _by_number(one: Again) -> list[str]:
    """Write the claimed gaps in sweetness between bottles at most 1 apart in meter value."""
    said = []
    meter = one.bottles["meter_value"]
    for place, (a, b) in enumerate(PAIRS):
        high, low, *sizes = gap_of(one, "scale", "sweetness", place)
        claimed = (high, low) in one.pairs_claimed("scale", "sweetness")
        if claimed and abs(meter[BOTTLES[a]] - meter[BOTTLES[b]]) <= 1:
            by, least, most = plainly(sizes[0]), *(edge(size) for size in sizes[1:])
            said.append(f"{high} above {low} by {by} ({least} to {most}; "
                        f"{going(one, 'sweetness', high, low)}; measured {meter[high]:g} and "
                        f"{meter[low]:g})")  # fmt: skip
    means = ", ".join(f"{name} {plainly(one.means['cloying', name])}" for name in BOTTLES)
    said.append(f"{len(BOTTLES)} bottles cannot tell what the number does")
    return [*said, f"On the line from “not at all” (0) to “very much” (10): {means}"]


def _steps(one: Again) -> list[str]:
    """Write the five widest steps between two tastings of one bottle, and how many are wide."""
    rows = one.everybody[one.everybody["attribute"].isin(one.lines)]
    marks = rows.groupby(["attribute", "assessor", "sample"])["score"]
    step = (marks.max() - marks.min())[marks.size() > 1]
    far = step[step >= STEP].sort_values(ascending=False, kind="stable")
    said = [f"{who} {_low(name)} of {bottle} {plainly(by)}"
            for (name, who, bottle), by in far[:5].items()]  # fmt: skip
    return [*said, f"in {len(far)} of {len(step)} answers that came twice"]
