"""What serving does: claims within the budget, from stated truths (outside cases R1 to R4, S13)."""

from __future__ import annotations

import re
from itertools import product

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.factors import changed_alone
from kikichoko.panel.session.bottles import Bottle

BOTTLES = [
    Bottle(name=f"{fraction} {degrees}", tank="1", fraction=fraction, pasteurised="1",
           temperature_c=float(degrees))
    for fraction, degrees in product(("clear", "cloudy"), (10, 45))
]  # fmt: skip


def served(clear: float, cloudy: float, bottles=BOTTLES, seed: int = 3):
    """Return findings where warming adds `clear` and `cloudy` to sweetness, nothing to acidity."""
    rng = np.random.default_rng(seed)
    rows = []
    for number, one in product(range(1, 10), bottles):
        adds = {"clear": clear, "cloudy": cloudy}[one.fraction] * (one.temperature_c == 45)
        for attribute, add in (("sweetness", adds), ("acidity", 0.0)):
            own = 5 + add + rng.normal(0, 0.3)
            rows += [
                (f"T{number}", one.name, r, attribute, round(2 * (own + rng.normal(0, 0.6))) / 2)
                for r in (1, 2)
            ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    return findings_of_tables(pd.DataFrame(rows, columns=columns), bottles=bottles, shuffles=199)


@pytest.fixture(scope="module")
def apart():
    return served(0.3, 2.4)


def told(found) -> list[str]:
    return [str(one.sentence) for one in found.statements if one.section == "served"]


def test_warming_does_more_to_one_than_to_the_other(apart):
    claimed = [one for one in apart.statements if one.section == "served" and one.kind == "claim"]
    more = next(str(one.sentence) for one in claimed if "more for cloudy than for clear" in
                str(one.sentence))  # fmt: skip
    assert more.startswith("sweetness goes up from 10 °C to 45 °C by 2.")
    assert all(one.p_adjusted <= 0.05 and one.about == ("sweetness",) for one in claimed)
    assert not any("acidity" in one for one in told(apart))


def test_the_line_of_the_box_that_holds_several_effects_says_which_way_with_limits(apart):
    """An outside reader met: which way and by how much, says the chapter."""
    lines = [str(line) for section, line in apart.in_short if section == "served"]
    claimed = [one for one in apart.statements if one.section == "served" and one.kind == "claim"]
    names = [str(one.name) for one in claimed]
    assert any(
        re.fullmatch(r"sweetness up from 10 °C to 45 °C by 2\.\d more for cloudy than for clear "
                     r"\(\d\.\d to \d\.\d\)", one) for one in names)  # fmt: skip
    assert any("sweetness higher for 45 °C than for 10 °C by" in one for one in names)
    assert len(lines) == 1
    assert "more for cloudy" in names[0], "a mean that hides it comes after"
    over = next(one for one in names if "higher for 45 °C" in one)
    assert over.endswith("not alike in all")
    assert any("but not alike in all, as is said above" in one for one in told(apart))
    down = [str(one.name) for one in served(-2.4, -0.2).statements
            if one.section == "served" and one.kind == "claim"]  # fmt: skip
    assert any("down from 10 °C to 45 °C" in one and "more for clear than for" in one
               for one in down)  # fmt: skip


def test_warming_both_alike_is_told_of_both_and_of_no_more():
    said = told(served(1.5, 1.5))
    assert any("higher for 45 °C than for 10 °C on average" in one for one in said)
    assert not any("more for" in one for one in said)
    assert not any("not alike" in one for one in said)


def test_both_go_down():
    said = told(served(-2.4, -0.2))
    assert any("goes down from 10 °C to 45 °C" in one and "more for clear than for cloudy" in one
               for one in said)  # fmt: skip


def test_nothing_shown_is_not_called_nothing_there():
    found = served(0, 0, seed=8)
    (only,) = told(found)
    assert only.startswith("Of what serving does, alone and together with the bottles, nothing is")
    assert "no difference" not in only


def test_what_is_not_crossed_is_left_to_the_pairs():
    """S13: only the cloudy bottle was warmed."""
    found = served(0, 2.4, bottles=[one for one in BOTTLES if one.name != "clear 45"])
    assert found.evidence.factors is None
    assert told(found) == []
    assert any("cloudy 45" in str(one.sentence) for one in found.statements if one.kind == "claim")


def test_a_bottle_of_another_tank_stands_beside_the_cross():
    """A reference that is no part of the cross takes nothing from what the others tell."""
    house = Bottle(name="house", tank="2", fraction="clear", pasteurised="2", temperature_c=10.0)
    found = served(0.3, 2.4, bottles=[*BOTTLES, house])
    assert list(found.evidence.factors.index) == [one.name for one in BOTTLES]
    assert any("more for cloudy than for clear" in one for one in told(found))


def test_fair_pairs_differ_in_one_thing_and_temperature_is_one(apart):
    pairs = changed_alone(apart.evidence, "fraction")
    assert pairs == {("clear", "cloudy"): [("clear 10", "cloudy 10"), ("clear 45", "cloudy 45")]}


def test_sentences_in_japanese(apart):
    said = [one.sentence.to("ja") for one in apart.statements if one.section == "served"]
    assert any("10 ℃から45 ℃にすると、cloudyのほうがclearより2." in one for one in said)
