"""Several sessions put together: is it the sake that moved, or the panel?

A reference bottle that stands in every session, unchanged, is the only thing
that tells the two apart. So the panel's drift on the reference is judged
first, and a bottle's change in store is measured against the reference, never
against memory. Time and memory grow linearly with the answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import t as student

from ..anova.followed_samples import followed_samples
from ..core.errors import NotEstimable, OptionError, TableError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.plotted import chosen, current_axes
from ..core.readable import Column, readable
from ..core.result import Result
from ..core.wording import stated_percent
from ..core.words import FALLBACK, Sentence, say
from ..inference.adjusted_p import adjust
from .control_charts import control_chart
from .reference_over_time import drift_of, line_through, reference_fit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]
ENOUGH = 8
"""Sessions below which the limits of a control chart are provisional (common practice)."""
DAYS = 365.25 / 12
CHARTS = 6
_WHAT = Column("history.col_attribute", "attribute")
_TIMES = Column("history.col_sessions", "sessions")
_MONTHS = Column("history.col_months", "months", form=".1f")
_A_MONTH = Column("history.col_per_month", "per_month", "low", "high", "+.2f")
_P = Column("history.col_p", "p_adjusted", form="p")
_SESSIONS = (
    Column("history.col_session", "session"),
    Column("history.col_date", "date"),
    _MONTHS,
    Column("history.col_assessors", "assessors"),
    Column("history.col_samples", "samples"),
    Column("history.col_answers", "answers"),
)
_DRIFT = (_WHAT, _TIMES, Column("history.col_sd", "sd_between"), _A_MONTH, _P,
          Column("history.col_drifts", "drifts"))  # fmt: skip
_FOLLOWED = (
    _WHAT,
    Column("history.col_samples", "samples"),
    _TIMES,
    Column("history.col_lasting", "p_adjusted", form="p"),
    Column("history.col_change_sd", "change_sd"),
    Column("history.col_change", "change_p_adjusted", form="p"),
)
_STORE = (_WHAT, Column("history.col_sample", "sample"), _MONTHS, _A_MONTH, _P,
          Column("history.col_holds", "holds"))  # fmt: skip
"""Control charts that one figure holds."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class History(Result):
    """What several sessions say together.

    Attributes
    ----------
    sessions : DataFrame
        ``session, date, months, assessors, samples, answers``.
    bottles : DataFrame
        ``attribute, sample, batch, sessions, answers, mean, sd``.
    batches : DataFrame
        ``attribute, batch, samples, sessions, mean``: mean of its bottles.
    assessors : DataFrame
        ``attribute, assessor, sessions, answers, shift, shift_low, shift_high``: against
        the mean of the others on the same bottles, sessions as the unit.
    reference : str or None
        The bottle that stands for "unchanged".
    drift : DataFrame
        One row an attribute: ``attribute, sessions, sd_between, f, df_num, df_den,
        p, p_adjusted, per_month, low, high, drifts``.
    chart : DataFrame
        One row an attribute and session: ``attribute, session, date, mean, se,
        centre, lower, upper, run, signal`` (``beyond`` the limits, ``run`` for a
        row of `run` or more on one side of the centre, or empty). Limits and
        run length are chosen so that a steady panel gives any signal, over all
        attributes and sessions, in at most 1 - `level`.
    store : DataFrame
        One row an attribute and bottle seen more than once: ``attribute, sample,
        sessions, months, per_month, low, high, df, p, p_adjusted, holds, raw_per_month``:
        change per month against the reference; `raw_per_month, raw_p` are
        without it. A change `holds` where both show it, the same way: against
        the reference alone the reference itself may have changed.
    followed : DataFrame
        Bottles served again, in one model with sessions random: see `followed_samples`.
    level : float
    """

    sessions: pd.DataFrame
    bottles: pd.DataFrame
    batches: pd.DataFrame
    assessors: pd.DataFrame
    reference: str | None
    drift: pd.DataFrame
    chart: pd.DataFrame
    store: pd.DataFrame
    followed: pd.DataFrame
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the panel did on the reference first, then what bottles did."""
        said = [
            Sentence.of(
                "history.counts",
                sessions=len(self.sessions),
                answers=int(self.sessions["answers"].sum()),
                samples=self.bottles["sample"].nunique(),
                batches=self.bottles["batch"].nunique(),
                assessors=self.assessors["assessor"].nunique(),
            )
        ]
        said += self._followed()
        if self.reference is None:
            said.append(Sentence.of("history.no_reference"))
            return tuple(said)
        moved = self.drift[self.drift["drifts"]]
        key = "history.drifts" if len(moved) else "history.no_drift"
        said.append(
            Sentence.of(
                key,
                reference=self.reference,
                n=len(self.drift),
                listed=[
                    Sentence.of(
                        "history.drift_of",
                        attribute=row["attribute"],
                        sd=row["sd_between"],
                        per_month=row["per_month"],
                        low=row["low"],
                        high=row["high"],
                    )
                    for row in moved.to_dict("records")
                ],
            )
        )
        for kind in ("beyond", "run"):
            signals = self.chart[self.chart["signal"] == kind]
            if kind == "run":
                signals = signals.drop_duplicates("attribute")
            if len(signals):
                pairs = zip(signals["attribute"], signals["session"], strict=True)
                listed = [f"{a} ({s})" for a, s in pairs]
                said.append(
                    Sentence.of(
                        f"history.signals_{kind}",
                        n=len(listed),
                        listed=listed,
                        rate=stated_percent(1 - self.level),
                    )
                )
        if len(self.store):
            held = self.store[self.store["holds"]]
            said.append(Sentence.of("history.tested", n=len(self.store), k=len(held)))
            alone = self.store[
                holds(self.store["p_adjusted"], 1 - self.level) & ~self.store["holds"]
            ]
            if len(alone):
                pairs = zip(alone["sample"], alone["attribute"], strict=True)
                listed = [f"{sample}: {attribute}" for sample, attribute in pairs]
                said.append(
                    Sentence.of(
                        "history.reference_alone",
                        n=len(alone),
                        reference=self.reference,
                        listed=listed,
                    )
                )
            said += [
                Sentence.of(
                    "history.rises" if row["per_month"] > 0 else "history.falls",
                    attribute=row["attribute"],
                    sample=row["sample"],
                    change=abs(row["per_month"]),
                    low=row["low"],
                    high=row["high"],
                    level=stated_percent(self.level),
                    months=row["months"],
                )
                for row in held.head(20).to_dict("records")
            ]
        return tuple(said)

    def _followed(self) -> list[Sentence]:
        """Tell what lasts in sessions in general from what changed between these."""
        if not len(self.followed):
            return []
        said = []
        for kind, p in (("lasts", "p_adjusted"), ("changes", "change_p_adjusted")):
            tested = self.followed[self.followed[p].notna()]
            held = tested[holds(tested[p], 1 - self.level)]
            if len(tested):
                key = f"history.{kind}" if len(held) else f"history.{kind}_not_told"
                said.append(Sentence.of(key, n=len(tested), listed=list(held["attribute"])))
        return said

    def figure(
        self, attributes: Sequence[str] | None = None, *, language: str = FALLBACK
    ) -> Figure:
        """Draw the control chart of the panel on its reference.

        Parameters
        ----------
        attributes : sequence of str, optional
            At most six; by default those with signals, then the others.
        language : str

        Raises
        ------
        NotEstimable
            If there is no reference.
        """
        from .history_figure import draw_control_charts

        if self.reference is None or not len(self.chart):
            raise NotEstimable("history.no_reference")
        order = list(dict.fromkeys(str(name) for name in self.chart["attribute"]))
        loud = set(self.chart.loc[self.chart["signal"] != "", "attribute"])
        worth = sorted(order, key=lambda name: (name not in loud, order.index(name)))
        names = list(attributes or worth)[:CHARTS]
        return draw_control_charts(self.chart, self.reference, names, language=language)

    def plot(
        self, ax: Axes | None = None, attribute: str | None = None, *, language: str = FALLBACK
    ) -> Axes:
        """Draw the control chart of one attribute into axes, in the theme that holds there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.
        attribute : str, optional
            May be left out where there is one only.
        language : str

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        NotEstimable
            If there is no reference.
        OptionError
            If there are several attributes and none is named, or it has no chart.
        """
        from .history_figure import chart_of_panel

        if self.reference is None or not len(self.chart):
            raise NotEstimable("history.no_reference")
        name = chosen("attribute", attribute, self.chart["attribute"])
        ax = ax or current_axes()
        own = self.chart[self.chart["attribute"] == name].reset_index(drop=True)
        chart_of_panel(ax, own, language)
        ax.set_xlabel(say("history.chart_x", language))
        ax.set_ylabel(say("history.chart_y", language))
        ax.set_title(say("history.chart_title", language, attribute=name, reference=self.reference))
        ax.legend()
        return ax

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return short tables as people read them; all columns stand in the fields."""
        shown = {"history.sessions": readable(self.sessions.tail(30), _SESSIONS)}
        if self.reference is not None and len(self.drift):
            shown["history.drift_heading"] = readable(self.drift, _DRIFT)
        if len(self.followed):
            shown["history.followed_heading"] = readable(self.followed, _FOLLOWED)
        if len(self.store):
            shown["history.store_heading"] = readable(self.store.head(40), _STORE)
        return shown


