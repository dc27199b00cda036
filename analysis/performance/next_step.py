"""What would the cheapest next step settle? Its chance, before anything is poured.

A few assessors left the order of two samples open. Would it be settled if each of them
tasted once more, if one more person tasted, or by a triangle test of the two? What may
come out is drawn from what is known now (a preposterior analysis); a step settles the
pair where what is then known passes the bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.special import ndtr

from ..core.options import at_least, share_of
from ..difference.psychometric import named
from .spreads import WIDTH_SD, Floats, Spreads, TwoWay, two_way

MANY = 5
"""Assessors in all to whom the largest step goes."""
TRIANGLES_EACH = 3
"""Triangles for each assessor in the test that is weighed."""
TRIANGLE_SETS = 6
"""Sets of three at least: with fewer the test of two people can hardly come out."""
NOTHING = 1e-7
"""Weight, as a share of the largest, below which a point of the prior is left out."""
_DRAWS = 400
"""Draws of what may come out; the standard error of a chance is at most 2.5 of 100."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """One step that could be taken, and the chance that it settles the pair.

    Attributes
    ----------
    step : {'tasting', 'assessor', 'five', 'triangle'}
        Everybody once more; one more assessor, as often as the others; as many as make
        `MANY`; a triangle test.
    cups : int
        Cups that it takes.
    chance : float
        Chance that the step settles it.
    """

    step: str
    cups: int
    chance: float


def next_steps(
    means: Floats,
    pair: tuple[int, int],
    *,
    replicates: int,
    parts: Sequence[tuple[Spreads, float]],
    bar: float = 0.95,
    seed: int = 1,
) -> list[NextStep]:
    """Weigh four next steps for one pair of samples in one attribute.

    Parameters
    ----------
    means : ndarray, shape (I, J)
        Mean marks of I assessors for J samples, without holes.
    pair : tuple of int
        The two columns.
    replicates : int
        Tastings behind each mean.
    parts : sequence of (Spreads, float)
        Parts of the prior of a single score, and the share of each.
    bar : float
        Probability of a direction from which on it counts as settled.
    seed : int
        Of the draws.

    Returns
    -------
    list of NextStep
        In the order tasting, assessor, five, triangle.

    Raises
    ------
    OptionError

    Notes
    -----
    Spreads and true means are drawn from what is known after these marks, then the marks
    of the step; `bar` is held against the probability that a further analysis with all
    marks would give. The triangle test has `TRIANGLES_EACH` sets for each assessor, at
    least `TRIANGLE_SETS`; it settles whether the two can be told apart where it comes out
    at the risk 1 - `bar`. It takes d' to be the drawn difference over the scatter of one tasting,
    that is: that the cups are told apart by this attribute alone. Everybody is taken to use the
    scale as widely as usual, also where widths are known: with unequal widths the chances are
    rough.
    """
    at_least("replicates", replicates, 1)
    share_of("bar", bar)
    rng = np.random.default_rng(seed)
    error, sample, prior = lattice_of(parts)
    share = parts[0][0].interaction_share

    def scale(times: float) -> Floats:
        found: Floats = error + np.log(share + (1 - share) / times) / 2
        return found

    data = two_way(means)
    log = np.log(prior) + data.log_likelihood(scale(replicates), sample)
    weight = np.exp(log - log.max())
    at = rng.choice(len(weight), size=_DRAWS, p=weight / weight.sum())
    one, between = np.exp(2 * error[at]), np.exp(2 * sample[at])
    cell = np.exp(2 * scale(replicates)[at])
    true = _true_means(data, cell, between, rng)
    centred = means - means.mean(axis=1, keepdims=True)
    # What an assessor finds in a sample beyond its true mean: part of it stays.
    own = (centred - true[:, None, :]) * (share * one / cell)[:, None, None]
    left = share * one * (1 - share * one / cell)
    shape = (_DRAWS, *means.shape)
    own = own + np.sqrt(left)[:, None, None] * rng.standard_normal(shape)
    noise = np.sqrt((1 - share) * one)[:, None, None] * rng.standard_normal(shape)
    again = _centred((replicates * centred + true[:, None, :] + own + noise) / (replicates + 1))
    assessors, samples = means.shape
    new = max(MANY - assessors, 1)
    more = true[:, None, :] + np.sqrt(cell)[:, None, None] * rng.standard_normal(
        (_DRAWS, new, samples)
    )
    everybody = np.concatenate([np.broadcast_to(centred, shape), _centred(more)], axis=1)
    now = scale(replicates), sample, prior
    sets = max(TRIANGLE_SETS, TRIANGLES_EACH * assessors)
    apart = np.abs(true[:, pair[0]] - true[:, pair[1]]) / np.sqrt((1 - share) * one)
    needed = int(stats.binom.isf(1 - bar, sets, 1 / 3)) + 1
    triangle = named("triangle")
    # Integrated numerically, it may lie beyond 1 by rounding.
    right = np.minimum([triangle.p_correct(float(one)) for one in apart], 1.0)
    return [
        NextStep(
            step="tasting",
            cups=assessors * samples,
            chance=_settled(again, pair, (scale(replicates + 1), sample, prior), bar),
        ),
        NextStep(
            step="assessor",
            cups=replicates * samples,
            chance=_settled(everybody[:, : assessors + 1], pair, now, bar),
        ),
        NextStep(
            step="five",
            cups=new * replicates * samples,
            chance=_settled(everybody, pair, now, bar),
        ),
        NextStep(
            step="triangle",
            cups=3 * sets,
            chance=float(np.mean(stats.binom.sf(needed - 1, sets, right))),
        ),
    ]


def lattice_of(parts: Sequence[tuple[Spreads, float]]) -> tuple[Floats, Floats, Floats]:
    """Return log error, log sample and weight (sum 1) of the whole prior."""
    nodes = [(spreads.points(), share) for spreads, share in parts]
    error, sample = (np.concatenate([one[at] for one, _ in nodes]) for at in (0, 1))
    weight = np.concatenate([one[2] * share for one, share in nodes])
    kept = weight > weight.max() * NOTHING
    return error[kept], sample[kept], weight[kept] / weight[kept].sum()


def _true_means(data: TwoWay, cell: Floats, between: Floats, rng: np.random.Generator) -> Floats:
    """Draw the samples' true means, sum 0, given both variances."""
    spread = between[:, None] + cell[:, None] * data.unit
    lasting = between[:, None] / spread
    along = lasting * (data.effects @ data.basis)
    sd = np.sqrt(lasting * cell[:, None] * data.unit)
    found: Floats = (along + sd * rng.standard_normal(along.shape)) @ data.basis.T
    return found


