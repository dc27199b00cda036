"""The panel's agreement as one answer: choice of measures, words, laws."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.agreement import agreement
from kikichoko.analysis.agreement.agreement_result import Agreement
from kikichoko.analysis.core import NotEstimable, OptionError, Tidy, tidy
from kikichoko.analysis.core.ratings_matrix import guess_scale

# Shrout & Fleiss 1979, table 2.
JUDGES = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def panel(seed: int = 1, assessors: int = 6, samples: int = 5, repeats: int = 2) -> pd.DataFrame:
    """Invented scores: two lines, one tick, one severity, one fault that nobody found."""
    rng = np.random.default_rng(seed)
    rows = [
        {
            "assessor": f"A{a}",
            "sample": f"bottle {j}",
            "replicate": r,
            "sweet": round(2 + j + rng.normal(0, 0.7) + a % 2, 1),
            "body": round(5 + rng.normal(0, 1), 1),
            "cedar": int(rng.random() < (0.9 if j == 1 else 0.1)),
            "stale": int(rng.integers(0, 2) + (j == 4)),
            "mould": 0,
        }
        for a in range(assessors)
        for j in range(samples)
        for r in range(1, repeats + 1)
    ]
    return pd.DataFrame(rows)


NAMES = ["sweet", "body", "cedar", "stale", "mould"]


def judges() -> Tidy:
    return tidy(
        pd.DataFrame(
            [(f"j{j}", f"t{i}", x) for i, row in enumerate(JUDGES) for j, x in enumerate(row)],
            columns=["assessor", "sample", "score"],
        )
    )


def test_one_table_from_11_to_91():
    # Shrout & Fleiss 1979: the coefficients of one table; the choice is the result.
    found = agreement(judges()).attributes["score"]
    assert found.value("ICC(A,1)") == pytest.approx(0.289764, abs=1e-6)
    assert found.value("ICC(C,k)") == pytest.approx(0.909316, abs=1e-6)
    assert found.value("W") == pytest.approx(0.887037, abs=1e-6)
    assert found.value("alpha (interval)") == pytest.approx(0.147308, abs=1e-6)
    assert found.interval("ICC(A,1)") == pytest.approx((0.018787, 0.761084), abs=1e-6)
    said = " ".join(str(sentence) for sentence in found.sentences())
    assert "different levels" in said
    assert "slight or strong" in said


def test_scales_are_told_from_the_scores():
    assert guess_scale(np.array([0.0, 1, 1])) == "nominal"
    assert guess_scale(np.array([0.0, 1, 2, 3])) == "ordinal"
    assert guess_scale(np.array([1.0, 2, 6])) == "interval"
    assert guess_scale(np.array([1.5, 2])) == "interval"


def test_suitable_measures():
    found = agreement(tidy(panel(), scores=NAMES)).attributes
    assert found["sweet"].main == "ICC(A,1)"
    assert found["cedar"].main == "alpha (nominal)"
    assert found["stale"].main == "alpha (ordinal)"
    once = agreement(tidy(panel(repeats=1), scores=NAMES)).attributes
    assert once["cedar"].main == "Fleiss' kappa"
    two = agreement(tidy(panel(repeats=1, assessors=2), scores=NAMES)).attributes
    assert "Lin" in set(two["sweet"].measures["measure"])
    assert two["sweet"].limits is not None
    assert two["cedar"].measures["measure"].iloc[0] == "Cohen's kappa"
    assert two["stale"].measures["measure"].iloc[0] == "Cohen's kappa, linear weights"


def test_no_variation_is_said_and_not_a_number():
    found = agreement(tidy(panel(), scores=NAMES))
    assert found.no_variation == ["mould"]
    still = found.attributes["mould"]
    assert still.main is None
    assert not len(still.measures)
    assert still.percent_agreement == 1
    assert "no variation to agree on" in found.text()
    assert found.overall is not None
    assert found.overall["n_attributes"] == 4


def test_nothing_varies_at_all():
    found = agreement(tidy(panel(), scores=["mould"]))
    assert found.overall is None
    assert "no variation" in found.text()


def test_every_estimate_of_a_panel_has_limits_around_it():
    found = agreement(tidy(panel(), scores=NAMES))
    for item in found.attributes.values():
        for row in item.measures.itertuples():
            assert row.low <= row.estimate <= row.high, (item.attribute, row.measure)


def same(first: Agreement, second: Agreement) -> None:
    for name, item in first.attributes.items():
        np.testing.assert_allclose(
            item.measures[["estimate", "low", "high"]],
            second.attributes[name].measures[["estimate", "low", "high"]],
            atol=1e-9,
        )


def test_order_of_rows_and_names_of_assessors_change_nothing():
    table = panel()
    base = agreement(tidy(table, scores=NAMES))
    same(base, agreement(tidy(table.sample(frac=1, random_state=3), scores=NAMES)))
    renamed = table.assign(assessor="Z" + table["assessor"].str[::-1])
    same(base, agreement(tidy(renamed, scores=NAMES)))


def test_holes_use_every_answer():
    table = panel()
    table.loc[[3, 17, 40], "sweet"] = np.nan
    table.loc[[6, 7], "sweet"] = np.nan
    found = agreement(tidy(table, scores=["sweet"]))
    item = found.attributes["sweet"]
    assert set(item.measures["method"]) >= {"REML"}
    assert "5 answers without a score" in found.text()
    assert "variance components" in found.text()


def test_json_is_valid_and_has_stable_keys():
    found = agreement(tidy(panel(), scores=NAMES))
    spoken = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert set(spoken) == {
        "attributes", "overall", "no_variation", "level", "warnings",
        "sentences",
    }  # fmt: skip
    row = spoken["attributes"]["sweet"]["measures"][0]
    assert set(row) == {
        "measure", "estimate", "low", "high", "n_samples", "n_assessors", "method",
    }  # fmt: skip


def test_errors_in_words():
    with pytest.raises(NotEstimable, match="at least 2 samples and 2 assessors"):
        agreement(tidy(panel(assessors=1), scores=NAMES))
    with pytest.raises(OptionError, match="nominal, ordinal"):
        agreement(tidy(panel(), scores=NAMES), scales={"sweet": "line"})
    with pytest.raises(OptionError, match="no attribute 'sour'"):
        agreement(tidy(panel(), scores=NAMES), scales={"sour": "interval"})
