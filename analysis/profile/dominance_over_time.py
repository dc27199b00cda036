"""What dominates in the mouth, moment by moment, and whether it is more than chance.

An assessor names what strikes most, again whenever it changes. At each moment
the share of evaluations that name an attribute is compared with chance, 1/p
for p attributes, by the exact binomial count. The usual formula with the
normal curve asks for one evaluation too few in many small panels.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, OptionError, TableError
from ..core.options import share_of, whole
from ..core.p_values import holds
from ..core.result import Result, copies, each_row
from ..core.wording import percent, short
from ..core.words import Sentence
from ..inference.proportions import at_least

Floats = npt.NDArray[np.float64]
NORMAL_FROM = 5.0
"""n p (1 − p) beyond which the usual formula with the normal curve may be used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Least:
    """How many evaluations must name an attribute to be more than chance.

    Attributes
    ----------
    n, p : int
        Evaluations and attributes.
    chance : float
        ``1 / p``.
    count : int
        Smallest count with an exact binomial tail of at most `alpha`; n + 1
        where even all of them would not do.
    share : float
        ``count / n``.
    formula : float
        ``chance + z sqrt(chance (1 - chance) / n)``, for comparison.
    normal : bool
        Whether ``n chance (1 - chance)`` is above 5, as the formula wants.
    """

    n: int
    p: int
    chance: float
    count: int
    share: float
    formula: float
    normal: bool


def least(n: int, p: int, alpha: float = 0.05) -> Least:
    """Return the exact count, and the formula's share beside it.

    Parameters
    ----------
    n : int
        Evaluations: assessors times replicates.
    p : int
        Attributes to choose from, 2 or more.
    alpha : float

    References
    ----------
    Pineau et al. (2009), Food Qual. Pref. 20:450-455 (chance and formula).

    Examples
    --------
    >>> found = least(10, 8)
    >>> found.count, round(found.formula * 10, 3)
    (4, 2.97)
    """
    n, p, alpha = whole("n", n), whole("p", p, 2), share_of("alpha", alpha)
    chance = 1 / p
    counts = np.arange(n + 1)
    enough = holds(at_least(counts, n, chance), alpha)
    count = int(counts[enough][0]) if enough.any() else n + 1
    z = 1.6448536269514722 if alpha == 0.05 else float(_normal(1 - alpha))
    spread = math.sqrt(chance * (1 - chance) / n)
    return Least(
        n=n,
        p=p,
        chance=chance,
        count=count,
        share=count / n,
        formula=chance + z * spread,
        normal=n * chance * (1 - chance) > NORMAL_FROM,
    )


def _normal(share: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(share))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Dominance(Result):
    """Dominance over time.

    Attributes
    ----------
    curves : DataFrame
        Columns ``sample, time, attribute, k, n, share, above``: above where k
        reaches the exact count.
    periods : DataFrame
        Columns ``sample, attribute, start, end, highest``: stretches above.
    limits : DataFrame
        Columns ``sample, n, p, chance, count, share, formula, normal``.
    evaluations : int
    replicates : int
    """

    curves: pd.DataFrame
    periods: pd.DataFrame
    limits: pd.DataFrame
    evaluations: int
    replicates: int
    alpha: float
    method: str = "dominance over time, exact binomial count against 1/p at each moment"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what dominates when, per sample."""
        said = each_row(
            self.periods,
            lambda row: Sentence.of(
                "dominance.period",
                sample=row.sample,
                attribute=row.attribute,
                start=short(row.start),
                end=short(row.end),
                highest=percent(row.highest),
            ),
        )
        silent = [s for s in self.limits["sample"] if s not in set(self.periods["sample"])]
        said += tuple(Sentence.of("dominance.none", sample=sample) for sample in silent)
        return (*said, Sentence.of("dominance.chance"))

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return periods and limits."""
        return copies(**{"dominance.periods": self.periods, "dominance.limits": self.limits})


