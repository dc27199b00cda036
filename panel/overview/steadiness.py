"""How far each assessor repeats the own marks, goes with the others, and uses the scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

from ...analysis.core.errors import AnalysisError
from ...analysis.core.options import ALPHA
from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.exchanged import suspected
from ..findings.habits import without
from ..findings.people import assessors_found, flat, judged_people
from ..findings.statement import Statement, joined
from .gaps import leads, size
from .told import REPEATS, SURE, said

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd

COLUMNS = ("assessor", "n", "mean", "spread", "repeats", "df", "follows", "bottom", "top")
KEPT = "overview.steadiness"
LOOSE = 1.5
"""An assessor's gaps over the panel's middle, from which they are told first (no source), where
they are also wider than the widest of so many alike ones is by chance (F, `ALPHA`)."""
TOGETHER = 0.3
"""Correlation of the marks of one cup that is reckoned with there (no source)."""
NARROW, GOES_ALONG = 0.6, 0.7
"""Spread over bottles as a share of the others' least, and correlation with the others, from
which a narrow scale is told as a habit (no source)."""
AGAINST, FEWEST_BOTTLES, FEWEST_PEOPLE = 0.3, 3, 4
"""Correlation with the others over the whole card below which, its sign turned, one goes against
them, while without that one all others reach it; bottles and people it takes (no source)."""
AT_END = 0.2
"""Share of marks at one end of the scale, and five at least, from which it is told."""
FEWEST_AT_END = 5
FEWEST_CELLS = 6
"""Cells an assessor needs before a correlation is written."""
FLAT = 1e-9
"""Range below which deviations are rounding alone."""
STEP = 0.25
"""Share of the scale between two marks of one bottle, from which a single step is told."""


def _cells(evidence: Evidence) -> pd.DataFrame:
    """Return every mark of line scales; of known cups too where nothing else was served."""
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    rows = evidence.rows(names, everybody=True, controls=not evidence.products)
    return rows[rows["assessor"].isin(judged_people(evidence))]


def _span(evidence: Evidence, name: str) -> float:
    question = evidence.question(name)
    return float(question.high - question.low)


def telling(evidence: Evidence, budget: Budget) -> list[str]:
    """Name the attributes by which it is told who goes with the others.

    Those in which the bottles are shown to differ; all where known cups alone were served.
    """
    if not evidence.products:
        return _names(evidence)
    return [one.about for one in budget.claimed("scale")]


def table(evidence: Evidence, budget: Budget) -> pd.DataFrame:
    """Return what each assessor's marks look like.

    Returns
    -------
    DataFrame
        ``assessor, n, mean, spread, repeats, df, follows, bottom, top``: marks; their mean;
        standard deviation over bottles, the mean over attributes; standard deviation of one
        mark of a bottle around the own mean of its tastings, pooled, and its degrees of
        freedom; correlation of
        the deviations of the bottles with those of all others, over the attributes that are
        `telling`; marks at the ends.
    """
    if KEPT not in evidence.kept:
        evidence.kept[KEPT] = _table(evidence, telling(evidence, budget))
    found: pd.DataFrame = evidence.kept[KEPT]
    return found


def _table(evidence: Evidence, names: list[str]) -> pd.DataFrame:
    import pandas as pd

    rows = _cells(evidence)
    rows = rows.assign(
        assessor=rows["assessor"].astype(str),
        attribute=rows["attribute"].astype(str),
        sample=rows["sample"].astype(str),
    )
    if rows.empty:
        return pd.DataFrame(columns=list(COLUMNS))
    means = rows.groupby(["assessor", "attribute", "sample"])["score"].mean()
    own = means.groupby(level=["assessor", "attribute"])
    spread = own.std().groupby(level=0).mean()
    centred = (means - own.transform("mean")).rename("by").reset_index()
    follows = _follow(
        centred.pivot_table("by", ["attribute", "sample"], "assessor", dropna=False), names
    )
    whole = rows.groupby("assessor")["score"]
    found = pd.DataFrame({"n": whole.size(), "mean": whole.mean()})
    found = found.assign(spread=spread, follows=follows).join(own_scatter(evidence))
    found["df"] = found["df"].fillna(0).astype(int)
    for end, column in (("low", "bottom"), ("high", "top")):
        marks = {name: getattr(evidence.question(name), end) for name in set(rows["attribute"])}
        found[column] = (
            (rows["score"] == rows["attribute"].map(marks)).groupby(rows["assessor"]).sum()
        )
    return found.reset_index()[list(COLUMNS)]


def _follow(centred: pd.DataFrame, names: Collection[str]) -> pd.Series:
    """Return how each column goes with the mean of the others, over the cells of some attributes.

    `centred` has a row for each attribute and bottle and a column an assessor.
    """
    import pandas as pd

    cells = centred[centred.index.get_level_values("attribute").isin(list(names))]
    marks = cells.to_numpy(float)
    there = ~np.isnan(marks)
    others = there.sum(axis=1, keepdims=True) - there
    rest = np.nansum(marks, axis=1, keepdims=True) - np.where(there, marks, 0.0)
    found = np.full(marks.shape[1], np.nan)
    for column in range(marks.shape[1]):
        used = there[:, column] & (others[:, column] > 0)
        one = marks[used, column]
        mean = rest[used, column] / others[used, column]
        if used.sum() >= FEWEST_CELLS and min(np.ptp(one), np.ptp(mean)) > FLAT:
            found[column] = np.corrcoef(one, mean)[0, 1]
    return pd.Series(found, index=cells.columns.astype(str))


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say how steady the panel is, who is least so, in what, and how the scale is used."""
    found = table(evidence, budget)
    if len(found) < 2 or len({_span(evidence, str(one)) for one in _names(evidence)}) != 1:
        return []
    still = {code for code, _ in flat(evidence)}
    found = found[~found["assessor"].isin(still)]
    return [
        *_repeats(evidence, found, len(_names(evidence))),
        *_by_attribute(evidence),
        *_follows(found),
        *(_narrow(found) if telling(evidence, budget) else []),
        *_runs_against(evidence),
        *_at_end(evidence, found),
        *_levels_of_cups(evidence, found),
        *_without(evidence, budget),
    ]


