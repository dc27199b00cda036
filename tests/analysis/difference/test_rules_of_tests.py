"""When a test of difference is significant and a panel is called split, on both sides of alpha."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import comb

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import OptionError, TableError
from kikichoko.analysis.difference import (
    a_not_a,
    boundaries,
    difference,
    needed,
    paired,
    replicated,
    same_different,
    similarity,
)
from kikichoko.analysis.difference.critical_counts import needed_for_each, smallest_panel
from kikichoko.analysis.difference.psychometric import named
from kikichoko.analysis.difference.thresholds import _checked
from scipy.stats import binom


@pytest.mark.parametrize(
    "test",
    [
        lambda alpha: a_not_a(8, 10, 3, 10, alpha=alpha),
        lambda alpha: same_different(8, 10, 3, 10, alpha=alpha),
        lambda alpha: paired(21, 9, alpha=alpha),
    ],
)
def test_significant_at_alpha_itself_and_not_above(test):
    p = test(0.05).p
    assert test(p).significant
    assert not test(p * 0.999).significant


@pytest.mark.parametrize(("p", "key"), [(0.05, "overdispersed"), (0.0501, "not_overdispersed")])
def test_assessors_differ_at_alpha(p: float, key: str):
    found = replace(replicated("triangle", [2, 3, 1, 2, 3, 4], 4), overdispersion_p=p)
    assert found.sentences()[-1].key == f"replicated.{key}"


@pytest.mark.parametrize(
    ("name", "samples"),
    [("triangle", 3), ("duo-trio", 3), ("paired", 2), ("3-afc", 3), ("tetrad", 4),
     ("tetrad-specified", 4), ("two-out-of-five", 5)],
)  # fmt: skip
def test_cups_of_one_presentation(name: str, samples: int):
    """ISO 4120, 10399, 5495 and 6658; the tetrad by its name (ASTM E3009)."""
    assert named(name).cups == samples


@pytest.mark.parametrize("alpha", [0.01, 0.05, 0.2])
def test_counts_that_are_needed_are_the_smallest_that_suffice(alpha: float):
    n = np.arange(1, 40)
    for size, count in zip(n, needed_for_each(n, 1 / 3, alpha), strict=True):
        reach = [x for x in range(size + 1) if binom.sf(x - 1, size, 1 / 3) <= alpha + 1e-12]
        assert count == (reach[0] if reach else size + 1)
        assert needed(int(size), 1 / 3, alpha) == (reach[0] if reach else None)


def test_the_smallest_panel_keeps_both_risks():
    first = smallest_panel(1 / 3, 0.6, 0.05, 0.2)[0]
    kept = [
        n
        for n in range(1, first + 1)
        if (count := needed(n, 1 / 3, 0.05)) is not None and binom.cdf(count - 1, n, 0.6) <= 0.2
    ]
    assert kept == [first]


def test_a_panel_is_told_what_it_finds_four_times_in_five():
    found = difference("triangle", 12, 30).found_with_80
    p = named("triangle").p_of_distinguishers(found)
    assert binom.sf(needed(30, 1 / 3, 0.05) - 1, 30, p) == pytest.approx(0.8, abs=1e-6)
    assert (
        similarity("triangle", 12, 30, pd=0.3, beta=0.05).n_needed
        == smallest_panel(1 / 3, named("triangle").p_of_distinguishers(0.3), 0.2, 0.05)[0]
    )


@pytest.mark.parametrize(("risk", "allowed"), [(0.49, True), (0.5, False)])
def test_both_risks_together_stay_below_one(risk: float, allowed: bool):
    if allowed:
        assert boundaries(1 / 3, 2 / 3, alpha=risk, beta=0.5).slope == pytest.approx(0.5)
    else:
        with pytest.raises(OptionError):
            boundaries(1 / 3, 2 / 3, alpha=risk, beta=0.5)


@pytest.mark.parametrize(("least", "faults"), [(0.1, 0), (0.0, 4), (-1.0, 4)])
def test_concentrations_are_above_nothing(least: float, faults: int):
    rows = [(f"T{i}", c, 1) for i in range(4) for c in (least, 0.4, 0.8)]
    table = pd.DataFrame(rows, columns=["assessor", "concentration", "correct"])
    if faults:
        with pytest.raises(TableError) as refused:
            _checked(table)
        assert len(refused.value.faults) == faults
    else:
        assert _checked(table).shape == (4, 3)


@pytest.mark.parametrize(("chance", "of"), [(1 / 2, 2), (1 / 3, 3), (1 / 10, 10)])
def test_a_probability_that_is_the_risk_but_for_rounding_is_within_it(chance: float, of: int):
    """The tail in whole fractions: a risk just below it allows the count, far below not."""
    for n in range(1, 9):
        for count in range(1, n + 1):
            ways = sum(comb(n, x) * (of - 1) ** (n - x) for x in range(count, n + 1))
            tail = Fraction(ways, of**n)
            size = np.array([n])
            for risk, least in ((float(tail) - 1e-13, count), (float(tail) - 1e-10, count + 1)):
                assert needed_for_each(size, chance, risk)[0] == least
                assert needed(n, chance, risk) == (least if least <= n else None)
