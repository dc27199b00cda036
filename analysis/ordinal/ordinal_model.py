"""Short category scales and fault severities: cumulative-link model with random assessors.

Severities 0 to 3 are not points on a ruler: from 'none' to 'trace' may be further
than from 'trace' to 'clear'. The model assumes only that a sample shifts all
answers up or down along a hidden scale, which the categories cut; each assessor
has a level of their own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import one_of, share_of, whole
from ..core.p_values import holds
from ..core.plotted import Plotted
from ..core.result import copies
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..core.wording import p_words, short, stated_percent
from ..core.words import FALLBACK, Sentence
from ..mixed_model.mixed_design import factor_table
from .cumulative_likelihood import CategoryScores, CumulativeModel, Maximum, maximise, start_of
from .cumulative_links import LINKS
from .infinite_estimates import run_away
from .ordinal_tables import (
    Estimated,
    Frame,
    chi_squares_of,
    differences_of,
    effects_of,
    locations_of,
    shares_of,
    spread_of,
    thresholds_of,
)
from .permuted_orders import shuffled_p

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
RANDOM = ("auto", "none", "assessor", "assessor and interaction")
RARE = 3
"""Answers in a category below which it is said to be rare."""
SWAMPED = 20.0
"""A standard deviation of assessors, on the scale of the model, beyond which nothing else shows."""
_MOST_CATEGORIES = 20
_FEW_ASSESSORS = 6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ordinal(Plotted):
    """Comparison of samples on a category scale.

    Locations, effects and differences are on the hidden scale of the link: logits,
    where exp(difference) is the ratio of the odds of a higher category, or probits.

    Attributes
    ----------
    attribute, link, method : str
        Attribute; ``'logit'`` or ``'probit'``; how assessors were integrated out.
    random : str
        ``'none'``, ``'assessor'`` or ``'assessor and interaction'``.
    level : float
        Confidence level of all intervals.
    answers, assessors, samples : int
        Numbers analysed.
    categories : tuple of float
        Categories that were used, from low to high.
    reference : str
        The sample that thresholds and effects are relative to.
    loglik : float
        Log likelihood at the maximum.
    tests : DataFrame
        ``effect, lr, df, p, wald, p_wald``: likelihood-ratio and Wald chi-square of
        all samples together (``sample``) and, with factors, of each.
    p_shuffled : float
        p of a score test whose distribution comes from shuffling the samples within
        each assessor: it holds its level in any small panel.
    shuffles, seed : int
        Number of shuffles and the seed of their generator.
    thresholds : DataFrame
        ``threshold, estimate, se, low, high``.
    effects : DataFrame
        ``term, estimate, se, z, p, low, high``, relative to the reference.
    locations : DataFrame
        ``sample, location, se, low, high``, relative to the mean of
        the samples (of the largest group with finite differences).
    differences : DataFrame
        ``sample_1, sample_2, difference, se, low, high, z, p`` of all pairs; p is
        adjusted by Holm's method, each interval holds the level by itself.
    spread : DataFrame
        ``part, variance, sd, low, high`` (limits of sd): between assessors, and of
        assessor × sample.
    shares : DataFrame
        ``sample, category, share, low, high, observed``: shares of answers that other
        such assessors would give, averaged over assessors. Where a sample is separated, or all its
        answers are one and any sample is, there are no limits (nan): none are finite.
    separated : tuple of str
        Samples whose difference from the others has no finite estimate.
    dropped : DataFrame
        Rows that could not be used, with the reason.
    """

    attribute: str
    link: str
    method: str
    random: str
    level: float
    answers: int
    assessors: int
    samples: int
    categories: tuple[float, ...]
    reference: str
    loglik: float
    tests: pd.DataFrame
    p_shuffled: float
    shuffles: int
    seed: int
    thresholds: pd.DataFrame
    effects: pd.DataFrame
    locations: pd.DataFrame
    differences: pd.DataFrame
    spread: pd.DataFrame
    shares: pd.DataFrame
    separated: tuple[str, ...]
    dropped: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the samples differ, which two most, and how far assessors spread."""
        test = self.tests.iloc[0]
        # The shuffled p holds its level in small panels, the chi-square only in large ones.
        differ = holds(max(float(test["p"]), self.p_shuffled), 1 - self.level)
        told = [
            Sentence.of(
                "ordinal.differ" if differ else "ordinal.not_shown",
                attribute=self.attribute,
                df=int(test["df"]),
                lr=short(float(test["lr"])),
                p=p_words(float(test["p"])),
                p_shuffled=p_words(self.p_shuffled),
            )
        ]
        finite = self.differences[self.differences["se"].notna()]
        if differ and len(finite):
            row = finite.iloc[int(finite["difference"].abs().to_numpy().argmax())]
            names = [row["sample_1"], row["sample_2"]]
            ends = [row["low"], row["high"]]
            if row["difference"] < 0:
                names, ends = names[::-1], [-row["high"], -row["low"]]
            if self.link == "logit":
                told.append(
                    Sentence.of(
                        "ordinal.furthest_rest" if self.separated else "ordinal.furthest",
                        high=names[0],
                        low=names[1],
                        ratio=short(float(np.exp(abs(row["difference"])))),
                        from_=short(float(np.exp(ends[0]))),
                        to=short(float(np.exp(ends[1]))),
                        level=stated_percent(self.level),
                        p=p_words(float(row["p"])),
                    )
                )
        if len(self.spread) and self.spread["sd"].iloc[0] > 0:
            sd = float(self.spread["sd"].iloc[0])
            told.append(Sentence.of("ordinal.spread_told", sd=short(sd), link=self.link))
        return tuple(told)

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw the shares of the categories per sample."""
        from .ordinal_shares_figure import draw_shares

        order = self.locations.sort_values("location")["sample"].tolist()
        return draw_shares(
            self.shares,
            order,
            attribute=self.attribute,
            assessors=self.assessors,
            language=language,
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return tests, shares, locations, effects, thresholds and spread."""
        wide = self.shares.pivot_table(
            index="sample", columns="category", values="share", sort=False
        ).reset_index()
        wide.columns = pd.Index([str(name) for name in wide.columns])
        return copies(
            **{
                "ordinal.tests": self.tests,
                "ordinal.shares": wide,
                "ordinal.locations": self.locations,
                "ordinal.effects": self.effects,
                "ordinal.thresholds": self.thresholds,
                "ordinal.spread": self.spread,
            }
        )