def dominance(
    table: pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    step: float = 1.0,
    alpha: float = 0.05,
) -> Dominance:
    """Turn events into dominance curves and compare them with chance.

    Parameters
    ----------
    table : DataFrame
        One row an event: ``assessor, sample, time, attribute``, optional
        ``replicate``. From `time` (seconds) on the attribute dominates, until
        the next event of the same evaluation; an empty attribute ends it.
    attributes : sequence of str, optional
        All that could be chosen; by default those that were. Give it: chance
        is one over their number.
    step : float
        Seconds between the moments looked at, above 0.
    alpha : float
        Level of the exact count at each moment, not adjusted over time.

    Returns
    -------
    Dominance

    Raises
    ------
    TableError
        For a missing column or a time that is no number from 0.
    OptionError
        For a step of 0 or less, or an event that names an unlisted attribute.
    NotEstimable
        With fewer than two attributes.
    """
    missing = [c for c in ("assessor", "sample", "time", "attribute") if c not in table.columns]
    if missing:
        have = [str(name) for name in table.columns]
        raise TableError(
            tuple(Sentence.of("table.no_column", column=c, have=have) for c in missing)
        )
    if not step > 0:
        raise OptionError("dominance.step", step=step)
    events = table.assign(time=pd.to_numeric(table["time"], errors="coerce"))
    wrong = events["time"].isna() | (events["time"] < 0) | ~np.isfinite(events["time"])
    if wrong.any():
        rows = [int(i) + 1 for i in np.flatnonzero(wrong)[:20]]
        raise TableError(tuple(Sentence.of("dominance.bad_time", row=row) for row in rows))
    if "replicate" not in events:
        events["replicate"] = 1
    events["attribute"] = events["attribute"].fillna("").astype(str).str.strip()
    seen = [name for name in dict.fromkeys(events["attribute"]) if name]
    names = list(attributes) if attributes is not None else seen
    unlisted = [name for name in seen if name not in names]
    if unlisted:
        raise OptionError("dominance.unlisted", name=unlisted[0], have=names)
    if len(names) < 2:
        raise NotEstimable("dominance.few", n=len(names))
    moments = np.arange(0.0, float(events["time"].max()) + step / 2, step)
    curves, limits, total = [], [], 0
    for sample, own in events.groupby("sample", sort=True):
        ruling = [
            _ruling(one, moments) for _, one in own.groupby(["assessor", "replicate"], sort=True)
        ]
        bound = least(len(ruling), len(names), alpha)
        total += bound.n
        limits.append({"sample": str(sample), **{f: getattr(bound, f) for f in Least.__slots__}})
        stacked = np.array(ruling)
        for name in names:
            k = (stacked == name).sum(axis=0)
            curves.append(
                pd.DataFrame(
                    {
                        "sample": str(sample),
                        "time": moments,
                        "attribute": name,
                        "k": k,
                        "n": bound.n,
                        "share": k / bound.n,
                        "above": k >= bound.count,
                    }
                )
            )
    whole_table = pd.concat(curves, ignore_index=True)
    replicates = int(events.groupby(["assessor", "sample"])["replicate"].nunique().max())
    careful = [Sentence.of("dominance.moments", n=len(moments))]
    if replicates > 1:
        careful.append(Sentence.of("dominance.replicates", n=replicates))
    if attributes is None:
        careful.append(Sentence.of("dominance.chosen_only", n=len(names)))
    return Dominance(
        curves=whole_table,
        periods=_periods(whole_table, step),
        limits=pd.DataFrame(limits),
        evaluations=total,
        replicates=replicates,
        alpha=alpha,
        warnings=tuple(careful),
    )


def _ruling(events: pd.DataFrame, moments: Floats) -> list[str]:
    """Return what dominates at each moment of one evaluation; empty before and after."""
    ordered = events.sort_values("time", kind="stable")
    times = ordered["time"].to_numpy(dtype=float)
    names = ["", *ordered["attribute"]]
    return [names[i] for i in np.searchsorted(times, moments, side="right")]


def _periods(curves: pd.DataFrame, step: float) -> pd.DataFrame:
    """Join neighbouring moments above the count into stretches."""
    rows = []
    for (sample, name), own in curves.groupby(["sample", "attribute"], sort=False):
        above = own["above"].to_numpy(dtype=bool)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], above, [False]])))
        time, share = own["time"].to_numpy(), own["share"].to_numpy()
        rows += [
            (sample, name, time[a], time[b - 1] + step, share[a:b].max())
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
    names = ["sample", "attribute", "start", "end", "highest"]
    table = pd.DataFrame(rows, columns=names)
    return table.sort_values(["sample", "start"], kind="stable", ignore_index=True)
