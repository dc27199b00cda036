"""A map of the samples, always with its uncertainty and the share it explains.

A map of three bottles by eight assessors looks as sure of itself as one of
thirty bottles by a hundred; and it lays out noise as neatly as signal. So three
things stand with every map. Ellipses: assessors are drawn again with
replacement and every draw is placed on the same axes; the ellipses are widened
for small panels. A test of the whole: would the bottles spread as much if every
assessor's answers were dealt out to them at random? A test of each pair, by
exchanging the two bottles' answers, assessor by assessor, in all ways.

Ellipses are not a test: the axes were chosen to spread the samples out, so the
ellipses of two identical samples often lie apart. (Turning every draw onto the
first map, as is often done, makes that much worse: with eight assessors and
pure noise nearly every map then shows samples "apart".)
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import fdtri

from ...rounding import rounded
from ..core.errors import NotEstimable
from ..core.options import share_of, whole
from ..core.p_values import holds
from ..core.plotted import Plotted
from ..core.result import copies
from ..core.wording import add_up, p_words, percent
from ..core.words import FALLBACK, Sentence
from .resampled_space import ALL_WAYS, PERMUTATIONS, Floats, Space, cloud_of, pair_tests, whole_p

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FEW_SAMPLES = 5
"""Samples below which two dimensions are said to show nearly everything by necessity."""
PLANE = 3
"""Points up to which a plane holds all of them, whatever they are."""
WHOLE = 0.9995
"""Share of the variation from which a plane shows all of it, as percentages are written."""
FEWEST_SAMPLES = 3
FEWEST_ASSESSORS = 4


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Map(Plotted):
    """Positions of samples in a plane, with ellipses from resampled assessors.

    Attributes
    ----------
    kind : str
        How the map was made: the name of the method, key of topic ``maps``.
    points : DataFrame
        Columns ``sample, dim1, dim2, …``.
    arrows : DataFrame
        Columns ``name, dim1, dim2``: what pulls samples where. Correlations
        of attributes with the dimensions, or positions of words.
    eigenvalues : DataFrame
        Columns ``dimension, eigenvalue, share``; shares add up to 1.
    ellipses : DataFrame
        Columns ``sample, x, y, major, minor, angle``: half axes, and the angle
        of the longer one from the first dimension, in degrees.
    pairs : DataFrame
        Columns ``first, second, distance, p, holm, apart``: distance in the
        whole space of the method; p of exchanging the two samples' answers;
        adjusted by Holm over the pairs; apart where that is at most
        1 - `level`. Empty where the method has no such test.
    p : float
        Of the whole: how often answers dealt out at random spread the samples
        as much.
    permutations : int
        Deals behind `p` (the observed one counted in).
    assessors, draws, seed, level
        What the ellipses rest on.
    left_out : tuple of str
        Assessors (or samples) without enough answers, left out.
    notes : tuple of Sentence
        What else this method has to say.
    """

    kind: str
    points: pd.DataFrame
    arrows: pd.DataFrame
    eigenvalues: pd.DataFrame
    ellipses: pd.DataFrame
    pairs: pd.DataFrame
    p: float
    permutations: int
    assessors: int
    draws: int
    seed: int
    level: float
    left_out: tuple[str, ...] = ()
    notes: tuple[Sentence, ...] = ()

    @property
    def explained(self) -> float:
        """The share of the variation that the plane shows."""
        return float(self.eigenvalues["share"].head(2).sum())

    @property
    def real(self) -> bool:
        """Whether the samples lie farther apart than chance spreads them."""
        return bool(holds(self.p, 1 - self.level))

    def figure(
        self,
        *,
        names: Mapping[str, str] | None = None,
        samples: Mapping[str, str] | None = None,
        order: Sequence[str] | None = None,
        told_apart: Sequence[str] = (),
        surest: Sequence[str] = (),
        language: str = FALLBACK,
        narrow: bool = False,
    ) -> Figure:
        """Draw the map: samples with their ellipses, and beside it what pulls where.

        Parameters
        ----------
        names, samples : mapping, optional
            What to call attributes (or words) and samples.
        order : sequence of str, optional
            Of the samples, which gives them their signs; as on the map by default.
        told_apart : sequence of str
            Attributes in which the samples are shown to differ: in bold, and drawn before others.
        surest : sequence of str
            Attributes from the best evidence on: the order of arrows that are equally long, as all
            are with three samples.
        language : str
        narrow : bool
            Whether for the screen of a telephone.
        """
        from .plane_figure import draw_map

        return draw_map(
            self.ellipses,
            self.arrows,
            self.eigenvalues["share"].tolist(),
            real=self.real,
            positions=self.kind == "correspondence",
            assessors=self.assessors,
            names=names,
            samples=samples,
            order=order,
            told_apart=told_apart,
            surest=surest,
            language=language,
            narrow=narrow,
        )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether there is anything to see, what the plane shows, which pairs differ."""
        first, second = (float(x) for x in [*self.eigenvalues["share"], 0.0, 0.0][:2])
        said = [
            Sentence.of("maps.real" if self.real else "maps.noise", p=p_words(self.p)),
            Sentence.of(
                "maps.explained" if first + second < WHOLE else "maps.explained_all",
                method=Sentence.of(f"maps.{self.kind}"),
                both=percent(first + second),
                first=percent(first),
                second=percent(second),
            ),
        ]
        if not add_up((first, second), first + second):
            said.append(Sentence.of("common.rounded"))
        if len(self.pairs):
            said.append(self._pairs_said())
        said.append(Sentence.of("maps.basis", n=self.assessors, draws=self.draws, seed=self.seed))
        return (*said, *self.notes)

    def _pairs_said(self) -> Sentence:
        apart = self.pairs[self.pairs["apart"]]
        listed = [
            Sentence.of("maps.pair", first=first, second=second)
            for first, second in zip(apart["first"], apart["second"], strict=True)
        ]
        if listed:
            return Sentence.of("maps.apart", listed=listed)
        best = 2 / 2**self.assessors * len(self.pairs)
        if self.assessors <= ALL_WAYS and not holds(best, 1 - self.level):
            least = rounded(min(1.0, best), ".2g")
            return Sentence.of(
                "maps.pairs_could_not", n=self.assessors, pairs=len(self.pairs), least=least
            )
        return Sentence.of("maps.none_apart")

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return positions, shares, ellipses and pairs."""
        shown = {
            "maps.points": self.points,
            "maps.eigenvalues": self.eigenvalues,
            "maps.arrows": self.arrows,
            "maps.ellipses": self.ellipses,
        }
        if len(self.pairs):
            shown["maps.pairs"] = self.pairs
        return copies(**shown)


def radius2(n: int, level: float = 0.95) -> float:
    """Return the squared radius of an ellipse, in units of the bootstrap covariance.

    Parameters
    ----------
    n : int
        Assessors, at least 3.
    level : float

    Notes
    -----
    A bootstrap of n assessors has (n-1)/n of the variance of their mean. With
    that put right, Hotelling's T2 in two dimensions gives
    ``2 n / (n - 2) F(level; 2, n - 2)``; it tends to the chi-square quantile
    (5.99 at 95 %) in large panels.

    Examples
    --------
    >>> round(radius2(8), 2), round(radius2(100_000), 2)
    (13.72, 5.99)
    """
    return float(2 * n / (n - 2) * fdtri(2, n - 2, level))


def turned(moving: Floats, fixed: Floats) -> Floats:
    """Turn and mirror a configuration onto another of the same samples, without scaling.

    Parameters
    ----------
    moving, fixed : ndarray, shape (samples, dimensions)

    Returns
    -------
    ndarray
        `moving`, centred on `fixed` and rotated to the least squared distance.

    References
    ----------
    Schoenemann (1966), Psychometrika 31:1-10.
    """
    middle = fixed.mean(axis=0)
    centred = moving - moving.mean(axis=0)
    u, _, vt = np.linalg.svd(centred.T @ (fixed - middle))
    rotated: Floats = centred @ (u @ vt) + middle
    return rotated


def ellipses_of(
    samples: list[str], fixed: Floats, cloud: Floats, n: int, level: float
) -> pd.DataFrame:
    """Return the ellipse of each sample, as in `Map`.

    Parameters
    ----------
    samples : list of str
    fixed : ndarray, shape (samples, 2 or more)
    cloud : ndarray, shape (draws, samples, 2 or more)
    n : int
        Assessors.
    level : float
    """
    reach = radius2(n, level)
    shapes = []
    for place, name in enumerate(samples):
        values, vectors = np.linalg.eigh(np.cov(cloud[:, place, :2].T))
        minor, major = np.sqrt(np.maximum(values, 0) * reach)
        angle = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1])) % 180
        x, y = fixed[place, :2]
        shapes.append(
            {"sample": name, "x": x, "y": y, "major": major, "minor": minor, "angle": angle}
        )
    return pd.DataFrame(shapes)


def asked(samples: int, assessors: int, level: float, draws: int) -> None:
    """Check that there is enough for a map with its uncertainty.

    Raises
    ------
    NotEstimable
        With fewer than 3 samples or 4 assessors.
    OptionError
        For a level outside (0, 1) or fewer than 100 draws.
    """
    share_of("level", level)
    whole("draws", draws, 100)
    if samples < FEWEST_SAMPLES:
        raise NotEstimable("maps.few_samples", n=samples, least=FEWEST_SAMPLES)
    if assessors < FEWEST_ASSESSORS:
        raise NotEstimable("maps.few_assessors", n=assessors, least=FEWEST_ASSESSORS)


def said_left_out(names: tuple[str, ...]) -> tuple[Sentence, ...]:
    """Name who is not on the map, if anybody."""
    return (Sentence.of("maps.left_out", n=len(names), names=names),) if names else ()


def drawn_map(
    kind: str,
    space: Space,
    *,
    samples: list[str],
    eigenvalues: Floats,
    arrows: pd.DataFrame,
    level: float,
    draws: int,
    seed: int,
    left_out: tuple[str, ...] = (),
    notes: tuple[Sentence, ...] = (),
    warnings: tuple[Sentence, ...] = (),
) -> Map:
    """Put a map together: positions, ellipses, the test of the whole and of the pairs."""
    fixed = wide(space.positions(space.data))
    cloud = cloud_of(space, draws=draws, seed=seed)
    if len(cloud) < draws / 2:
        raise NotEstimable("maps.no_draws", kept=len(cloud), draws=draws)
    cloud = wide(cloud)
    n = len(space.data)
    if len(cloud) < draws:
        warnings = (*warnings, Sentence.of("maps.lost_draws", n=draws - len(cloud), of=draws))
    warnings = (*warnings, *said_left_out(left_out))
    if len(samples) < FEW_SAMPLES:
        key = "maps.small_all" if len(samples) <= PLANE else "maps.small"
        warnings = (*warnings, Sentence.of(key, n=len(samples)))
    return Map(
        kind=kind,
        points=points_of(samples, fixed),
        arrows=arrows,
        eigenvalues=shares_of(eigenvalues),
        ellipses=ellipses_of(samples, fixed, cloud, n, level),
        pairs=pair_tests(samples, space, level=level, seed=seed),
        p=whole_p(space, seed=seed),
        permutations=PERMUTATIONS + 1,
        assessors=n,
        draws=len(cloud),
        seed=seed,
        level=level,
        left_out=left_out,
        notes=notes,
        warnings=warnings,
    )


def points_of(samples: list[str], fixed: Floats) -> pd.DataFrame:
    """Return positions as a table."""
    names = [f"dim{d}" for d in range(1, fixed.shape[1] + 1)]
    return pd.DataFrame(fixed, columns=names).assign(sample=samples)[["sample", *names]]


def arrows_of(names: list[str], pulls: Floats) -> pd.DataFrame:
    """Return the first two columns of correlations or positions as arrows."""
    both = wide(pulls)
    return pd.DataFrame({"name": names, "dim1": both[:, 0], "dim2": both[:, 1]})


def correlated(means: Floats, rows: Floats) -> Floats:
    """Return the correlations of centred columns; 0 where one does not move."""
    below = np.outer(np.sqrt((means**2).sum(axis=0)), np.sqrt((rows**2).sum(axis=0)))
    with np.errstate(invalid="ignore", divide="ignore"):
        correlations: Floats = np.nan_to_num(means.T @ rows / below)
    return correlations


def shares_of(eigenvalues: Floats) -> pd.DataFrame:
    """Return eigenvalues with the shares that they explain."""
    return pd.DataFrame(
        {
            "dimension": np.arange(1, len(eigenvalues) + 1),
            "eigenvalue": eigenvalues,
            "share": eigenvalues / eigenvalues.sum(),
        }
    )


def wide(made: Floats, width: int = 2) -> Floats:
    """Give positions at least two dimensions; a lacking one is 0."""
    lacking = width - made.shape[-1]
    if lacking <= 0:
        return made
    return np.concatenate([made, np.zeros((*made.shape[:-1], lacking))], axis=-1)


def steady(vectors: Floats) -> Floats:
    """Return +1 or -1 per column, so that its largest entry becomes positive."""
    places = np.abs(vectors).argmax(axis=0)
    signs: Floats = np.sign(vectors[places, np.arange(vectors.shape[1])])
    signs[signs == 0] = 1
    return signs
