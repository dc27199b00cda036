"""When should an assessor train again? Charts with limits from the panel's own memory.

Two things are followed from session to session: how far an assessor's own cups of one bottle
lie apart, and how far the assessor lies from the others on the bottles, levels taken off. Both
are logs, less the median of the others in the same session: a difficult evening is nobody's
fault. A session is called when it lies beyond what the earlier sessions of this panel let
expect, at one rate for all assessors of a session.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Unpack

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ..core.errors import NotEstimable
from ..core.options import one_of, share_of
from ..core.plotted import chosen, current_axes
from ..core.result import Result, copies
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import fixed, stated_percent
from ..core.words import FALLBACK, Sentence, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MEASURES = ("repeats", "distance")
MEMORY = 3
"""Earlier sessions of an assessor before one is judged."""
MEMORY_DF = 8
"""Degrees of freedom of the panel's memory before anything is judged."""
OTHERS = 3
"""Other assessors in a session that a distance, and a common evening, need."""
CHARTS = 6
"""Charts that one figure holds."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AssessorCharts(Result):
    """Each assessor over the sessions.

    Attributes
    ----------
    chart : DataFrame
        ``measure, assessor, session, points, value, centre, upper, signal``: `points` on the
        scale; `value` its log less the median of the others; `centre` and `upper` from the
        sessions before (nan below `MEMORY`); `signal` is ``beyond`` or empty.
    sessions : list of str
        In their order.
    alpha : float
        Chance, at most, that a steady panel has anybody called in one session.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.
    """

    chart: pd.DataFrame
    sessions: list[str]
    alpha: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the rule, whom it calls in the latest session, and what cannot be said."""
        said = [Sentence.of("charts.rule", rate=stated_percent(self.alpha), n=len(self.sessions))]
        latest = self.chart[self.chart["session"] == self.sessions[-1]]
        judged = latest[np.isfinite(latest["upper"])]
        if not len(judged):
            return (*said, Sentence.of("charts.too_early", n=MEMORY))
        called = judged[judged["signal"] != ""]
        for row in called.to_dict("records"):
            usual = float(np.exp(row["value"] - row["centre"]))
            said.append(Sentence.of(f"charts.retrain_{row['measure']}", assessor=row["assessor"],
                                    session=row["session"], points=fixed(row["points"]),
                                    times=fixed(usual)))  # fmt: skip
        if not len(called):
            n = judged["assessor"].nunique()
            said.append(Sentence.of("charts.nobody", session=self.sessions[-1], n=n))
        early = sorted(set(latest["assessor"]) - set(judged["assessor"]))
        if early:
            said.append(Sentence.of("charts.new", names=early, n=MEMORY))
        return tuple(said)

    def figure(self, assessors: Sequence[str] | None = None, *, language: str = FALLBACK) -> Figure:
        """Draw the charts of some assessors, six at most; by default the first by code.

        Raises
        ------
        NotEstimable
            If nobody of these has a chart.
        """
        from .assessor_charts_figure import draw_assessor_charts

        known = sorted({str(name) for name in self.chart["assessor"]})
        names = [name for name in (assessors or known) if name in known][:CHARTS]
        if not names:
            raise NotEstimable("charts.unknown", found=list(assessors or ()), known=known)
        return draw_assessor_charts(self.chart, names, MEASURES, self.sessions, language=language)

    def plot(
        self,
        ax: Axes | None = None,
        assessor: str | None = None,
        *,
        measure: str = MEASURES[0],
        language: str = FALLBACK,
    ) -> Axes:
        """Draw one assessor's chart of one measure into axes, in the theme that holds there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.
        assessor : str, optional
            May be left out where there is one only.
        measure : str
            One of `MEASURES`.
        language : str

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If there are several assessors and none is named, or one without a chart.
        """
        from .assessor_charts_figure import assessor_chart

        one_of("measure", measure, MEASURES)
        who = chosen("assessor", assessor, self.chart["assessor"].astype(str))
        mine = self.chart[(self.chart["assessor"] == who) & (self.chart["measure"] == measure)]
        ax = ax or current_axes()
        assessor_chart(ax, mine, list(self.sessions), language)
        ax.set_ylabel(say("charts.y", language))
        title = say(f"charts.measure_{measure}", language)
        ax.set_title(say("charts.title", language, assessor=who, measure=title))
        ax.legend()
        return ax

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the charts, by measure, code and session."""
        return copies(**{"charts.heading": self.chart})


def assessor_charts(
    table: Tidy | pd.DataFrame,
    *,
    sessions: Sequence[str] | None = None,
    alpha: float = 0.05,
    **column_names: Unpack[LongColumns],
) -> AssessorCharts:
    """Follow each assessor over sessions, and call who should train again.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores on lines of one scale; attributes with a colon (ticks, faults) are left out.
    sessions : sequence of str, optional
        Their order; sorted by name by default.
    alpha : float
        Chance, at most, that a steady panel has anybody called in one session.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Raises
    ------
    NotEstimable
        With fewer than two sessions, or where neither measure can be had.

    Notes
    -----
    With k earlier sessions of the assessor, their mean m, and s pooled within assessors over all
    earlier sessions (df degrees of freedom), the upper limit is
    ``m + t_{1 - a}(df) s sqrt(1 + 1/k)`` with a = `alpha` over all that are judged in the
    session: the prediction limit of one further normal value (Hahn 1969, from memory).

    References
    ----------
    Hahn (1969), J. Am. Stat. Assoc. 64:878-888.
    """
    share_of("alpha", alpha)
    rows = as_tidy(table, **column_names).data
    rows = rows[~rows["attribute"].astype(str).str.contains(":")]
    order = sorted({str(name) for name in rows["session"]}) if sessions is None else list(sessions)
    order = [name for name in order if name in set(rows["session"].astype(str))]
    if len(order) < 2:
        raise NotEstimable("charts.one_session")
    measured = [
        (measure, who, session, points)
        for session in order
        for measure, found in _of_session(rows[rows["session"].astype(str) == session]).items()
        for who, points in found.items()
    ]
    if not measured:
        raise NotEstimable("charts.nothing")
    columns = ["measure", "assessor", "session", "points"]
    chart = pd.DataFrame(measured, columns=columns)
    chart["value"] = _less_the_others(chart)
    centres, uppers = _limits(chart, order, alpha)
    beyond = np.isfinite(uppers) & (chart["value"].to_numpy(float) > uppers)
    chart = chart.assign(centre=centres, upper=uppers, signal=np.where(beyond, "beyond", ""))
    chart = chart.assign(at=chart["session"].map(order.index))
    chart = chart.sort_values(["measure", "assessor", "at"], ignore_index=True)
    return AssessorCharts(chart=chart.drop(columns="at"), sessions=order, alpha=alpha)


def _of_session(rows: pd.DataFrame) -> dict[str, dict[str, float]]:
    """Measure everybody in one session, in scale points."""
    cells = rows.groupby(["assessor", "attribute", "sample"])["score"]
    spread = cells.agg(["mean", "size", "var"])
    squared = (spread["var"] * (spread["size"] - 1)).fillna(0.0).groupby("assessor").sum()
    df = (spread["size"] - 1).groupby("assessor").sum()
    repeats = np.sqrt(squared[df > 0] / df[df > 0])
    means = spread.reset_index().pivot_table(
        index=["attribute", "sample"], columns="assessor", values="mean"
    )
    away = pd.DataFrame(index=means.index, columns=means.columns, dtype=float)
    for who in means.columns:
        others = means.drop(columns=who)
        away[who] = (means[who] - others.mean(axis=1)).where(others.notna().sum(axis=1) >= OTHERS)
    away = away - away.groupby("attribute").transform("mean")
    distance = np.sqrt((away**2).mean())
    return {
        measure: {str(who): float(value) for who, value in found.items() if value > 0}
        for measure, found in zip(MEASURES, (repeats, distance), strict=True)
    }


def _less_the_others(chart: pd.DataFrame) -> pd.Series:
    """Return logs less the median of the others in the session; nan with too few others."""
    logs = np.log(chart["points"])
    values = pd.Series(np.nan, chart.index)
    for at in chart.groupby(["measure", "session"]).groups.values():
        own = logs.loc[at]
        for place in at:
            others = own.drop(place)
            if len(others) >= OTHERS:
                values.loc[place] = own.loc[place] - float(others.median())
    return values


def _limits(
    chart: pd.DataFrame, order: Sequence[str], alpha: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return centre and upper limit of every row from the sessions before it."""
    centres, uppers = np.full(len(chart), np.nan), np.full(len(chart), np.nan)
    columns = (chart[name].tolist() for name in ("session", "measure", "assessor", "value"))
    rows = list(zip(range(len(chart)), *columns, strict=True))
    memory: dict[str, dict[str, list[float]]] = {measure: {} for measure in MEASURES}
    for session in order:
        now = [row for row in rows if row[1] == session and np.isfinite(row[4])]
        judged = []
        for measure, past in memory.items():
            df = sum(len(values) - 1 for values in past.values())
            if df < MEMORY_DF:
                continue
            rest = sum(float(np.var(values)) * len(values) for values in past.values())
            for place, _, kind, who, _ in now:
                k = len(past.get(who, ()))
                if kind == measure and k >= MEMORY:
                    error = float(np.sqrt(rest / df * (1 + 1 / k)))
                    judged.append((place, float(np.mean(past[who])), error, df))
        for place, centre, error, df in judged:
            centres[place] = centre
            uppers[place] = centre + float(stdtrit(df, 1 - alpha / len(judged))) * error
        for _, _, measure, who, value in now:
            memory[measure].setdefault(who, []).append(value)
    return centres, uppers
