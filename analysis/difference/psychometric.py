"""How often a difference of d' is told: the psychometric functions of the forced-choice tests.

The model is Thurstone's: each cup gives a percept from a normal distribution
with standard deviation 1, and d' is the distance of the two samples' means in
these units. Each test has its own rule by which the percepts become an answer.

References
----------
Ura (1960); David & Trivedi (1962); Ennis, J. Sensory Studies 8 (1993) 353-370;
Bi, Ennis & O'Mahony, J. Sensory Studies 12 (1997) 87-104, for the variance of d'.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import ceil, inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import erf, ndtr

from ..core.errors import OptionError

Floats = NDArray[np.float64]
_FAR = 40.0  # a d' beyond this cannot be told from infinity in double precision


@dataclass(frozen=True, slots=True)
class ForcedChoice:
    """A test with right and wrong answers.

    Attributes
    ----------
    name : str
        As it is written in tables and on the command line.
    chance : float
        Probability of a right answer by guessing.
    cups : int
        Cups in one presentation.
    right : callable
        Probability of a right answer as a function of d'.
    directed : bool
        Whether the question names the attribute ("which is sweeter?").
    """

    name: str
    chance: float
    cups: int
    right: Callable[[float], float]
    directed: bool

    def p_correct(self, d_prime: float) -> float:
        """Return the probability of a right answer at `d_prime` (0 to infinity)."""
        if not d_prime >= 0:
            raise OptionError("difference.bad_d", found=d_prime)
        return self.right(float(d_prime)) if d_prime < _FAR else 1.0

    def d_prime(self, p_correct: float) -> float:
        """Return the d' at which this share of answers is right.

        At or below the guessing rate it is 0, at 1 infinite.
        """
        if not 0 <= p_correct <= 1:
            raise OptionError("difference.bad_share", found=p_correct)
        if p_correct <= self.chance:
            return 0.0
        if p_correct == 1:
            return inf
        high = 4.0
        while self.right(high) < p_correct:
            high *= 2
            if high > _FAR:
                return inf
        root: float = brentq(lambda d: self.right(d) - p_correct, 0.0, high, xtol=1e-12)
        return root

    def slope(self, d_prime: float) -> float:
        """Return the derivative of the psychometric function (five-point difference)."""
        h = 1e-3
        f = self.right
        ahead, behind = f(d_prime + h) - f(d_prime - h), f(d_prime + 2 * h) - f(d_prime - 2 * h)
        return (8 * ahead - behind) / (12 * h)

    def b_value(self, d_prime: float) -> float:
        """Return B = n var(d'), so that the standard error of d' is sqrt(B / n).

        Infinite where the function is flat: a triangle tells nothing about a
        d' of 0.
        """
        p = self.p_correct(d_prime)
        slope = self.slope(d_prime) if d_prime < _FAR else 0.0
        return p * (1 - p) / slope**2 if slope > 1e-9 else inf

    def p_of_distinguishers(self, share: float) -> float:
        """Return the share of right answers when `share` (0 to 1) tell and the others guess."""
        return self.chance + (1 - self.chance) * share

    def distinguishers(self, p_correct: float) -> float:
        """Return (p - chance) / (1 - chance); below 0 when fewer are right than by guessing."""
        return (p_correct - self.chance) / (1 - self.chance)


@cache
def _nodes(low: float, high: float, n: int = 160) -> tuple[Floats, Floats]:
    x, w = np.polynomial.legendre.leggauss(n)
    half = (high - low) / 2
    return low + half * (x + 1), half * w


@cache
def _normal(low: float, high: float) -> tuple[Floats, Floats, Floats]:
    """Return nodes, their weights times the normal density, and the normal distribution there."""
    x, w = _nodes(low, high)
    return x, w * np.exp(-0.5 * x * x) / sqrt(2 * np.pi), ndtr(x)


def choice(d: float, m: int) -> float:
    """Return how often the strongest of `m` cups, one of them stronger by `d`, is picked.

    ``int phi(z - d) Phi(z)^(m - 1) dz``.
    """
    z, weight, _ = _normal(-9.0, 9.0)
    return float(weight @ ndtr(z + d) ** (m - 1))


def _paired(d: float) -> float:
    return float(ndtr(d / sqrt(2)))


def _three(d: float) -> float:
    return choice(d, 3)


def _triangle(d: float) -> float:
    z, weight, _ = _normal(0.0, 9.0)
    shift = d * sqrt(2 / 3)
    return float(2 * weight @ (ndtr(-z * sqrt(3) + shift) + ndtr(-z * sqrt(3) - shift)))


def _duo_trio(d: float) -> float:
    a, b = float(ndtr(d / sqrt(2))), float(ndtr(d / sqrt(6)))
    return 1 - a - b + 2 * a * b


def _tetrad(d: float) -> float:
    x, weight, own = _normal(-9.0, 9.0)
    other = ndtr(x - d)
    return float(1 - 2 * weight @ ((2 * own - other) * other))


def _tetrad_specified(d: float) -> float:
    x, weight, own = _normal(-9.0, 9.0)
    return float(2 * weight @ (own * (1 - ndtr(x - d)) ** 2))


@cache
def _pair_and_trio(reach: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Return nodes r, s with s < r < reach, weights, and the chance that both sums arise."""
    t, wt = _nodes(0.0, 1.0, 96)
    pieces = [_nodes(low, low + 4.0, 32) for low in np.arange(0.0, reach, 4.0).tolist()]
    r, wr = (np.concatenate(parts) for parts in zip(*pieces, strict=True))
    whole, part = np.meshgrid(r, t, indexing="ij")
    inner = whole * part
    both = erf(whole / 2) * erf(inner / 2)
    return whole, inner, np.outer(wr * r, wt), both


def _odd_pair_on_top(d: float) -> float:
    """Return how often the two odd cups are the strongest two and are picked.

    m is the strongest of the three alike; s and r are how far the other two
    alike lie below m, and the two odd above it, added up. The sum of two
    normals is independent of their difference, so the pair lies on its side
    of m with probability erf(sum / 2); m itself is integrated out by hand.
    """
    r, s, weight, both = _pair_and_trio(16 + 4 * ceil(max(d, 0) / 2))
    # m: phi(m) n(2m - s; 0, sd sqrt2) n(2m + r; 2d, sd sqrt2), a Gaussian in m
    rest = (s * s + (r - 2 * d) ** 2) / 4 - (s - r + 2 * d) ** 2 / 10
    gaussian = np.exp(-rest) * sqrt(2 * np.pi / 5) / (sqrt(2 * np.pi) * 4 * np.pi)
    return float(3 * np.sum(weight * both * gaussian))


def _two_out_of_five(d: float) -> float:
    """Return how often the two odd of five cups are found.

    Rule: of the two ways to part the ordered percepts into two and three, the
    one with the smaller sum of squares within the groups. That is the lowest
    two when the mean lies below the median, else the highest two.
    """
    return _odd_pair_on_top(d) + _odd_pair_on_top(-d)


TESTS: dict[str, ForcedChoice] = {
    test.name: test
    for test in (
        ForcedChoice("triangle", 1 / 3, 3, _triangle, directed=False),
        ForcedChoice("duo-trio", 1 / 2, 3, _duo_trio, directed=False),
        ForcedChoice("paired", 1 / 2, 2, _paired, directed=True),
        ForcedChoice("3-afc", 1 / 3, 3, _three, directed=True),
        ForcedChoice("tetrad", 1 / 3, 4, _tetrad, directed=False),
        ForcedChoice("tetrad-specified", 1 / 6, 4, _tetrad_specified, directed=True),
        ForcedChoice("two-out-of-five", 1 / 10, 5, _two_out_of_five, directed=False),
    )
}


def named(name: str) -> ForcedChoice:
    """Return the test called `name`.

    Raises
    ------
    OptionError
        If there is none; the message lists them.

    Examples
    --------
    >>> round(named("triangle").p_correct(1), 4)
    0.418
    """
    try:
        return TESTS[name]
    except KeyError:
        raise OptionError("difference.no_test", found=name, have=list(TESTS)) from None
