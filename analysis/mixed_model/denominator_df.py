"""Tests of fixed effects with estimated variances: Satterthwaite and Kenward–Roger.

A contrast of means divides by a standard error that is itself estimated. How
well it is known, in degrees of freedom, follows from how the covariance of the
fixed effects, Phi, changes with the variances, and how well those are known.
With Phi_i and Phi_ij the derivatives and W the covariance of the variances::

    Satterthwaite   df = 2 (l' Phi l)^2 / (g' W g),   g_i = l' Phi_i l,
                    W = 2 * inverse of the observed second derivatives
    Kenward–Roger   W from the expected second derivatives,
                    Phi_A = Phi - sum_ij W_ij Phi_ij, and a scaled F

The form of Phi_A is that of Kenward & Roger for a covariance that is linear in
its variances, written in derivatives of Phi.

References
----------
Satterthwaite 1946, Biometrics Bull. 2:110-114. Fai & Cornelius 1996, J. Stat.
Comput. Simul. 54:363-378. Kenward & Roger 1997, Biometrics 53:983-997.
Kuznetsova, Brockhoff & Christensen 2017, J. Stat. Softw. 82(13).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import fdtrc

from .block_layout import Array
from .reml import RemlFit

METHODS = ("satterthwaite", "kenward-roger")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Inference:
    """Fixed effects of a responses with all that tests and intervals need.

    Attributes
    ----------
    beta : array, shape (a, p)
    phi : array, shape (a, p, p)
        Their covariance at the estimated variances.
    first : array, shape (a, P, p, p)
        Its derivatives by the variances (or mean squares).
    spread : array, shape (a, P, P)
        Covariance W of the estimated variances.
    adjusted : array, shape (a, p, p)
        Covariance for standard errors: `phi`, or Kenward and Roger's Phi_A.
    plain : array, shape (a, p, p)
        Covariance by ordinary least squares with variance 1.
    scaled : bool
        Whether several contrasts are tested by Kenward and Roger's scaled F.
    ceiling : array, shape (a,)
        Degrees of freedom of the design, which no test may exceed; inf for none.
    """

    beta: Array
    phi: Array
    first: Array
    spread: Array
    adjusted: Array
    plain: Array
    scaled: bool
    ceiling: Array

    def contrasts(self, weights: Array) -> tuple[Array, Array, Array]:
        """Return estimate, standard error and degrees of freedom of single contrasts.

        Parameters
        ----------
        weights : array, shape (c, p)

        Returns
        -------
        estimate, se, df : array, shape (a, c)
        """
        estimate = self.beta @ weights.T
        variance = np.einsum("cp,apq,cq->ac", weights, self.phi, weights)
        slope = np.einsum("aicq,cq->aci", weights @ self.first, weights)
        shown = np.einsum("cp,apq,cq->ac", weights, self.adjusted, weights)
        df = 2 * variance**2 / np.einsum("aci,aij,acj->ac", slope, self.spread, slope)
        return estimate, np.sqrt(shown), np.minimum(df, self.ceiling[:, None])

    def test(self, weights: Array, *, sequential: bool = False) -> tuple[Array, Array, Array]:
        """Test that several contrasts are all 0.

        With incomplete data Satterthwaite's joint degrees of freedom depend a
        little (in the fourth digit) on how the contrasts are written. The R
        package lmerTest takes differences from the first level, but in a model
        with one fixed factor makes them orthogonal for ordinary least squares,
        one after the other; the same is done here.

        Parameters
        ----------
        weights : array, shape (q, p), of full rank
        sequential : bool
            Make the contrasts orthogonal first.

        Returns
        -------
        F, df_den, p : array, shape (a,)
        """
        q = len(weights)
        statistic: Array
        df: Array
        if q == 1:
            estimate, se, each = self.contrasts(weights)
            statistic, df = (estimate[:, 0] / se[:, 0]) ** 2, each[:, 0]
        elif self.scaled:
            statistic, df = self._kenward_roger(weights)
        else:
            statistic, df = self._satterthwaite(weights, sequential=sequential)
        df = np.minimum(df, self.ceiling)
        return statistic, df, fdtrc(q, df, np.maximum(statistic, 0))

    def _satterthwaite(self, weights: Array, *, sequential: bool) -> tuple[Array, Array]:
        """Split the contrasts into independent t tests and join their degrees of freedom."""
        q = len(weights)
        if sequential:
            squares = np.linalg.inv(weights @ self.plain @ weights.T)
            root = np.linalg.cholesky(squares).swapaxes(1, 2)
            weights = root / np.diagonal(root, axis1=1, axis2=2)[..., None] @ weights
        else:
            weights = np.broadcast_to(weights, (len(self.beta), *weights.shape))
        flipped = weights.swapaxes(1, 2)
        estimate = (weights @ self.beta[..., None])[..., 0]
        values, vectors = np.linalg.eigh(weights @ self.phi @ flipped)
        turned = (vectors.swapaxes(1, 2) @ estimate[..., None])[..., 0]
        slopes = weights[:, None] @ self.first @ flipped[:, None]
        slope = np.einsum("aqm,aiqr,arm->ami", vectors, slopes, vectors, optimize=True)
        known = np.einsum("ami,aij,amj->am", slope, self.spread, slope)
        return (turned**2 / values).sum(axis=1) / q, _together(2 * values**2 / known)

    def _kenward_roger(self, weights: Array) -> tuple[Array, Array]:
        """Scale the F of adjusted standard errors so that its first two moments fit."""
        q = len(weights)
        estimate = self.beta @ weights.T
        covariance = weights @ self.phi @ weights.T
        slopes = weights @ self.first @ weights.T
        bent = np.linalg.inv(covariance)[:, None] @ slopes
        traces = np.trace(bent, axis1=2, axis2=3)
        a1 = np.einsum("ai,aij,aj->a", traces, self.spread, traces)
        a2 = np.einsum("aiqr,ajrq,aij->a", bent, bent, self.spread, optimize=True)
        b = (a1 + 6 * a2) / (2 * q)
        g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
        base = 3 * q + 2 * (1 - g)
        c1, c2, c3 = g / base, (q - g) / base, (q + 2 - g) / base
        with np.errstate(divide="ignore", invalid="ignore"):
            shrunk = 1 - a2 / q  # 1 over the approximate mean of F
            inner = np.where(np.abs(1 - c2 * b) < 1e-12, 1.0, shrunk / (1 - c2 * b))
            df = 4 + (q + 2) / (inner**2 * (1 + c1 * b) / (1 - c3 * b) - 1)
            factor = np.where(np.abs(df - 2) < 1e-2, 1.0, df * shrunk / (df - 2))
        # with very few degrees of freedom the moments do not exist: those of a single stratum
        sound = (df > 1) & np.isfinite(df) & (factor > 0)
        df, factor = np.where(sound, df, 2 * q / a2), np.where(sound, factor, 1.0)
        adjusted = weights @ self.adjusted @ weights.T
        solved = np.linalg.solve(adjusted, estimate[..., None])[..., 0]
        return factor * (estimate * solved).sum(axis=1) / q, df

    def take(self, which: npt.NDArray[np.intp]) -> Inference:
        """Return the inference of some responses."""
        return Inference(
            beta=self.beta[which],
            phi=self.phi[which],
            first=self.first[which],
            spread=self.spread[which],
            adjusted=self.adjusted[which],
            plain=self.plain[which],
            scaled=self.scaled,
            ceiling=self.ceiling[which],
        )


def _together(df: Array) -> Array:
    """Join the degrees of freedom of q independent t tests into those of their F.

    The mean of the F distribution is set to the mean of the squared t's; with
    2 degrees of freedom or fewer in one of them there is none, and 2 are taken.
    """
    q = df.shape[1]
    same = np.ptp(df, axis=1) < 1e-6 * df[:, 0]
    large = df.min(axis=1) > 2
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (df / (df - 2)).sum(axis=1)
        joined = np.where(large, 2 * mean / (mean - q), 2.0)
    return np.where(same, df.mean(axis=1), joined)


def inference(fitted: RemlFit, method: str = "satterthwaite") -> Inference:
    """Prepare tests of the fixed effects of a REML fit.

    Parameters
    ----------
    fitted : RemlFit
    method : {'satterthwaite', 'kenward-roger'}

    Returns
    -------
    Inference
        For Satterthwaite, variances held at 0 count as known; Kenward and
        Roger's expected information takes them in.
    """
    scaled = method == "kenward-roger"
    curvature = fitted.expected if scaled else fitted.observed
    free = np.ones_like(fitted.free) if scaled else fitted.free
    spread = 2 * _safe_inverse(curvature, free)
    adjusted = fitted.phi
    if scaled:
        adjusted = fitted.phi - np.einsum("aij,aijpq->apq", spread, fitted.phi_second)
        # the correction is an expansion: where it overshoots, Phi itself is the better guess
        sound = np.linalg.eigvalsh(adjusted)[:, 0] > 1e-3 * np.linalg.eigvalsh(fitted.phi)[:, 0]
        adjusted = np.where(sound[:, None, None], adjusted, fitted.phi)
    return Inference(
        beta=fitted.beta,
        phi=fitted.phi,
        first=fitted.phi_first,
        spread=spread,
        adjusted=adjusted,
        plain=fitted.plain,
        scaled=scaled,
        ceiling=np.full(len(fitted.beta), np.inf),
    )


def _safe_inverse(curvature: Array, free: npt.NDArray[np.bool_]) -> Array:
    """Invert the free part of a curvature, leaving out directions that the data do not know."""
    size = np.sqrt(np.abs(np.diagonal(curvature, axis1=1, axis2=2)))
    size = np.where(free & (size > 0), size, 1.0)
    both = free[:, :, None] & free[:, None, :]
    norm = size[:, :, None] * size[:, None, :]
    values, vectors = np.linalg.eigh(np.where(both, curvature / norm, 0.0))
    known = values > 1e-9
    weights = np.where(known, 1 / np.where(known, values, 1.0), 0.0)
    return np.asarray((vectors * weights[:, None, :]) @ vectors.swapaxes(1, 2) / norm)
