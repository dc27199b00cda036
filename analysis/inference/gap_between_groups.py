"""How large a gap chance leaves between two groups of one sample.

References
----------
David & Nagaraja (2003), Order Statistics, 3rd ed., section 2.3 (joint distribution of
two order statistics). The probability that the k-th of n independent values is the last
one below a gap of at least g is n! / ((k-1)! (n-k)!) times the integral of
f(x) F(x)^(k-1) (1 - F(x+g))^(n-k).
"""

from __future__ import annotations

from math import comb, isinf

import numpy as np
import numpy.typing as npt
from scipy.special import gammainccinv, gammaln, ndtr, roots_legendre

Floats = npt.NDArray[np.float64]
_NODES, _WEIGHTS = roots_legendre(200)
_FAR = 9.0
"""Standard deviations beyond which no normal value is looked for."""


def chance_of_gap(gap: float, n: int, *, fewest: int = 1, df: float = float("inf")) -> float:
    """Bound the chance of so large a gap inside a sample of independent normal values.

    Parameters
    ----------
    gap : float
        Distance between two neighbours in standard deviations, at least 0; with finite
        `df` in standard deviations as estimated.
    n : int
        Number of values, at least 2.
    fewest : int
        Values that must lie on either side of the gap.
    df : float
        Degrees of freedom of an independent estimate of the standard deviation.

    Returns
    -------
    float
        Sum of the chances over all places of the gap: an upper limit of the chance of any,
        and exact where the gap has one place only.

    Examples
    --------
    >>> round(chance_of_gap(1.0, 4, fewest=2), 4)
    0.1876
    >>> chance_of_gap(0.0, 4, fewest=2), chance_of_gap(3.0, 3, fewest=2)
    (1.0, 0.0)
    """
    places = range(fewest, n - fewest + 1)
    if gap <= 0:
        return float(bool(places))
    x = _FAR * _NODES[:, None]
    below, dense = ndtr(x), np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi)
    if isinf(df):
        scale, share = np.ones(1), np.ones(1)
    else:
        most = float(np.sqrt(2 * gammainccinv(df / 2, 1e-14)) / np.sqrt(df))
        scale = most * (_NODES + 1) / 2
        share = most / 2 * _WEIGHTS * _chi_density(scale * np.sqrt(df), df) * np.sqrt(df)
    above = ndtr(-(x + gap * scale))
    found = 0.0
    for k in places:
        inside = dense * below ** (k - 1) * above ** (n - k)
        each = _FAR * (_WEIGHTS @ inside)
        found += comb(n, k) * k * float(share @ each)
    return min(1.0, found)


def _chi_density(x: Floats, df: float) -> Floats:
    """Return the density of chi, which `scipy.stats` has too, but takes long to load."""
    height = np.log(2) - np.log(2) * df / 2 - gammaln(df / 2)
    density: Floats = np.exp(height + (df - 1) * np.log(x) - x**2 / 2)
    return density
