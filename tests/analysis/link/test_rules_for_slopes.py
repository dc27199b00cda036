"""When a slope holds, on both sides of the thresholds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.link import link
from kikichoko.analysis.link.score_on_chemistry import _Work
from scipy.stats import t as student


def holds(batches: int, *tests: tuple[float, float]) -> list[bool]:
    """Tell which slopes hold of `batches` bottles, given p and p of shuffled bottles of each."""
    work = _Work(
        SimpleNamespace(batches=batches), ("meter_value",), batch=None, level=0.95, seed=1, orders=9
    )
    nothing = dict.fromkeys(("slope", "se", "df", "low", "high", "detectable"), 0.0)
    work.rows = [
        {"attribute": f"a{place}", "predictor": "meter_value", "p": p, "p_shuffled": q, **nothing}
        for place, (p, q) in enumerate(tests)
    ]
    return work.slope_table()["holds"].tolist()


@pytest.mark.parametrize(
    ("batches", "p", "shuffled", "told"),
    [
        (10, 0.04, 0.30, True),  # enough bottles: the shuffled ones need not agree
        (9, 0.04, 0.30, False),
        (9, 0.04, 0.04, True),
        (10, 0.06, 0.04, False),
    ],
)
def test_few_bottles_must_also_hold_when_shuffled(batches, p, shuffled, told):
    assert holds(batches, (p, shuffled)) == [told]


def test_slopes_are_adjusted_for_all_that_were_asked():
    assert holds(20, (0.03, 0.03), (0.9, 0.9)) == [False, False]
    assert holds(20, (0.02, 0.02), (0.9, 0.9)) == [True, False]


@pytest.mark.parametrize(("measured", "asked"), [(3, False), (4, True)])
def test_partial_least_squares_is_asked_from_four_measurements_on(measured: int, asked: bool):
    rng = np.random.default_rng(4)
    bottles = [f"b{k}" for k in range(8)]
    chemistry = pd.DataFrame({"sample": bottles} | {
        f"m{k}": rng.normal(size=8) for k in range(measured)
    })  # fmt: skip
    rows = [(f"T{i}", name, "body", rng.normal()) for i in range(3) for name in bottles]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    assert bool(link(table, chemistry, batch="sample", seed=1).foretold) is asked


@pytest.mark.parametrize(("people", "told"), [(1, True), (2, False)])
def test_slopes_of_one_assessor_are_told_with_what_eight_bottles_could_have_shown(people, told):
    """Found four times in five: its size in standard errors is t at 97.5 % and at 80 %."""
    rng = np.random.default_rng(4)
    meter = dict(zip("abcdefgh", np.linspace(-4, 4, 8), strict=True))
    rows = [
        ("1", f"T{who}", name, 1, "sweet", 5 - 0.3 * value + rng.normal())
        for who in range(people)
        for name, value in meter.items()
    ]
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    joined = pd.DataFrame({"session": "1", "sample": list(meter), "meter_value": meter.values()})
    work = _Work(
        SimpleNamespace(batches=8), ("meter_value",), batch=None, level=0.95, seed=1, orders=99
    )
    work.take("sweet", pd.DataFrame(rows, columns=columns), joined)
    assert ("link.one_assessor" in [one.key for one in work.warnings]) is told
    (row,) = work.rows
    reach = student.ppf(0.975, row["df"]) + student.ppf(0.8, row["df"])
    assert row["detectable"] == pytest.approx(row["se"] * reach)
