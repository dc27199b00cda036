"""One bottle's chemistry: equivalents, contradictions, and what is left unsaid.

Factors of the equivalents: equivalent weights (succinic 59.045, lactic 90.08,
tartaric 75.045, glycine 75.07, nitrogen 14.007), one mL of 0.1 mol/L in 10 mL is 10 meq/L.
"""

from __future__ import annotations

import json

import pandas as pd
import pytest
from kikichoko.analysis.chemistry import chemistry, chemistry_table
from kikichoko.analysis.core import OptionError, TableError


def keys(result):
    return [warning.key for warning in result.warnings]


@pytest.mark.parametrize(
    ("acidity", "meq", "succinic", "lactic", "tartaric"),
    [
        (1.3, 13, 0.0768, 0.1171, 0.0976),
        (1.5, 15, 0.0886, 0.1351, 0.1126),
        (2.0, 20, 0.1181, 0.1802, 0.1501),
    ],
)
def test_acidity_against_equivalent_weights(acidity, meq, succinic, lactic, tartaric):
    bottle = chemistry(acidity=acidity, amino_acidity=1.3)
    assert bottle.acidity_meq == pytest.approx(meq)
    assert bottle.acidity_succinic == pytest.approx(succinic, abs=6e-5)
    assert bottle.acidity_lactic == pytest.approx(lactic, abs=6e-5)
    assert bottle.acidity_tartaric == pytest.approx(tartaric, abs=6e-5)
    assert bottle.amino_glycine == pytest.approx(0.0976, abs=6e-5)
    assert bottle.formol_nitrogen == pytest.approx(18.21, abs=6e-3)


def test_one_bottle_by_hand():
    bottle = chemistry(abv=15.5, meter_value=3.0, acidity=1.5, glucose=2.0)
    assert bottle.extract == pytest.approx(4.714, abs=6e-4)
    assert bottle.extract_official == 4.7
    assert bottle.original_extract == pytest.approx(29.35, abs=6e-3)
    assert bottle.glucose_minus_acidity == pytest.approx(0.5)
    assert bottle.temperature == 15
    # ±0.5 meter value and ±0.1 mL: 0.5 × 0.0926 + 0.116
    assert bottle.amakarado_reading == pytest.approx(0.162, abs=1e-3)
    assert bottle.notando_reading == pytest.approx(0.211, abs=1e-3)


def test_nothing_is_assumed_for_what_is_missing():
    bottle = chemistry(acidity=1.4)
    assert bottle.amakarado is None
    assert bottle.extract is None
    assert bottle.in_fitted_range is None
    assert bottle.acidity_meq == pytest.approx(14)
    assert bottle.warnings == ()
    assert chemistry(meter_value=float("nan")).density is None
    assert chemistry(meter_value=None, abv=15.0).extract is None


def test_contradictory_entries_are_doubted():
    # Computed extract 4.71: 4.9 is near enough, 5.2 is not.
    assert keys(chemistry(abv=15.5, meter_value=3.0, extract=4.9)) == []
    assert keys(chemistry(abv=15.5, meter_value=3.0, extract=5.2)) == [
        "chemistry.extract_contradicts"
    ]
    assert keys(chemistry(abv=15.5, meter_value=3.0, glucose=6.0)) == [
        "chemistry.glucose_contradicts"
    ]
    assert keys(chemistry(abv=10.0, meter_value=25.0)) == ["chemistry.negative_extract"]
    assert keys(chemistry(acidity=1.5, clear_supernatant=False)) == ["chemistry.cloudy"]


def test_soft_limits_warn_and_do_not_block():
    odd = chemistry(
        abv=23, meter_value=-120, acidity=8, amino_acidity=0.1, glucose=13, polishing_ratio=0.9
    )
    assert keys(odd).count("chemistry.unusual") == 6


def test_average_market_sake_is_outside_the_fitted_range():
    bottle = chemistry(abv=15.26, meter_value=3.77, acidity=1.161)
    assert bottle.in_fitted_range is False
    assert "extrapolated" in str(bottle.warnings[0])
    assert chemistry(abv=17, meter_value=0.0, acidity=1.8).in_fitted_range is True


def test_beyond_the_scale_is_told():
    assert "chemistry.off_scale" in keys(chemistry(meter_value=-50, acidity=3.0))


@pytest.mark.parametrize(
    "wrong",
    [{"abv": -1}, {"abv": 120}, {"meter_value": -1443}, {"acidity": -0.1}, {"polishing_ratio": 0}],
)
def test_impossible_values_are_refused(wrong):
    with pytest.raises(OptionError, match="must"):
        chemistry(**wrong)


def test_json_is_whole():
    spoken = json.loads(json.dumps(chemistry(abv=15.5, meter_value=3.0).to_dict(), allow_nan=False))
    assert spoken["amakarado"] is None
    assert spoken["extract_official"] == 4.7
    assert spoken["sentences"]


def test_table_of_bottles():
    table = pd.DataFrame(
        {
            "bottle": ["free-run", "clear"],
            "alcohol": [17.0, None],
            "meter_value": [0.0, -5.0],
            "acidity": [1.5, 1.8],
        }
    )
    result = chemistry_table(table, abv="alcohol")
    assert result.data["amakarado"].round(4).tolist() == [-0.1499, -0.0314]
    assert result.data["extract_official"].isna().tolist() == [False, True]
    assert "free-run" in result.text()


def test_every_fault_of_a_table_is_told():
    table = pd.DataFrame({"meter_value": ["three", 2], "acidity": [1.5, -4], "abv": ["", 15]})
    with pytest.raises(TableError) as refused:
        chemistry_table(table)
    assert len(refused.value.faults) == 2
    assert "'three'" in str(refused.value)
    assert "Row 2" in str(refused.value)
    with pytest.raises(TableError, match="none of the columns"):
        chemistry_table(pd.DataFrame({"price": [1]}))
    with pytest.raises(TableError, match="alc"):
        chemistry_table(table, abv="alc")