def history(
    scores: pd.DataFrame,
    sessions: pd.DataFrame,
    bottles: pd.DataFrame,
    *,
    reference: str | None = None,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
    followed: bool = True,
) -> History:
    """Put sessions together by bottle, batch and assessor.

    Parameters
    ----------
    scores : DataFrame
        Tidy rows; `sample` names the same bottle in every session.
    sessions : DataFrame
        ``session, date``.
    bottles : DataFrame
        ``sample, batch``.
    reference : str, optional
        The bottle that is served again and again unchanged; by default the one
        seen in most sessions, if in at least two and alone in that.
    attributes : sequence of str, optional
        All by default.
    level : float
        Of intervals and claims.
    followed : bool
        Whether bottles that were served again are put into one model with sessions random.

    Raises
    ------
    TableError
        If a session has no date or a column is missing.
    OptionError
        For a reference that stands in fewer than two sessions.
    """
    share_of("level", level)
    dated = _dated(scores, sessions)
    cells = _cells(scores, attributes)
    known = bottles.drop_duplicates("sample").set_index("sample")["batch"].astype(str)
    seen = cells.groupby("sample", observed=True)["session"].nunique()
    chosen = _reference(seen, reference)
    months = dated.set_index("session")["months"]
    warnings = []
    drift, chart, store = _nothing(), _nothing(), _nothing()
    if chosen is not None:
        own = cells[cells["sample"] == chosen]
        fits = {
            str(name): reference_fit(rows)
            for name, rows in own.groupby("attribute", observed=True, sort=False)
            if len(set(rows["session"])) > 1
        }
        drift = drift_of(fits, months, level)
        chart = control_chart(fits, dated, level)
        store = _store(cells, chosen, seen, months, level)
        if len(dated) < ENOUGH:
            warnings.append(Sentence.of("history.provisional", n=len(dated), enough=ENOUGH))
        absent = sorted(set(dated["session"]) - set(own["session"].astype(str)))
        if absent:
            warnings.append(
                Sentence.of("history.absent", reference=chosen, n=len(absent), listed=absent[:8])
            )
    elif (seen > 1).any():
        warnings.append(Sentence.of("history.not_separable"))
    by_bottle = _by_bottle(cells, known)
    return History(
        sessions=_counted(dated, cells),
        bottles=by_bottle,
        batches=_by_batch(by_bottle),
        assessors=_by_assessor(cells, level),
        reference=chosen,
        drift=drift,
        chart=chart,
        store=store,
        followed=followed_samples(cells, list(dated["session"])) if followed else _nothing(),
        level=level,
        warnings=tuple(warnings),
    )


