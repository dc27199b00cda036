"""What bottles can tell apart: by construction and by the rank of the design."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable, TableError
from kikichoko.analysis.link import estimability


def table(n=8, seed=0, **columns):
    rng = np.random.default_rng(seed)
    values = {"meter_value": rng.uniform(-5, 8, n), "acidity": rng.uniform(1.1, 2.0, n)}
    return pd.DataFrame({**values, **columns})


def keys(result):
    return [reason.key for reason in result.reasons]


def test_one_tank_is_refused_with_its_reason():
    three = pd.DataFrame(
        {"meter_value": [2.0, 2.5, 3.0], "acidity": [1.4, 1.5, 1.6], "tank": ["T1"] * 3}
    )
    known = estimability(three, ["meter_value", "acidity"], batch="tank")
    assert not known.possible
    assert keys(known) == ["estimability.one_batch"]
    with pytest.raises(NotEstimable, match="one batch"):
        raise known.refuse()
    # What would help: bottles that differ in both numbers.
    assert len(known.wanted) >= 4
    assert known.wanted["meter_value"].min() < known.wanted["meter_value"].max()


def test_a_shared_meter_value_has_no_effect_to_see():
    same = table(meter_value=[3.0] * 8)
    known = estimability(same, ["meter_value", "acidity"])
    assert known.usable == ("acidity",)
    assert keys(known) == ["estimability.constant"]
    assert known.predictors["verdict"].tolist() == ["constant", "told apart"]


def test_acidity_fixed_by_alcohol_cannot_be_told_apart():
    alcohol = np.linspace(14, 18, 8)
    known = estimability(table(abv=alcohol, acidity=0.1 * alcohol - 0.1), ["abv", "acidity"])
    assert known.usable == ("abv",)
    assert keys(known) == ["estimability.dependent"]
    assert "alcohol" in str(known.reasons[0])


def test_moving_together_is_said():
    alcohol = np.linspace(14, 18, 8)
    wobble = np.array([0.02, -0.02] * 4)
    known = estimability(table(abv=alcohol, acidity=0.1 * alcohol + wobble), ["abv", "acidity"])
    assert known.usable == ("abv", "acidity")
    assert len(known.together) == 1
    r = float(np.corrcoef(alcohol, 0.1 * alcohol + wobble)[0, 1])
    assert known.together["correlation"].iloc[0] == pytest.approx(r)
    # Variance inflation is 1 / (1 − r²) for two predictors.
    assert known.predictors["inflation"].tolist() == pytest.approx([1 / (1 - r * r)] * 2)
    assert "move together" in known.text()


def test_four_batches_cannot_reach_five_percent():
    known = estimability(table(4), ["meter_value"])
    assert not known.possible
    few = next(reason for reason in known.reasons if reason.key == "estimability.few")
    # 2 of 4! orders are as extreme as the most extreme one.
    assert dict(few.values)["p"] == pytest.approx(2 / math.factorial(4))


def test_effects_eat_batches():
    three = ["meter_value", "acidity", "abv"]
    eaten = estimability(table(5, abv=np.arange(5.0)), three)
    assert not eaten.possible
    assert keys(eaten) == ["estimability.spare"]
    assert estimability(table(6, abv=np.arange(6.0)), three).possible


def test_bottles_of_one_batch_count_as_one():
    tanks = np.repeat(["A", "B", "C"], 4)
    known = estimability(table(12, tank=tanks), ["meter_value"], batch="tank")
    assert known.bottles == 12
    assert known.batches == 3
    assert not known.possible


def test_differences_between_sessions_are_not_chemistry():
    meter = np.repeat([2.0, 5.0], 5)
    known = estimability(
        table(10, meter_value=meter, session=np.repeat(["spring", "autumn"], 5)),
        ["meter_value", "acidity"],
        session="session",
    )
    assert known.usable == ("acidity",)
    assert keys(known) == ["estimability.between_sessions"]


def test_a_shared_bottle_links_sessions():
    meter = np.repeat([2.0, 5.0], 5)
    bottles = table(10, meter_value=meter, session=np.repeat(["spring", "autumn"], 5))
    bottles["tank"] = [f"t{k}" for k in range(10)]
    house = bottles.iloc[[0, 0]].assign(tank="house", session=["spring", "autumn"], acidity=1.4)
    linked = estimability(
        pd.concat([bottles, house]), ["meter_value", "acidity"], batch="tank", session="session"
    )
    assert linked.usable == ("meter_value", "acidity")
    assert linked.batches == 11
    assert linked.spare == 11 - 1 - 2


def test_wanted_bottle_is_the_best_of_all_corners():
    # By enumeration: no other corner of the typical ranges narrows the wider slope more.
    bottles = table(8, seed=4, acidity=np.linspace(1.2, 1.5, 8), meter_value=np.linspace(0, 6, 8))
    bottles.loc[0, "acidity"] = 1.3
    known = estimability(bottles, ["meter_value", "acidity"])
    best = known.wanted.iloc[0]
    X = bottles[["meter_value", "acidity"]].to_numpy()

    def widest(point):
        joined = np.vstack([X, point]) / [13.0, 1.0]
        centred = joined - joined.mean(axis=0)
        return np.diag(np.linalg.inv(centred.T @ centred)).max()

    corners = [(n, a) for n in (-4.0, 9.0) for a in (1.1, 2.1)]
    assert min(corners, key=widest) == (best["meter_value"], best["acidity"])


def test_order_of_rows_changes_nothing():
    bottles = table(9, tank=list("AABBCDEFG"))
    one = estimability(bottles, ["meter_value", "acidity"], batch="tank")
    other = estimability(
        bottles.sample(frac=1, random_state=3), ["meter_value", "acidity"], batch="tank"
    )
    assert one.usable == other.usable
    assert one.predictors["inflation"].to_numpy() == pytest.approx(
        other.predictors["inflation"].to_numpy()
    )


def test_faults_name_row_and_column():
    bottles = table(5)
    bottles.loc[2, "acidity"] = np.nan
    with pytest.raises(TableError, match="Row 3, column 'acidity'"):
        estimability(bottles, ["acidity"])
    with pytest.raises(TableError, match="no column 'glucose'"):
        estimability(bottles, ["glucose"])
