"""Likelihood of cumulative-link models with a random assessor: the arithmetic below `ordinal`.

CumulativeModel: ``P(category <= k) = F(threshold_k - x'beta - u_assessor - d_assessor,sample)``
with F logistic or normal. The random parts are integrated out by Laplace's
approximation or adaptive Gauss-Hermite quadrature, assessor by assessor.

Gradients come from complex steps: every operation here is analytic, so a
parameter moved by ``1e-20 i`` gives its derivative in the imaginary part, exact
to rounding, through the inner search as well. All parameters are moved at once
in a leading axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import erfc

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Any_ = npt.NDArray[Any]
LINKS = ("logit", "probit")
_FAR = 700.0
_STEP = 1e-20
_EDGE = 1e-3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CategoryScores:
    """Category scores in the order of their cells (assessor × sample).

    Attributes
    ----------
    y : ndarray of int, shape (n,)
        Category of each answer, 0 to `categories` - 1.
    x : ndarray, shape (n, p)
        Design of the samples, without intercept.
    categories : int
        Number of categories, at least 2.
    cell_starts : ndarray of int, shape (c,)
        First row of each cell.
    group_starts : ndarray of int, shape (g,)
        First cell of each assessor.
    cell_of_row, group_of_cell : ndarray of int
        The cell of each row, the assessor of each cell.
    """

    y: Ints
    x: Floats
    categories: int
    cell_starts: Ints
    group_starts: Ints
    cell_of_row: Ints
    group_of_cell: Ints

    @classmethod
    def of(cls, y: Ints, x: Floats, group: Ints, cell: Ints) -> CategoryScores:
        """Sort rows by assessor and cell and find where these begin."""
        order = np.lexsort((cell, group))
        y, x, group, cell = y[order], x[order], group[order], cell[order]
        new_cell = np.r_[True, (np.diff(group) != 0) | (np.diff(cell) != 0)]
        cell_starts = np.flatnonzero(new_cell)
        group_of_start = group[cell_starts]
        new_group = np.r_[True, np.diff(group_of_start) != 0]
        return cls(
            y=y,
            x=x,
            categories=int(y.max()) + 1,
            cell_starts=cell_starts,
            group_starts=np.flatnonzero(new_group),
            cell_of_row=np.cumsum(new_cell) - 1,
            group_of_cell=np.cumsum(new_group) - 1,
        )

    def by_cell(self, rows: Any_) -> Any_:
        """Sum over the rows of each cell (last axis)."""
        sums: Any_ = np.add.reduceat(rows, self.cell_starts, axis=-1)
        return sums

    def by_group(self, cells: Any_) -> Any_:
        """Sum over the cells of each assessor (last axis)."""
        sums: Any_ = np.add.reduceat(cells, self.group_starts, axis=-1)
        return sums


def log_share(
    upper: Any_, lower: Any_, link: str, apart: Any_ | None = None
) -> tuple[Any_, Any_, Any_]:
    """Return log(F(upper) - F(lower)) and its two derivatives by a common shift down.

    Both derivatives are with respect to s in ``F(upper - s) - F(lower - s)``. `apart` is
    `log_apart` of limits that have this distance, where it is known.
    """
    if link == "logit":
        # F(a) - F(b) = F(a) (1 - F(b)) (1 - exp(b - a)): no cancellation in either tail.
        high, log_high, _ = _logistic(upper)
        low, _, log_above = _logistic(lower)
        value = log_high + log_above + (log_apart(upper, lower) if apart is None else apart)
        return value, high + low - 1, -(high * (1 - high) + low * (1 - low))
    # Work in the lower tail, where differences of F keep their digits.
    flip = np.real(upper + lower) > 0
    a, b = np.where(flip, -lower, upper), np.where(flip, -upper, lower)
    share = (erfc(-a / np.sqrt(2)) - erfc(-b / np.sqrt(2))) / 2
    share = np.where(np.abs(share) < 1e-300, 1e-300, share)
    density_a, density_b = _normal(upper), _normal(lower)
    first = (density_b - density_a) / share
    second = (lower * density_b - upper * density_a) / share - first**2
    return np.log(share), first, second


def log_apart(upper: Any_, lower: Any_) -> Any_:
    """Return log(1 - exp(lower - upper)), which no common shift changes."""
    apart: Any_ = np.log(-np.expm1(lower - upper))
    return apart


def _logistic(z: Any_) -> tuple[Any_, Any_, Any_]:
    """Return F, log F and log(1 - F), all from one exponential."""
    positive = np.real(z) > 0
    tail = np.exp(np.where(positive, -z, z))
    grown = np.log1p(tail)
    below = np.where(positive, 1, tail) / (1 + tail)
    return below, np.where(positive, 0, z) - grown, np.where(positive, -z, 0) - grown


def _normal(z: Any_) -> Any_:
    value: Any_ = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return value


def cdf(z: Any_, link: str) -> Any_:
    """Return F, also for complex arguments."""
    return _logistic(z)[0] if link == "logit" else erfc(-z / np.sqrt(2)) / 2


class Limits(NamedTuple):
    """Where the category of each answer begins and ends, before any random effect.

    Attributes
    ----------
    upper, lower : ndarray, shape (..., n)
    apart : ndarray or None
        `log_apart` of them, for the logistic distribution.
    """

    upper: Any_
    lower: Any_
    apart: Any_ | None

    def real(self) -> Limits:
        """Return the real parts of the first row."""
        apart = None if self.apart is None else np.real(self.apart[:1])
        return Limits(np.real(self.upper[:1]), np.real(self.lower[:1]), apart)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CumulativeModel:
    """A likelihood: scores, link, random parts, and how they are integrated out.

    A parameter vector holds thresholds, effects, and one standard deviation per
    random part (assessor, then assessor × sample). The likelihood does not
    change with the sign of a standard deviation, and is smooth at 0.

    Attributes
    ----------
    scores : CategoryScores
    link : {'logit', 'probit'}
    random : int
        0 no random part, 1 assessor, 2 assessor and assessor × sample.
    nodes : int
        1 for Laplace's approximation, more for quadrature (`random` 1 only).
    """

    scores: CategoryScores
    link: str = "logit"
    random: int = 1
    nodes: int = 1

    @property
    def thresholds(self) -> int:
        """Number of thresholds."""
        return self.scores.categories - 1

    @property
    def size(self) -> int:
        """Number of parameters."""
        return self.thresholds + int(self.scores.x.shape[1]) + self.random

    def loglik(self, parameters: Any_) -> Any_:
        """Return the log likelihood of parameter vectors of shape (..., size)."""
        rows = np.atleast_2d(parameters)
        limits, sd = self._predict(rows)
        if self.random == 0:
            value = log_share(limits.upper, limits.lower, self.link, limits.apart)[0].sum(axis=-1)
        else:
            # Rows that differ by complex steps share their real modes: search once, then settle.
            base = self._modes(limits.real(), np.real(sd[:1]))
            main, cell = self._modes(limits, sd, base) if self._many(rows) else base
            value = self._integrate(limits, sd, main, cell)
        found: Any_ = value[0] if np.ndim(parameters) == 1 else value
        return found

    def residuals(self, parameters: Floats) -> Floats:
        """Return the score residual of each cell at the modes, with the sign of its answers.

        Shape (cells,): derivative of the cell's log likelihood by its shift.
        """
        limits, sd = self._predict(parameters[None, :])
        main, cell = self._modes(limits, sd)
        first = self._shifted(limits, sd, main, cell)[1]
        residuals: Floats = self.scores.by_cell(first)[0]
        return residuals

    def gradient(self, parameters: Floats) -> Floats:
        """Return the gradient of the log likelihood, exact to rounding."""
        moved = parameters + 1j * _STEP * np.eye(self.size)
        gradient: Floats = np.imag(self.loglik(moved)) / _STEP
        return gradient

    def information(self, parameters: Floats) -> Floats:
        """Return the observed information: central differences of the exact gradient."""
        columns = []
        for i, value in enumerate(parameters):
            step = np.zeros(self.size)
            step[i] = 1e-5 * max(1.0, abs(value))
            columns.append(
                (self.gradient(parameters - step) - self.gradient(parameters + step))
                / (2 * step[i])
            )
        matrix: Floats = np.array(columns)
        symmetric: Floats = (matrix + matrix.T) / 2
        return symmetric

    @staticmethod
    def _many(rows: Any_) -> bool:
        return len(rows) > 1 or np.iscomplexobj(rows)

    def _predict(self, rows: Any_) -> tuple[Limits, Any_]:
        """Return the limits of each answer's category, and the deviations."""
        k, p = self.thresholds, self.scores.x.shape[1]
        edge = np.full((len(rows), 1), _FAR)
        ends = np.concatenate([-edge, rows[:, :k], edge], axis=1)
        shift = rows[:, k : k + p] @ self.scores.x.T
        sd = np.zeros((len(rows), 2), dtype=rows.dtype)
        sd[:, : self.random] = rows[:, k + p :]
        upper, lower = ends[:, self.scores.y + 1] - shift, ends[:, self.scores.y] - shift
        apart = log_apart(ends[:, 1:], ends[:, :-1])[:, self.scores.y]
        return Limits(upper, lower, apart if self.link == "logit" else None), sd

    def _shifted(self, limits: Limits, sd: Any_, main: Any_, cell: Any_) -> tuple[Any_, Any_, Any_]:
        """Return value and derivatives of each answer at given standardised random effects."""
        scores = self.scores
        by_cell = sd[:, :1] * main[:, scores.group_of_cell] + sd[:, 1:] * cell
        shift = by_cell[:, scores.cell_of_row]
        return log_share(limits.upper - shift, limits.lower - shift, self.link, limits.apart)

    def _penalised(self, value: Any_, main: Any_, cell: Any_) -> Any_:
        """Return each assessor's log likelihood with the normal penalty of its effects."""
        by_cell = self.scores.by_cell(value) - cell**2 / 2
        height: Any_ = self.scores.by_group(by_cell) - main**2 / 2
        return height

    def _curvature(self, second: Any_, sd: Any_) -> tuple[Any_, Any_, Any_]:
        """Return the parts of each assessor's negative Hessian: it has the shape of an arrow.

        The corner (Schur complement), the shaft (one per cell), the diagonal.
        """
        weight = -self.scores.by_cell(second)
        shaft = sd[:, :1] * sd[:, 1:] * weight
        diagonal = 1 + sd[:, 1:] ** 2 * weight
        corner = (
            1
            + sd[:, :1] ** 2 * self.scores.by_group(weight)
            - self.scores.by_group(shaft**2 / diagonal)
        )
        return corner, shaft, diagonal

    def _modes(
        self, limits: Limits, sd: Any_, start: tuple[Any_, Any_] | None = None
    ) -> tuple[Any_, Any_]:
        """Find the modes of the standardised random effects by damped Newton steps."""
        scores = self.scores
        kind = np.result_type(limits.upper, sd)
        main = np.zeros((len(sd), scores.group_starts.size), dtype=kind)
        cell = np.zeros((len(sd), scores.cell_starts.size), dtype=kind)
        if start is not None:
            main, cell = main + start[0], cell + start[1]
        value, first, second = self._shifted(limits, sd, main, cell)
        height = self._penalised(value, main, cell)
        # The last steps are quadratic: from settled modes one settles the imaginary part.
        extra = 2 if start is None else 1
        for _ in range(100):
            by_cell = scores.by_cell(first)
            pull_main = sd[:, :1] * scores.by_group(by_cell) - main
            pull_cell = sd[:, 1:] * by_cell - cell
            corner, shaft, diagonal = self._curvature(second, sd)
            step_main = (pull_main - scores.by_group(shaft * pull_cell / diagonal)) / corner
            step_cell = (pull_cell - shaft * step_main[:, scores.group_of_cell]) / diagonal
            pace = np.ones(main.shape)
            for _ in range(30):
                new_main = main + pace * step_main
                new_cell = cell + pace[:, scores.group_of_cell] * step_cell
                value, first, second = self._shifted(limits, sd, new_main, new_cell)
                new_height = self._penalised(value, new_main, new_cell)
                worse = np.real(new_height) < np.real(height) - 1e-9
                if not worse.any():
                    break
                pace = np.where(worse, pace / 2, pace)
            main, cell, height = new_main, new_cell, new_height
            largest = max(np.abs(np.real(step_main)).max(), np.abs(np.real(step_cell)).max())
            if largest < 1e-8:
                extra -= 1
                if extra == 0:
                    break
        return main, cell

    def _integrate(self, limits: Limits, sd: Any_, main: Any_, cell: Any_) -> Any_:
        value, _, second = self._shifted(limits, sd, main, cell)
        corner, _, diagonal = self._curvature(second, sd)
        if self.nodes == 1:
            height = self._penalised(value, main, cell)
            spread = np.log(corner) + self.scores.by_group(np.log(diagonal))
            laplace: Any_ = (height - spread / 2).sum(axis=-1)
            return laplace
        at, weight = np.polynomial.hermite.hermgauss(self.nodes)
        width = np.sqrt(2 / corner)
        heights = np.stack(
            [
                self._penalised(
                    self._shifted(limits, sd, main + width * node, cell)[0],
                    main + width * node,
                    cell,
                )
                + node**2
                + np.log(share)
                for node, share in zip(at, weight, strict=True)
            ]
        )
        top = np.real(heights).max(axis=0)
        total = np.log(np.exp(heights - top).sum(axis=0)) + top
        quadrature: Any_ = (total + np.log(width / np.sqrt(2 * np.pi))).sum(axis=-1)
        return quadrature


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Maximum:
    """A maximum: parameters, log likelihood, covariance.

    Attributes
    ----------
    model : CumulativeModel
        The model, with fewer random parts than asked for where one came out as 0.
    parameters : ndarray, shape (size,)
        Thresholds, effects, standard deviations (not negative).
    loglik : float
    covariance : ndarray, shape (size, size)
        Inverse of the observed information; nan if that is singular. Without `polish`
        its pseudo-inverse, for contrasts that have a finite maximum.
    boundary : tuple of int
        Random parts (1 assessor, 2 assessor × sample) whose variance came out as 0.
    gradient : float
        Largest absolute gradient at the maximum.
    """

    model: CumulativeModel
    parameters: Floats
    loglik: float
    covariance: Floats
    boundary: tuple[int, ...]
    gradient: float


