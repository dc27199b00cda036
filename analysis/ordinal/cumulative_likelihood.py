"""Likelihood of cumulative-link models with a random assessor: the arithmetic below `ordinal`.

CumulativeModel: ``P(category <= k) = F(threshold_k - x'beta - u_assessor - d_assessor,sample)``
with F logistic or normal. The random parts are integrated out by Laplace's
approximation or adaptive Gauss-Hermite quadrature, assessor by assessor.

The gradient is exact: what the likelihood owes to each answer's two limits is followed back
from the integral through the modes of the random parts, which move with the parameters.
Answers that are alike (assessor, sample, category) are counted, not repeated.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from .cumulative_links import limit_slopes, log_apart, log_share, shape_slopes

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Modes = tuple[Floats, Floats]
Shares = tuple[Floats, Floats, Floats]
_FAR = 700.0
_EDGE = 1e-3
_MOVED = 1e-5
"""Way of a parameter from which on its information is worked out anew: errors change less."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CategoryScores:
    """Category scores in the order of their cells (assessor × sample), alike ones counted.

    Attributes
    ----------
    y : ndarray of int, shape (n,)
        Category of each row, 0 to `categories` - 1.
    count : ndarray, shape (n,)
        Answers that each row stands for.
    design : ndarray, shape (s, p)
        Design of the samples, without intercept.
    sample : ndarray of int, shape (n,)
        Row of the design that each row has.
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
    count: Floats
    design: Floats
    sample: Ints
    categories: int
    cell_starts: Ints
    group_starts: Ints
    cell_of_row: Ints
    group_of_cell: Ints

    @classmethod
    def of(cls, y: Ints, design: Floats, sample: Ints, group: Ints, cell: Ints) -> CategoryScores:
        """Sort answers by assessor and cell, count those alike, find where cells begin."""
        order = np.lexsort((y, sample, cell, group))
        keys = np.stack([group, cell, sample, y])[:, order]
        changes = np.c_[np.ones(4, dtype=bool), np.diff(keys) != 0]
        starts = np.flatnonzero(changes.any(axis=0))
        new_group = changes[0, starts]
        new_cell = new_group | changes[1, starts]
        cell_starts = np.flatnonzero(new_cell)
        group_of_start = keys[0, starts][cell_starts]
        new_group = np.r_[True, np.diff(group_of_start) != 0]
        return cls(
            y=keys[3, starts],
            count=np.diff(np.r_[starts, len(y)]).astype(float),
            design=design,
            sample=keys[2, starts],
            categories=int(y.max()) + 1,
            cell_starts=cell_starts,
            group_starts=np.flatnonzero(new_group),
            cell_of_row=np.cumsum(new_cell) - 1,
            group_of_cell=np.cumsum(new_group) - 1,
        )

    def by_cell(self, rows: Floats) -> Floats:
        """Sum over the answers of each cell."""
        sums: Floats = np.add.reduceat(rows * self.count, self.cell_starts)
        return sums

    def by_group(self, cells: Floats) -> Floats:
        """Sum over the cells of each assessor."""
        sums: Floats = np.add.reduceat(cells, self.group_starts)
        return sums


class Limits(NamedTuple):
    """Where the category of each row begins and ends, before any random effect.

    Attributes
    ----------
    upper, lower : ndarray, shape (n,)
    apart : ndarray or None
        `log_apart` of them, for the logistic distribution.
    """

    upper: Floats
    lower: Floats
    apart: Floats | None


class Owed(NamedTuple):
    """Derivatives of the log likelihood by the limits of each row and by the two deviations."""

    upper: Floats
    lower: Floats
    sd: Floats


class Point(NamedTuple):
    """The log likelihood at parameters, its gradient, and the modes of the random effects."""

    value: float
    gradient: Floats
    modes: Modes


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
        return self.thresholds + int(self.scores.design.shape[1]) + self.random

    def loglik(self, parameters: Floats) -> float:
        """Return the log likelihood."""
        return self.point(parameters).value

    def gradient(self, parameters: Floats) -> Floats:
        """Return the gradient of the log likelihood, exact to rounding."""
        return self.point(parameters).gradient

    def residuals(self, parameters: Floats) -> Floats:
        """Return the score residual of each cell at the modes, with the sign of its answers.

        Shape (cells,): derivative of the cell's log likelihood by its shift.
        """
        limits, sd = self._predict(parameters)
        first = self._modes(limits, sd)[1][1]
        return self.scores.by_cell(first)

    def information(self, parameters: Floats) -> Floats:
        """Return the observed information: central differences of the exact gradient."""
        near = self.point(parameters).modes
        columns = []
        for i, value in enumerate(parameters):
            step = np.zeros(self.size)
            step[i] = 1e-5 * max(1.0, abs(value))
            below, above = (self.point(parameters + way * step, near) for way in (-1, 1))
            columns.append((below.gradient - above.gradient) / (2 * step[i]))
        matrix: Floats = np.array(columns)
        symmetric: Floats = (matrix + matrix.T) / 2
        return symmetric

    def point(self, parameters: Floats, near: Modes | None = None) -> Point:
        """Return the log likelihood and its gradient.

        Parameters
        ----------
        parameters : ndarray, shape (size,)
        near : tuple of ndarray, optional
            Modes at parameters nearby, to begin the search with.
        """
        limits, sd = self._predict(parameters)
        modes, shares = self._modes(limits, sd, near)
        value, by_corner, by_main, owed = self._integrate(limits, sd, modes, shares)
        through = self._through_shape(limits, sd, modes, shares, (by_corner, by_main))
        by_upper, by_lower, by_sd = (a + b for a, b in zip(owed, through, strict=True))
        k = self.thresholds
        ends = np.bincount(self.scores.y + 1, by_upper, k + 2)
        ends += np.bincount(self.scores.y, by_lower, k + 2)
        by_sample = np.bincount(self.scores.sample, by_upper + by_lower, len(self.scores.design))
        gradient = np.concatenate(
            [ends[1:-1], -by_sample @ self.scores.design, by_sd[: self.random]]
        )
        return Point(value, gradient, modes)

    def _predict(self, parameters: Floats) -> tuple[Limits, Floats]:
        """Return the limits of each row's category, and the two deviations."""
        scores, k = self.scores, self.thresholds
        effects = self.size - self.random
        ends = np.concatenate([[-_FAR], parameters[:k], [_FAR]])
        shift = (scores.design @ parameters[k:effects])[scores.sample]
        sd = np.zeros(2)
        sd[: self.random] = parameters[effects:]
        apart = log_apart(ends[1:], ends[:-1])[scores.y] if self.link == "logit" else None
        return Limits(ends[scores.y + 1] - shift, ends[scores.y] - shift, apart), sd

    def _moved(self, limits: Limits, sd: Floats, modes: Modes) -> Limits:
        """Return the limits at given standardised random effects."""
        main, cell = modes
        shift = sd[0] * main[self.scores.group_of_cell] + sd[1] * cell
        by_row = shift[self.scores.cell_of_row]
        return Limits(limits.upper - by_row, limits.lower - by_row, limits.apart)

    def _shifted(self, limits: Limits, sd: Floats, modes: Modes) -> tuple[Floats, Floats, Floats]:
        """Return value and derivatives of each row at given standardised random effects."""
        upper, lower, apart = self._moved(limits, sd, modes)
        return log_share(upper, lower, self.link, apart)

    def _penalised(self, value: Floats, modes: Modes) -> Floats:
        """Return each assessor's log likelihood with the normal penalty of its effects."""
        main, cell = modes
        height: Floats = self.scores.by_group(self.scores.by_cell(value) - cell**2 / 2)
        return height - main**2 / 2

    def _curvature(self, second: Floats, sd: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the weight of each cell, and of the negative Hessian corner and diagonal.

        Each assessor's has the shape of an arrow: the corner (Schur complement), the shaft
        (``sd[0] sd[1] weight`` of each cell), the diagonal.
        """
        weight = -self.scores.by_cell(second)
        diagonal = 1 + sd[1] ** 2 * weight
        corner = 1 + sd[0] ** 2 * self.scores.by_group(weight / diagonal)
        return weight, corner, diagonal

    def _solved(self, pull: Modes, sd: Floats, shape: tuple[Floats, Floats, Floats]) -> Modes:
        """Return what solves the negative Hessian for `pull`."""
        (pull_main, pull_cell), (weight, corner, diagonal) = pull, shape
        shaft = sd[0] * sd[1] * weight
        main = (pull_main - self.scores.by_group(shaft * pull_cell / diagonal)) / corner
        return main, (pull_cell - shaft * main[self.scores.group_of_cell]) / diagonal

    def _modes(self, limits: Limits, sd: Floats, near: Modes | None = None) -> tuple[Modes, Shares]:
        """Find the modes of the standardised random effects by damped Newton steps.

        Returns them, and value and derivatives of each row there, as `_shifted` has them.
        """
        scores = self.scores
        main, cell = near or (np.zeros(scores.group_starts.size), np.zeros(scores.cell_starts.size))
        value, first, second = self._shifted(limits, sd, (main, cell))
        height = self._penalised(value, (main, cell))
        for _ in range(100):
            by_cell = scores.by_cell(first)
            pull = sd[0] * scores.by_group(by_cell) - main, sd[1] * by_cell - cell
            step_main, step_cell = self._solved(pull, sd, self._curvature(second, sd))
            pace = np.ones(main.shape)
            for _ in range(30):
                tried = main + pace * step_main, cell + pace[scores.group_of_cell] * step_cell
                value, first, second = self._shifted(limits, sd, tried)
                new_height = self._penalised(value, tried)
                worse = new_height < height - 1e-9
                if not worse.any():
                    break
                pace = np.where(worse, pace / 2, pace)
            (main, cell), height = tried, new_height
            # The last step is quadratic: what is left after it is rounding.
            if max(np.abs(step_main).max(), np.abs(step_cell).max()) < 1e-8:
                break
        return (main, cell), (value, first, second)

    def _integrate(
        self, limits: Limits, sd: Floats, modes: Modes, shares: Shares
    ) -> tuple[float, Floats, Floats, Owed]:
        """Integrate over the random effects: Laplace's approximation is one node at the mode.

        Returns the log likelihood; its derivatives by the corners and by the main modes; and
        what it owes directly to the limits of each row and to the deviations.
        """
        scores, (main, cell) = self.scores, modes
        _, corner, diagonal = self._curvature(shares[2], sd)
        width = np.sqrt(2 / corner)
        at, share = _nodes(self.nodes)
        places = [main + width * node for node in at]
        found = (
            [shares[:2]]
            if self.nodes == 1
            else [self._shifted(limits, sd, (place, cell))[:2] for place in places]
        )
        heights = np.array([
            self._penalised(value, (place, cell)) + node**2 + np.log(part)
            for (value, _), place, node, part in zip(found, places, at, share, strict=True)
        ])  # fmt: skip
        top = heights.max(axis=0)
        likely = np.exp(heights - top)
        total = likely.sum(axis=0)
        likely /= total
        value = (np.log(total) + top + np.log(width / np.sqrt(2 * np.pi))).sum()
        value -= np.log(diagonal).sum() / 2
        pull = np.array([
            sd[0] * scores.by_group(scores.by_cell(first)) - place
            for (_, first), place in zip(found, places, strict=True)
        ])  # fmt: skip
        by_corner = -(at @ (likely * pull) + 1 / width) * width / (2 * corner)
        owed = Owed(np.zeros(scores.y.size), np.zeros(scores.y.size), np.zeros(2))
        for place, part in zip(places, likely, strict=True):
            upper, lower, _ = self._moved(limits, sd, (place, cell))
            held = scores.count * part[scores.group_of_cell][scores.cell_of_row]
            by_upper, by_lower = (held * by for by in limit_slopes(upper, lower, self.link))
            one = self._owed(by_upper, by_lower, (place, cell))
            owed = Owed(*(a + b for a, b in zip(owed, one, strict=True)))
        return float(value), by_corner, (likely * pull).sum(axis=0), owed

    def _through_shape(
        self,
        limits: Limits,
        sd: Floats,
        modes: Modes,
        shares: Shares,
        by_shape: tuple[Floats, Floats],
    ) -> Owed:
        """Return what the log likelihood owes through its curvature and the place of the modes."""
        scores, (by_corner, by_main) = self.scores, by_shape
        _, first, second = shares
        weight, _, diagonal = shape = self._curvature(second, sd)
        upper, lower, _ = self._moved(limits, sd, modes)
        of_first, of_second = shape_slopes(upper, lower, self.link)
        on_cell = by_corner[scores.group_of_cell]
        by_weight = on_cell * (sd[0] / diagonal) ** 2 - sd[1] ** 2 / (2 * diagonal)
        by_shift = by_weight * scores.by_cell(of_second[0] + of_second[1])
        # The modes move as the solution of their equation does (implicit function theorem).
        pull = sd[0] * scores.by_group(by_shift) + by_main, sd[1] * by_shift
        lead_main, lead_cell = self._solved(pull, sd, shape)
        lead = sd[0] * lead_main[scores.group_of_cell] + sd[1] * lead_cell
        rows = scores.cell_of_row
        by_upper, by_lower = (
            scores.count * (lead[rows] * of_first[end] - by_weight[rows] * of_second[end])
            for end in (0, 1)
        )
        owed = self._owed(by_upper, by_lower, modes)
        total, over = scores.by_cell(first), weight / diagonal
        by_sd = [
            lead_main @ scores.by_group(total) + 2 * sd[0] * (on_cell @ over),
            lead_cell @ total - 2 * sd[0] ** 2 * sd[1] * (on_cell @ over**2) - sd[1] * over.sum(),
        ]
        return owed._replace(sd=owed.sd + by_sd)

    def _owed(self, by_upper: Floats, by_lower: Floats, modes: Modes) -> Owed:
        """Add what the deviations have in it, which shift both limits of a row."""
        main, cell = modes
        by_cell = np.add.reduceat(by_upper + by_lower, self.scores.cell_starts)
        by_sd = np.array([by_cell @ main[self.scores.group_of_cell], by_cell @ cell])
        return Owed(by_upper, by_lower, -by_sd)


@cache
def _nodes(number: int) -> tuple[Floats, Floats]:
    """Return places and weights of Gauss and Hermite."""
    at, share = np.polynomial.hermite.hermgauss(number)
    return at, share


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


def maximise(
    model: CumulativeModel,
    *,
    polish: bool = True,
    errors: bool = True,
    start: Floats | None = None,
) -> Maximum:
    """Maximise the likelihood, from parameters to `start` with where there are some.

    Thresholds are searched as the first one and the logarithms of the gaps,
    which keeps them in order. `polish` adds Newton steps on the thresholds
    themselves; leave it out where an effect runs off to infinity. Without `errors`
    neither is done: the log likelihood is then good to about 1e-9.
    """
    k = model.thresholds
    if start is None:
        start = start_of(model)
    inner = np.concatenate([start[:1], np.log(np.diff(start[:k])), start[k:]])

    def outer(values: Floats) -> Floats:
        """Return thresholds in order from the searched form."""
        gaps = np.concatenate([values[:1], np.exp(values[1:k])])
        return np.concatenate([np.cumsum(gaps), values[k:]])

    near: Modes | None = None

    def objective(values: Floats) -> tuple[float, Floats]:
        nonlocal near
        found = model.point(outer(values), near)
        near = found.modes
        later = np.cumsum(found.gradient[k - 1 :: -1])[::-1]
        later[1:] *= np.exp(values[1:k])
        return -found.value, -np.concatenate([later, found.gradient[k:]])

    found = minimize(
        objective, inner, jac=True, method="BFGS", options={"gtol": 1e-5, "maxiter": 400}
    )
    parameters = outer(found.x)
    first_sd = model.size - model.random
    parameters[first_sd:] = np.abs(parameters[first_sd:])
    small = [part for part in range(model.random) if parameters[first_sd + part] < _EDGE]
    if small:
        return _without(model, parameters, small, polish=polish, errors=errors)
    covariance = np.full((model.size, model.size), np.nan)
    if errors:
        fitted, information = parameters, model.information(parameters)
        for _ in range(8 if polish else 0):
            gradient = model.gradient(parameters)
            if np.abs(gradient).max() < 1e-9:
                break
            # Close to the maximum one information serves several steps.
            step = np.linalg.lstsq(information, gradient, rcond=None)[0]
            if np.abs(step).max() > 1:
                break
            parameters = parameters + step
        if np.abs(parameters - fitted).max() > _MOVED:
            information = model.information(parameters)
        # Directions without a finite maximum carry no information: what stands across them
        # keeps its covariance in the pseudo-inverse.
        values, vectors = np.linalg.eigh(information)
        kept = values > (1e-10 if polish else 1e-5)
        if kept.all() or not polish:
            covariance = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    at = model.point(parameters)
    return Maximum(
        model=model,
        parameters=parameters,
        loglik=at.value,
        covariance=covariance,
        boundary=(),
        gradient=float(np.abs(at.gradient).max()),
    )


def start_of(model: CumulativeModel) -> Floats:
    """Return parameters to start with: thresholds by the shares of the categories, no effect."""
    k = model.thresholds
    counts = np.bincount(model.scores.y, model.scores.count, k + 1)
    share = counts.cumsum()[:-1] / counts.sum()
    start = np.zeros(model.size)
    start[:k] = np.log(share / (1 - share)) * (1 if model.link == "logit" else 0.6)
    start[model.size - model.random :] = 1.0 if model.random < 2 else 0.7
    return start


def _without(
    model: CumulativeModel, found: Floats, small: list[int], *, polish: bool, errors: bool
) -> Maximum:
    """Fit again without the random parts that came out as 0, from what was found; say so."""
    from dataclasses import replace

    first_sd = model.size - model.random
    if small == [0] and model.random == 2:
        # Only the cells vary: each cell becomes a group of its own.
        cells = replace(
            model.scores,
            group_starts=np.arange(model.scores.cell_starts.size),
            group_of_cell=np.arange(model.scores.cell_starts.size),
        )
        smaller = replace(model, scores=cells, random=1)
        start = np.delete(found, first_sd)
        fit = maximise(smaller, polish=polish, errors=errors, start=start)
        return replace(fit, boundary=(1, *(2 for part in fit.boundary)))
    kept = 0 if 0 in small else 1
    smaller = replace(model, random=kept, nodes=model.nodes if kept else 1)
    fit = maximise(smaller, polish=polish, errors=errors, start=found[: first_sd + kept])
    lost = tuple(part + 1 for part in range(kept, model.random))
    return replace(fit, boundary=tuple(sorted({*fit.boundary, *lost})))
