"""Who needs training in what? Each assessor against the rest of the panel.

`measures` are shown for everybody, with limits; they accuse nobody. A
*finding* is what holds with one stated error rate for the whole panel: of a
hundred clean panels at most that share has anybody named for anything. Hints
are what one would look at again, and may be chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Unpack

import numpy as np
import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import ALPHA, share_of
from ..core.p_values import holds
from ..core.ratings_matrix import complete_block, guess_scale
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.words import Sentence
from .assessor_block import block_of
from .assessor_measures import (
    COLUMNS,
    WHOLE_CARD,
    answers_of,
    cell_means,
    measures,
    panel_measures,
    within,
)
from .assessor_tests import ASPECTS, HINT, Comparison, Verdicts, judge
from .assessors_result import SCALE_KINDS, Assessors

KINDS = (
    "reversed", "guessing", "narrow", "wide", "crossing", "noisy", "drift", "high", "low",
)  # fmt: skip
MOSTLY = 0.5
"""Share of one same answer above which an attribute is no scale to judge assessors by."""
ASKED = 0.7
"""Share of the fullest attribute's answers from which one counts on the whole card."""
FEWEST = 3
"""Assessors, and samples, among whom somebody can be told from the rest."""
FEW = 6
"""Assessors below which it is said that it is hard to tell who is off."""
MOST = 0.75
"""Share of the attributes that must go the same way before the whole card is spoken of."""
FOLLOWS = 0.5
"""Slope from which an attribute is nearer to following the panel than to no sign of it."""
_FINDINGS = ["assessor", "attribute", "finding", "value", "low", "high", "p", "shown"]


