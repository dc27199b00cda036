"""Joint distributions for comparing several means at once, by quadrature.

The studentized range (all pairs) and the largest of t's that share a
reference (many to one). The standard deviation is integrated over its chi
distribution, the shared part over the normal one, both by Gauss–Legendre;
many values are computed together.

References
----------
Tukey 1953, The problem of multiple comparisons (mimeograph). Dunnett 1955,
JASA 50:1096-1121. Hsu 1996, Multiple Comparisons (one-factor correlations).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.polynomial.chebyshev import Chebyshev
from scipy.special import chdtr, chdtrc, chdtri, ndtr, ndtri, stdtr, stdtrit

from .block_layout import Array

_TAIL = 1e-13
_NODES = 20
_POINTS = 12  # powers of 2


@cache
def _legendre(n: int) -> tuple[Array, Array]:
    return np.polynomial.legendre.leggauss(n)


@cache
def _normal(n: int) -> tuple[Array, Array]:
    """Return nodes and weights for the mean over a standard normal variable."""
    x, weight = _legendre(n)
    return 8.5 * x, 8.5 * weight * np.exp(-((8.5 * x) ** 2) / 2) / np.sqrt(2 * np.pi)


def _over_chi(df: Array) -> tuple[Array, Array]:
    """Return nodes and weights, on a new last axis, for the mean over s = chi / sqrt(df)."""
    nodes, weight = _legendre(32 if df.min() >= 8 else 64)
    df = np.minimum(df, 1e8)[..., None]
    low = np.sqrt(chdtri(df, 1 - _TAIL) / df)
    high = np.sqrt(chdtri(df, _TAIL) / df)
    s = (low + high) / 2 + (high - low) / 2 * nodes
    log_density = (df - 1) * np.log(np.maximum(s, 1e-300)) - df * (s**2 - 1) / 2
    weight = weight * np.exp(log_density - log_density.max(axis=-1, keepdims=True))
    return s, weight / weight.sum(axis=-1, keepdims=True)


def range_below(q: Array, means: int, df: Array) -> Array:
    """Return the probability that a studentized range stays below `q`.

    Parameters
    ----------
    q, df : array of the same shape
        Range in standard errors of a mean; degrees of freedom, may be inf.
    means : int
        Number of means compared.

    Returns
    -------
    array of that shape; the error is below 1e-7 (1e-5 with 1 degree of freedom).

    Examples
    --------
    >>> round(float(range_below(np.array([3.876777]), 3, np.array([10.0]))[0]), 6)
    0.95
    """
    s, weight = _over_chi(df)
    z, density = _normal(64 if means <= 8 else 96)
    wide = (q[..., None] * s)[..., None]
    between = np.maximum(ndtr(z) - ndtr(z - wide), 0.0) ** (means - 1)
    return np.asarray(np.clip(means * ((between @ density) * weight).sum(axis=-1), 0.0, 1.0))


def range_point(level: float, means: int, df: Array) -> Array:
    """Return the point that a studentized range stays below with probability `level`.

    It is smooth in 1 / df: many degrees of freedom are interpolated between
    Chebyshev's points, with an error below 1e-8.
    """
    low, high = float((1 / df).min()), float((1 / df).max())
    if df.size > _NODES and high > low:
        curve = Chebyshev.interpolate(
            lambda x: range_point(level, means, 1 / x), _NODES - 1, domain=[low, high]
        )
        return np.asarray(curve(1 / df))
    start = np.sqrt(2) * stdtrit(df, 1 - (1 - level) / (means * (means - 1)))
    return _solve(lambda q: range_below(q, means, df), level, start)


def _solve(below: Callable[[Array], Array], level: float, start: Array) -> Array:
    """Solve below(x) = level by the secant method from a start that is a little too far out."""
    old, new = start * 1.05, start
    f_old, f_new = below(old) - level, below(new) - level
    for _ in range(30):
        slope = (f_new - f_old) / np.where(new == old, 1.0, new - old)
        move = np.divide(f_new, slope, out=np.zeros_like(new), where=slope > 0)
        move = np.clip(move, -new, new / 2)
        old, f_old, new = new, f_new, new - move
        if np.max(np.abs(move) / new) < 1e-9:
            break
        f_new = below(new) - level
    return new


def loadings(correlation: Array) -> Array | None:
    """Return lambda with rho_ij = lambda_i lambda_j if there is one, else None."""
    found = nearest_loadings(correlation)
    if found is None:
        return None
    fits = np.allclose(
        (np.outer(found, found) - correlation)[np.triu_indices(len(found), 1)], 0, atol=1e-7
    )
    return found if fits else None


def nearest_loadings(correlation: Array) -> Array | None:
    """Return the lambda that fits log rho_ij best; None where there are negative ones."""
    k = len(correlation)
    if k == 1:
        return np.zeros(1)
    pairs = np.column_stack(np.triu_indices(k, 1))
    rho = correlation[pairs[:, 0], pairs[:, 1]]
    if (rho <= 0).any():
        return np.zeros(k) if np.allclose(rho, 0, atol=1e-12) else None
    design = np.zeros((len(pairs), k))
    design[np.arange(len(pairs)), pairs[:, 0]] = 1
    design[np.arange(len(pairs)), pairs[:, 1]] = 1
    found: Array = np.exp(np.linalg.lstsq(design, np.log(rho), rcond=None)[0])
    return found if (found < 1).all() else None


def many_below(t: Array, df: Array, correlation: Array, *, two_sided: bool = True) -> Array:
    """Return the probability that all of k joint t's stay below `t` (in size, if two-sided).

    Exact by quadrature when the correlations factor, as they always do for
    up to three comparisons and in balanced data; otherwise the difference from
    the nearest correlations that factor is added by quasi-Monte Carlo with a
    fixed seed: an error of about 1e-5 with a few holes, of 1e-3 at most with
    correlations that are far from factoring.

    Parameters
    ----------
    t, df : array, shape (c,)
        Points, and the degrees of freedom of each.
    correlation : array, shape (k, k)

    Examples
    --------
    >>> half = np.full((2, 2), 0.5) + np.eye(2) / 2
    >>> round(float(many_below(np.array([3.0302]), np.array([5.0]), half)[0]), 4)
    0.95
    """
    shared = loadings(correlation)
    if len(correlation) == 1:
        return np.asarray(stdtr(df, t) - (stdtr(df, -t) if two_sided else 0.0))
    if shared is None:
        df = np.minimum(df, 1e8)
        found = _by_sampling(t, df, correlation, two_sided=two_sided)
        near = nearest_loadings(correlation)
        if near is not None:
            like = np.outer(near, near)
            np.fill_diagonal(like, 1.0)
            found += _by_factor(t, df, near, two_sided=two_sided)
            found -= _by_sampling(t, df, like, two_sided=two_sided)
        return np.clip(found, 0.0, 1.0)
    return _by_factor(t, df, shared, two_sided=two_sided)


def _by_factor(t: Array, df: Array, shared: Array, *, two_sided: bool) -> Array:
    """Integrate over the shared part and the standard deviation."""
    s, weight = _over_chi(df)
    z, density = _normal(96)
    root = np.sqrt(1 - shared**2)
    product = np.ones((*s.shape, len(z)))
    for loading, rest in zip(shared, root, strict=True):
        edge = (t[:, None] * s)[..., None]
        part = ndtr((edge - loading * z) / rest)
        if two_sided:
            part = part - ndtr((-edge - loading * z) / rest)
        product *= part
    return np.asarray(np.clip(((product @ density) * weight).sum(axis=-1), 0.0, 1.0))


@cache
def _largest(correlation: bytes, k: int, two_sided: bool) -> Array:
    """Draw the largest of k normal values (in size, if two-sided), by quasi-Monte Carlo."""
    from scipy.stats import qmc

    values, vectors = np.linalg.eigh(np.frombuffer(correlation).reshape(k, k))
    # the symmetric root: like correlations give like draws
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    points = qmc.Sobol(k, rng=np.random.default_rng(20240)).random_base2(_POINTS)
    normal = ndtri(np.clip(points, 1e-15, 1 - 1e-15)) @ root.T
    largest: Array = (np.abs(normal) if two_sided else normal).max(axis=1)
    return largest


def _by_sampling(t: Array, df: Array, correlation: Array, *, two_sided: bool) -> Array:
    """Average over the draws the chance that the standard deviation is large enough for `t`."""
    largest = _largest(np.ascontiguousarray(correlation).tobytes(), len(correlation), two_sided)
    found = np.empty(t.shape)
    for i, (point, nu) in enumerate(zip(t, df, strict=True)):
        if point > 0:
            within = chdtrc(nu, nu * (np.maximum(largest, 0.0) / point) ** 2)
        else:  # only one-sided: the largest must lie below 0, and far enough
            within = np.where(
                largest < 0, chdtr(nu, nu * (largest / min(point, -1e-300)) ** 2), 0.0
            )
        found[i] = within.mean()
    return found


def many_point(level: float, df: Array, correlation: Array, *, two_sided: bool = True) -> Array:
    """Return the point that all of k joint t's stay below with probability `level`."""
    k = len(correlation)
    start = stdtrit(df, 1 - (1 - level) / (k * (2 if two_sided else 1)))
    return _solve(lambda x: many_below(x, df, correlation, two_sided=two_sided), level, start)
