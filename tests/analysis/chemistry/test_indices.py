"""Indices against the National Tax Agency's survey rows and hand calculation.

Survey: market sake 2019/20, prefecture means (PDF seibun/2020/pdf/001.pdf,
pages 35–38); FY2016, national means by class (a secondary table quoting the
agency). Residuals of rows are rounding of the inputs: meter value ±0.05 moves the
index by 0.005, acidity ±0.005 by 0.006 (sweet) or 0.009 (rich), the index itself ±0.005.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.chemistry import taste_indices as i
from kikichoko.analysis.core import OptionError

ROWS = [  # meter value, acidity, sweet–dry, rich–light
    (2.8, 1.05, 0.11, -1.17),
    (4.1, 1.18, -0.15, -1.00),
    (6.2, 1.18, -0.36, -1.08),
    (0.1, 1.20, 0.19, -0.77),
    (0.7, 1.26, 0.06, -0.68),
    (1.9, 1.56, -0.39, -0.17),
    (5.1, 1.66, -0.81, -0.13),
    (2.0, 1.68, -0.55, 0.05),
    (3.5, 1.16, -0.08, -1.00),
    (3.7, 1.30, -0.27, -0.74),
    (4.2, 1.49, -0.52, -0.42),
    (4.6, 1.27, -0.30, -0.85),
]
BY_HAND = [  # to 4 decimals, from the formulas
    (0, 1.5, -0.1499, -0.2002),
    (0, 1.0, 0.4301, -1.1402),
    (3.8, 1.16, -0.1079, -1.0115),
    (5, 1.3, -0.3812, -0.8025),
    (-5, 1.8, -0.0314, 0.5916),
    (10, 1.5, -1.0732, -0.6512),
    (-20, 2.0, 1.1557, 1.6606),
    (15, 1.2, -1.1822, -1.4383),
    (-50, 3.0, 2.9256, 4.9715),
]


@pytest.mark.parametrize(("meter", "acidity", "sweet", "rich"), ROWS)
def test_against_survey_rows(meter, acidity, sweet, rich):
    assert i.amakarado(meter, acidity) == pytest.approx(sweet, abs=0.016)
    assert i.notando(meter, acidity) == pytest.approx(rich, abs=0.017)


@pytest.mark.parametrize(("meter", "acidity", "rich"), [(n, a, z) for n, a, _, z in ROWS])
def test_the_misprint_fails_loudly(meter, acidity, rich):
    misprinted = 94545 / (1443 + meter) + 1.18 * acidity - 68.54
    assert rich - misprinted == pytest.approx(0.7 * acidity, abs=0.02)
    assert rich - misprinted > 0.7


@pytest.mark.parametrize(("meter", "acidity", "sweet", "rich"), BY_HAND)
def test_by_hand(meter, acidity, sweet, rich):
    assert i.amakarado(float(meter), acidity) == pytest.approx(sweet, abs=5.1e-5)
    assert i.notando(float(meter), acidity) == pytest.approx(rich, abs=5.1e-5)


def test_derivation_of_the_printed_coefficients():
    # 0.86 × 0.6 × 260 × 1443 and 0.42 × 0.6 × 260 × 1443, the regression on sugar.
    assert pytest.approx(i.SWEET_NUMERATOR, abs=0.2) == 0.86 * 0.6 * 260 * 1443
    assert pytest.approx(i.RICH_NUMERATOR, abs=0.4) == 0.42 * 0.6 * 260 * 1443
    sugar = i.implied_sugar(0.0)
    assert 0.86 * sugar - 1.16 * 1.5 - 1.31 == pytest.approx(i.amakarado(0.0, 1.5), abs=2e-3)
    assert i.implied_sugar(31.9) == pytest.approx(0, abs=0.01)
    assert i.implied_sugar(-28.4) == pytest.approx(6.5, abs=0.01)


def test_worth_of_acid():
    assert i.acid_worth(0.0) == pytest.approx(1.25, abs=5e-3)
    # dY/dN = −0.0930 at 0, dY/dA = −1.16.
    slope = i.amakarado(0.5, 1.5) - i.amakarado(-0.5, 1.5)
    assert slope == pytest.approx(-0.0930, abs=5e-5)


@pytest.mark.parametrize(("meter", "acidity"), [(0.0, 1.371), (3.0, 1.131), (5.0, 0.971)])
def test_neutral_line(meter, acidity):
    assert i.acidity_for(0.0, meter) == pytest.approx(acidity, abs=6e-4)
    assert i.meter_value_for(0.0, acidity) == pytest.approx(meter, abs=0.01)


@given(st.floats(-60, 30), st.floats(0.5, 6), st.floats(-2, 2))
def test_put_back(meter, acidity, target):
    assert i.amakarado(meter, i.acidity_for(target, meter)) == pytest.approx(target, abs=1e-9)
    assert i.amakarado(i.meter_value_for(target, acidity), acidity) == pytest.approx(
        target, abs=1e-9
    )


@pytest.mark.parametrize(
    ("glucose", "acidity", "index", "word"),
    [
        (1.5, 1.3, 0.2, "dry"),
        (1.6, 1.3, 0.3, "slightly dry"),
        (2.3, 1.3, 1.0, "slightly dry"),
        (2.4, 1.3, 1.1, "slightly sweet"),
        (3.1, 1.3, 1.8, "slightly sweet"),
        (3.2, 1.3, 1.9, "sweet"),
        (0.5, 1.5, -1.0, "dry"),
        (2.25, 1.05, 1.2, "slightly sweet"),  # both rounded first: 2.3 − 1.1
    ],
)
def test_glucose_minus_acidity_classes(glucose, acidity, index, word):
    value = i.glucose_minus_acidity(glucose, acidity)
    assert value == pytest.approx(index, abs=1e-12)
    assert str(i.glucose_class(value)) == word


def test_range_of_the_trial_is_told():
    assert i.fitted_range(3.0, 1.5, 17.0).inside
    outside = i.fitted_range(-50.0, 3.0, 9.0)
    assert [reason.key for reason in outside.reasons] == [
        "indices.acidity_outside",
        "indices.meter_outside",
        "indices.alcohol_outside",
    ]
    # Today's average market sake: acidity 1.16.
    assert not i.fitted_range(3.8, 1.16).inside


def test_alcohol_shift_by_hand():
    # Alcohol table: 0.98060 at 15.5 %, 0.97906 at 17 %; 0.86 × 0.6 × 260 × difference.
    assert i.alcohol_shift(3.0, 15.5) == pytest.approx(
        0.86 * 0.6 * 260 * (0.97906 - 0.98060), abs=2e-3
    )
    assert i.alcohol_shift(3.0, 17.0) == 0


def test_negative_glucose_is_refused():
    with pytest.raises(OptionError):
        i.glucose_minus_acidity(-1, 1.3)