def ordinal(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    random: str = "auto",
    link: str = "logit",
    nodes: int = 1,
    factors: pd.DataFrame | Mapping[str, Mapping[str, object]] | None = None,
    reference: str | None = None,
    level: float = 0.95,
    shuffles: int = 4999,
    seed: int = 1,
    **column_names: Unpack[Columns],
) -> Ordinal:
    """Compare samples on a category scale, assessors random.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; scores are categories, at most 20 different numbers, of which
        only the order counts.
    attribute : str, optional
        The attribute; may be left out if the table has one only.
    random : {'auto', 'none', 'assessor', 'assessor and interaction'}
        Random parts. 'auto' takes the interaction in as soon as an assessor scored
        a sample more than once, because repeats by one assessor are no new assessors.
    link : {'logit', 'probit'}
        Distribution of the hidden scale.
    nodes : int
        1 for Laplace's approximation; 2 to 50 for adaptive Gauss-Hermite
        quadrature (random 'assessor' only; 10 is plenty).
    factors : DataFrame or mapping, optional
        Structure of the samples, as in `anova`; their main effects are fitted.
    reference : str, optional
        Sample that effects are relative to; the first one by default.
    level : float
        Confidence level, between 0 and 1.
    shuffles, seed : int
        Number of shuffles for `p_shuffled`, and the seed of their generator.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Ordinal

    Raises
    ------
    OptionError
        If an argument is out of its range or fits no sample or attribute.
    NotEstimable
        With one assessor (unless `random` is 'none'), one sample, one category,
        or factors whose effects cannot be told apart.

    Notes
    -----
    ``P(category <= k) = F(threshold_k - x'effects - u_assessor - d_assessor,sample)``.
    Standard errors come from the observed information, intervals are Wald's, those
    of shares on the logit scale, those of standard deviations on the log scale. The
    likelihood-ratio test leans on large numbers; with few assessors its p is
    somewhat too small, so a difference is claimed only if the shuffled p agrees.

    References
    ----------
    McCullagh (1980), J. R. Stat. Soc. B 42:109-142; Tutz and Hennevogl (1996),
    Comput. Stat. Data Anal. 22:537-557; Pinheiro and Bates (1995), J. Comput. Graph.
    Stat. 4:12-35.

    Examples
    --------
    >>> marks = {"clear": "00010012", "cloudy": "11022133", "pressed": "32312333"}
    >>> rows = [(f"A{i}", name, int(mark)) for name in marks for i, mark in enumerate(marks[name])]
    >>> found = ordinal(pd.DataFrame(rows, columns=["assessor", "sample", "score"]), random="none")
    >>> found.locations["location"].round(2).tolist()
    [-2.19, 0.2, 2.0]
    """
    checked = as_tidy(table, **column_names)
    attribute = _attribute(checked, attribute)
    made = compared(
        checked.of(attribute),
        attribute,
        random=random,
        link=link,
        nodes=nodes,
        factors=factors,
        reference=reference,
        level=level,
        shuffles=shuffles,
        seed=seed,
    )
    rows, categories, found = made.rows, made.categories, made.found
    fit, frame = found.fit, found.frame
    dropped = checked.dropped
    return Ordinal(
        attribute=attribute,
        link=link,
        method="maximum likelihood"
        if fit.model.random == 0
        else "Laplace's approximation"
        if fit.model.nodes == 1
        else f"adaptive Gauss-Hermite quadrature, {nodes} nodes",
        random=made.random,
        level=level,
        answers=len(rows),
        assessors=rows["assessor"].nunique(),
        samples=len(frame.samples),
        categories=tuple(float(value) for value in categories),
        reference=frame.reference,
        loglik=fit.loglik,
        tests=made.tests,
        p_shuffled=made.p_shuffled,
        shuffles=shuffles,
        seed=seed,
        thresholds=thresholds_of(found, categories),
        effects=effects_of(found),
        locations=locations_of(found),
        differences=made.differences,
        spread=spread_of(fit, made.random, level),
        shares=_limited(shares_of(fit, frame, categories, rows, level), found.separated),
        separated=found.separated,
        dropped=dropped[dropped["attribute"] == attribute].reset_index(drop=True),
        warnings=_warnings(rows, categories, fit, made.random, found.separated, made.per_cell),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Compared:
    """A fit with its tests, before anything is written into tables.

    Attributes
    ----------
    rows : DataFrame
        The answers, tidy.
    categories : ndarray
        Categories that were used, from low to high.
    per_cell : Series
        Number of answers of each assessor to each sample.
    random : str
        Random parts, settled.
    found : Estimated
    nulls : dict of str to Maximum
        The fit without each effect.
    p_shuffled : float
    """

    rows: pd.DataFrame
    categories: Floats
    per_cell: pd.Series
    random: str
    found: Estimated
    nulls: dict[str, Maximum]
    p_shuffled: float

    @property
    def tests(self) -> pd.DataFrame:
        """As `Ordinal.tests`."""
        return chi_squares_of(self.found, self.nulls)

    @property
    def differences(self) -> pd.DataFrame:
        """As `Ordinal.differences`."""
        return differences_of(self.found)


def compared(
    rows: pd.DataFrame,
    attribute: str,
    *,
    random: str = "auto",
    link: str = "logit",
    nodes: int = 1,
    factors: pd.DataFrame | Mapping[str, Mapping[str, object]] | None = None,
    reference: str | None = None,
    level: float = 0.95,
    shuffles: int = 4999,
    seed: int = 1,
) -> Compared:
    """Fit and test the tidy rows of one attribute; arguments and errors as `ordinal` has them."""
    one_of("random", random, RANDOM)
    one_of("link", link, LINKS)
    share_of("level", level)
    whole("shuffles", shuffles, 99)
    names, categories = _check(rows, attribute, random)
    frame = _frame(names, factors, reference)
    per_cell = rows.groupby(["assessor", "sample"]).size()
    random, nodes = _parts(random, nodes, repeated=bool((per_cell > 1).any()))
    assessors = sorted(rows["assessor"].unique())
    sample = np.searchsorted(names, rows["sample"].to_numpy(str))
    scores = CategoryScores.of(
        np.searchsorted(categories, rows["score"].to_numpy()),
        frame.design,
        sample,
        np.searchsorted(assessors, rows["assessor"].to_numpy(str)),
        sample,
    )
    verdict = run_away(
        scores.y, scores.sample, frame.design, frame.contrasts(scores.categories - 1)
    )
    model = CumulativeModel(scores=scores, link=link, random=RANDOM.index(random) - 1, nodes=nodes)
    null = maximise(_less(model, np.zeros(frame.design.shape[1], dtype=bool)), errors=False)
    fit = maximise(model, polish=not verdict.any(), start=_from_null(model, null))
    smaller = {
        effect: maximise(_less(model, columns), errors=False)
        for effect, columns in frame.without().items()
    }
    _, p_shuffled = shuffled_p(
        null.model.residuals(null.parameters),
        *_cells_of(rows, assessors, names),
        shuffles=shuffles,
        seed=seed,
    )
    return Compared(
        rows=rows,
        categories=categories,
        per_cell=per_cell,
        random=random,
        found=Estimated(fit=fit, frame=frame, verdict=verdict, level=level),
        nulls={"sample": null, **smaller},
        p_shuffled=p_shuffled,
    )


def _attribute(checked: Tidy, attribute: str | None) -> str:
    if attribute is None:
        if len(checked.attributes) != 1:
            raise OptionError("ordinal.which", have=checked.attributes)
        return checked.attributes[0]
    if attribute not in checked.attributes:
        raise OptionError("ordinal.no_attribute", attribute=attribute, have=checked.attributes)
    return attribute


def _check(rows: pd.DataFrame, attribute: str, random: str) -> tuple[list[str], Floats]:
    """Refuse what cannot be compared; return the samples and the categories."""
    names = sorted(str(name) for name in rows["sample"].unique())
    categories = np.unique(rows["score"].to_numpy(float))
    if len(names) < 2:
        raise NotEstimable("ordinal.one_sample", attribute=attribute)
    if categories.size < 2:
        raise NotEstimable("ordinal.constant", attribute=attribute, score=short(categories[0]))
    if categories.size > _MOST_CATEGORIES:
        raise NotEstimable("ordinal.many", attribute=attribute, n=categories.size)
    if random != "none" and len(rows["assessor"].unique()) < 2:
        raise NotEstimable("ordinal.one_assessor", attribute=attribute)
    return names, categories


def _parts(random: str, nodes: int, *, repeated: bool) -> tuple[str, int]:
    """Settle the random parts and the way of integrating them out."""
    whole("nodes", nodes, 1)
    if nodes > 50:
        raise OptionError("ordinal.nodes", nodes=nodes)
    if random == "auto":
        random = "assessor and interaction" if repeated else "assessor"
    if random == "assessor and interaction":
        if not repeated:
            raise OptionError("ordinal.no_repeats")
        if nodes > 1:
            raise OptionError("ordinal.laplace_only", nodes=nodes)
    return random, nodes


def _frame(
    names: list[str],
    factors: pd.DataFrame | Mapping[str, Mapping[str, object]] | None,
    reference: str | None,
) -> Frame:
    """Make the design of the samples by treatment coding against the reference."""
    if reference is None:
        reference = names[0]
    if reference not in names:
        raise OptionError("ordinal.no_reference", reference=reference, have=names)
    structure = factor_table(factors, names)
    if not len(structure.columns):
        structure = pd.DataFrame({"sample": names}, index=names)
    terms, columns, effects = [], [], []
    for name in structure.columns:
        base = structure.loc[reference, name]
        for value in [value for value in sorted(structure[name].unique()) if value != base]:
            terms.append(str(value) if name == "sample" else f"{name}: {value}")
            columns.append((structure[name] == value).to_numpy(float))
            effects.append(str(name))
    design = np.column_stack(columns)
    if np.linalg.matrix_rank(design - design.mean(axis=0)) < design.shape[1]:
        raise NotEstimable("ordinal.aliased", factors=list(structure.columns))
    return Frame(samples=names, reference=reference, terms=terms, effects=effects, design=design)


def _from_null(model: CumulativeModel, null: Maximum) -> Floats:
    """Return parameters to start with: the thresholds found without effects.

    Not the deviations: the likelihood is flat where one is 0, and a search from there stays.
    """
    start = start_of(model)
    start[: model.thresholds] = null.parameters[: model.thresholds]
    return start


def _less(model: CumulativeModel, keep: npt.NDArray[np.bool_]) -> CumulativeModel:
    """Return the model with some columns of the design only."""
    return replace(model, scores=replace(model.scores, design=model.scores.design[:, keep]))


def _cells_of(
    rows: pd.DataFrame, assessors: list[str], names: list[str]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return the number of assessor and sample of each cell, in the order of `CategoryScores`."""
    cells = rows[["assessor", "sample"]].drop_duplicates().sort_values(["assessor", "sample"])
    return (
        np.searchsorted(assessors, cells["assessor"].to_numpy(str)),
        np.searchsorted(names, cells["sample"].to_numpy(str)),
    )


def _limited(shares: pd.DataFrame, separated: Sequence[str]) -> pd.DataFrame:
    """Take the limits from shares of samples whose estimates run off to infinity."""
    if not separated:
        return shares
    alike = shares.groupby("sample", sort=False)["observed"].transform("max") == 1
    bare = shares["sample"].isin(separated) | alike
    return shares.assign(**{name: shares[name].mask(bare) for name in ("low", "high")})


def _warnings(  # noqa: PLR0917
    rows: pd.DataFrame,
    categories: Floats,
    fit: Maximum,
    random: str,
    separated: tuple[str, ...],
    per_cell: pd.Series,
) -> tuple[Sentence, ...]:
    """Say what needs care."""
    told = []
    if separated:
        told.append(Sentence.of("ordinal.separated", names=list(separated)))
    whole_steps = np.all(categories % 1 == 0)
    unused = [
        f"{value:g}"
        for value in np.arange(categories[0], categories[-1])
        if whole_steps and value not in categories
    ]
    if unused:
        told.append(Sentence.of("ordinal.unused", n=len(unused), categories=unused))
    rare = [f"{value:g}" for value in categories if (rows["score"] == value).sum() < RARE]
    if rare:
        told.append(Sentence.of("ordinal.rare", n=len(rare), categories=rare))
    told += [Sentence.of(f"ordinal.boundary_{part}") for part in fit.boundary]
    if fit.model.random and np.abs(fit.parameters[-fit.model.random :]).max() > SWAMPED:
        told.append(Sentence.of("ordinal.swamped"))
    if random == "none" and len(rows["assessor"].unique()) > 1:
        told.append(Sentence.of("ordinal.ignored"))
    if random == "assessor" and (per_cell > 1).any():
        told.append(Sentence.of("ordinal.repeats_counted"))
    assessors = len(rows["assessor"].unique())
    if assessors < _FEW_ASSESSORS:
        told.append(Sentence.of("ordinal.few", n=assessors))
    sessions = len(rows["session"].unique())
    if sessions > 1:
        told.append(Sentence.of("ordinal.sessions", n=sessions))
    return tuple(told)
