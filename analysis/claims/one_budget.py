"""One error budget for everything that a report says about the bottles.

A report looks at eighteen scales, twenty words, fifteen faults, every bottle's
balance and the maker. Each at its own 5 % makes a false claim in a third to
two thirds of reports about identical bottles. Here all are judged together:
with a chance of 95 in 100 nothing that is claimed is false, whatever else is
true, wrong pairs and wrong directions included.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Unpack

import numpy as np
import pandas as pd

from ..core.errors import OptionError
from ..core.options import one_of, share_of, whole
from ..core.p_values import holds
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.words import Sentence
from ..inference.adjusted_p import adjust
from .cell_table import CellTable
from .claim_members import (
    MEASURED,
    NAMED_WEIGHTS,
    OTHERS_SHARE,
    WEIGHTS,
    Member,
    Named,
    gap_name,
    members,
)
from .claim_tables import Judged, tables
from .claims_result import Claims
from .closed_pairs import ClosedPairs, ClosedSpreads
from .factor_effects import COLUMNS as EFFECT_COLUMNS
from .factor_effects import EFFECTS_WEIGHT, crossed_effects, factor_effects
from .maker_shift import maker_shifts
from .most_people import COLUMNS as COUNTS
from .most_people import counts_by_side, smallest_panel
from .shuffled_bottles import Observed, Shuffled, by_spread, shuffle
from .step_down import StatedQuestion, step_down

_IN_OVERALL = ("scale", "balance", "word")


def claims(
    table: Tidy | pd.DataFrame,
    *,
    scales: Iterable[str] | None = None,
    balances: Iterable[str] = (),
    words: Iterable[str] = (),
    faults: Iterable[str] = (),
    gaps: Iterable[tuple[str, str]] = (),
    makers: Iterable[str] = (),
    assessors: Iterable[str] | None = None,
    samples: Iterable[str] | None = None,
    named: Iterable[Named] = (),
    factors: pd.DataFrame | None = None,
    alpha: float = 0.05,
    shuffles: int = 1999,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Claims:
    """Decide what may be claimed of a session, at one error budget.

    Parameters
    ----------
    table : Tidy or DataFrame
        All answers of the session, opened.
    scales : iterable of str, optional
        Attributes scored on a line or in categories; by default all that are
        named in no other argument.
    balances : iterable of str
        Attributes with 0 for just right, below 0 too little, above 0 too much
        (sweet-dry balance). They are compared between bottles like scales, and
        each bottle is asked whether it is too much or too little for most.
    words, faults : iterable of str
        Ticks (0 or 1) and severities (0 not noticed).
    gaps : iterable of (more, less)
        Two attributes on one scale, whose difference is compared between bottles:
        palate and nose, or sweetness found and expected.
    makers : iterable of str
        Codes of the makers; each is set against the others.
    assessors : iterable of str, optional
        Who makes the panel's means; by default everybody but the makers.
    samples : iterable of str, optional
        The bottles in question, in this order (controls left out); by default
        all.
    named : iterable of Named
        One to three questions that were named before the tasting; they weigh
        10 (two: 7.5 each, three: 5 each) instead of 1.
    factors : DataFrame, optional
        One row a sample, of all `samples` or some; one column a factor (ordered categories or
        numbers): what each factor does to scales and balances, and whether one changes what another
        does, is then asked besides, within the same error.
    alpha : float
        Chance of any false claim in the report, between 0 and 1.
    shuffles : int
        Random shuffles where not all can be gone through.
    seed : int
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Claims

    Raises
    ------
    TableError
        If the table is not tidy.
    OptionError
        For an argument out of its range, more than three questions named, or
        an attribute named under two kinds.

    Notes
    -----
    Nine tenths of `alpha` go to all differences between bottles together, one
    tenth to majorities and the maker's shifts (half each where there are both). Effects of
    factors share the nine tenths: their p are exact, and weigh `EFFECTS_WEIGHT` an attribute.
    See `docs/claims.md`.

    References
    ----------
    Westfall & Young 1993, Resampling-Based Multiple Testing. Goeman & Solari
    2010, Ann. Stat. 38:3782-3810. Marcus, Peritz & Gabriel 1976, Biometrika
    63:655-660. Langsrud 2005, Stat. Comput. 15:53-60.

    Examples
    --------
    >>> rng = np.random.default_rng(2)
    >>> rows = [(f"T{i}", b, m + i % 3 + 0.4 * rng.normal())
    ...         for i in range(7) for b, m in (("clear", 4.0), ("cloudy", 6.0), ("free-run", 4.0))]
    >>> found = claims(pd.DataFrame(rows, columns=["assessor", "sample", "score"]))
    >>> print(found.sentences()[0])
    The bottles differ in score: cloudy above clear, cloudy above free-run.
    """
    share_of("alpha", alpha)
    whole("shuffles", shuffles, 99)
    checked = as_tidy(table, **column_names)
    asked, apart = tuple(named), tuple(gaps)
    if len(asked) > len(NAMED_WEIGHTS):
        raise OptionError("claims.too_many", n=len(asked))
    maker_codes = [str(one) for one in makers]
    people = (
        [one for one in checked.assessors if one not in maker_codes]
        if assessors is None
        else [str(one) for one in assessors]
    )
    bottles = checked.samples if samples is None else [str(one) for one in samples]
    of_kind = _kinds(checked, scales, balances=balances, words=words, faults=faults, gaps=apart)
    _check_named(asked, of_kind, bottles, maker_codes, apart)
    panel = CellTable(checked, people, bottles)
    found = members(panel, of_kind=of_kind, gaps=apart, named=asked)
    shuffled = shuffle(found, shuffles=shuffles, seed=seed)
    weight = NAMED_WEIGHTS[max(len(asked), 1) - 1]
    questions, overall = _questions(found, shuffled, asked, weight)
    majority = _majorities(panel, of_kind["balance"], asked)
    others = [one for one in people if one not in maker_codes]
    everybody = CellTable(checked, [*maker_codes, *others], bottles) if maker_codes else panel
    shifts = _shifts(everybody, of_kind, len(maker_codes), asked)
    share = OTHERS_SHARE if len(majority) or len(shifts) else 0.0
    rest = alpha * share / (2 if len(majority) and len(shifts) else 1)
    effects = _effects(panel, factors, [*of_kind["scale"], *of_kind["balance"]], asked)
    exact_effects = [
        StatedQuestion(None, float(row["weight"]), float(row["p"]), None)
        for row in effects.to_dict("records")
    ]
    exact_majority = _exact(majority, weight)
    exact_shifts = _exact(shifts, weight / max(int(shifts["named"].sum()), 1))
    main = alpha * (1 - share)
    steps = step_down([*questions, *exact_majority, *exact_shifts, *exact_effects], main)
    scale = alpha / main
    made = tables(
        Judged(
            members=found,
            shuffled=shuffled,
            questions=questions,
            overall=overall,
            overall_named=_overall_named(asked),
            bottles=bottles,
            steps=steps,
            scale=scale,
            alpha=alpha,
        )
    )
    return Claims(
        table=made[0],
        pairs=made[1],
        majority=_adjusted(majority, exact_majority, scale, alpha, rest),
        shifts=_adjusted(shifts, exact_shifts, scale, alpha, rest),
        effects=_with_verdict(effects, exact_effects, scale, alpha),
        alpha=alpha,
        kind=shuffled.kind,
        shuffles=len(shuffled.p),
        seed=None if shuffled.kind == "all shuffles" else seed,
        smallest_panel=smallest_panel(rest / max(len(majority), 1)) if rest else 0,
        level_first=steps.first,
        level_last=steps.last,
        named=asked,
        warnings=_warnings(shuffled, made[0]),
    )


def _kinds(
    checked: Tidy,
    scales: Iterable[str] | None,
    *,
    gaps: Sequence[tuple[str, str]],
    **others: Iterable[str],
) -> dict[str, list[str]]:
    """Return the attributes of each kind, and refuse one that has two."""
    of_kind = {kind.removesuffix("s"): [str(one) for one in own] for kind, own in others.items()}
    taken = [one for own in of_kind.values() for one in own]
    of_kind["scale"] = (
        [one for one in checked.attributes if one not in taken]
        if scales is None
        else [str(one) for one in scales]
    )
    every = [one for own in of_kind.values() for one in own]
    twice = sorted({one for one in every if every.count(one) > 1})
    if twice:
        raise OptionError("claims.two_kinds", names=twice)
    for name in (name for pair in gaps for name in pair):
        one_of("gaps", name, checked.attributes)
    return of_kind


def _check_named(
    named: Sequence[Named],
    of_kind: Mapping[str, Sequence[str]],
    samples: Sequence[str],
    makers: Sequence[str],
    gaps: Sequence[tuple[str, str]],
) -> None:
    """Refuse a named question that this session cannot have asked."""
    for one in named:
        if one.kind in of_kind:
            one_of("named", one.about, of_kind[one.kind])
        elif one.kind == "majority":
            one_of("named", one.about, of_kind["balance"])
            one_of("named", one.sample, samples)
        elif one.kind == "maker" and not makers:
            raise OptionError("claims.no_maker")
        elif one.kind == "gap" and not gaps:
            raise OptionError("claims.no_gap")
        elif one.kind == "gap" and one.about:
            one_of("named", one.about, [gap_name(*pair) for pair in gaps])


def _questions(
    found: Sequence[Member], shuffled: Shuffled, named: Sequence[Named], weight: float
) -> tuple[list[StatedQuestion], float]:
    """Return the questions that shuffles test, and the overall one's statistic, which is last."""
    questions = []
    inside = []
    for column, number in enumerate(shuffled.tested):
        member, seen = found[number], shuffled.observed[number]
        p = shuffled.p[:, column]
        pairs = None if member.pair is not None else _closed(member, seen)
        questions.append(StatedQuestion(p / member.weight, member.weight, float(p[0]), pairs))
        if member.kind in _IN_OVERALL and member.pair is None:
            inside.append(column)
    if not inside:
        return questions, float("nan")
    statistic = -np.log(np.maximum(shuffled.p[:, inside], 1e-300)).sum(axis=1)
    # What scatters in one bottle comes out in all questions together: the sum must not count it.
    statistic /= np.sqrt(np.maximum(shuffled.widest, 1.0))
    ordered = np.sort(statistic)
    above = len(ordered) - np.searchsorted(ordered, statistic * (1 - 1e-9), side="left")
    p = above / len(ordered)
    own = weight if _overall_named(named) else WEIGHTS["overall"]
    questions.append(StatedQuestion(p / own, own, float(p[0]), None))
    return questions, float(statistic[0])


