"""Year on year: did the sake change, once the panel's drift is taken out?

A bottle that was kept and served again in both years tells how far the panel moved. Each
session is a fixed effect, so bottles of two years are compared only through what stood beside
them in both; without such a bottle the question has no answer in the scores.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.readable import Column, readable
from ..core.result import Result
from ..core.tidy_table import Tidy, as_tidy
from ..core.wording import alike, stated_percent
from ..core.words import Sentence
from ..inference.adjusted_p import adjust
from .one_attribute import AttributeAnova
from .whole_table import anova

_YEAR = Column("years.col_year", "year")
_BEFORE = Column("years.col_before", "before")
_YEARS = (
    _YEAR,
    _BEFORE,
    Column("years.col_sessions", "sessions"),
    Column("years.col_bottles", "bottles"),
    Column("years.col_bottles_before", "bottles_before"),
)
_DIFFERENCES = (
    Column("years.col_attribute", "attribute"),
    _YEAR,
    _BEFORE,
    Column("years.col_difference", "difference", "low", "high", "+.2f"),
    Column("years.col_p", "p_adjusted", form="p"),
    Column("years.col_raw", "raw", form="+.2f"),
    Column("years.col_drift", "drift", form="+.2f"),
)
_TERMS = ("assessor", "assessor:sample", "assessor:session", "sample:session")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class YearOnYear(Result):
    """Years compared, the panel's drift taken out by a bottle served in both.

    Attributes
    ----------
    reference : str
        The bottle that was kept.
    level : float
    years : DataFrame
        ``year, before, sessions, bottles, bottles_before``.
    differences : DataFrame
        One row an attribute and pair of years: ``attribute, year, before, difference, se, df,
        low, high, p, p_adjusted, raw, drift, claimed``: the year's own bottles less those of
        the year before, on average; `raw` is that without the reference, `drift` how far the
        reference itself moved. p is adjusted over all rows (Holm).
    refused : tuple of Sentence
        What could not be compared, and why.
    """

    reference: str
    level: float
    years: pd.DataFrame
    differences: pd.DataFrame
    refused: tuple[Sentence, ...]
    method: str = "mixed model, sessions fixed, contrast of bottles through the kept one"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what changed between years, what could not be told, and what it rests on."""
        said = []
        rest = []
        for row in self.differences.to_dict("records"):
            size, low, high = alike([row["difference"], row["low"], row["high"]])
            raw, drift = alike([row["raw"], row["drift"]])
            if row["claimed"]:
                up = row["difference"] > 0
                ends = (low, high) if up else (high.lstrip("-"), low.lstrip("-"))
                said.append(
                    Sentence.of(
                        "years.higher" if up else "years.lower",
                        attribute=row["attribute"],
                        year=row["year"],
                        before=row["before"],
                        size=size.lstrip("-"),
                        from_=ends[0],
                        to=ends[1],
                        level=stated_percent(self.level),
                        reference=self.reference,
                        raw=raw,
                        drift=drift,
                    )
                )
            else:
                values = {"attribute": row["attribute"], "year": row["year"]}
                rest.append(Sentence.of("years.between", **values, from_=low, to=high))
        if rest:
            level = stated_percent(self.level)
            said.append(Sentence.of("years.not_told", listed=rest, level=level))
        if len(self.differences):
            said.append(Sentence.of("years.rests", reference=self.reference))
        return (*said, *self.refused)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the years and their differences as people read them."""
        return {
            "years.years": readable(self.years, _YEARS),
            "years.differences": readable(self.differences, _DIFFERENCES),
        }


def year_on_year(
    table: Tidy | pd.DataFrame,
    years: Mapping[str, str],
    reference: str,
    *,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
) -> YearOnYear:
    """Compare each year's own bottles with those of the year before.

    Parameters
    ----------
    table : Tidy or DataFrame
        Tidy rows with ``session``; `sample` names the same bottle in every session.
    years : mapping of str to str
        Year of each session; years follow each other as sorted.
    reference : str
        The bottle that was kept unchanged and served in both years.
    attributes : sequence of str, optional
        All by default.
    level : float
        Of limits and claims.

    Returns
    -------
    YearOnYear

    Raises
    ------
    OptionError
        If a session has no year, or the reference is not in the table.
    NotEstimable
        If there is one year only, or no pair of years in which the reference stood in both.

    Notes
    -----
    Only the reference ties the years together: other bottles served in both may have aged, and
    stand for none of them. Fixed: samples and sessions; random: assessor, assessor x sample,
    assessor x session, and sample x session where bottles besides the reference were served
    again (otherwise it cannot be told, and a warning says so). Satterthwaite's degrees of freedom.

    Examples
    --------
    >>> rows = [(session, who, what, score + 0.1 * (who == "B") * (what == "new"))
    ...         for session, own in (("2025", (("house", 5.0), ("old", 6.0))),
    ...                              ("2026", (("house", 6.0), ("new", 8.0))))
    ...         for who in "ABCD" for what, score in own]
    >>> scores = pd.DataFrame(rows, columns=["session", "assessor", "sample", "score"])
    >>> scores["score"] += [0.2, -0.1, 0.1, 0.0] * 4
    >>> found = year_on_year(scores, {"2025": "2025", "2026": "2026"}, "house")
    >>> round(float(found.differences["difference"].iloc[0]), 1)
    1.0
    """
    share_of("level", level)
    checked = as_tidy(table)
    data = checked.data
    sessions = [str(name) for name in data["session"].unique()]
    unknown = [name for name in sessions if name not in years]
    if unknown:
        raise OptionError("years.no_year", sessions=unknown)
    if reference not in checked.samples:
        raise OptionError("anova.no_sample", sample=reference, samples=checked.samples)
    wanted = list(attributes) if attributes is not None else checked.attributes
    year_of = data["session"].astype(str).map(dict(years))
    order = sorted(set(year_of))
    if len(order) < 2:
        raise NotEstimable("years.one_year", year=order[0])
    rows, told, refused = [], [], []
    unknown_change = False
    for before, year in pairwise(order):
        part = Tidy(data=data[year_of.isin([before, year])], dropped=checked.dropped.iloc[:0])
        own = _own_bottles(part.data, year_of, before, year, reference)
        if own is None:
            refused.append(
                Sentence.of("years.no_reference", reference=reference, before=before, year=year)
            )
            continue
        if not all(own):
            refused.append(Sentence.of("years.no_bottles", before=before, year=year))
            continue
        part = _apart(part, year_of, reference)
        told.append(
            {
                "year": year,
                "before": before,
                "sessions": part.data["session"].nunique(),
                "bottles": len(own[1]),
                "bottles_before": len(own[0]),
            }
        )
        fits = _Fits(part)
        fits.add(wanted)
        refused += fits.refused
        for attribute, (found, changes) in fits.found.items():
            unknown_change |= not changes
            simple = _simple(part.of(attribute), year_of, own, reference, (before, year))
            try:
                row = _difference(found, own)
            except NotEstimable as fault:
                refused.append(fault.sentence)
                continue
            names = {"attribute": attribute, "year": year, "before": before}
            rows.append(names | row | dict(zip(("raw", "drift"), simple, strict=True)))
    if not rows:
        first = refused[0]
        raise NotEstimable(first.key, **dict(first.values))
    differences = pd.DataFrame(rows)
    differences.insert(9, "p_adjusted", adjust(differences["p"].to_numpy(), "holm"))
    differences["claimed"] = holds(differences["p_adjusted"], 1 - level)
    warnings = []
    if unknown_change:
        warnings.append(Sentence.of("years.unknown_change", reference=reference))
    return YearOnYear(
        reference=reference,
        level=level,
        years=pd.DataFrame(told),
        differences=differences,
        refused=tuple(refused),
        warnings=tuple(warnings),
    )


def _own_bottles(
    data: pd.DataFrame, year_of: pd.Series, before: str, year: str, reference: str
) -> tuple[list[str], list[str]] | None:
    """Return the bottles of one year only, before and after; None if the reference lacks in one."""
    served = {
        label: set(data.loc[year_of.loc[data.index] == label, "sample"].astype(str))
        for label in (before, year)
    }
    if not all(reference in bottles for bottles in served.values()):
        return None
    return sorted(served[before] - served[year]), sorted(served[year] - served[before])


def _apart(table: Tidy, year_of: pd.Series, reference: str) -> Tidy:
    """Let other bottles served in both years tie nothing together: they may have aged."""
    data = table.data
    label = year_of.loc[data.index]
    sample = data["sample"].astype(str)
    kept = (sample != reference) & (label.groupby(sample).transform("nunique") > 1)
    renamed = sample.where(~kept, sample + " [" + label.astype(str) + "]")
    return Tidy(data=data.assign(sample=renamed), dropped=table.dropped)


class _Fits:
    """Fits of all attributes with sessions fixed, each with the random terms that it allows."""

    def __init__(self, table: Tidy) -> None:
        self.table = table
        self.found: dict[str, tuple[AttributeAnova, bool]] = {}
        self.refused: list[Sentence] = []

    def add(self, attributes: Sequence[str]) -> None:
        """Fit attributes, those together that can tell sample x session from the rest."""
        groups: dict[bool, list[str]] = {}
        for attribute in attributes:
            pairs = self.table.of(attribute)[["sample", "session"]].astype(str).drop_duplicates()
            sides = pairs["sample"].nunique() + pairs["session"].nunique() - 1
            groups.setdefault(len(pairs) > sides, []).append(attribute)
        for changes, names in groups.items():
            self._fit(names, _TERMS if changes else _TERMS[:-1])

    def _fit(self, attributes: list[str], terms: tuple[str, ...]) -> None:
        try:
            found = anova(self.table, attributes=attributes, sessions="fixed", random=terms)
        except (OptionError, NotEstimable) as fault:
            if len(attributes) > 1:
                for attribute in attributes:
                    self._fit([attribute], terms)
            else:
                self._with_less(attributes[0], terms, fault.sentence)
            return
        for attribute, one in found.attributes.items():
            self.found[attribute] = (one, "sample:session" in terms)
        for attribute, why in found.refused.items():
            self._with_less(attribute, terms, why)

    def _with_less(self, attribute: str, terms: tuple[str, ...], why: Sentence) -> None:
        """Leave out the term that the scores cannot tell from the residual, or refuse."""
        too_much = "assessor:sample" if why.key == "anova.saturated" else None
        term = dict(why.values).get("term", too_much)
        if term in terms and term != "assessor":
            self._fit([attribute], tuple(name for name in terms if name != term))
        else:
            self.refused.append(why)


def _difference(found: AttributeAnova, own: tuple[list[str], list[str]]) -> dict[str, float]:
    """Contrast the mean of one year's bottles with the mean of those of the year before."""
    before, after = ([name for name in names if name in found.samples] for names in own)
    if not (before and after):
        raise NotEstimable("years.no_scores", attribute=found.attribute)
    weights = dict.fromkeys(after, 1 / len(after)) | dict.fromkeys(before, -1 / len(before))
    row = found.contrasts({"years": weights}, adjustment="none").iloc[0]
    return {name: float(row[name]) for name in ("difference", "se", "df", "low", "high", "p")}


def _simple(
    rows: pd.DataFrame,
    year_of: pd.Series,
    own: tuple[list[str], list[str]],
    reference: str,
    labels: tuple[str, str],
) -> tuple[float, float]:
    """Return the same from plain means: of the years' bottles, and of the reference."""
    label = year_of.loc[rows.index]
    sample = rows["sample"].astype(str)

    def mean(names: Sequence[str], year: str) -> float:
        return float(rows.loc[(label == year) & sample.isin(set(names)), "score"].mean())

    before, after = labels
    raw = mean(own[1], after) - mean(own[0], before)
    return raw, mean([reference], after) - mean([reference], before)
