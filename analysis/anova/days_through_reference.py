"""Days after opening, months in store: what changes, from when on, and until when nothing does.

A kept reference in every evening takes the panel's own drift out: each assessor's score of the
bottle is read as its distance from the reference of the same evening. "Not shown to change" is no
"unchanged": a bottle is called unchanged up to a day only where on that day and all earlier ones
the change is shown to lie within a margin that was stated beforehand. It is about how it tastes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtr, stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.p_values import holds
from ..core.ratings_matrix import Floats, rounding_variance
from ..core.readable import Column, readable, written
from ..core.result import Result, each_row
from ..core.tidy_table import Tidy, as_tidy
from ..core.wording import short, stated_percent
from ..core.words import Sentence

UNCHANGED_SHARE = 0.5
"""Share of the risk for what is called unchanged; the rest is for what is said to change."""
FEWEST = 3
"""Assessors of an evening, or of both of two, without whom a change is not estimated."""
POWER = 0.8
"""Chance of showing a bottle unchanged that is, for which assessors needed are counted."""
LEVEL = 0.95
"""Level of the limits of each change alone."""
_CHANGES = (
    Column("days.col_attribute", "attribute"),
    Column("days.col_series", "series"),
    Column("days.col_time", "time", form="g"),
    Column("days.col_change", "change", "low", "high", "+.2f"),
    Column("days.col_near", "near"),
    Column("days.col_drift", "drift", form="+.2f"),
    Column("days.col_n", "n"),
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ChangeOverDays(Result):
    """Changes of bottles since the first day of their series, the panel's drift taken out.

    Attributes
    ----------
    unit : {'days', 'months'}
    reference : str
        "" where all days of every series were tasted in one session.
    alpha : float
        Chance of any false sentence.
    changes : DataFrame
        One row an attribute, series and later time: ``attribute, series, first, time, n, change,
        se, df, low, high, near_low, near_high, within, p, told, drift, margin, needed``. ``low``
        and ``high`` are 95 % limits of this change alone; ``near_low`` and ``near_high`` those that
        decide whether it lies ``within`` the margin; ``p`` is two-sided, ``told`` whether it and
        all later times are claimed; ``drift`` how far the reference's own scores moved;
        ``needed`` how many assessors would show a bottle within that did not change.
    series : DataFrame
        ``series, first, until, worst``: the last time up to which everything asked lies within its
        margin, nan if none; the attribute that lacks most at the next time, "" if none.
    refused : tuple of Sentence
    """

    unit: str
    reference: str
    alpha: float
    changes: pd.DataFrame
    series: pd.DataFrame
    refused: tuple[Sentence, ...]
    method: str = (
        "assessors' own distances from the reference; two one-sided t tests in order of days"
    )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say until when nothing changed, what changes from when on, and what it rests on."""
        said = each_row(self.series, self._with_alone)
        said += tuple(
            self._from(own)
            for _, own in self.changes[self.changes["told"]].groupby(
                ["series", "attribute"], sort=False
            )
        )
        said += self._deciding()
        if self.reference:
            said += (Sentence.of("days.rests", reference=self.reference),)
        return (*said, Sentence.of("days.not_safety"), *self.refused)

    def _time(self, value: float) -> Sentence:
        return Sentence.of(f"days.at_{self.unit}", n=f"{value:g}")

    def _deciding(self) -> tuple[Sentence, ...]:
        """Say by which limits it is judged, where they are wider than those of the table."""
        n, risk = self.changes["series"].nunique(), self.alpha * UNCHANGED_SHARE
        level = 1 - 2 * risk / n
        if level <= LEVEL + 1e-9:
            return ()
        values = {"level": stated_percent(round(level, 4)), "risk": stated_percent(risk), "n": n}
        return (Sentence.of("days.deciding", **values),)

    def _with_alone(self, row: Any) -> Sentence:
        """Add which changes are clear of 0 each for itself and not told."""
        said = self._until(row)
        own = self.changes[(self.changes["series"] == row.series) & ~self.changes["told"]]
        alone = own[(own["low"] > 0) | (own["high"] < 0)]
        if alone.empty:
            return said
        items = [
            Sentence.of(
                "days.alone_item", attribute=one["attribute"], time=self._time(one["time"]),
                **{end: written(one[end], "+.2f") for end in ("change", "low", "high")}
            )
            for one in alone.to_dict("records")
        ]  # fmt: skip
        asked = len(self.changes[["series", "attribute"]].drop_duplicates())
        return Sentence.of("days.alone", said=said, items=items, asked=asked)

    def _until(self, row: Any) -> Sentence:
        own = self.changes[self.changes["series"] == row.series]
        margins = sorted(set(own["margin"]))
        values = {
            "series": row.series,
            "first": self._time(row.first),
            "margin": [f"{one:g}" for one in margins],
            "n": own["attribute"].nunique(),
            "risk": stated_percent(self.alpha * UNCHANGED_SHARE),
        }
        if not math.isnan(row.until):
            return Sentence.of("days.until", until=self._time(row.until), **values)
        next_ = own[(own["attribute"] == row.worst) & (own["time"] == own["time"].min())].iloc[0]
        more = next_["needed"] > next_["n"] and next_["low"] <= 0 <= next_["high"]
        key = "days.until_none_needed" if more else "days.until_none"
        tail = Sentence.of("days.tail_told" if own["told"].any() else "days.tail_open")
        values |= {"next": self._time(next_["time"]), "tail": tail}
        values |= {end: written(next_[f"near_{end}"], "+.2f") for end in ("low", "high")}
        values |= {"needed": int(next_["needed"]), "power": stated_percent(POWER)}
        return Sentence.of(key, worst=row.worst, **values)

    def _from(self, own: pd.DataFrame) -> Sentence:
        first, last = own.iloc[0], own.iloc[-1]
        up = last["change"] > 0
        ends = (last["low"], last["high"]) if up else (-last["high"], -last["low"])
        return Sentence.of(
            "days.up" if up else "days.down",
            attribute=last["attribute"],
            series=last["series"],
            time=self._time(first["time"]),
            last=self._time(last["time"]),
            first=self._time(last["first"]),
            by=short(abs(last["change"])),
            low=short(ends[0]),
            high=short(ends[1]),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the changes as people read them."""
        ends = zip(self.changes["near_low"], self.changes["near_high"], strict=True)
        near = [
            Sentence.of("days.ends", low=written(low, "+.2f"), high=written(high, "+.2f"))
            for low, high in ends
        ]
        shown = self.changes.assign(near=pd.Series(near, index=self.changes.index, dtype=object))
        return {"days.changes": readable(shown, _CHANGES)}


def change_over_days(
    table: Tidy | pd.DataFrame,
    times: pd.DataFrame,
    *,
    margin: float | Mapping[str, float],
    reference: str | None = None,
    unit: str = "days",
    attributes: Sequence[str] | None = None,
    alpha: float = 0.05,
) -> ChangeOverDays:
    """Follow bottles over days after opening, or months in store.

    Parameters
    ----------
    table : Tidy or DataFrame
        Tidy rows, with ``session`` where there were several evenings.
    times : DataFrame
        ``session, sample, series, time``: which series a sample of a session belongs to, and its
        day or month, 0 or more. The reference is not among them.
    margin : float or mapping of str to float
        The change that would matter, in scale points above 0; by attribute, or one for all. State
        it before looking at the scores.
    reference : str, optional
        The bottle that was the same in every evening. Without it only days that were tasted in
        one session are compared.
    unit : {'days', 'months'}
        What `times` counts; for the sentences.
    attributes : sequence of str, optional
        All by default.
    alpha : float
        Chance of any false sentence, shared by what is called unchanged and what is said to change.

    Returns
    -------
    ChangeOverDays

    Raises
    ------
    OptionError
        If a margin is not above 0 or lacks, a time is below 0, or the reference is unknown.
    NotEstimable
        If no series has two times that can be compared.

    Notes
    -----
    A change is the mean over assessors of their own differences (paired t; with different
    assessors Welch's). Unchanged: two one-sided tests on each day in order, stopped at the first
    that fails, so that each series errs with its level whatever the number of days; all attributes
    must pass (Berger 1982, Technometrics 24:295-300), so their number costs no error. Said to
    change: days from the last one back, stopped at the first that is not clear (fixed sequence;
    Maurer, Hothorn & Lehmacher 1995), at a level shared by series and attributes.

    Examples
    --------
    >>> rows = [(day, who, what, 5 + 0.1 * i + (what == "clear") * (0.05 * i - 2 * (day == 10)))
    ...         for day in (1, 10) for i, who in enumerate("ABCDEF") for what in ("clear", "house")]
    >>> scores = pd.DataFrame(rows, columns=["session", "assessor", "sample", "score"])
    >>> scores["session"] = scores["session"].astype(str)
    >>> days = pd.DataFrame({"session": ["1", "10"], "sample": "clear", "series": "clear",
    ...                      "time": [1, 10]})
    >>> found = change_over_days(scores, days, margin=1.0, reference="house")
    >>> print(found.sentences()[1])
    clear: score goes down from day 10 on; on day 10 it is 2.00 points lower than on day 1 \
(95 % interval 1.97 to 2.03).
    """
    share_of("alpha", alpha)
    checked = as_tidy(table)
    wanted = list(attributes) if attributes is not None else checked.attributes
    margins = _margins(margin, wanted)
    if reference is not None and reference not in checked.samples:
        raise OptionError("anova.no_sample", sample=reference, samples=checked.samples)
    if len(times) and float(times["time"].min()) < 0:
        raise OptionError("days.negative")
    own, refused = _distances(checked.data, times, reference, wanted)
    keys = ["series", "attribute", "assessor"]
    wide, held = (
        own.pivot_table(index=keys, columns="time", values=one) for one in ("distance", "held")
    )
    steps = {name: rounding_variance(checked.of(name)["score"].to_numpy(float)) for name in wanted}
    own["share"] = own["cups"] / own["size"]
    parts = own[keys[:2]].drop_duplicates()
    found = []
    for part in parts.itertuples():
        series, attribute = str(part.series), str(part.attribute)
        rows = (wide.index.get_level_values(0) == series) & (
            wide.index.get_level_values(1) == attribute
        )
        floor = 2 * steps[attribute] * float(own.loc[own["attribute"] == attribute, "share"].mean())
        found += [
            {"attribute": attribute, "series": series, "margin": margins[attribute]} | one
            for one in _changes(wide[rows], held[rows], floor)
        ]
    if not found:
        raise NotEstimable("days.nothing", refused=list(refused))
    changes = pd.DataFrame(found)
    n_series = changes["series"].nunique()
    near = alpha * UNCHANGED_SHARE / n_series
    asked = changes[["series", "attribute"]].drop_duplicates()
    _judge(changes, near, alpha * (1 - UNCHANGED_SHARE) / len(asked))
    return ChangeOverDays(
        unit=unit,
        reference=reference or "",
        alpha=alpha,
        changes=changes,
        series=_until(changes, len(wanted)),
        refused=tuple(refused),
    )


def _margins(margin: float | Mapping[str, float], attributes: Sequence[str]) -> dict[str, float]:
    given = margin if isinstance(margin, Mapping) else dict.fromkeys(attributes, margin)
    without = [name for name in attributes if name not in given]
    if without:
        raise OptionError("days.no_margin", names=without)
    for name in attributes:
        at_least("margin", given[name], strictly=True)
    return {name: float(given[name]) for name in attributes}


def _distances(
    data: pd.DataFrame, times: pd.DataFrame, reference: str | None, wanted: Sequence[str]
) -> tuple[pd.DataFrame, list[Sentence]]:
    """Return each assessor's distance from the reference, one row a cell; and what is left out.

    Where all times of a series were tasted in one session, the panel cannot have drifted between
    them, and the reference is not needed.
    """
    by = ["session", "assessor", "sample", "attribute"]
    rows = data[data["attribute"].isin(list(wanted))]
    rows = rows.assign(**{name: rows[name].astype(str) for name in by})
    cells = rows.groupby(by, sort=False)["score"].agg(["mean", "size"]).reset_index()
    known = times.assign(session=times["session"].astype(str), sample=times["sample"].astype(str))
    own = cells.merge(known[["session", "sample", "series", "time"]], on=["session", "sample"])
    held = cells[cells["sample"] == reference]
    held = held[["session", "assessor", "attribute", "mean"]].rename(columns={"mean": "held"})
    own = own.merge(held, on=["session", "assessor", "attribute"], how="left")
    one_evening = own.groupby("series")["session"].transform("nunique") == 1
    own.loc[one_evening, "held"] = 0.0
    lost = sorted(
        set(own.loc[own["held"].isna(), "session"]) - set(own["session"][own["held"].notna()])
    )
    refused = [Sentence.of("days.no_reference", session=name) for name in lost]
    own = own.dropna(subset=["held"])
    return own.assign(
        distance=own["mean"] - own["held"], cups=np.where(one_evening.loc[own.index], 1, 2)
    ), refused


def _changes(wide: pd.DataFrame, held: pd.DataFrame, floor: float) -> list[dict[str, Any]]:
    """Estimate the changes of one attribute of one series since its first time.

    `wide` has a row an assessor and a column a time; `floor` is the least variance of a change.
    """
    order = [one for one in sorted(wide.columns) if wide[one].notna().any()]
    made = []
    for time in order[1:]:
        before, after = (wide[one].dropna().to_numpy(float) for one in (order[0], time))
        paired = (wide[time] - wide[order[0]]).dropna().to_numpy(float)
        if len(paired) >= FEWEST:
            estimate, se, df, n = _mean(paired, floor)
        elif min(len(before), len(after)) >= FEWEST:
            (one, se_one, *_), (two, se_two, *_) = (_mean(x, floor / 2) for x in (before, after))
            estimate, se = two - one, math.hypot(se_one, se_two)
            parts = se_one**4 / (len(before) - 1) + se_two**4 / (len(after) - 1)
            df, n = se**4 / parts, min(len(before), len(after))
        else:
            continue
        half = float(stdtrit(df, (1 + LEVEL) / 2)) * se
        drift = held[time].mean() - held[order[0]].mean()
        made.append(
            {"first": order[0], "time": time, "n": n, "change": estimate, "se": se, "df": df,
             "low": estimate - half, "high": estimate + half, "drift": float(drift)}
        )  # fmt: skip
    return made


def _mean(values: Floats, floor: float) -> tuple[float, float, float, int]:
    n = len(values)
    spread = max(float(values.var(ddof=1)), floor, 1e-12)
    return float(values.mean()), math.sqrt(spread / n), n - 1.0, n


def _judge(changes: pd.DataFrame, near: float, change: float) -> None:
    """Write what lies within the margin, and what is told to change, into the table."""
    half = stdtrit(changes["df"], 1 - near) * changes["se"]
    changes["near_low"], changes["near_high"] = changes["change"] - half, changes["change"] + half
    t = (changes["change"].abs() - changes["margin"]) / changes["se"]
    changes["within"] = holds(stdtr(changes["df"], t), near)
    changes["p"] = 2 * stdtr(changes["df"], -changes["change"].abs() / changes["se"])
    changes["told"] = False
    for _, own in changes.groupby(["series", "attribute"], sort=False):
        side = np.sign(own["change"].iloc[-1])
        for at in own.index[::-1]:
            row = changes.loc[at]
            if not holds(row["p"], change) or np.sign(row["change"]) != side:
                break
            changes.loc[at, "told"] = True
    reach = float(ndtri(1 - near) + ndtri((1 + POWER) / 2))
    sd = changes["se"] * np.sqrt(changes["n"])
    changes["needed"] = np.ceil((reach * sd / changes["margin"]) ** 2).astype(int)


def _until(changes: pd.DataFrame, attributes: int) -> pd.DataFrame:
    """Return the last time of each series up to which everything lies within its margin."""
    rows = []
    for series, own in changes.groupby("series", sort=False):
        until, worst = float("nan"), ""
        for _, here in own.groupby("time"):
            if not here["within"].all() or len(here) < attributes:
                lack = here["near_high"].clip(lower=-here["near_low"]) / here["margin"]
                worst = str(here["attribute"].iloc[int(np.argmax(lack.to_numpy()))])
                break
            until = float(here["time"].iloc[0])
        rows.append(
            {"series": series, "first": own["first"].iloc[0], "until": until, "worst": worst}
        )
    return pd.DataFrame(rows)
