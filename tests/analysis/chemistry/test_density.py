"""Density, alcohol table and extract against published figures.

Alcohol densities: recomputed outside this project from OIML R 22 (1975), to the
digits of the project's facts file, sections 1.1 to 1.3. Extract: rows of the National Tax Agency's
survey of market sake, 2019/20 (PDF seibun/2020/pdf/001.pdf, pages 35–38).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.chemistry import density_scales as d
from kikichoko.analysis.core import OptionError

ALCOHOL_TABLE = [  # ABV, gravity 15/15, kg/m³, mass %, meter value of the bare mixture
    (0, 1.00000, 999.096, 0, 1.27),
    (5, 0.99285, 991.950, 4.000, 11.67),
    (8, 0.98902, 988.121, 6.424, 17.31),
    (10, 0.98662, 985.732, 8.050, 20.85),
    (12, 0.98435, 983.460, 9.682, 24.23),
    (14, 0.98218, 981.289, 11.321, 27.47),
    (15, 0.98112, 980.235, 12.143, 29.05),
    (15.5, 0.98060, 979.715, 12.554, 29.84),
    (16, 0.98009, 979.199, 12.966, 30.61),
    (17, 0.97906, 978.177, 13.791, 32.15),
    (18, 0.97805, 977.166, 14.617, 33.68),
    (19, 0.97705, 976.164, 15.445, 35.19),
    (20, 0.97605, 975.165, 16.274, 36.71),
    (22, 0.97405, 973.167, 17.938, 39.75),
]
METER_TABLE = [  # meter value, gravity 15/4, g/mL, Baumé
    (-20, 1.014055, 1.014024, 2.0),
    (-5, 1.003477, 1.003447, 0.5),
    (0, 1.000000, 0.999970, 0),
    (3, 0.997925, 0.997895, -0.3),
    (5, 0.996547, 0.996517, -0.5),
    (10, 0.993118, 0.993088, -1.0),
]
SURVEY = [  # ABV, meter value, published extract
    (15.35, 2.8, 4.70),
    (15.63, 4.1, 4.55),
    (15.00, 6.2, 3.98),
    (15.00, 0.1, 5.07),
    (16.30, 0.7, 5.34),
    (16.36, 1.9, 5.12),
    (15.28, 5.1, 4.26),
    (15.58, 2.0, 4.90),
]


def test_against_official_densities_of_water_and_ethanol():
    # Official: water 998.20 at 20 °C and 999.97 at 4 °C, ethanol 789.24 at 20 °C.
    assert d.mixture_density(0, 20) == pytest.approx(998.2012, abs=1e-4)
    assert d.mixture_density(0, 4) == pytest.approx(999.9688, abs=1e-4)
    assert d.mixture_density(1, 20) == pytest.approx(789.239, abs=1e-3)


@pytest.mark.parametrize(("abv", "gravity", "density", "mass", "meter"), ALCOHOL_TABLE)
def test_against_alcohol_table(abv, gravity, density, mass, meter):
    fraction = d.mass_fraction(abv)
    assert d.alcohol_gravity(abv) == pytest.approx(gravity, abs=6e-6)
    assert d.mixture_density(fraction) == pytest.approx(density, abs=6e-4)
    assert 100 * fraction == pytest.approx(mass, abs=6e-4)
    # The table's meter value was made from a density of water at 4 °C that is
    # 1e-6 larger or smaller: 0.01 in meter value.
    assert d.meter_value_of_density(d.mixture_density(fraction) / 1000) == pytest.approx(
        meter, abs=0.02
    )


@pytest.mark.parametrize(("meter", "gravity", "density", "baume"), METER_TABLE)
def test_meter_value_against_table(meter, gravity, density, baume):
    assert d.gravity(float(meter)) == pytest.approx(gravity, abs=6e-7)
    assert d.density(float(meter)) == pytest.approx(density, abs=6e-7)
    assert d.baume(float(meter)) == pytest.approx(baume)
    assert d.meter_value_of_baume(baume) == pytest.approx(meter)


def test_pure_water_reads_above_zero():
    assert d.meter_value_of_density(0.9991026) == pytest.approx(1.2528, abs=2e-4)


@given(st.floats(-100, 40))
def test_baume_is_its_own_hydrometer(meter):
    # Bé (heavy) = 144.3 (1 − 1/S), by its definition.
    assert d.baume(meter) == pytest.approx(144.3 * (1 - 1 / d.gravity(meter)), abs=1e-9)


@given(st.floats(-100, 40))
def test_put_back(meter):
    assert d.meter_value(d.gravity(meter)) == pytest.approx(meter, abs=1e-9)
    assert d.meter_value_of_density(d.density(meter)) == pytest.approx(meter, abs=1e-9)


@given(st.floats(-60, 30), st.floats(5, 22))
def test_extract_put_back(meter, abv):
    assert d.meter_value_of_extract(d.extract(meter, abv), abv) == pytest.approx(meter, abs=1e-8)


@pytest.mark.parametrize(
    ("meter", "abv", "whole", "cut"),
    [(3, 15.5, 4.714, 4.7), (0, 16, 5.388, 5.3), (-5, 17.5, 6.690, 6.6)],
)
def test_extract_worked_figures(meter, abv, whole, cut):
    assert d.extract(meter, abv) == pytest.approx(whole, abs=6e-4)
    assert d.official_extract(meter, abv) == cut


def test_original_extract_worked_figure():
    assert d.original_extract(4.714, 15.5) == pytest.approx(29.35, abs=5e-3)


@pytest.mark.parametrize(("abv", "meter", "published"), SURVEY)
def test_extract_against_survey_rows(abv, meter, published):
    # Prefecture means of extracts that were cut after the first decimal; over 176 rows
    # the residuals were −0.076 to +0.019 with mean −0.020.
    assert -0.08 < published - d.extract(meter, abv) < 0.02


def test_extract_of_one_common_base_would_need_another_constant():
    # (S − A) with both on 15/4: the mixed bases are repaired by 0.21, not by −0.015.
    both_15_4 = (d.gravity(3.0) - d.alcohol_gravity(15.5) * 0.9991026 / 0.99997) * 260
    assert d.extract(3.0, 15.5) - both_15_4 == pytest.approx(-0.015, abs=5e-3)
    assert d.extract(d.meter_value_of_density(0.9991026), 0.0) == pytest.approx(-0.02, abs=5e-3)


def test_cut_is_not_round():
    cut = [d.official_extract(float(n), 15.5) for n in np.arange(-20, 15, 0.1)]
    whole = [d.extract(float(n), 15.5) for n in np.arange(-20, 15, 0.1)]
    lost = np.array(whole) - np.array(cut)
    # Rounding the gravities to 1e-4 can move the extract by at most 260 × 1e-4 = 0.026.
    assert lost.min() > -0.027
    assert lost.max() < 0.127
    assert lost.mean() == pytest.approx(0.05, abs=0.02)


def test_warmer_sake_reads_drier():
    # At 20 °C the alcohol and water of 15.5 % are lighter by the ratio of OIML densities.
    fraction = d.mass_fraction(15.5)
    ratio = d.mixture_density(fraction, 20) / d.mixture_density(fraction, 15)
    true = 2.0
    reading = d.meter_value(d.gravity(true) * ratio)
    assert reading > true
    assert d.meter_value_at_15(reading, 20, 15.5) == pytest.approx(true, abs=1e-9)
    assert d.meter_value_at_15(reading, 15, 15.5) == pytest.approx(reading, abs=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: d.gravity(-1443.0),
        lambda: d.gravity(float("nan")),
        lambda: d.meter_value(0.0),
        lambda: d.mass_fraction(101),
        lambda: d.mass_fraction(float("nan")),
        lambda: d.mixture_density(1.2),
        lambda: d.meter_value_at_15(3, 60, 15),
    ],
)
def test_refusals_say_the_range(call):
    with pytest.raises(OptionError, match="must"):
        call()