def assessors(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    alpha: float = 0.05,
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> Assessors:
    """Measure every assessor and tell who differs from the rest, and in what.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores of one panel; with replicates repeatability and discrimination
        can be judged, with serving positions drift.
    attributes : sequence of str, optional
        By default all scored on a line or in steps; ticks, and attributes
        whose answers are mostly the same number, are left out and listed.
    alpha : float
        Chance, at most, that anybody of a clean panel is named (0 to 1).
    level : float
        Confidence level of the limits of the measures.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Assessors

    Raises
    ------
    NotEstimable
        For one assessor, or when no attribute is scored on a scale.
    OptionError
        For an attribute that the table does not have.

    Notes
    -----
    Scale use is Mandel's slope of the assessor's sample means on the panel's;
    crossing is what deviates from that line. Each is an exact F test against
    the interaction of the *other* assessors; repeatability an F ratio of
    replicate variances; level a t test against the spread of the others'
    levels; drift a t test of the change over the serving order. Over the whole
    card the correlation between attributes is allowed for. Who is found leaves
    the reference of the others, and the comparison is made again.

    An empty cell is filled with what the additive model of assessor and sample
    expects (the fixed point of EM) and its degree of freedom taken off, so that
    a blank drops nobody; who has more than a third of the cells empty is
    measured, but not compared. In 300 clean panels each of 8 x 6 x 2 with 0, 2
    and 25 % of the answers missing somebody was named in 3.7, 4.0 and 2.7 %.

    A slope is named by its own limits: below 0 reversed, holding 0 guessing
    (no sign of following the samples), between 0 and 1 narrow, above 1 wide.

    References
    ----------
    .. [1] ISO 11132 (2012, 2021) and ISO 8586: definitions, from memory.
    .. [2] Mandel (1961), J. Am. Stat. Assoc. 56, 878-888.

    Examples
    --------
    >>> rng = np.random.default_rng(7)
    >>> rows = [
    ...     (who, bottle, repeat, 5 + way * (bottle - 3) + rng.normal(0, 0.4))
    ...     for who, way in (("P1", 1), ("P2", 1), ("P3", 1), ("P4", -1), ("P5", 1), ("P6", 1))
    ...     for bottle in (1, 2, 3, 4, 5) for repeat in (1, 2)
    ... ]
    >>> scores = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])
    >>> str(assessors(scores).advice("P4")[0])[:67]
    'P4 scores the whole card the other way round (slope -1.30, the pane'
    """
    share_of("alpha", alpha)
    share_of("level", level)
    checked = as_tidy(table, **column_names)
    if len(checked.assessors) < 2:
        raise NotEstimable("assessors.one")
    wanted, left = _chosen(checked, attributes)
    every, rows_of_panel, repeats, placed = [], [], 0, False
    for name in wanted:
        rows = checked.of(name)
        people = sorted(str(x) for x in rows["assessor"].unique())
        things = sorted(str(x) for x in rows["sample"].unique())
        answers = answers_of(rows, people, things)
        every.append(measures(name, answers, people, len(things), level))
        means, counts = cell_means(answers, (len(people), len(things)))
        ss, df = within(answers, means)
        repeats += int(df.sum())
        placed = placed or bool(np.isfinite(answers.position).any())
        keep_i, keep_j = complete_block(means)
        row = {"attribute": name, "n_assessors": keep_i.sum(), "n_samples": keep_j.sum()}
        if min(row["n_assessors"], row["n_samples"]) > 1:
            part = np.ix_(keep_i, keep_j)
            found = panel_measures(means[part], counts[part], ss[keep_i], df[keep_i])
            row |= {
                "replicates": counts[part].mean(),
                "repeatability": found.repeatability,
                "reproducibility": found.reproducibility,
                "homogeneity_f": found.homogeneity_f,
                "homogeneity_p": found.homogeneity_p,
                "sample_f": found.sample_f,
                "sample_p": found.sample_p,
            }
        rows_of_panel.append(row)
    panel = pd.DataFrame(rows_of_panel)
    measured = pd.concat(every, ignore_index=True)[list(COLUMNS)]
    verdicts, compared, used, empty = _compared(checked, wanted, alpha, left)
    notes = _notes(panel, compared, repeats, placed=placed)
    if empty:
        notes = (*notes, Sentence.of("assessors.filled", n=empty))
    return Assessors(
        measures=measured,
        panel=panel,
        findings=_findings(verdicts, compared, used, measured, _telling(panel, used)),
        alpha=alpha,
        p_limits=verdicts.limits if verdicts else (float("nan"), float("nan")),
        n_tests=verdicts.n_tests if verdicts else 0,
        hints_by_chance=HINT * verdicts.n_tests if verdicts else 0.0,
        smallest_scale=verdicts.smallest_scale if verdicts else float("nan"),
        set_apart=[compared[i] for i in sorted(verdicts.apart)] if verdicts else [],
        drift_taken_off=[compared[i] for i in sorted(verdicts.drifting)] if verdicts else [],
        compared=compared if verdicts else [],
        level=level,
        left_out=pd.DataFrame(left, columns=["attribute", "assessor", "sample", "reason"]),
        warnings=notes,
    )


Left = list[tuple[str, str, str, Sentence]]


def _chosen(checked: Tidy, attributes: Sequence[str] | None) -> tuple[list[str], Left]:
    """Choose the attributes that are scored on a scale, with reasons for the others."""
    if attributes is not None:
        for name in attributes:
            if name not in checked.attributes:
                raise OptionError("agreement.no_attribute", found=name, have=checked.attributes)
        return list(attributes), []
    wanted: list[str] = []
    left: Left = []
    for name in checked.attributes:
        scores = checked.of(name)["score"]
        if guess_scale(scores.to_numpy(float)) == "nominal":
            left.append((name, "", "", Sentence.of("assessors.ticks")))
        elif float(scores.value_counts(normalize=True).iloc[0]) > MOSTLY:
            left.append((name, "", "", Sentence.of("assessors.mostly_same")))
        else:
            wanted.append(name)
    if not wanted:
        raise NotEstimable("assessors.no_scale")
    return wanted, left


def _compared(
    checked: Tidy, wanted: list[str], alpha: float, left: Left
) -> tuple[Verdicts | None, list[str], list[str], int]:
    """Run the tests, holes filled; say what was left out, and how many cells were empty."""
    cells = checked.data.drop_duplicates(["attribute", "assessor", "sample"])
    share = cells["attribute"].value_counts().to_dict()
    most = max(share[name] for name in wanted)
    used = [name for name in wanted if share[name] >= ASKED * most]
    left += [(name, "", "", Sentence.of("assessors.sparse")) for name in wanted if name not in used]
    try:
        block, people, things = block_of(checked.data, used)
    except NotEstimable:
        return None, [], used, 0
    for name in checked.assessors:
        if name not in people:
            left.append(("", name, "", Sentence.of("assessors.hole_assessor")))
    for name in checked.samples:
        if name not in things:
            left.append(("", "", name, Sentence.of("assessors.hole_sample")))
    if min(len(people), len(things)) < FEWEST:
        return None, people, used, 0
    return judge(block, alpha), people, used, int((~block.filled).sum())


def _notes(
    panel: pd.DataFrame, compared: list[str], repeats: int, *, placed: bool
) -> tuple[Sentence, ...]:
    notes = []
    if repeats == 0:
        notes.append(Sentence.of("assessors.no_replicates"))
    if not placed:
        notes.append(Sentence.of("assessors.no_positions"))
    if "sample_p" in panel:
        same = panel.loc[~holds(panel["sample_p"], ALPHA), "attribute"].tolist()
        if same:
            notes.append(Sentence.of("assessors.same_samples", attributes=same))
    if len(compared) < FEW:
        notes.append(Sentence.of("assessors.few", n=len(compared)))
    return tuple(notes)


def _telling(panel: pd.DataFrame, used: list[str]) -> set[int]:
    """Return the places of the attributes in which the panel sets samples apart.

    All of them where there is none.
    """
    p = panel.set_index("attribute").get("sample_p", pd.Series(dtype=float)).reindex(used)
    told = {place for place, value in enumerate(p) if holds(value, ALPHA)}
    return told or set(range(len(used)))


def _findings(
    verdicts: Verdicts | None,
    people: list[str],
    used: list[str],
    measured: pd.DataFrame,
    telling: set[int],
) -> pd.DataFrame:
    """Name what the tests show, and what they hint at."""
    rows = []
    if verdicts is not None:
        for who, tests in zip(people, verdicts.tests, strict=True):
            whole: str | None = None
            clearest: Comparison | None = None
            borne: str | None = None
            for place in range(-1, len(used)):
                mine = {test.aspect: test for test in tests if test.attribute == place}
                attribute = WHOLE_CARD if place < 0 else used[place]
                shown = {aspect for aspect, test in mine.items() if verdicts.shown(test)}
                hinted = {aspect for aspect, test in mine.items() if holds(test.p, HINT)} - shown
                by_card = whole
                if clearest is not None and clearest.attribute == place:
                    mine["scale"] = clearest
                    shown.add("scale")
                    by_card = borne if not whole and clearest.high >= 0 else whole
                named = name_findings(mine, shown, by_card)
                if place < 0:
                    whole = next((row[0] for row in named if row[0] in SCALE_KINDS), "")
                hints = name_findings(mine, hinted, whole)
                if place < 0 and whole in _BEARS and not _across(tests, telling, whole):
                    if "scale" in shown:
                        clearest = _clearest(tests, mine["scale"].p, whole)
                        borne = "guessing" if whole == "guessing" else ""
                    others = {aspect: test for aspect, test in mine.items() if aspect != "scale"}
                    explained = {"disagreement"} if clearest is not None else set()
                    named = name_findings(others, shown - explained, "")
                    whole = whole if whole == "reversed" else ""
                if place < 0:
                    hints = [
                        row
                        for row in hints
                        if row[0] not in _BEARS or _across(tests, telling, row[0])
                    ]
                rows += [(who, attribute, *row, True) for row in named]
                known = {row[0] for row in named}
                rows += [(who, attribute, *row, False) for row in hints if row[0] not in known]
    table = pd.DataFrame(rows, columns=_FINDINGS)
    return _in_points(table.astype({"value": float, "low": float, "high": float}), measured)


_BEARS = {
    "reversed": (-np.inf, 0.0),
    "guessing": (-np.inf, FOLLOWS),
    "narrow": (-np.inf, 1.0),
    "wide": (1.0, np.inf),
}
"""Slopes between which an attribute bears what is said of the whole card."""


def _slopes(tests: Sequence[Comparison]) -> list[Comparison]:
    return [test for test in tests if test.aspect == "scale" and test.attribute >= 0]


def _across(tests: Sequence[Comparison], telling: set[int], kind: str) -> bool:
    """Tell whether most attributes bear `kind`: one alone can bend the whole card's slope.

    Where the panel sets no samples apart a slope is scatter and does not count.
    """
    low, high = _BEARS[kind]
    counted = [low < test.value < high for test in _slopes(tests) if test.attribute in telling]
    return float(np.mean(counted or [False])) >= MOST


def _clearest(tests: Sequence[Comparison], p: float, kind: str) -> Comparison | None:
    """Return the slope that bears most clearly what the whole card showed with this p."""
    low, high = _BEARS[kind]
    bearing = [test for test in _slopes(tests) if low < test.value < high]
    found = min(bearing, key=lambda test: test.p, default=None)
    return found._replace(p=min(p, found.p)) if found is not None else None


def name_findings(
    tests: dict[str, Comparison], counts: set[str], whole: str | None = None
) -> list[tuple[str, float, float, float, float]]:
    """Turn the tests that count into findings: kind, value, low, high, p.

    One who guesses also scatters and disagrees, and one who reverses the scale
    disagrees: the word that explains the others replaces them.

    Parameters
    ----------
    tests : dict of aspect to Comparison
        Of one assessor on one attribute, or over the whole card.
    counts : set of str
        Aspects whose test counts.
    whole : str, optional
        For an attribute: what the whole card showed about the scale ("" for nothing);
        None for the whole card itself.
    """
    named = []
    scale = tests.get("scale")
    explained = False
    if scale is not None and counts & {"scale", "repeatability", "disagreement"}:
        stretch = 1.6 if counts & {"repeatability", "disagreement"} else 1.0
        kind = _scale_kind(scale, whole, stretch)
        # who is said to show no sign of following is told the limits that hold 0
        limits = _limits(scale, stretch if kind == "guessing" else 1.0)
        if "scale" in counts and kind is not None:
            named.append((kind, scale.value, *limits, scale.p))
        elif kind == "guessing":
            p = min(tests[aspect].p for aspect in counts if aspect in tests)
            named.append((kind, scale.value, *limits, p))
        explained = kind in ("guessing", "reversed") and bool(named)
    for aspect, kind in (("disagreement", "crossing"), ("repeatability", "noisy")):
        if aspect in counts and not explained:
            named.append((kind, tests[aspect].value, np.nan, np.nan, tests[aspect].p))
    if "drift" in counts:
        named.append(("drift", tests["drift"].value, np.nan, np.nan, tests["drift"].p))
    if "level" in counts:
        test = tests["level"]
        named.append(("high" if test.value > 0 else "low", test.value, np.nan, np.nan, test.p))
    return named


def _scale_kind(test: Comparison, whole: str | None, stretch: float) -> str | None:
    """Name a slope by its own limits; on one attribute None when they hold both 0 and 1.

    Who scatters more than the rest must follow (or reverse) more clearly to be
    named for it: `stretch` widens the 95 % limits to about 99 %.
    """
    if whole == "guessing":
        return "guessing"
    low, high = _limits(test, stretch)
    if high < 0 or (whole == "reversed" and test.value < 0):
        return "reversed"
    if low <= 0:
        return "guessing" if high < 1 or whole is None else None
    if np.isnan(low):
        return None
    return "narrow" if test.value < 1 else "wide"


def _limits(test: Comparison, stretch: float) -> tuple[float, float]:
    """Return the limits of a slope, widened."""
    low = test.value - stretch * (test.value - test.low)
    return low, test.value + stretch * (test.high - test.value)


def _in_points(table: pd.DataFrame, measured: pd.DataFrame) -> pd.DataFrame:
    """Give drift and level in scale points, over the whole card as means of the attributes."""
    for column, kinds in (("drift", ["drift"]), ("bias", ["high", "low"])):
        for at in table.index[table["finding"].isin(kinds)]:
            mine = measured[measured["assessor"] == table.loc[at, "assessor"]]
            if table.loc[at, "attribute"] != WHOLE_CARD:
                mine = mine[mine["attribute"] == table.loc[at, "attribute"]]
            for target, suffix in (("value", ""), ("low", "_low"), ("high", "_high")):
                table.loc[at, target] = float(mine[f"{column}{suffix}"].mean())
    return table


__all__ = ["ASPECTS", "KINDS", "WHOLE_CARD", "Assessors", "assessors", "name_findings"]