def _names(evidence: Evidence) -> list[str]:
    return evidence.attributes(Kind.LINE, Kind.CATEGORY)


def _repeats(evidence: Evidence, found: pd.DataFrame, attributes: int) -> list[Statement]:
    own = found.dropna(subset=["repeats"]).sort_values("repeats", kind="stable")
    if len(own) < 2:
        if evidence.replicates != 1:
            return []
        portions = any(evidence.bottle(name).poured_from for name in evidence.products)
        return [said("repeats_not_portions" if portions else "repeats_not", SURE)]
    middle = float(own["repeats"].median())
    first, last = own.iloc[0], own.iloc[-1]
    loose = own[(own["repeats"] >= LOOSE * middle) & _beyond_chance(own, attributes)]
    loose = loose.sort_index()  # by code: never of merit
    listed = [
        sentence("findings.pair_value", name=str(row["assessor"]), value=size(row["repeats"]))
        for _, row in loose.iterrows()
    ]
    return [
        said("repeats_loose" if listed else "repeats", SURE, tuple(loose["assessor"]),
             middle=size(middle), least=size(first["repeats"]), who=str(first["assessor"]),
             most=size(last["repeats"]), last=str(last["assessor"]), listed=listed,
             whose=_whose(evidence) if _without_consumers(evidence) else "")
    ]  # fmt: skip


def _beyond_chance(own: pd.DataFrame, attributes: int) -> np.ndarray:
    """Tell whose own scatter is wider than that of the rest together, by F, Bonferroni.

    Marks of one cup go together: so many attributes count for fewer.
    """
    df = own["df"].to_numpy(float) / (1 + (attributes - 1) * TOGETHER**2)
    squares: np.ndarray = own["repeats"].to_numpy(float) ** 2 * df
    others, rest = squares.sum() - squares, df.sum() - df
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = (squares / df) / (others / rest)
    chance: np.ndarray = np.asarray(fdtrc(df, rest, ratio)) * len(own)
    return chance <= ALPHA


