"""Restricted maximum likelihood for small crossed and nested designs, many responses at once.

The model of one response is ``y = X b + sum_k Z_k u_k + e``; the variances of
the random terms enter the covariance of the data linearly::

    V(theta) = sum_k theta_k Z_k Z_k' + theta_e I

All responses go through each step together. Fisher scoring in the variances is
exact in one step when data are balanced; Newton's method with the exact second
derivatives (see `criterion`) finishes.

References
----------
Patterson & Thompson 1971, Biometrika 58:545-554 (REML). Harville 1977, JASA
72:320-338 (score and information). Bates et al. 2015, J. Stat. Softw. 67(1)
(the criterion, reported here in the same form).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from .block_layout import Array, BlockedDesign, Blocks, CellSums, RandomTerm, arrange, lay_out
from .reml_criterion import State, evaluate

_DECREMENT = 1e-13  # squared distance to the optimum, in standard errors of the variances
_STEPS = 60
_CHUNK = 400_000  # numbers per working array


@dataclass(frozen=True, slots=True, eq=False)
class RemlFit:
    """Estimates for a responses under one model with P variances and p fixed effects.

    Attributes
    ----------
    names : tuple of str
        Names of the variances (and covariances of slopes), the residual last.
    theta : array, shape (a, P)
        Their estimates.
    beta : array, shape (a, p)
        Fixed effects.
    phi : array, shape (a, p, p)
        Covariance of the fixed effects at `theta`.
    phi_first, phi_second : array, shape (a, P, p, p) and (a, P, P, p, p)
        Its derivatives by the variances.
    plain : array, shape (a, p, p)
        Inverse of X'X: their covariance by ordinary least squares with variance 1.
    gradient, observed : array, shape (a, P) and (a, P, P)
        First and second derivatives of `criterion`.
    expected : array, shape (a, P, P)
        Expectation of `observed`: twice the information of the variances.
    criterion : array, shape (a,)
        Minus twice the restricted log-likelihood.
    free : boolean array, shape (a, P)
        False where a variance was held at its bound of 0.
    converged : boolean array, shape (a,)
    floor : array, shape (a,)
        Smallest variance that cell means may have at `theta`, in parts of what
        the residual alone gives them; below 1 only with a variance below 0.
    """

    names: tuple[str, ...]
    theta: Array
    beta: Array
    phi: Array
    phi_first: Array
    phi_second: Array
    plain: Array
    gradient: Array
    observed: Array
    expected: Array
    criterion: Array
    free: npt.NDArray[np.bool_]
    converged: npt.NDArray[np.bool_]
    floor: Array

    def take(self, which: npt.NDArray[np.intp]) -> RemlFit:
        """Return some of the responses."""
        names = [field.name for field in fields(self) if field.name != "names"]
        return RemlFit(self.names, *(getattr(self, name)[which] for name in names))


def fit(
    fixed: Array, terms: Sequence[RandomTerm], cells: CellSums, *, negative: bool = False
) -> RemlFit:
    """Fit one model to many responses by REML.

    Parameters
    ----------
    fixed : array, shape (cells, p)
        Columns of the fixed part, of full rank for every response.
    terms : sequence of RandomTerm
        Random terms besides the residual.
    cells : CellSums
        Scores of the responses; each must vary around its fixed part.
    negative : bool
        Let the estimate of a variance fall below 0 as long as the covariance
        of the data stays positive definite. With balanced data this gives the
        estimates from mean squares, and tests keep their exact form.
        Otherwise variances are kept at 0 or above.

    Returns
    -------
    RemlFit
        Where the search did not settle, `converged` is False.
    """
    plan = arrange(fixed, terms)
    step = max(1, _CHUNK // (plan.place.size * plan.place.shape[1]))
    responses = len(cells.counts)
    parts = [
        _search(
            lay_out(plan, fixed, cells.take(np.arange(start, min(start + step, responses)))),
            negative=negative,
        )
        for start in range(0, responses, step)
    ]
    if len(parts) == 1:
        return parts[0]
    names = [field.name for field in fields(RemlFit) if field.name != "names"]
    return RemlFit(
        plan.names, *(np.concatenate([getattr(p, name) for p in parts]) for name in names)
    )


def _start(plan: BlockedDesign, responses: int) -> Array:
    """Give half of the variance to the residual and the rest in equal parts to the terms."""
    sizes = np.ones(len(plan.names))
    for index, share in enumerate(plan.inside):
        diagonal = share if share.ndim == 2 else np.diagonal(share, axis1=1, axis2=2)
        sizes[index] = 0 if "," in plan.names[index] else diagonal.sum() / (plan.place >= 0).sum()
    parts: Array = np.divide(1.0, sizes, out=np.zeros_like(sizes), where=sizes > 0)
    parts[:-1] *= 0.5 / max(1, int(np.count_nonzero(parts[:-1])))
    parts[-1] = 0.5
    return np.tile(parts, (responses, 1))


def _directions(
    state: State, theta: Array, bounded: npt.NDArray[np.bool_], *, scoring: bool
) -> Array:
    """Return steps towards the optimum and their squared length in the curvature.

    Newton's where the criterion is convex, else Fisher scoring; where a
    variance would fall below its bound, the best step within the bounds.
    """
    size = np.sqrt(np.abs(np.diagonal(state.expected, axis1=1, axis2=2)))
    size = np.where(size > 0, size, 1.0)
    norm = size[:, :, None] * size[:, None, :]
    unit = np.eye(size.shape[1])
    curvature = state.expected / norm
    if not scoring:
        # what is held at its bound need not be convex there
        held = bounded & (theta <= 0) & (state.gradient > 0)
        observed = state.observed / norm
        inner = np.where(held[:, :, None] | held[:, None, :], unit, observed)
        convex = np.linalg.eigvalsh(inner)[:, 0] > 1e-6
        whole = np.linalg.eigvalsh(observed)[:, 0] > 1e-6
        curvature = np.where(convex[:, None, None], inner, curvature)
        curvature = np.where(whole[:, None, None], observed, curvature)
    lowest = np.linalg.eigvalsh(curvature)[:, 0]
    curvature = curvature + np.where(lowest < 1e-10, 1e-8 - lowest, 0.0)[:, None, None] * unit
    gradient = state.gradient / size
    step = -np.linalg.solve(curvature, gradient[..., None])[..., 0]
    out = np.flatnonzero((bounded & (theta + step / size < 0)).any(axis=1))
    if len(out):
        lowest = np.where(bounded, -theta * size, -np.inf)
        step[out] = _within_bounds(curvature[out], gradient[out], lowest[out])
    return np.stack([step / size, (curvature @ step[..., None])[..., 0] * size], axis=-1)


def _within_bounds(curvature: Array, gradient: Array, lowest: Array) -> Array:
    """Minimise g'd + d'Cd / 2 over d >= lowest, by trying which parts are at their bound."""
    a, parameters = gradient.shape
    bounds = [i for i in range(parameters) if np.isfinite(lowest[:, i]).all()]
    best = np.maximum(np.zeros_like(gradient), np.where(np.isfinite(lowest), lowest, 0.0))
    best_value = np.full(a, np.inf)
    unit = np.eye(parameters)
    for chosen in range(2 ** len(bounds)):
        at = np.zeros(parameters, dtype=bool)
        at[[index for bit, index in enumerate(bounds) if chosen >> bit & 1]] = True
        fixed = np.where(at, lowest, 0.0)
        right = -gradient - (curvature @ fixed[..., None])[..., 0]
        reduced = np.where(at[:, None] | at[None, :], unit, curvature)
        step = np.linalg.solve(reduced, np.where(at, fixed, right)[..., None])[..., 0]
        value = (gradient * step).sum(axis=1) + (step * (curvature @ step[..., None])[..., 0]).sum(
            axis=1
        ) / 2
        better = (step >= lowest - 1e-12).all(axis=1) & (value < best_value)
        best[better], best_value[better] = step[better], value[better]
    return best


def _search(data: Blocks, *, negative: bool) -> RemlFit:
    """Minimise the criterion of each response from a common start."""
    plan = data.plan
    responses = len(data.scale)
    theta = _start(plan, responses)
    bounded = np.array(["," not in name for name in plan.names]) & (not negative)
    bounded[-1] = False
    state = evaluate(data, theta)
    converged = np.zeros(responses, dtype=bool)
    alive = np.arange(responses)
    for turn in range(_STEPS):
        found = _directions(state.take(alive), theta[alive], bounded, scoring=turn == 0)
        step = found[..., 0]
        settled = (step * found[..., 1]).sum(axis=1) < _DECREMENT
        converged[alive[settled]] = True
        alive, step = alive[~settled], step[~settled]
        if not len(alive):
            break
        moved = _line_search(data, theta, state, alive, step=step, bounded=bounded)
        alive = alive[moved]
        if not len(alive):
            break
    return _finish(data, theta, state, ~(bounded & (theta <= 0)), converged)


def _line_search(
    data: Blocks,
    theta: Array,
    state: State,
    alive: npt.NDArray[np.intp],
    *,
    step: Array,
    bounded: npt.NDArray[np.bool_],
) -> npt.NDArray[np.bool_]:
    """Go along the steps, halving them until the criterion does not rise; update in place."""
    moved = np.zeros(len(alive), dtype=bool)
    open_ = np.arange(len(alive))
    length = 1.0
    while len(open_) and length > 1e-6:
        which = alive[open_]
        trial = theta[which] + length * step[open_]
        trial = np.where(bounded & (trial < 1e-13), 0.0, trial)
        new = evaluate(data.take(which), trial)
        old = state.value[which]
        better = new.good & (new.value <= old + 1e-9 * (1 + np.abs(old)))
        theta[which[better]] = trial[better]
        state.put(which[better], new.take(np.flatnonzero(better)))
        moved[open_[better]] = True
        open_ = open_[~better]
        length /= 2
    return moved


def _floor(data: Blocks, theta: Array) -> Array:
    """Return the smallest eigenvalue of the covariance of cell means relative to the residual's."""
    floor = np.ones(len(theta))
    low = np.flatnonzero((theta < 0).any(axis=1))
    if len(low):
        part = data.take(low)
        residual = theta[low, -1]
        root = np.where(
            part.mask > 0, 1 / np.sqrt(np.where(part.mask > 0, part.inverse_count, 1)), 0.0
        )
        covariance = np.zeros((*part.mask.shape, part.mask.shape[-1]))
        span = np.arange(part.mask.shape[-1])
        for index, share in enumerate(part.inside):
            weight = theta[low, index] / residual
            if share.ndim == 3:
                covariance[..., span, span] += weight[:, None, None] * share
            else:
                covariance += weight[:, None, None, None] * share
        covariance *= root[..., :, None] * root[..., None, :]
        covariance[..., span, span] += 1.0
        floor[low] = np.linalg.eigvalsh(covariance)[..., 0].min(axis=1)
    return floor