def maximise(model: CumulativeModel, *, polish: bool = True, errors: bool = True) -> Maximum:
    """Maximise the likelihood.

    Thresholds are searched as the first one and the logarithms of the gaps,
    which keeps them in order. `polish` adds Newton steps on the thresholds
    themselves; leave it out where an effect runs off to infinity. Without `errors`
    neither is done: the log likelihood is then good to about 1e-9.
    """
    k = model.thresholds
    share = np.bincount(model.scores.y, minlength=k + 1).cumsum()[:-1] / model.scores.y.size
    start = np.log(share / (1 - share)) * (1 if model.link == "logit" else 0.6)
    inner = np.r_[start[0], np.log(np.diff(start)), np.zeros(model.size - k)]
    inner[model.size - model.random :] = 1.0 if model.random < 2 else 0.7

    def outer(values: Any_) -> Any_:
        """Return thresholds in order from the searched form."""
        gaps = np.concatenate([values[..., :1], np.exp(values[..., 1:k])], axis=-1)
        return np.concatenate([np.cumsum(gaps, axis=-1), values[..., k:]], axis=-1)

    def objective(values: Floats) -> tuple[float, Floats]:
        moved = values + 1j * _STEP * np.eye(model.size)
        found = model.loglik(outer(moved))
        return -float(np.real(found[0])), -np.imag(found) / _STEP

    found = minimize(
        objective, inner, jac=True, method="BFGS", options={"gtol": 1e-5, "maxiter": 400}
    )
    parameters = outer(found.x)
    first_sd = model.size - model.random
    parameters[first_sd:] = np.abs(parameters[first_sd:])
    small = [part for part in range(model.random) if parameters[first_sd + part] < _EDGE]
    if small:
        return _without(model, small, polish=polish, errors=errors)
    covariance = np.full((model.size, model.size), np.nan)
    if errors:
        information = model.information(parameters)
        for _ in range(8 if polish else 0):
            gradient = model.gradient(parameters)
            if np.abs(gradient).max() < 1e-9:
                break
            # Close to the maximum one information serves several steps.
            step = np.linalg.lstsq(information, gradient, rcond=None)[0]
            if np.abs(step).max() > 1:
                break
            parameters = parameters + step
        information = model.information(parameters)
        # Directions without a finite maximum carry no information: what stands across them
        # keeps its covariance in the pseudo-inverse.
        values, vectors = np.linalg.eigh(information)
        kept = values > (1e-10 if polish else 1e-5)
        if kept.all() or not polish:
            covariance = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    return Maximum(
        model=model,
        parameters=parameters,
        loglik=float(np.real(model.loglik(parameters))),
        covariance=covariance,
        boundary=(),
        gradient=float(np.abs(model.gradient(parameters)).max()),
    )


def _without(model: CumulativeModel, small: list[int], *, polish: bool, errors: bool) -> Maximum:
    """Fit again without the random parts that came out as 0, and say so."""
    from dataclasses import replace

    if small == [0] and model.random == 2:
        # Only the cells vary: each cell becomes a group of its own.
        cells = replace(
            model.scores,
            group_starts=np.arange(model.scores.cell_starts.size),
            group_of_cell=np.arange(model.scores.cell_starts.size),
        )
        fit = maximise(replace(model, scores=cells, random=1), polish=polish, errors=errors)
        return replace(fit, boundary=(1, *(2 for part in fit.boundary)))
    kept = 0 if 0 in small else 1
    smaller = replace(model, random=kept, nodes=model.nodes if kept else 1)
    fit = maximise(smaller, polish=polish, errors=errors)
    lost = tuple(part + 1 for part in range(kept, model.random))
    return replace(fit, boundary=tuple(sorted({*fit.boundary, *lost})))