def own_scatter(evidence: Evidence, *, of_span: bool = False) -> pd.DataFrame:
    """Return of each assessor how far one mark lies from the own mean of its tastings.

    Returns
    -------
    DataFrame
        By assessor: ``repeats, df``; pooled standard deviation, in points or as a share of each
        scale, and its degrees of freedom.
    """
    import pandas as pd

    twice = _scatters(evidence).reset_index()
    who = twice["assessor"].astype(str)
    span = [_span(evidence, str(name)) if of_span else 1.0 for name in twice["attribute"]]
    squares: pd.Series = twice["var"] * (twice["size"] - 1) / np.square(span)
    df = (twice["size"] - 1).groupby(who).sum()
    return pd.DataFrame({"repeats": (squares.groupby(who).sum() / df) ** 0.5, "df": df})


def _scatters(evidence: Evidence) -> pd.DataFrame:
    """Return size, variance, first and last mark of each cell that was marked twice or more."""
    rows = _cells(evidence)
    marks = rows.groupby(["attribute", "assessor", "sample"], observed=True)["score"]
    inner = marks.agg(["size", "var", "first", "last"])
    return inner[inner["size"] > 1]


def _by_size(twice: pd.DataFrame) -> pd.Series:
    """Return each attribute's standard deviation of one mark around the own mean, least first."""
    weighted = (twice["var"] * (twice["size"] - 1)).groupby(level=0).sum()
    return ((weighted / (twice["size"] - 1).groupby(level=0).sum()) ** 0.5).sort_values()


def least_repeated(evidence: Evidence, *, but: Collection[str] = ()) -> str:
    """Name the attribute, but for some, in which own marks scatter most.

    "" where nothing was marked twice, or nothing but those.
    """
    twice = _scatters(evidence)
    if twice.empty or len(_names(evidence)) < 2:
        return ""
    names = [str(one) for one in _by_size(twice).index if str(one) not in but]
    return names[-1] if names else ""


def _by_attribute(evidence: Evidence) -> list[Statement]:
    """Name the attribute that is repeated least, with its widest single steps."""
    twice = _scatters(evidence)
    if twice.empty or len(_names(evidence)) < 2:
        return []
    each = _by_size(twice)
    worst, best = str(each.index[-1]), str(each.index[0])
    steps = twice.xs(worst)
    steps = steps.assign(step=(steps["first"] - steps["last"]).abs())
    steps = steps[steps["step"] >= STEP * _span(evidence, worst)]
    steps = steps.sort_values("step", ascending=False, kind="stable").head(2)
    listed = [
        sentence("overview.single_step", assessor=str(who), bottle=str(bottle),
                 first=f"{first:g}", second=f"{second:g}")
        for who, bottle, first, second in zip(
            steps.index.get_level_values(0), steps.index.get_level_values(1),
            steps["first"], steps["last"], strict=True,
        )
    ]  # fmt: skip
    return [
        said("repeats_least_steps" if listed else "repeats_least", REPEATS, (worst, best),
             attribute=evidence.name(worst), by=size(each.iloc[-1]), listed=listed,
             best=evidence.name(best), least=size(each.iloc[0]), whose=_whose(evidence))
    ]  # fmt: skip


def _without_consumers(evidence: Evidence) -> bool:
    """Tell whether somebody tasted who is not compared as an assessor."""
    return len(judged_people(evidence)) < len(evidence.roles)


def _whose(evidence: Evidence) -> Sentence | str:
    """Say whose marks count here and in no mean of the panel, the makers', and whose do not."""
    makers = len(evidence.makers) if evidence.maker_apart else 0
    judged = "_judged" * _without_consumers(evidence)
    if not makers:
        return sentence("overview.repeats_judged") if judged else ""
    return sentence(f"overview.repeats_whose{judged}", n=makers)


def _follows(found: pd.DataFrame) -> list[Statement]:
    own = found.dropna(subset=["follows"])  # by code: never of merit
    if len(own) < 3:
        return []
    listed = [
        sentence(
            "findings.pair_value", name=str(row["assessor"]), value=coefficient(row["follows"])
        )
        for _, row in own.iterrows()
    ]
    return [said("follows", REPEATS, tuple(own["assessor"]), listed=listed)]