def _nothing() -> pd.DataFrame:
    return pd.DataFrame()


def _dated(scores: pd.DataFrame, sessions: pd.DataFrame) -> pd.DataFrame:
    """Return the sessions in order of their date, with months since the first."""
    have = [str(name) for name in sessions.columns]
    missing = [name for name in ("session", "date") if name not in sessions]
    if missing:
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in missing)
        )
    table = sessions[["session", "date"]].copy()
    table["session"] = table["session"].astype(str)
    table["date"] = pd.to_datetime(table["date"], errors="coerce")
    undated = [str(name) for name in table.loc[table["date"].isna(), "session"]]
    undated += sorted(set(scores["session"].astype(str).unique()) - set(table["session"]))
    if undated:
        raise TableError((Sentence.of("history.undated", listed=undated[:20]),))
    table = table.sort_values(["date", "session"], ignore_index=True)
    table["months"] = (table["date"] - table["date"].iloc[0]).dt.days / DAYS
    return table


def _cells(scores: pd.DataFrame, attributes: Sequence[str] | None) -> pd.DataFrame:
    """Average replicates; names become categories, which keeps a million answers small."""
    rows = scores
    if attributes is not None:
        rows = rows[rows["attribute"].isin(list(attributes))]
        if not len(rows):
            have = [str(name) for name in scores["attribute"].unique()]
            raise OptionError("link.no_attribute", found=list(attributes), have=have)
    names = ["attribute", "session", "sample", "assessor"]
    slim = pd.DataFrame({name: rows[name].astype("category") for name in names})
    slim["score"] = rows["score"].to_numpy(np.float64)
    grouped = slim.groupby(names, observed=True, sort=False)["score"]
    return grouped.agg(["mean", "size"]).reset_index().rename(columns={"mean": "score"})