def _finish(
    data: Blocks,
    theta: Array,
    state: State,
    free: npt.NDArray[np.bool_],
    converged: npt.NDArray[np.bool_],
) -> RemlFit:
    """Return to the scale of the scores and differentiate the covariance of the fixed effects."""
    rank = data.plan.rank
    tail = slice(state.bordered.shape[1] - rank, None)
    inverse = np.linalg.inv(state.bordered)
    right, left = inverse[:, :, tail], inverse[:, tail, :]
    bent = state.bordered1 @ right[:, None]  # (a, P, m, p)
    bent_left = left[:, None] @ state.bordered1
    product = bent_left[:, :, None] @ (inverse[:, None] @ bent)[:, None]
    curved = left[:, None, None] @ state.bordered2 @ right[:, None, None]
    scale = data.scale
    square = scale**2
    beta = (left @ state.right[..., None])[..., 0]
    degrees = data.total - rank
    return RemlFit(
        names=data.plan.names,
        theta=theta * square[:, None],
        beta=data.shift + beta * scale[:, None],
        phi=inverse[:, tail, tail] * square[:, None, None],
        phi_first=-(left[:, None] @ bent),
        phi_second=(product + product.swapaxes(1, 2) - curved) / square[:, None, None, None, None],
        plain=np.linalg.inv(data.squares),
        gradient=state.gradient / square[:, None],
        observed=state.observed / square[:, None, None] ** 2,
        expected=state.expected / square[:, None, None] ** 2,
        criterion=state.value + degrees * np.log(2 * np.pi * square),
        free=free,
        converged=converged,
        floor=_floor(data, theta),
    )