def _overall_named(named: Sequence[Named]) -> bool:
    return any(one.kind == "overall" for one in named)


def _closed(member: Member, seen: Observed) -> ClosedPairs:
    """Return the pairs of a question, judged as `shuffle` judges the question itself."""
    if by_spread(member, len(seen.columns)):
        return ClosedSpreads(seen.t, seen.pair_variances, len(seen.columns), seen.df)
    return ClosedPairs(seen.t, len(seen.columns), seen.df)


def _majorities(panel: CellTable, balances: Sequence[str], named: Sequence[Named]) -> pd.DataFrame:
    """Count majorities, with a column for what was named."""
    parts = [
        counts_by_side(panel, balance, panel.assessors) for balance in balances if balance in panel
    ]
    made = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=COUNTS)
    chosen = {(one.about, one.sample) for one in named if one.kind == "majority"}
    keys = zip(made["attribute"], made["sample"], strict=True)
    return made.assign(named=np.array([key in chosen for key in keys], dtype=bool))


def _shifts(
    everybody: CellTable,
    of_kind: Mapping[str, Sequence[str]],
    makers: int,
    named: Sequence[Named],
) -> pd.DataFrame:
    """Set the makers, who come first, against the others, with a column for what was named."""
    scaled = [one for one in [*of_kind["scale"], *of_kind["balance"]] if one in everybody]
    made = maker_shifts(
        everybody,
        everybody.assessors[:makers],
        others=everybody.assessors[makers:],
        attributes=scaled,
    )
    about = {one.about for one in named if one.kind == "maker"}
    chosen = ["" in about or one in about for one in made["attribute"]]
    return made.assign(named=np.array(chosen, dtype=bool))


