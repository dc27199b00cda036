"""A test by shuffling: which sample is which, within each assessor.

If the samples are the same, an assessor's answers could as well belong to any
other order of the samples. Shuffling them gives the distribution of any
statistic without a model, however few assessors there are.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def shuffled_p(
    scores: Floats, assessor: Ints, sample: Ints, *, shuffles: int, seed: int
) -> tuple[float, float]:
    """Test whether the samples differ in a score of each cell.

    Parameters
    ----------
    scores : ndarray, shape (c,)
        One number a cell (assessor × sample).
    assessor, sample : ndarray of int, shape (c,)
        Which assessor and which sample, each numbered from 0.
    shuffles : int
        Number of random shuffles.
    seed : int
        Seed of their generator.

    Returns
    -------
    statistic : float
        Sum of squares of the samples' totals in units of their covariance under
        shuffling; Friedman's statistic if the scores are ranks of complete blocks.
    p : float
        ``(1 + shuffles at least as large) / (1 + shuffles)``: holds its level
        exactly where each assessor's cells hold equally many answers.

    References
    ----------
    Friedman (1937), J. Am. Stat. Assoc. 32:675-701; Skillings and Mack (1981),
    Technometrics 23:171-177, for absent cells.
    """
    rng = np.random.default_rng(seed)
    samples = int(sample.max()) + 1
    totals = np.zeros((shuffles + 1, samples))
    covariance = np.zeros((samples, samples))
    for who in range(int(assessor.max()) + 1):
        cells = np.flatnonzero(assessor == who)
        if cells.size < 2:
            continue
        own = scores[cells] - scores[cells].mean()
        here = sample[cells]
        order = np.argsort(rng.random((shuffles, cells.size)), axis=1)
        totals[0, here] += own
        totals[1:, here] += own[order]
        spread = (own**2).sum() / (cells.size - 1)
        block = spread * (np.eye(cells.size) - 1 / cells.size)
        covariance[np.ix_(here, here)] += block
    inverse = np.linalg.pinv(covariance, rcond=1e-10, hermitian=True)
    statistics = np.einsum("si,ij,sj->s", totals, inverse, totals)
    # Equal statistics may differ in the last digits.
    as_large = (statistics[1:] >= statistics[0] * (1 - 1e-9)).sum()
    return float(statistics[0]), float((1 + as_large) / (1 + shuffles))
