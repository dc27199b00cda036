"""Limits without width, or beside their estimate, reach no table, sentence or JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.agreement.panel_agreement import agreement
from kikichoko.analysis.anova.whole_table import anova
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.core.errors import AnalysisError
from kikichoko.analysis.core.limits import refused, sound_row, sound_table
from kikichoko.analysis.core.result import Interval, Result, plain
from kikichoko.analysis.core.tidy_table import tidy
from kikichoko.analysis.core.words import Sentence
from kikichoko.analysis.performance.assessor_findings import assessors
from kikichoko.analysis.profile.nose_and_palate import palate_against_nose


@pytest.mark.parametrize(
    ("low", "high", "estimate", "none"),
    [
        (2.0, 2.0, 2.0, True),
        (2.0, 2.0 + 1e-12, 2.0, True),
        (2.0, 2.0 + 1e-6, 2.0, False),
        (3.0, 2.0, None, True),
        (1.0, 2.0, 2.0, False),
        (1.0, 2.0, 2.1, True),
        (1.0, 2.0, 0.9, True),
        (-np.inf, np.inf, 0.0, False),
        (0.0, np.inf, -0.1, True),
        (np.nan, 2.0, 3.0, False),
        (True, True, None, False),
    ],
)
def test_both_sides_of_what_is_refused(low: float, high: float, estimate: float, none: bool):
    assert refused(low, high, estimate) is none


def test_the_places_that_limits_pass():
    table = pd.DataFrame(
        {"bias": [1.0, 1.0], "bias_low": [0.5, 1.0], "bias_high": [1.5, 1.0], "low": [1, 2]}
    )
    kept = sound_table(table)
    assert kept["bias_low"].tolist()[0] == 0.5
    assert kept.loc[1, ["bias_low", "bias_high"]].isna().all()
    assert kept["low"].tolist() == [1, 2]
    assert table["bias_low"].tolist() == [0.5, 1.0]
    assert plain(table)[1]["bias_low"] is None
    assert plain(Interval(0.3, 0.3))["low"] is None
    assert plain(Interval(0.3, 0.4))["high"] == 0.4
    assert sound_row({"estimate": 1.0, "low": 2, "high": 3})["low"] is None
    assert sound_row({"too_dry": 3, "too_dry_low": 0.1, "too_dry_high": 0.8})["too_dry_low"] == 0.1


def test_a_sentence_writes_no_interval_without_width():
    said = Sentence.of("promise.less", sample="x", by="2", level="95 %", low="-2", high="-2", n=2)
    assert "interval – to –" in str(said)
    assert "interval -2 to -1" in str(
        Sentence.of("promise.less", sample="x", by="2", level="95 %", low="-2", high="-1", n=2)
    )


def test_equal_gaps_leave_no_error_to_judge_by():
    """Two assessors who both put the palate two points below the nose show nothing."""
    rows = [("A", "x", 6, 4), ("B", "x", 7, 5)]
    wide = pd.DataFrame(rows, columns=["assessor", "sample", "nose", "palate"])
    found = palate_against_nose(tidy(wide, scores=["nose", "palate"]), "nose", "palate")
    assert found.table["verdict"].tolist() == ["alike"]
    assert found.table["low"].isna().all()
    assert "leaves no error to judge by" in str(found.sentences()[0])


def limits_in(value: Any) -> Iterator[tuple[float, float, float | None]]:
    """Yield all limits with their estimates, as a reader of the JSON would pair them."""
    if isinstance(value, list):
        for part in value:
            yield from limits_in(part)
    if isinstance(value, dict):
        yield from limits_in(list(value.values()))
        for name, low in value.items():
            high = value.get(name.removesuffix("low") + "high")
            if name.endswith("low") and isinstance(low, float) and isinstance(high, float):
                own = value.get(name.removesuffix("_low")) if name != "low" else None
                yield low, high, own if isinstance(own, float) else value.get("estimate")


def panels() -> Iterator[pd.DataFrame]:
    """Small panels in whole numbers: alike, flat, parallel, with holes."""
    rng = np.random.default_rng(8)
    for turn in range(12):
        people, bottles, repeats = rng.integers(2, 6), rng.integers(2, 5), rng.integers(1, 3)
        level = rng.integers(3, 7, size=(2, people, bottles)) if turn % 4 < 2 else 5
        if turn % 4 == 1:
            level = np.broadcast_to(rng.integers(3, 7, size=(2, 1, bottles)), (2, people, bottles))
        scores = np.broadcast_to(level, (2, people, bottles))[..., None] + rng.integers(
            0, 2 if turn % 4 else 3, size=(2, people, bottles, repeats)
        ) * (turn % 4 != 1)
        places = [part.ravel() for part in np.indices(scores.shape)]
        table = pd.DataFrame(
            {
                "assessor": [f"T{n}" for n in places[1]],
                "sample": [f"b{n}" for n in places[2]],
                "replicate": places[3] + 1,
                "attribute": np.array(["nose", "palate"])[places[0]],
                "score": scores.ravel().astype(float),
            }
        )
        yield table[rng.random(len(table)) > 0.1 * (turn % 4 == 3)]


def test_small_panels_of_whole_numbers_show_no_such_limits():
    """Everything that five methods say of twelve panels; each has some that would be refused."""
    seen = 0
    for table in panels():
        checked = tidy(table)
        for make in (
            lambda: agreement(checked),  # noqa: B023 - called at once
            lambda: anova(checked),  # noqa: B023
            lambda: claims(checked, shuffles=99),  # noqa: B023
            lambda: assessors(checked),  # noqa: B023
            lambda: palate_against_nose(checked, "nose", "palate"),  # noqa: B023
        ):
            try:
                found: Result = make()
            except AnalysisError:
                continue
            for low, high, estimate in limits_in(plain([found, list(found.tables().values())])):
                seen += 1
                assert high > low
                assert estimate is None or low - 1e-9 <= estimate <= high + 1e-9
    assert seen > 500
