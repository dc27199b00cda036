"""Blends against calculations by hand, shown step by step."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.chemistry import Part, blend, dilute, share_for, water
from kikichoko.analysis.chemistry.density_scales import extract, meter_value_of_extract
from kikichoko.analysis.core import NotEstimable, OptionError


def test_two_fractions_of_equal_alcohol_by_hand():
    # 100 L of meter value +5 (0.996517 g/mL) and 50 L of −20 (1.014024 g/mL), both 16 %.
    # mass      99.6517 + 50.7012 = 150.3529 kg in 150 L: equal alcohol, no contraction
    # density   150.3529 / 150    = 1.0023527 g/mL
    # gravity   1.0023527 / 0.99997 = 1.0023828
    # meter     1443 / 1.0023828 − 1443 = −3.430   (the average would say −3.333)
    # acidity   (100 × 1.3 + 50 × 2.0) / 150 = 1.5333
    mixed = blend([Part(100, 5.0, 16.0, 1.3, 1.0, 2.0), Part(50, -20.0, 16.0, 2.0, 1.6, 5.0)])
    assert mixed.volume == pytest.approx(150, abs=1e-6)
    assert mixed.density == pytest.approx(1.0023527, abs=1e-6)
    assert mixed.meter_value == pytest.approx(-3.430, abs=2e-3)
    assert mixed.averaged_meter_value == pytest.approx(-10 / 3)
    assert mixed.acidity == pytest.approx(230 / 150)
    assert mixed.amino_acidity == pytest.approx(180 / 150)
    assert mixed.glucose == pytest.approx(450 / 150)
    assert mixed.abv == pytest.approx(16)


def test_water_by_hand():
    # 100 mL alcohol and water of 20 % (0.975165 g/mL) brought to 15 % (0.980235 g/mL):
    # alcohol 20 mL in 20 / 0.15 = 133.333 mL, which weigh 133.333 × 0.980235 = 130.698 g;
    # water 130.698 − 97.5165 = 33.181 g, at 0.999096 g/mL 33.211 mL. Densities: alcohol table.
    bare = Part(100, 36.705, 20.0)
    thinned = dilute(bare, 15.0)
    assert thinned.water == pytest.approx(33.211, abs=3e-3)
    assert thinned.blend.volume == pytest.approx(133.333, abs=2e-3)
    assert thinned.blend.density == pytest.approx(0.980235, abs=2e-6)


def test_mass_balance_of_unlike_fractions_by_hand():
    # 60 L at −2.0, 17.5 % and 40 L at +6.0, 15.0 %.
    # extract  (S − A) 260 + 0.21 with A(17.5) 0.978554, A(15) 0.981122
    #   S(−2) 1443/1441 = 1.0013879 → 6.1465;  S(6) 1443/1449 = 0.9958592 → 4.0416
    #   blend (60 × 6.1465 + 40 × 4.0416) / 100 = 5.3045 (volume within 0.02 % of 100)
    # alcohol  (60 × 17.5 + 40 × 15) / 100 = 16.5 %, A(16.5) 0.979572
    # gravity  0.979572 + (5.3045 − 0.21) / 260 = 0.999166 → meter 1443 (1/0.999166 − 1) = +1.204
    mixed = blend([Part(60, -2.0, 17.5), Part(40, 6.0, 15.0)])
    assert mixed.volume == pytest.approx(100, rel=3e-4)
    assert mixed.abv == pytest.approx(16.5, abs=5e-3)
    assert mixed.extract == pytest.approx(5.3045, abs=5e-3)
    assert mixed.meter_value == pytest.approx(1.204, abs=0.02)


def test_dilution_moves_the_meter_value_by_the_alcohol_table():
    # Extract 5.557 g in 100 mL (18 %, +2) is 5.557 / 1.16065 = 4.788 g/100 mL at 15.5 %, where
    # the extract formula read backwards gives the meter value. The formula gives pure water
    # −0.02 g/100 mL instead of 0: 14 parts of water in 100 move the meter value by 0.015.
    before = extract(2.0, 18.0)
    thinned = dilute(Part(100, 2.0, 18.0), 15.5)
    after = before * 100 / thinned.blend.volume
    assert thinned.blend.meter_value == pytest.approx(meter_value_of_extract(after, 15.5), abs=0.02)


def test_genshu_survives_only_a_small_adjustment():
    part = Part(100, 2.0, 18.0)
    assert dilute(part, 17.2).warnings[0].key == "blending.genshu_kept"
    assert dilute(part, 17.0).warnings[0].key == "blending.genshu_lost"


FRACTION = st.tuples(st.floats(0.1, 100), st.floats(-40, 10), st.floats(8, 20))


@given(FRACTION, FRACTION)
def test_what_must_be_kept_is_kept(first, second):
    (v1, n1, a1), (v2, n2, a2) = first, second
    parts = [Part(v1, n1, a1, 1.0), Part(v2, n2, a2, 2.0)]
    mixed = blend(parts)
    assert mixed.volume * mixed.density == pytest.approx(sum(part.mass for part in parts))
    assert mixed.volume * mixed.abv == pytest.approx(v1 * a1 + v2 * a2)
    assert mixed.volume * mixed.acidity == pytest.approx(v1 + 2 * v2)
    # Its own numbers agree: extract from its meter value is the extract that went in.
    assert extract(mixed.meter_value, mixed.abv) == pytest.approx(mixed.extract, abs=1e-6)
    turned = blend(parts[::-1])
    assert turned.meter_value == pytest.approx(mixed.meter_value, abs=1e-7)


def test_like_with_like_changes_nothing():
    mixed = blend([Part(3, -4.0, 16.2, 1.7), Part(5, -4.0, 16.2, 1.7)])
    assert mixed.meter_value == pytest.approx(-4.0, abs=1e-8)
    assert mixed.acidity == pytest.approx(1.7)


def test_what_one_part_does_not_state_is_not_invented():
    mixed = blend([Part(1, 0.0, 16.0, 1.5, name="clear"), Part(1, 1.0, 16.0, name="cloudy")])
    assert mixed.acidity is None
    assert "cloudy" in str(mixed.warnings[0])
    assert blend([Part(1, 0.0, 16.0), Part(1, 1.0, 16.0)]).warnings == ()


def test_share_put_back():
    first, second = Part(1, 4.0, 17.0), Part(1, -12.0, 15.0)
    share = share_for(first, second, -3.0)
    again = blend([Part(share, 4.0, 17.0), Part(1 - share, -12.0, 15.0)])
    assert again.meter_value == pytest.approx(-3.0, abs=1e-6)
    with pytest.raises(NotEstimable, match="between"):
        share_for(first, second, 9.0)


def test_water_is_not_zero():
    assert water(1).meter_value == pytest.approx(1.26, abs=0.02)


@pytest.mark.parametrize(
    "call",
    [
        lambda: blend([Part(1, 0.0, 16.0)]),
        lambda: Part(0, 0.0, 16.0),
        lambda: Part(1, 0.0, 16.0, acidity=-1),
        lambda: dilute(Part(1, 0.0, 16.0), 17.0),
    ],
)
def test_refusals(call):
    with pytest.raises(OptionError):
        call()