def _effects(
    panel: CellTable,
    factors: pd.DataFrame | None,
    attributes: Sequence[str],
    named: Sequence[Named],
) -> pd.DataFrame:
    """Test what crossed factors do, with the weight of each: more in what was named beforehand."""
    if factors is None:
        return pd.DataFrame(columns=[*EFFECT_COLUMNS, "weight"])
    made = factor_effects(panel, factors, attributes)
    each = EFFECTS_WEIGHT / max(len(crossed_effects(factors)), 1)
    about = [one.about for one in named if one.kind in ("scale", "balance") and not one.pair]
    more = np.where(made["attribute"].isin(about), NAMED_WEIGHTS[max(len(named), 1) - 1], 1.0)
    return made.assign(weight=each * more)


def _with_verdict(
    effects: pd.DataFrame, exact: Sequence[StatedQuestion], scale: float, alpha: float
) -> pd.DataFrame:
    adjusted = np.array([min(one.adjusted * scale, 1.0) for one in exact])
    return effects.assign(p_adjusted=adjusted, claimed=holds(adjusted, alpha))


def _exact(table: pd.DataFrame, weight: float) -> list[StatedQuestion]:
    """Return the named questions of a table that no shuffle answers."""
    return [StatedQuestion(None, weight, float(p), None) for p in table.loc[table["named"], "p"]]


def _adjusted(
    table: pd.DataFrame, exact: Sequence[StatedQuestion], scale: float, alpha: float, rest: float
) -> pd.DataFrame:
    """Write the adjusted p of a family: Holm's, or the step-down's for what was named."""
    adjusted = np.ones(len(table))
    named = table["named"].to_numpy(bool)
    if len(table):
        holm = adjust(table.loc[~named, "p"].to_numpy(float))
        adjusted[~named] = np.minimum(holm * alpha / rest, 1.0)
        adjusted[named] = [min(one.adjusted * scale, 1.0) for one in exact]
    return table.assign(p_adjusted=adjusted, claimed=holds(adjusted, alpha))


def _warnings(shuffled: Shuffled, table: pd.DataFrame) -> tuple[Sentence, ...]:
    said = []
    if shuffled.kind == "rotations":
        said.append(Sentence.of("claims.rotated"))
    left = table.loc[~table["tested"] & table["kind"].isin(MEASURED), "about"].tolist()
    if left:
        said.append(Sentence.of("claims.untested", n=len(left), names=left))
    return tuple(said)
