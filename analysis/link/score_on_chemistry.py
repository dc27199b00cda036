"""From the tongue back to the tank: what chemistry does to a score, and when that can be told.

First it is asked which effects these bottles can tell apart (`estimability`);
only then slopes are estimated, side by side, for assessors and bottles like
these (`slopes`), tested also by shuffling the bottles (`bottle_means`), and all
tests of one call are allowed for together. Many correlated measurements go
through partial least squares (`pls`) instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Unpack

import numpy as np
import pandas as pd
from scipy.stats import t as student

from ..chemistry import taste_indices as indices
from ..core.errors import NotEstimable, OptionError, TableError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.words import Sentence
from ..inference.adjusted_p import adjust
from .bottle_regression import bottle_means, influence_words, permutation, regression, units
from .link_input import (
    FIRST,
    batch_column,
    computed,
    default_predictors,
    joined_bottles,
    named_bottles,
    numbers_of,
    wanted_attributes,
)
from .link_result import SWEET, Link
from .mixed_slopes import ON_UNITS, Slopes, slopes
from .pls_regression import Pls, pls
from .published_prior import SlopesWithIndex, with_index
from .what_is_estimable import Estimability, estimability, measurement

DRY = ("dryness", "dry", "perceived dryness")
FEW = 10
"""Below this number of batches a claim must also hold when the bottles are shuffled."""
MANY = 4
"""From this number of measurements on, partial least squares is asked as well."""
POWER = 0.8


def link(
    table: Tidy | pd.DataFrame,
    bottles: pd.DataFrame,
    *,
    predictors: Sequence[str] | None = None,
    attributes: Sequence[str] | None = None,
    batch: str | None = None,
    sweet: str | None = None,
    scale: tuple[float, float] | None = None,
    level: float = 0.95,
    seed: int = 1,
    orders: int = 9999,
    **column_names: Unpack[LongColumns],
) -> Link:
    """Relate scores to the numbers of the bottles, over one session or many.

    Parameters
    ----------
    table : Tidy or DataFrame
        Tidy rows.
    bottles : DataFrame
        One row a bottle: ``sample`` (or ``bottle``, ``name``), measurements, and
        ``batch`` (or ``tank``, with ``vintage`` or ``year``). A column
        ``session`` if the numbers of a bottle change from session to session.
    predictors : sequence of str, optional
        Measurements; by default meter value and acidity, then others as far as
        there are five batches for each. ``amakarado``, ``notando`` and
        ``glucose_minus_acidity`` are computed when named.
    attributes : sequence of str, optional
        Those to relate; all by default.
    batch : str, optional
        Column that names the batch, where it is none of those. That of the bottle
        says that each bottle is a batch of its own; it is never taken for granted.
    sweet : str, optional
        The attribute that the published sweet–dry index speaks of; found by its
        name if not given. A dryness is taken with the opposite sign.
    scale : (float, float), optional
        Ends of that attribute's scale. With it the published index, stretched
        to this scale, is set beside the data as a stated prior.
    level : float
        Of intervals.
    seed, orders : int
        Of shuffles that are too many to take all.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Link
        Where no slope can be told it holds no slope, and says why.

    Raises
    ------
    TableError
        If the tables cannot be joined, or do not say which batch a bottle comes from.
    OptionError
        For an unknown attribute.
    """
    share_of("level", level)
    rows = as_tidy(table, **column_names).data
    chemistry = named_bottles(bottles)
    rows, wanted = wanted_attributes(rows, attributes)
    served = rows[["session", "sample"]].drop_duplicates()
    if not served["sample"].isin(chemistry["sample"]).any():
        raise TableError((Sentence.of("link.nothing_joins", listed=sorted(set(served["sample"]))),))
    chosen_batch = batch_column(chemistry, batch, served["sample"])
    names = list(predictors or default_predictors(chemistry, served, chosen_batch))
    chemistry = computed(chemistry, names)
    keys = ["session", "sample"] if "session" in chemistry else ["sample"]
    joined, dropped = joined_bottles(served, chemistry, keys, names)
    if not len(joined):
        raise TableError((Sentence.of("link.nothing_joins", listed=sorted(set(served["sample"]))),))
    known = estimability(joined, names, batch=chosen_batch, session="session")
    usable = list(known.usable) if known.possible else []
    kept = rows.merge(joined[["session", "sample"]], on=["session", "sample"])
    work = _Work(known, usable, batch=chosen_batch, level=level, seed=seed, orders=orders)
    for attribute in wanted:
        rows = kept[kept["attribute"] == attribute]
        if len(rows):
            work.take(attribute, rows, joined)
    table_of_slopes = work.slope_table()
    warnings = [*known.warnings, *work.warnings]
    return Link(
        estimability=known,
        predictors=tuple(usable),
        slopes=table_of_slopes,
        overall=pd.DataFrame(work.overall),
        bottles=_with_index(
            pd.concat(work.bottles, ignore_index=True), joined, _of_sweetness(wanted, sweet)
        ),
        influence=pd.DataFrame(
            work.influence, columns=["attribute", "predictor", "unit", "slope", "without"]
        ),
        hanging=tuple(work.hanging),
        fits=work.fits,
        foretold=_foretold(kept, wanted, joined, batch=chosen_batch, seed=seed, level=level),
        priors=tuple(_priors(work.fits, sweet, scale, level)),
        sweetness=_of_sweetness(wanted, sweet),
        chemistry=joined,
        group=chosen_batch,
        dropped=dropped,
        level=level,
        seed=seed,
        warnings=tuple(warnings),
    )


class _Work:
    """Collect what is computed attribute by attribute."""

    def __init__(
        self,
        known: Estimability,
        usable: list[str],
        *,
        batch: str | None,
        level: float,
        seed: int,
        orders: int,
    ) -> None:
        self.known, self.usable, self.batch = known, usable, batch
        self.level, self.seed, self.orders = level, seed, orders
        self.rows: list[dict[str, object]] = []
        self.overall: list[dict[str, object]] = []
        self.bottles: list[pd.DataFrame] = []
        self.influence: list[dict[str, object]] = []
        self.hanging: list[Sentence] = []
        self.warnings: list[Sentence] = []
        self.fits: dict[str, Slopes] = {}

    def take(self, attribute: str, rows: pd.DataFrame, joined: pd.DataFrame) -> None:
        means = bottle_means(rows)
        shown = means.assign(attribute=attribute)
        if not self.usable or rows["score"].nunique() < 2:
            if self.usable:
                self.warnings.append(Sentence.of("link.no_variation", attribute=attribute))
            self.bottles.append(shown[["attribute", "session", "sample", "mean", "assessors"]])
            return
        data = units(means, joined, self.usable, batch=self.batch)
        plain = regression(data)
        shuffled = permutation(data, seed=self.seed, orders=self.orders)
        fitted = slopes(rows, means, joined, self.usable, batch=self.batch)
        self.fits[attribute] = fitted
        low, high = fitted.interval(self.level)
        reach = np.asarray(
            student.ppf((1 + self.level) / 2, fitted.df) + student.ppf(POWER, fitted.df)
        )
        for j, name in enumerate(self.usable):
            self.rows.append(
                {
                    "attribute": attribute,
                    "predictor": name,
                    "slope": fitted.slopes[j],
                    "se": fitted.se[j],
                    "df": fitted.df[j],
                    "low": low[j],
                    "high": high[j],
                    "p": fitted.p[j],
                    "p_shuffled": shuffled.p[j],
                    "detectable": reach[j] * fitted.se[j],
                }
            )
            self.influence += [
                {
                    "attribute": attribute,
                    "predictor": name,
                    "unit": unit,
                    "slope": plain.slopes[j],
                    "without": plain.without[i, j],
                }
                for i, unit in enumerate(data.names)
            ]
        self.overall.append(
            {
                "attribute": attribute,
                "r2": plain.r2,
                "f": plain.f,
                "df_num": len(self.usable),
                "df_den": plain.df,
                "p": plain.p,
                "bottle_sd": fitted.bottle_sd,
                "noise_sd": fitted.noise_sd,
                "method": fitted.method,
                "orders": shuffled.orders,
                "exact": shuffled.exact and len(self.usable) == 1,
            }
        )
        notable = [j for j in range(len(self.usable)) if holds(fitted.p[j], 1 - self.level)]
        self.hanging += [
            Sentence.of("link.of_attribute", attribute=attribute, text=said)
            for said in influence_words(
                data, plain, {j: measurement(self.usable[j]) for j in notable}
            )
        ]
        if fitted.method == ON_UNITS:
            self.warnings.append(Sentence.of("link.one_assessor", attribute=attribute))
        self.bottles.append(_with_expected(shown, joined, self.usable, fitted, self.level))

    def slope_table(self) -> pd.DataFrame:
        """Allow for all tests together, and say which hold."""
        columns = [
            "attribute",
            "predictor",
            "slope",
            "se",
            "df",
            "low",
            "high",
            "p",
            "p_adjusted",
            "p_shuffled",
            "holds",
            "detectable",
        ]
        table = pd.DataFrame(self.rows)
        if not len(table):
            return pd.DataFrame(columns=columns)
        table["p_adjusted"] = adjust(table["p"].to_numpy(), "holm")
        shown = holds(table["p_adjusted"], 1 - self.level)
        if self.known.batches < FEW:
            shown &= holds(table["p_shuffled"], 1 - self.level)
        return table.assign(holds=shown)[columns]


def _with_expected(
    shown: pd.DataFrame,
    joined: pd.DataFrame,
    predictors: Sequence[str],
    fitted: Slopes,
    level: float,
) -> pd.DataFrame:
    """Set what the slopes expect of a bottle of these numbers beside what it scored."""
    both = shown.merge(joined[["session", "sample", *predictors]], on=["session", "sample"])
    expected = fitted.predict(both[list(predictors)].to_numpy(float), level)
    # The level is the mean over sessions; each session keeps its own mean here.
    shift = (both["mean"] - expected["mean"]).groupby(both["session"]).transform("mean")
    table = both[["attribute", "session", "sample", "mean", "assessors"]].assign(
        expected=expected["mean"] + shift,
        low=expected["bottle_low"] + shift,
        high=expected["bottle_high"] + shift,
    )
    return table.assign(outside=(table["mean"] < table["low"]) | (table["mean"] > table["high"]))


def _with_index(
    table: pd.DataFrame, joined: pd.DataFrame, sweetness: Sequence[str]
) -> pd.DataFrame:
    """Set the published sweet–dry index beside means of sweetness, where its numbers are known."""
    speaks = table["attribute"].isin(sweetness).to_numpy()
    if not set(FIRST).issubset(joined) or not speaks.any():
        return table
    numbers = joined[["session", "sample", *FIRST]].apply(
        lambda column: pd.to_numeric(column) if column.name in FIRST else column
    )
    both = table[["session", "sample"]].merge(numbers, on=["session", "sample"], how="left")
    index = indices.amakarado(*(both[name].fillna(0.0).to_numpy(float) for name in FIRST))
    known = both[list(FIRST)].notna().all(axis=1).to_numpy() & speaks
    return table.assign(amakarado=np.where(known, index, np.nan))


def _foretold(
    kept: pd.DataFrame,
    wanted: Sequence[str],
    joined: pd.DataFrame,
    *,
    batch: str | None,
    seed: int,
    level: float,
) -> dict[str, Pls]:
    """Ask partial least squares where there are many measurements."""
    names = [
        name
        for name in numbers_of(joined)
        if name != batch and joined[name].notna().all() and joined[name].min() < joined[name].max()
    ]
    if len(names) < MANY:
        return {}
    found = {}
    for attribute in wanted:
        means = bottle_means(kept[kept["attribute"] == attribute])
        data = units(means, joined, names, batch=batch)
        try:
            found[attribute] = pls(
                pd.DataFrame(data.X, columns=names), data.y, seed=seed, level=level
            )
        except NotEstimable:
            continue
    return found


def _of_sweetness(attributes: Sequence[str], sweet: str | None) -> tuple[str, ...]:
    """Return the attributes that the published index speaks of."""
    if sweet is not None:
        return tuple(name for name in attributes if name == sweet)
    return tuple(name for name in attributes if name.strip().lower() in (*SWEET, *DRY))


def _priors(
    fits: dict[str, Slopes],
    sweet: str | None,
    scale: tuple[float, float] | None,
    level: float,
) -> list[SlopesWithIndex]:
    if scale is None:
        return []
    low, high = scale
    if not low < high:
        raise OptionError("link.bad_scale", low=low, high=high)
    per_index = (high - low) / (2 * indices.SCALE)
    priors = []
    for attribute, fitted in fits.items():
        if not set(FIRST).issubset(fitted.predictors):
            continue
        plain = attribute.strip().lower()
        if attribute == sweet or (sweet is None and plain in SWEET):
            priors.append(with_index(attribute, fitted, per_index, level=level))
        elif plain in DRY:
            priors.append(with_index(attribute, fitted, -per_index, level=level))
    return priors