def coefficient(value: float) -> str:
    """Write a correlation with two decimals and a true minus.

    >>> coefficient(0.851), coefficient(-0.2)
    ('0.85', '−0.20')
    """
    return fixed(value, 2)


def _narrow(found: pd.DataFrame) -> list[Statement]:
    """Tell who uses little of the scale, and whether the order is the panel's."""
    own = found.dropna(subset=["spread"]).sort_values("spread", kind="stable")
    if len(own) < 3:
        return []
    least, rest = own.iloc[0], own.iloc[1:]
    if least["spread"] > NARROW * rest["spread"].min() or not least["spread"] > 0:
        return []
    key = "narrow_along" if least["follows"] >= GOES_ALONG else "narrow"
    return [
        said(key, REPEATS, (str(least["assessor"]),), assessor=str(least["assessor"]),
             by=size(least["spread"]), least=size(rest["spread"].min()),
             most=size(rest["spread"].max()))
    ]  # fmt: skip


@once
def along_card(evidence: Evidence) -> dict[str, float]:
    """Return how the deviations of everybody who counts go with those of the others, over all."""
    import pandas as pd

    names = _names(evidence)
    if len(evidence.products) < FEWEST_BOTTLES:
        return {}
    cells = {name: wide for name, wide in evidence.wide(names).items() if len(wide) > 1}
    if not cells:
        return {}
    centred = {name: wide.sub(wide.mean(axis=1), axis=0).T for name, wide in cells.items()}
    whole = pd.concat(centred, names=["attribute", "sample"])
    return {str(code): float(value) for code, value in _follow(whole, names).dropna().items()}


@once
def running_against(evidence: Evidence) -> dict[str, tuple[float, float, float]]:
    """Return who goes against the others over the whole card, where all others go together.

    Returns
    -------
    dict of str to (float, float, float)
        One assessor at most: the own correlation with the others, and the least and the most of
        the others among themselves. Who is shown to differ is left out, and of whom two glasses may
        have been exchanged.
    """
    names = _names(evidence)
    if len(evidence.products) < FEWEST_BOTTLES or len(evidence.counted) < FEWEST_PEOPLE:
        return {}
    whole = _table(evidence, names).set_index("assessor")["follows"]
    whole = whole[[code in evidence.counted for code in whole.index]].dropna()
    if len(whole) < FEWEST_PEOPLE:
        return {}
    code = str(whole.idxmin())
    if whole[code] > -AGAINST or code in {one.assessor for one in suspected(evidence)}:
        return {}
    along = along_without(evidence, [code])
    shown = assessors_found(evidence)
    named = {code} if isinstance(shown, AnalysisError) else set(
        shown.findings.loc[shown.findings["shown"].astype(bool), "assessor"]
    )  # fmt: skip
    if along.empty or along.min() < AGAINST or code in named:
        return {}
    return {code: (float(whole[code]), float(along.min()), float(along.max()))}


def _runs_against(evidence: Evidence) -> list[Statement]:
    made = []
    for code, (by, least, most) in running_against(evidence).items():
        made.append(
            said("runs_against", SURE, (code,), kind="caution", assessor=code, by=coefficient(by),
                 least=coefficient(least), most=coefficient(most))
        )  # fmt: skip
        gap = without(evidence, [code])
        made += [gap] if gap is not None else []
    return made


def along_without(evidence: Evidence, codes: Collection[str]) -> pd.Series:
    """Return how each of the others goes with the rest of them, some assessors left out."""
    import pandas as pd

    cells = {
        name: wide.drop(list(codes), errors="ignore")
        for name, wide in evidence.wide(_names(evidence)).items()
    }
    centred = {name: wide.sub(wide.mean(axis=1), axis=0).T for name, wide in cells.items()}
    return _follow(pd.concat(centred, names=["attribute", "sample"]), list(cells)).dropna()


