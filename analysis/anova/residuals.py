"""What the test of the samples rests on: single means far off, and the one with the most weight.

An ANOVA trusts that what assessors and samples leave is scatter of one kind.
Each assessor's mean for each sample is held against what the assessor's level
and the sample together make expect. A mean that is far off is no error for
that: it says at which cup to ask what happened.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import fdtrc, stdtr

from ..core.errors import AnalysisError, NotEstimable, OptionError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.plotted import chosen, current_axes
from ..core.result import Result, copies
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import p_words, short
from ..core.words import FALLBACK, Sentence
from ..inference.adjusted_p import adjust

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
LEAST_DF = 3
"""Degrees of freedom of what is left, below which a far mean cannot be told from the others."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ResidualChecks(Result):
    """What assessors and samples leave, one row a mean of assessor and sample.

    Attributes
    ----------
    cells : DataFrame
        ``attribute, assessor, sample, mean, expected, residual, studentised, p,
        p_adjusted, leverage, cook``. `studentised` is the residual in units of its
        own standard error with this mean left out (a t value); `p_adjusted` allows
        for all means of the attribute (Holm); `cook` is Cook's distance.
    tests : DataFrame
        One row an attribute: ``attribute, n, df, p, assessor, sample, cook, p_without``:
        the F test of the samples, and without the mean of the most weight.
    refused : mapping of str to Sentence
        Attributes that could not be checked, and why.
    alpha : float
        Risk, for an attribute, of naming any mean where the scatter is all of one kind.
    """

    cells: pd.DataFrame
    tests: pd.DataFrame
    refused: Mapping[str, Sentence]
    alpha: float
    method: str = "least squares on assessors and samples, replicates averaged"

    @property
    def far(self) -> pd.DataFrame:
        """The means that lie farther off than chance allows, the farthest first."""
        named = self.cells[holds(self.cells["p_adjusted"], self.alpha)]
        return named.sort_values("p_adjusted", kind="stable")

    def sentences(self) -> tuple[Sentence, ...]:
        """Say for each attribute whether a mean is far off, and what the test rests on."""
        said = []
        for test in self.tests.to_dict("records"):
            own = self.cells[self.cells["attribute"] == test["attribute"]]
            far = self.far[self.far["attribute"] == test["attribute"]]
            shown = far if len(far) else own.loc[[own["studentised"].abs().idxmax()]]
            said += [
                Sentence.of(
                    "residuals.far" if len(far) else "residuals.none",
                    attribute=test["attribute"],
                    assessor=row["assessor"],
                    sample=row["sample"],
                    off=short(abs(row["residual"]), 2),
                    way=Sentence.of(
                        "residuals.above" if row["residual"] > 0 else "residuals.below"
                    ),
                    n=test["n"],
                    p=p_words(row["p_adjusted"]),
                )
                for row in shown.to_dict("records")
            ]
            said.append(
                Sentence.of(
                    "residuals.weight",
                    assessor=test["assessor"],
                    sample=test["sample"],
                    cook=short(test["cook"], 2),
                    p=p_words(test["p"]),
                    without=p_words(test["p_without"]),
                )
            )
        return (*said, *self.refused.values())

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the tests with and without the mean of the most weight."""
        return copies(**{"residuals.heading": self.tests}) if len(self.tests) else {}

    def figure(
        self, attributes: Sequence[str] | None = None, *, language: str = FALLBACK
    ) -> Figure:
        """Draw what is left over what is expected, and against a normal distribution.

        Parameters
        ----------
        attributes : sequence of str, optional
            All by default.
        language : str

        Raises
        ------
        NotEstimable
            If no attribute could be checked.
        """
        from .residuals_figure import draw_residuals

        if not len(self.cells):
            raise NotEstimable("residuals.nothing")
        kept = self.cells
        if attributes is not None:
            kept = kept[kept["attribute"].isin(list(attributes))]
        return draw_residuals(kept.assign(far=kept.index.isin(self.far.index)), language=language)

    def plot(
        self,
        ax: Axes | None = None,
        attribute: str | None = None,
        *,
        normal: bool = False,
        language: str = FALLBACK,
    ) -> Axes:
        """Draw the residuals of one attribute into axes, in the theme that holds there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.
        attribute : str, optional
            May be left out where there is one only.
        normal : bool
            Against a normal distribution; over what is expected by default.
        language : str

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If there are several attributes and none is named, or it was not checked.
        """
        from .residuals_figure import on_normal_paper, over_expected

        name = chosen("attribute", attribute, self.cells["attribute"])
        own = self.cells[self.cells["attribute"] == name]
        ax = ax or current_axes()
        draw = on_normal_paper if normal else over_expected
        draw(ax, own.assign(far=own.index.isin(self.far.index)), language=language)
        ax.set_title(name)
        return ax


def residual_checks(
    table: Tidy | pd.DataFrame,
    attributes: Sequence[str] | None = None,
    *,
    alpha: float = 0.05,
    **column_names: Unpack[LongColumns],
) -> ResidualChecks:
    """Check what the ANOVA of the samples rests on, attribute by attribute.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; replicates are averaged. An assessor with one sample, or a
        sample with one assessor, says nothing here and is left out.
    attributes : sequence of str, optional
        All by default.
    alpha : float
        Risk, for an attribute, of naming any mean where the scatter is all of one kind.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    ResidualChecks

    Raises
    ------
    OptionError
        For an attribute that the table does not have.

    References
    ----------
    Cook (1977), Technometrics 19:15-18. Cook and Weisberg (1982), Residuals and
    Influence in Regression, ch. 2 and 3: the deleted residual has a t distribution.
    """
    share_of("alpha", alpha)
    data = as_tidy(table, **column_names).data
    known = [str(name) for name in data["attribute"].unique()]
    for name in attributes or []:
        if name not in known:
            raise OptionError("anova.no_attribute", attribute=name, attributes=known)
    cells, tests, refused = [], [], {}
    for name in known if attributes is None else attributes:
        try:
            own, test = _check(data[data["attribute"] == name])
        except AnalysisError as refusal:
            refused[name] = Sentence.of("residuals.refused", attribute=name, why=refusal.sentence)
            continue
        cells.append(own.assign(attribute=name))
        tests.append({"attribute": name, **test})
    columns = ["attribute", *_CELLS]
    return ResidualChecks(
        cells=pd.concat(cells, ignore_index=True)[columns] if cells else _empty(columns),
        tests=pd.DataFrame(tests) if tests else _empty(["attribute", *_TEST]),
        refused=refused,
        alpha=alpha,
    )


_CELLS = (
    "assessor", "sample", "mean", "expected", "residual", "studentised", "p", "p_adjusted",
    "leverage", "cook",
)  # fmt: skip
_TEST = ("n", "df", "p", "assessor", "sample", "cook", "p_without")


def _empty(columns: Sequence[str]) -> pd.DataFrame:
    return pd.DataFrame({name: pd.Series(dtype=float) for name in columns})


def _check(scores: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, object]]:
    rows = _linked(scores)
    y = rows["mean"].to_numpy(float)
    design = _design(rows)
    n, columns = design.matrix.shape
    df = n - columns
    if df < LEAST_DF:
        raise NotEstimable("residuals.too_few", df=df, least=LEAST_DF)
    expected = design.matrix @ (design.inverse @ y)
    residual = y - expected
    left = float(residual @ residual)
    if left <= 1e-12 * max(float(y @ y), 1.0):
        raise NotEstimable("residuals.exact")
    leverage = (design.matrix * design.inverse.T).sum(axis=1)
    # A cell that alone ties two groups together is met exactly, whatever it is: never odd.
    free = np.where(leverage > 1 - 1e-9, np.inf, 1 - leverage)
    # With the own answer left out, from the residual with it in: no fit anew for each.
    inside = residual / np.sqrt(left / df) / np.sqrt(free)
    with np.errstate(divide="ignore"):
        t = inside * np.sqrt((df - 1) / np.maximum(df - inside**2, 0.0))
    p = 2 * stdtr(df - 1, -np.abs(t))
    rows = rows.assign(
        expected=expected,
        residual=residual,
        studentised=t,
        p=p,
        p_adjusted=adjust(p, "holm"),
        leverage=leverage,
        cook=inside**2 / columns * (leverage / free),
    )
    most = int(rows["cook"].to_numpy().argmax())
    test = {
        "n": n,
        "df": df,
        "p": _p_of_samples(rows),
        "assessor": rows["assessor"].iloc[most],
        "sample": rows["sample"].iloc[most],
        "cook": float(rows["cook"].iloc[most]),
        "p_without": _p_of_samples(rows.drop(index=rows.index[most])),
    }
    return rows, test


def _linked(scores: pd.DataFrame) -> pd.DataFrame:
    """Return the means of assessor and sample, without those that stand alone in row or column."""
    means = scores.groupby(["assessor", "sample"], observed=True, sort=True)["score"].mean()
    rows = means.dropna().rename("mean").reset_index()
    rows = rows.astype({"assessor": str, "sample": str})
    people, bottles = rows["assessor"].nunique(), rows["sample"].nunique()
    if min(people, bottles) > 1 and len(rows) == people * bottles:  # no holes: nobody stands alone
        return rows
    while len(rows):
        own = rows.groupby("assessor")["sample"].transform("size")
        others = rows.groupby("sample")["assessor"].transform("size")
        kept = (own > 1) & (others > 1)
        if kept.all():
            break
        rows = rows[kept]
    if rows["sample"].nunique() < 2:
        raise NotEstimable("residuals.too_few", df=0, least=LEAST_DF)
    return rows.reset_index(drop=True)


class _Design(NamedTuple):
    """Indicators of assessors and of all samples but the first, as one set of cells has them."""

    matrix: Floats
    inverse: Floats  # its pseudo-inverse
    people: int
    bases: tuple[Floats, Floats]  # orthonormal: of all columns, and of the assessors' alone


@lru_cache(maxsize=32)
def _design_of(assessors: tuple[str, ...], samples: tuple[str, ...]) -> _Design:
    """Return it once for all attributes that have the same cells."""
    people = pd.get_dummies(pd.Series(assessors), dtype=float).to_numpy()
    of_samples = pd.get_dummies(pd.Series(samples), dtype=float).to_numpy()[:, 1:]
    matrix = np.column_stack([people, of_samples])
    if np.linalg.matrix_rank(matrix) < matrix.shape[1]:
        raise NotEstimable("bundle.apart")
    bases = np.linalg.qr(matrix)[0], np.linalg.qr(people)[0]
    return _Design(matrix, np.linalg.pinv(matrix), people.shape[1], bases)


def _design(rows: pd.DataFrame) -> _Design:
    return _design_of(tuple(rows["assessor"]), tuple(rows["sample"]))


def _p_of_samples(rows: pd.DataFrame) -> float:
    """Return p of the F test of the samples, assessors allowed for."""
    y = rows["mean"].to_numpy(float)
    try:
        design = _design(rows)
    except NotEstimable:
        return float("nan")
    df, between = len(y) - design.matrix.shape[1], design.matrix.shape[1] - design.people
    left, without = (float(np.sum((y - q @ (q.T @ y)) ** 2)) for q in design.bases)
    return float(fdtrc(between, df, (without - left) / between / (left / df)))
