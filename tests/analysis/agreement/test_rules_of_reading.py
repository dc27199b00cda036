"""What is said of agreement, on both sides of the thresholds."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.analysis.agreement.panel_agreement import _reading
from kikichoko.analysis.core.result import Interval


def said(low: float, high: float, *, main="alpha", value=0.3, consistent=0.3, same=5) -> list[str]:
    """Return the keys of what is said; `same` of ten answers are the same."""
    found = SimpleNamespace(
        estimate=lambda name: consistent if name == "ICC(C,1)" else value,
        interval=lambda _: Interval(low, high, 0.95),
    )
    rows = pd.DataFrame({"score": [1.0] * same + [2.0 + k for k in range(10 - same)]})
    return [one.key.partition(".")[2] for one in _reading(found, main, rows, 0.95)]


@pytest.mark.parametrize(
    ("low", "high", "key"),
    [(0.0, 0.4, "read_open"), (0.01, 0.4, "read_shown"),
     (0.25, 0.75, "read_shown"), (0.25, 0.76, "read_wide")],
)  # fmt: skip
def test_open_wide_or_shown(low: float, high: float, key: str):
    assert said(low, high) == [key]


@pytest.mark.parametrize(
    ("value", "consistent", "told"),
    [
        (0.30, 0.49, False), (0.30, 0.50, False), (0.30, 0.51, True),
        (0.05, 0.29, False), (0.05, 0.30, False), (0.05, 0.31, True),
    ],
)  # fmt: skip
def test_levels_cost_agreement(value: float, consistent: float, told: bool):
    keys = said(0.1, 0.4, main="ICC(A,1)", value=value, consistent=consistent)
    assert ("level_costs" in keys) is told
    assert "level_costs" not in said(0.1, 0.4, value=value, consistent=consistent)


@pytest.mark.parametrize(("same", "told"), [(8, False), (9, True)])
def test_answers_that_hardly_vary(same: int, told: bool):
    assert ("hardly_varies" in said(0.1, 0.4, same=same)) is told