def _reference(seen: pd.Series, named: str | None) -> str | None:
    if named is not None:
        if int(seen.get(named, 0)) < 2:
            repeated = [str(name) for name in seen[seen > 1].index][:20]
            raise OptionError(
                "history.bad_reference",
                found=named,
                n=int(seen.get(named, 0)),
                repeated=repeated or Sentence.of("history.none"),
            )
        return named
    most = seen.max()
    first = [str(name) for name in seen[seen == most].index]
    return first[0] if most > 1 and len(first) == 1 else None


def _store(
    cells: pd.DataFrame, reference: str, seen: pd.Series, months: pd.Series, level: float
) -> pd.DataFrame:
    """Measure how bottles move against the reference, sessions as the unit."""
    repeated = [name for name in seen[seen > 1].index if name != reference]
    keys = ["attribute", "session", "assessor"]
    base = cells.loc[cells["sample"] == reference, [*keys, "score"]]
    rows = cells.loc[cells["sample"].isin(repeated), [*keys, "sample", "score"]]
    both = rows.merge(base, on=keys, suffixes=("", "_reference"))
    if not len(both):
        return _nothing()
    both["against"] = both["score"] - both["score_reference"]
    each = (
        both.groupby(["attribute", "sample", "session"], observed=True, sort=False)[
            ["against", "score"]
        ]
        .mean()
        .reset_index()
    )
    each["months"] = each["session"].astype(str).map(months).astype(float)
    found = []
    for (attribute, sample), group in each.groupby(
        ["attribute", "sample"], observed=True, sort=False
    ):
        if len(group) < 2:
            continue
        at = group["months"].to_numpy(np.float64)
        slope, low, high, df, p = line_through(at, group["against"].to_numpy(np.float64), level)
        raw, _, _, _, raw_p = line_through(at, group["score"].to_numpy(np.float64), level)
        found.append(
            {
                "attribute": str(attribute),
                "sample": str(sample),
                "sessions": len(group),
                "months": float(np.ptp(at)),
                "per_month": slope,
                "low": low,
                "high": high,
                "df": df,
                "p": p,
                "raw_per_month": raw,
                "raw_p": raw_p,
            }
        )
    table = pd.DataFrame(found)
    if len(table):
        table["p_adjusted"] = adjust(table["p"].to_numpy(), "holm")
        seen_raw = holds(table["raw_p"], 1 - level) & (
            table["raw_per_month"] * table["per_month"] > 0
        )
        table["holds"] = holds(table["p_adjusted"], 1 - level) & seen_raw
    return table