def _centred(marks: Floats) -> Floats:
    found: Floats = marks - marks.mean(axis=-1, keepdims=True)
    return found


def probabilities(marks: Floats, gaps: Floats, lattice: tuple[Floats, Floats, Floats]) -> Floats:
    """Return of many whole tables at once how probable it is that a difference is above 0.

    Parameters
    ----------
    marks : ndarray, shape (d, I, J)
        Tables of I assessors and J samples, assessors centred.
    gaps : ndarray, shape (d,)
        The difference of two samples' means in each.
    lattice : tuple of ndarray, each (g,)
        Log standard deviations of the error of a mark and of the samples, and their weight.

    Returns
    -------
    ndarray, shape (d,)
    """
    error, sample, prior = lattice
    assessors, samples = marks.shape[1:]
    effects = marks.mean(axis=1)
    squares = ((marks - effects[:, None, :]) ** 2).sum(axis=(1, 2))
    size = (effects**2).sum(axis=1)
    cell, between = np.exp(2 * error), np.exp(2 * sample)
    spread = between + cell / assessors
    log = (
        np.log(prior)
        - (assessors - 1) * (samples - 1) * error
        - (samples - 1) / 2 * np.log(spread)
        - squares[:, None] / (2 * cell)
        - size[:, None] / (2 * spread)
    )
    weight = np.exp(log - log.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    lasting = between / spread
    mean = lasting * gaps[:, None]
    sd = np.sqrt(2 * lasting * cell / assessors + mean**2 * WIDTH_SD**2 / assessors)
    found: Floats = (weight * ndtr(mean / sd)).sum(axis=1)
    return found


def _settled(
    marks: Floats, pair: tuple[int, int], lattice: tuple[Floats, Floats, Floats], bar: float
) -> float:
    """Return the share of drawn tables after which the pair's direction passes the bar."""
    effects = marks.mean(axis=1)
    above = probabilities(marks, effects[:, pair[0]] - effects[:, pair[1]], lattice)
    return float(((above > bar) | (above < 1 - bar)).mean())
