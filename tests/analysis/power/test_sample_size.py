"""Numbers of assessors against the printed tables, by brute force and by simulation."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.difference import difference, needed, similarity
from kikichoko.analysis.difference.psychometric import TESTS
from kikichoko.analysis.power import assessors_for, supply
from kikichoko.analysis.power.numbers_of_assessors import POURS
from scipy.stats import binom

REFERENCE = Path(__file__).parents[2] / "reference"


def test_against_published_tables():
    # ISO 4120 A.3, ASTM E1885, Schlich (1993), ISO 10399 A.3: 250 cells
    table = pd.read_csv(REFERENCE / "numbers_of_assessors.csv", comment="#")
    assert len(table) == 250
    for row in table.itertuples():
        found = assessors_for(row.test, alpha=row.alpha, beta=row.beta, pd=row.pd)
        assert found.n == row.n, row


def test_the_remembered_1181_is_not_the_smallest():
    # triangle, pd 10 %, alpha .05, beta .001: 1178 keeps both risks, and 1181 does too
    found = assessors_for("triangle", alpha=0.05, beta=0.001, pd=0.1)
    assert (found.n, found.needed) == (1178, 420)
    assert found.attained_alpha == pytest.approx(0.049189, abs=1e-6)
    assert found.attained_beta == pytest.approx(0.000988, abs=1e-6)


@pytest.mark.parametrize(
    ("d", "numbers"),
    [
        (0.5, {"triangle": 2756, "duo-trio": 3107, "paired": 82, "3-afc": 71, "tetrad": 727}),
        (1.0, {"triangle": 202, "duo-trio": 228, "paired": 23, "3-afc": 16, "tetrad": 61}),
        (1.5, {"triangle": 53, "duo-trio": 60, "paired": 13, "3-afc": 9, "tetrad": 16}),
        (2.0, {"triangle": 23, "duo-trio": 26, "paired": 8, "3-afc": 5, "tetrad": 7}),
    ],
)
def test_at_a_given_d_prime(d: float, numbers: dict[str, int]):
    # computed apart from this project; same order of the tests as Ennis (1993)
    for test, n in numbers.items():
        assert assessors_for(test, alpha=0.05, beta=0.2, d_prime=d).n == n


@pytest.mark.parametrize(
    ("pd_", "beta", "n"),
    [(0.2, 0.2, 27), (0.2, 0.1, 40), (0.3, 0.2, 14), (0.3, 0.1, 20), (0.4, 0.2, 11), (0.5, 0.1, 8)],
)
def test_two_out_of_five(pd_: float, beta: float, n: int):
    assert assessors_for("two-out-of-five", alpha=0.05, beta=beta, pd=pd_).n == n


def test_by_brute_force():
    """Count up from one assessor until both risks hold; then until they hold for good."""
    for test, pd_, alpha, beta in (("triangle", 0.4, 0.05, 0.2), ("duo-trio", 0.6, 0.01, 0.1)):
        choice = TESTS[test]
        good = []
        for n in range(1, 400):
            least = needed(n, choice.chance, alpha)
            p = choice.p_of_distinguishers(pd_)
            good.append(least is not None and binom.cdf(least - 1, n, p) <= beta)
        found = assessors_for(test, alpha=alpha, beta=beta, pd=pd_)
        assert found.n == good.index(True) + 1
        assert found.n_safe == max(i for i, ok in enumerate(good) if not ok) + 2
        assert found.n <= found.n_safe


def test_power_by_simulation():
    """Simulated sessions of the stated number find the difference, and show likeness, as often."""
    rng = np.random.default_rng(5)
    runs = 4000
    size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.4)
    truly = rng.random((runs, size.n)) < 0.4
    right = (truly | (rng.random((runs, size.n)) < 1 / 3)).sum(axis=1)
    verdicts = {int(x): difference("triangle", int(x), size.n).significant for x in set(right)}
    found = np.mean([verdicts[int(x)] for x in right])
    assert found == pytest.approx(1 - size.attained_beta, abs=4 * (0.25 / runs) ** 0.5)
    size = assessors_for("triangle", alpha=0.2, beta=0.05, pd=0.4, purpose="similarity")
    guessed = rng.binomial(size.n, 1 / 3, runs)
    verdicts = {
        int(x): similarity("triangle", int(x), size.n, pd=0.4, beta=0.05).shown
        for x in set(guessed)
    }
    claimed = np.mean([verdicts[int(x)] for x in guessed])
    assert claimed == pytest.approx(1 - size.attained_alpha, abs=4 * (0.25 / runs) ** 0.5)


def test_two_sided_pairs():
    one = assessors_for("paired", alpha=0.05, beta=0.2, d_prime=1)
    two = assessors_for("paired", alpha=0.05, beta=0.2, d_prime=1, sides=2)
    assert two.n > one.n
    assert two.attained_alpha <= 0.05
    assert two.needed == needed(two.n, 0.5, 0.025)


def test_pours_by_counting_the_orders():
    """Cups of the sample poured oftener, averaged over all orders of each test."""
    orders = {
        "triangle": ["AAB", "ABA", "BAA", "ABB", "BAB", "BBA"],
        "duo-trio": ["AAB", "ABA", "BAB", "BBA"],  # the first is the reference
        "paired": ["AB", "BA"],
        "3-afc": ["AAB", "ABA", "BAA"],
        "tetrad": ["AABB", "ABAB", "ABBA", "BBAA", "BABA", "BAAB"],
        "two-out-of-five": ["AABBB", "AAABB"],
    }
    for test, ways in orders.items():
        cups = [sum(way.count(sample) for way in ways) / len(ways) for sample in "AB"]
        assert POURS[test] == max(cups)


def test_bottles_that_do_not_suffice():
    size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3)
    short = supply(size, bottles=1, bottle_ml=720, pour_ml=20)
    assert (short.most, short.enough) == (24, False)
    assert "does not suffice" in short.text()
    for row in short.choices.itertuples():
        assert row.assessors <= short.most or row.value >= size.n
    plenty = supply(size, bottles=2, bottle_ml=720, pour_ml=20)
    assert (plenty.most, plenty.enough) == (48, True)
    nothing = supply(size, bottles=1, bottle_ml=50, pour_ml=20)
    assert nothing.most == 1
    assert "no result could show" in nothing.text()


@pytest.mark.parametrize(("alpha", "offered"), [(0.05, [0.1]), (0.1, [0.2]), (0.2, [])])
def test_a_larger_risk_is_offered_and_never_the_same(alpha: float, offered: list[float]):
    size = assessors_for("triangle", alpha=alpha, beta=0.2, pd=0.3)
    ways = supply(size, bottles=1, bottle_ml=10_000).choices
    larger = [what.key == "size.give_alpha" for what in ways["give_up"]]
    assert ways.loc[larger, "value"].tolist() == offered


@pytest.mark.parametrize(("cup_less", "offered"), [(0, True), (1, False)])
def test_asking_for_the_attribute_is_offered_where_its_cups_just_suffice(
    cup_less: int, offered: bool
):
    size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3)
    other = assessors_for("3-afc", alpha=0.05, beta=0.2, d_prime=size.d_prime)
    cups = int(other.n * POURS["3-afc"]) - cup_less
    ways = supply(size, bottle_ml=20.0 * cups, pour_ml=20.0).choices
    assert ("3-afc" in ways["value"].tolist()) is offered


def test_curve_is_drawn():
    figure = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3).curve()
    (axes,) = figure.axes
    assert len(axes.lines) >= 5
    for line in axes.lines[:4]:
        y = line.get_ydata()
        assert np.all(np.diff(y) >= -1e-12)


def test_result_is_json():
    size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3)
    json.dumps(size.to_dict(), allow_nan=False)
    json.dumps(supply(size).to_dict(), allow_nan=False)


def test_refusals():
    with pytest.raises(OptionError, match="exactly one"):
        assessors_for("triangle")
    with pytest.raises(OptionError, match="exactly one"):
        assessors_for("triangle", pd=0.3, d_prime=1)
    with pytest.raises(OptionError, match="two-sided"):
        assessors_for("triangle", pd=0.3, sides=2)
    with pytest.raises(OptionError, match=r"0\.3"):
        assessors_for("triangle", pd=30)
    with pytest.raises(OptionError, match="similarity"):
        assessors_for("triangle", pd=0.3, purpose="sameness")
