"""The restricted log-likelihood of a mixed model and its exact derivatives.

With B the part of V inside blocks and M = [U X y] (border, fixed columns,
scores), everything that REML needs is a function of log|B| and the small
matrix T = M' B^-1 M. Their first and second derivatives are sums over blocks,
so time grows linearly with assessors, and all responses go through together.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from .block_layout import Array, Blocks


@dataclass(slots=True, eq=False)
class _Sums:
    """log|B|, T and their derivatives inside blocks, summed over blocks."""

    logdet: Array  # (a,)
    logdet1: Array  # (a, k)
    logdet2: Array  # (a, k, k)
    small: Array  # (a, m, m)
    small1: Array  # (a, k, m, m)
    small2: Array  # (a, k, k, m, m)


def _inverse(covariance: Array) -> tuple[Array, Array, npt.NDArray[np.bool_]]:
    """Return inverse, log determinant, and whether the matrices are positive definite."""
    unit = np.eye(covariance.shape[-1])
    try:
        root = np.linalg.cholesky(covariance)
    except np.linalg.LinAlgError:
        values = np.linalg.eigvalsh(covariance)
        good = values[..., 0] > 1e-12 * np.abs(values[..., -1])
        root = np.linalg.cholesky(np.where(good[..., None, None], covariance, unit))
        covariance = np.where(good[..., None, None], covariance, unit)
    else:
        good = np.ones(covariance.shape[:-2], dtype=bool)
    edge = np.diagonal(root, axis1=-2, axis2=-1)
    sound = edge.min(axis=-1) > 1e-7 * edge.max(axis=-1)
    if not sound.all():
        good, covariance = good & sound, np.where(sound[..., None, None], covariance, unit)
    return np.linalg.inv(covariance), 2 * np.log(edge).sum(axis=-1), good


def _sum_blocks(data: Blocks, theta: Array) -> tuple[_Sums, npt.NDArray[np.bool_]]:
    """Sum what each block gives to the criterion and its derivatives."""
    mask, columns = data.mask, data.columns
    a, g, n, m = columns.shape
    shares = [*data.inside, data.inverse_count]
    inner = [*range(len(data.inside)), theta.shape[1] - 1]
    k = len(shares)
    covariance = np.zeros((a, g, n, n))
    diagonal = 1.0 - mask
    for share, index in zip(shares, inner, strict=True):
        weight = theta[:, index]
        if share.ndim == 3:
            diagonal = diagonal + weight[:, None, None] * share
        else:
            covariance += weight[:, None, None, None] * share
    covariance[..., np.arange(n), np.arange(n)] += diagonal
    inverse, logdet, good = _inverse(covariance)

    weighted = inverse @ columns
    bent = np.empty((a, g, n, k, m))
    turned = np.empty((a, g, k, n, n))  # B^-1 G_i
    for i, share in enumerate(shares):
        if share.ndim == 3:
            bent[..., i, :] = share[..., None] * weighted
            turned[:, :, i] = inverse * share[..., None, :]
        else:
            bent[..., i, :] = share @ weighted
            turned[:, :, i] = inverse @ share
    flat = bent.reshape(a, g, n, k * m)
    copies = data.copies
    scaled = (flat * copies[..., None, None]).swapaxes(-1, -2)
    small = ((columns * copies[..., None, None]).swapaxes(-1, -2) @ weighted).sum(axis=1)
    first = -((weighted * copies[..., None, None]).swapaxes(-1, -2) @ flat).sum(axis=1)
    second = (scaled @ (inverse @ flat)).sum(axis=1).reshape(a, k, m, k, m)
    second = second.transpose(0, 1, 3, 2, 4)
    second = second + second.swapaxes(-1, -2)
    lined = turned.reshape(a, g, k, n * n)
    crossed = turned.swapaxes(-1, -2).reshape(a, g, k, n * n)
    sums = _Sums(
        logdet=(copies * logdet).sum(axis=1),
        logdet1=(copies[..., None] * np.trace(turned, axis1=-2, axis2=-1)).sum(axis=1),
        logdet2=-((lined * copies[..., None, None]) @ crossed.swapaxes(-1, -2)).sum(axis=1),
        small=small,
        small1=first.reshape(a, m, k, m).transpose(0, 2, 1, 3).copy(),
        small2=second.copy(),
    )
    if data.spread is not None:
        _add_spread(sums, inverse, turned, data.spread)
    return sums, np.asarray(good.all(axis=1))


def _add_spread(sums: _Sums, inverse: Array, turned: Array, spread: Array) -> None:
    """Add what blocks that are stored once differ in: sums of squares around their mean."""
    bent = (inverse @ spread)[:, :, None]  # B^-1 S
    sums.small[:, -1, -1] += np.trace(bent[:, :, 0], axis1=-2, axis2=-1).sum(axis=1)
    once = turned @ bent  # B^-1 G_i B^-1 S
    sums.small1[:, :, -1, -1] -= np.trace(once, axis1=-2, axis2=-1).sum(axis=1)
    a, g, k = turned.shape[:3]
    crossed = once.swapaxes(-1, -2).reshape(a, g, k, -1)
    twice = (turned.reshape(a, g, k, -1) @ crossed.swapaxes(-1, -2)).sum(axis=1)
    sums.small2[:, :, :, -1, -1] += twice + twice.swapaxes(-1, -2)


@dataclass(slots=True, eq=False)
class State:
    """The criterion and its derivatives by all variances at one point."""

    good: npt.NDArray[np.bool_]
    value: Array
    gradient: Array
    observed: Array
    expected: Array
    bordered: Array  # E of the equations, (a, m - 1, m - 1)
    bordered1: Array
    bordered2: Array
    right: Array  # (a, m - 1)

    def take(self, which: npt.NDArray[np.intp]) -> State:
        """Return some of the responses."""
        if len(which) == len(self.value):
            return self
        return State(*(getattr(self, field.name)[which] for field in fields(self)))

    def put(self, which: npt.NDArray[np.intp], other: State) -> None:
        """Overwrite some of the responses."""
        for field in fields(self):
            getattr(self, field.name)[which] = getattr(other, field.name)


def evaluate(data: Blocks, theta: Array) -> State:
    """Evaluate minus twice the restricted log-likelihood with exact derivatives.

    The border enters as T D + J with D = diag(theta of the border, 1) and
    J = diag(1, 0): linear in its variances and well-defined at 0.
    """
    sums, good = _sum_blocks(data, theta)
    plan = data.plan
    a, parameters = theta.shape
    m = sums.small.shape[1]
    u = len(plan.border)
    edges = plan.border.shape[1]
    inside = parameters - 1 - edges
    inner = np.array([*range(inside), parameters - 1])
    scaling = np.ones((a, m))
    scaling[:, :u] = theta[:, inside : inside + edges] @ plan.border.T
    whole = sums.small * scaling[:, None, :]
    whole[:, range(u), range(u)] += 1
    whole1 = np.zeros((a, parameters, m, m))
    whole2 = np.zeros((a, parameters, parameters, m, m))
    whole1[:, inner] = sums.small1 * scaling[:, None, None, :]
    whole2[:, inner[:, None], inner] = sums.small2 * scaling[:, None, None, None, :]
    for edge in range(edges):
        chosen = np.zeros(m)
        chosen[:u] = plan.border[:, edge]
        whole1[:, inside + edge] = sums.small * chosen
        mixed = sums.small1 * chosen
        whole2[:, inside + edge, inner] = mixed
        whole2[:, inner, inside + edge] = mixed
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        large, large1, large2 = _logdet(whole, whole1, whole2)
        part = slice(0, m - 1)
        less, less1, less2 = _logdet(
            whole[:, part, part], whole1[:, :, part, part], whole2[..., part, part]
        )
        quadratic = np.exp(large - less)
        slope = large1 - less1
        residual = theta[:, -1]
        value = sums.logdet + less + quadratic
        fixed1, fixed2 = less1.copy(), less2.copy()
        fixed1[:, inner] += sums.logdet1
        fixed2[:, inner[:, None], inner] += sums.logdet2
        fixed1[:, -1] += data.extra / residual
        fixed2[:, -1, -1] -= data.extra / residual**2
        gradient = fixed1 + quadratic[:, None] * slope
        bend = quadratic[:, None, None] * (large2 - less2 + slope[:, :, None] * slope[:, None, :])
        gradient[:, -1] -= data.within / residual**2
        bend[:, -1, -1] += 2 * data.within / residual**3
        value = value + data.extra * np.log(residual) + data.within / residual + data.constant
    if u and (theta[:, inside : inside + edges] < 0).any():
        good = good & (np.linalg.eigvals(whole[:, :u, :u]).real.min(axis=1) > 1e-12)
    good = good & np.isfinite(value) & np.isfinite(gradient).all(axis=1) & (residual > 0)
    return State(
        good=good,
        value=value,
        gradient=gradient,
        observed=fixed2 + bend,
        expected=-fixed2,
        bordered=whole[:, part, part],
        bordered1=whole1[:, :, part, part],
        bordered2=whole2[..., part, part],
        right=sums.small[:, part, -1],
    )


def _logdet(matrix: Array, first: Array, second: Array) -> tuple[Array, Array, Array]:
    """Return log|A| and its first and second derivatives from those of A."""
    a, parameters, m, _ = first.shape
    sign, logdet = np.linalg.slogdet(matrix)
    safe = np.where((sign > 0)[:, None, None], matrix, np.eye(m))
    inverse = np.linalg.inv(safe)
    turned = inverse[:, None] @ first
    lined = turned.reshape(a, parameters, m * m)
    crossed = turned.swapaxes(-1, -2).reshape(a, parameters, m * m)
    curved = second.reshape(a, parameters * parameters, m * m) @ inverse.swapaxes(-1, -2).reshape(
        a, m * m, 1
    )
    return (
        np.where(sign > 0, logdet, np.nan),
        np.trace(turned, axis1=-2, axis2=-1),
        curved.reshape(a, parameters, parameters) - lined @ crossed.swapaxes(-1, -2),
    )
