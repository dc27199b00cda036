"""False alarms and coverage on simulated panels: nominal within Monte-Carlo error.

Bounds are 3.5 standard errors of the simulated share around the nominal one,
widened where a method is known to be approximate and says so. The same checks
must catch the usual wrong analysis (samples tested against the residual).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.whole_table import Anova
from kikichoko.analysis.core import Tidy
from kikichoko.analysis.mixed_model.balanced_squares import mean_squares
from scipy import stats

TRUE = 5.0


def margin(runs: int, share: float = 0.05) -> float:
    """Return 3.5 Monte-Carlo standard errors of a share."""
    return float(3.5 * np.sqrt(share * (1 - share) / runs))


def panels(
    seed: int,
    runs: int,
    sizes: tuple[int, int, int],
    *,
    interaction: float = 1.0,
    holes: float = 0.0,
    one_in: int = 0,
) -> Tidy:
    """Simulate panels where all samples have the mean 5, each as an attribute of one table.

    With `one_in` each assessor lacks whole samples at random, one in so many.
    """
    rng = np.random.default_rng(seed)
    a, i, j, k = (part.ravel() for part in np.indices((runs, *sizes)))
    score = (
        TRUE
        + rng.normal(size=(runs, sizes[0]))[a, i]
        + interaction * rng.normal(size=(runs, *sizes[:2]))[a, i, j]
        + rng.normal(size=a.size)
    )
    keep = rng.random(a.size) >= holes
    if one_in:
        keep &= rng.integers(one_in, size=(runs, *sizes[:2]))[a, i, j] > 0
    data = pd.DataFrame(
        {
            "session": "1",
            "assessor": np.char.mod("T%02d", i),
            "sample": np.char.mod("S%d", j),
            "replicate": k + 1,
            "position": pd.array([pd.NA] * len(a), dtype="Int64"),
            "attribute": np.char.mod("run %05d", a),
            "score": score,
        }
    )[keep].reset_index(drop=True)
    return Tidy(data=data, dropped=data.iloc[:0].assign(reason=""))


def alarms(found: Anova) -> float:
    """Return the share of panels with a claim at 5 %."""
    return float(np.mean([one.sample.p < 0.05 for one in found.attributes.values()]))


def coverage(found: Anova) -> float:
    """Return the share of intervals of means that hold the true mean."""
    means = [one.means for one in found.attributes.values()]
    return float(np.mean([np.mean((one["low"] <= TRUE) & (one["high"] >= TRUE)) for one in means]))


def simulate_balanced(runs: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return p against the interaction, against the residual, and ignoring assessors.

    8 assessors, 4 samples, 2 replicates, all variances 1: as in the check values.
    """
    rng = np.random.default_rng(58)
    score = (
        rng.normal(size=(runs, 8, 1, 1))
        + rng.normal(size=(runs, 8, 4, 1))
        + rng.normal(size=(runs, 8, 4, 2))
    )
    means = score.mean(axis=3)
    within = ((score - means[..., None]) ** 2).sum(axis=(1, 2, 3))
    found = mean_squares(means, within, 2, (4,))
    weights = np.eye(4)[1:] - np.eye(4)[:1]
    F, _, p = found.inference.test(weights)
    square = F * found.squares[:, 1]
    fixed = stats.f.sf(square / (within / 32), 3, 32)
    samples = score.transpose(2, 0, 1, 3).reshape(4, runs, 16)
    one_way = stats.f_oneway(*samples, axis=1).pvalue
    return p, fixed, one_way


def test_balanced_false_alarms_and_the_wrong_tests():
    """Check values: .050 against the interaction, .418 against the residual, .068 one-way."""
    runs = 20_000
    p, fixed, one_way = simulate_balanced(runs)
    assert np.mean(p < 0.05) == pytest.approx(0.05, abs=margin(runs))
    assert np.mean(fixed < 0.05) == pytest.approx(0.418, abs=margin(runs, 0.418))
    assert np.mean(one_way < 0.05) == pytest.approx(0.068, abs=margin(runs, 0.068))
    assert np.mean(fixed < 0.05) > 0.05 + margin(runs), "this check can fail"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sizes", "interaction", "holes", "one_in"),
    [
        ((8, 4, 2), 1.0, 0.15, 0),
        ((8, 4, 2), 0.0, 0.15, 0),
        ((10, 5, 1), 1.0, 0.0, 5),
        ((6, 5, 3), 0.5, 0.15, 6),
    ],
    ids=["disagreeing", "agreeing", "unreplicated", "lacking samples"],
)
def test_incomplete_panels(
    sizes: tuple[int, int, int], interaction: float, holes: float, one_in: int
):
    """Satterthwaite's approximation may add half a percent of false alarms, not more."""
    runs = 400
    table = panels(sum(sizes), runs, sizes, interaction=interaction, holes=holes, one_in=one_in)
    found = anova(table)
    assert len(found.attributes) == runs
    assert alarms(found) == pytest.approx(0.05, abs=margin(runs) + 0.005)
    # intervals of one panel go together: half of them count as independent
    assert coverage(found) == pytest.approx(0.95, abs=margin(runs) + 0.005)


@pytest.mark.slow
def test_pairs_and_references_hold_together():
    """All Tukey intervals of a panel, and all of Dunnett's, hold together in 95 %."""
    runs = 300
    found = anova(panels(3, runs, (7, 4, 2), holes=0.15))
    tukey = dunnett = 0
    for one in found.attributes.values():
        pairs = one.differences
        tukey += ((pairs["low"] <= 0) & (pairs["high"] >= 0)).all()
    some = list(found.attributes.values())[:120]
    for one in some:
        against = one.against("S0")
        dunnett += ((against["low"] <= 0) & (against["high"] >= 0)).all()
    assert tukey / runs == pytest.approx(0.95, abs=margin(runs) + 0.005)
    assert dunnett / len(some) == pytest.approx(0.95, abs=margin(len(some)) + 0.005)


@pytest.mark.slow
def test_three_assessors_never_claim_too_much():
    """With three assessors and holes methods are approximate: too few alarms are forgiven."""
    runs = 800
    table = panels(9, runs, (3, 3, 2), interaction=0.5, holes=0.1)
    for method in ("satterthwaite", "kenward-roger"):
        assert alarms(anova(table, df=method)) < 0.05 + margin(runs)


@pytest.mark.slow
def test_drop_at_the_boundary_can_be_told_from_the_design():
    """Where assessors agree, dropping their interaction loses the nominal level; we keep it."""
    runs = 800
    table = panels(21, runs, (5, 3, 3), interaction=0.0, holes=0.1)
    kept, dropped = alarms(anova(table)), alarms(anova(table, boundary="drop"))
    assert kept == pytest.approx(0.05, abs=margin(runs) + 0.005)
    assert dropped < kept


def test_the_margin_catches_the_wrong_error_term():
    """Random assessors without their interaction: the engine allows it, the check catches it."""
    runs = 300
    found = anova(panels(4, runs, (8, 4, 2), holes=0.1), random=["assessor"])
    assert alarms(found) > 0.05 + margin(runs)