def _counted(dated: pd.DataFrame, cells: pd.DataFrame) -> pd.DataFrame:
    grouped = cells.groupby("session", observed=True)
    counts = pd.DataFrame(
        {
            "assessors": grouped["assessor"].nunique(),
            "samples": grouped["sample"].nunique(),
            "answers": grouped["size"].sum(),
        }
    )
    counts.index = counts.index.astype(str)
    joined = dated.merge(counts, left_on="session", right_index=True, how="left")
    numbers = ["assessors", "samples", "answers"]
    joined[numbers] = joined[numbers].fillna(0).astype(int)
    return joined


def _by_bottle(cells: pd.DataFrame, batch: pd.Series) -> pd.DataFrame:
    grouped = cells.groupby(["attribute", "sample"], observed=True, sort=False)
    table = grouped.agg(
        sessions=("session", "nunique"),
        answers=("size", "sum"),
        mean=("score", "mean"),
        sd=("score", "std"),
    ).reset_index()
    table["attribute"] = table["attribute"].astype(str)
    table["sample"] = table["sample"].astype(str)
    table.insert(2, "batch", table["sample"].map(batch).fillna(table["sample"]))
    return table


def _by_batch(by_bottle: pd.DataFrame) -> pd.DataFrame:
    return (
        by_bottle.groupby(["attribute", "batch"], sort=False)
        .agg(samples=("sample", "nunique"), sessions=("sessions", "max"), mean=("mean", "mean"))
        .reset_index()
    )


def _by_assessor(cells: pd.DataFrame, level: float) -> pd.DataFrame:
    """Set each assessor against the mean of the others on the same bottles."""
    keys = ["attribute", "session", "sample"]
    grouped = cells.groupby(keys, observed=True)["score"]
    total, count = grouped.transform("sum"), grouped.transform("size")
    rows = cells.assign(
        shift=cells["score"] - (total - cells["score"]) / (count - 1).where(count > 1)
    )
    each = (
        rows.dropna(subset=["shift"])
        .groupby(["attribute", "assessor", "session"], observed=True)["shift"]
        .mean()
        .reset_index()
    )
    per = each.groupby(["attribute", "assessor"], observed=True, sort=False)["shift"]
    table = per.agg(["size", "mean", "std"]).reset_index()
    half = student.ppf((1 + level) / 2, np.maximum(table["size"] - 1, 1)) * table["std"]
    half = half / np.sqrt(table["size"])
    answers = cells.groupby(["attribute", "assessor"], observed=True)["size"].sum()
    table = table.merge(answers.rename("answers").reset_index(), on=["attribute", "assessor"])
    return pd.DataFrame(
        {
            "attribute": table["attribute"].astype(str),
            "assessor": table["assessor"].astype(str),
            "sessions": table["size_x"] if "size_x" in table else table["size"],
            "answers": table["answers"],
            "shift": table["mean"],
            "shift_low": table["mean"] - half.to_numpy(),
            "shift_high": table["mean"] + half.to_numpy(),
        }
    )