def ways(evidence: Evidence, code: str) -> tuple[int, int]:
    """Count the attributes in which one's deviations go the others' way, and the other way."""
    along = other = 0
    for wide in evidence.wide(_names(evidence)).values():
        if code not in wide.index or len(wide) < 2:
            continue
        own, rest = wide.loc[code].to_numpy(float), wide.drop(code).mean().to_numpy(float)
        known = ~np.isnan(own) & ~np.isnan(rest)
        by = float((own[known] - own[known].mean()) @ rest[known]) if known.any() else 0.0
        along, other = along + (by > FLAT), other + (by < -FLAT)
    return along, other


def _at_end(evidence: Evidence, found: pd.DataFrame) -> list[Statement]:
    made = []
    for row in found.to_dict("records"):
        for end in ("low", "high"):
            k = int(row["bottom" if end == "low" else "top"])
            if k >= max(FEWEST_AT_END, AT_END * row["n"]):
                mark = getattr(evidence.question(_names(evidence)[0]), end)
                made.append(
                    said(f"at_{end}", REPEATS, (row["assessor"],), assessor=row["assessor"], k=k,
                         n=int(row["n"]), mark=f"{mark:g}")
                )  # fmt: skip
    return made


def _levels_of_cups(evidence: Evidence, found: pd.DataFrame) -> list[Statement]:
    """Set levels beside the expert's where known cups alone were served."""
    experts = [one for one, role in evidence.roles.items() if role == "expert"]
    means = found.set_index("assessor")["mean"]
    if evidence.products or len(experts) != 1 or experts[0] not in means:
        return []
    listed = [
        sentence("findings.pair_value", name=str(code), value=size(by, signed=True))
        for code, by in (means - means[experts[0]]).sort_index().items()
        if code != experts[0]
    ]
    return [said("levels_of_cups", REPEATS, tuple(means.index), expert=experts[0], listed=listed)]


def _without(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say how far leaving out any one assessor moves what is claimed, and quality."""
    moved = influence(evidence, budget)
    if moved.empty:
        return []
    widest = moved.iloc[moved["moved"].abs().to_numpy().argmax()]
    turned = moved[moved["turned"]]
    key = "influence_turned" if len(turned) else "influence"
    claimed = {one.about for one in budget.claimed("scale", "balance")}
    open_ = set(moved["attribute"]) - claimed
    which = "claimed" if not open_ else "claimed_quality" if claimed else "quality"
    return [
        said(key, REPEATS, (str(widest["attribute"]), str(widest["without"])),
             attribute=evidence.name(str(widest["attribute"])), who=str(widest["without"]),
             all=size(widest["gap"]), left=size(widest["left"]), n=len(set(moved["attribute"])),
             which=sentence(f"overview.influence_{which}"), turned=joined([
                 sentence("overview.turned", attribute=evidence.name(str(row["attribute"])),
                          who=str(row["without"]), left=size(row["left"], signed=True))
                 for _, row in turned.iterrows()
             ]) if len(turned) else "")
    ]  # fmt: skip


def influence(evidence: Evidence, budget: Budget) -> pd.DataFrame:
    """Return the widest claimed gap of each attribute without each assessor in turn.

    Returns
    -------
    DataFrame
        ``attribute, high, low, without, gap, left, moved, turned``; scale points.
    """
    import pandas as pd

    made = []
    wanted = {one.about: one.pairs for one in budget.claimed("scale", "balance") if one.pairs}
    wanted |= {
        one.attribute: ((one.high, one.low),)
        for one in leads(evidence, budget)
        if one.attribute == QUALITY
    }
    for name, wide in evidence.wide(list(wanted)).items():
        full = wide.mean()
        high, low = max(wanted[name], key=lambda pair: full[pair[0]] - full[pair[1]])
        gap = (wide[high] - wide[low]).dropna()
        if len(gap) < 3 or high == low:
            continue
        for code in gap.index:
            left = float(gap.drop(code).mean())
            whole = float(gap.mean())
            made.append((name, high, low, str(code), whole, left, left - whole, left <= 0 < whole))
    return pd.DataFrame(
        made,
        columns=["attribute", "high", "low", "without", "gap", "left", "moved", "turned"],
    )
