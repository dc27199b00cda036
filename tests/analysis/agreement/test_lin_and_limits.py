"""Lin's concordance and the limits of agreement on the data of Bland & Altman 1986."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.agreement import concordance_correlation, limits_of_agreement
from kikichoko.analysis.core import NotEstimable

# Bland & Altman 1986, Lancet i:307-310: peak flow of 17 subjects, two meters; the first
# readings, from the help of R epiR.
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_limits_against_published():
    # Printed -79.7 and 75.5 with intervals -114.3 to -45.1 and 40.9 to 110.1: the paper
    # rounded mean and sd (-2.1, 38.8) first, so it differs in the first decimal.
    found = limits_of_agreement(LARGE, MINI, multiple=2)
    assert (found.bias, found.sd) == pytest.approx((-2.117647, 38.765130), abs=1e-6)
    assert (found.low, found.high) == pytest.approx((-79.647907, 75.412613), abs=1e-6)
    assert (found.low, found.high) == pytest.approx((-79.7, 75.5), abs=0.1)
    assert found.low_interval[:2] == pytest.approx((-114.170, -45.126), abs=1e-3)
    assert found.high_interval[:2] == pytest.approx((40.891, 109.934), abs=1e-3)
    assert found.bias_interval[:2] == pytest.approx((-22.048838, 17.813544), abs=1e-6)
    exact = limits_of_agreement(LARGE, MINI)
    assert (exact.low, exact.high) == pytest.approx((-78.097302, 73.862007), abs=1e-6)


def test_lin_against_reference_values():
    # Lin 1989, variance as corrected in 2000; values by the formulas of R epiR.
    found = concordance_correlation(LARGE, MINI)
    assert found.concordance == pytest.approx(0.942742, abs=1e-6)
    assert found.r == pytest.approx(0.943279, abs=1e-6)
    assert found.accuracy == pytest.approx(0.999431, abs=1e-6)
    assert abs(found.location_shift) == pytest.approx(0.019030, abs=1e-6)
    assert 1 / found.scale_shift == pytest.approx(1.028268, abs=1e-6)
    assert (found.se, found.z, found.se_z) == pytest.approx(
        (0.028617, 1.762148, 0.257260), abs=1e-6
    )
    assert found.interval is not None
    assert found.interval[:2] == pytest.approx((0.850492, 0.978726), abs=1e-6)


def test_lin_on_judges_one_and_four_of_shrout_fleiss():
    found = concordance_correlation([9, 6, 8, 7, 10, 6], [8, 2, 8, 6, 9, 7])
    assert found.concordance == pytest.approx(0.605263, abs=1e-6)


@given(st.floats(-100, 100), st.floats(0.1, 10))
def test_shift_and_scale_leave_the_correlation_alone(shift: float, scale: float):
    moved = shift + scale * np.array(MINI)
    found = concordance_correlation(LARGE, moved)
    assert found.r == pytest.approx(0.943279, abs=1e-6)
    assert found.concordance == pytest.approx(found.r * found.accuracy)
    assert limits_of_agreement(LARGE, np.array(LARGE) + shift).bias == pytest.approx(-shift)


def test_edges():
    same = concordance_correlation([1.0, 2.0, 3.0], [1.0, 2.0, 3.0])
    assert same.concordance == pytest.approx(1)
    assert same.interval is None
    with pytest.raises(NotEstimable, match="no variation to agree on"):
        concordance_correlation([3.0, 3.0, 3.0], [1.0, 2.0, 3.0])
    with pytest.raises(NotEstimable, match="at least 2 samples"):
        limits_of_agreement([1.0], [2.0])
    flat = limits_of_agreement([1.0, 2.0, 3.0], [2.0, 3.0, 4.0])
    assert (flat.sd, flat.bias) == (0, -1)
    assert np.isnan(flat.r_size)
