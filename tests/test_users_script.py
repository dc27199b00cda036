"""What a user's own script looks like: it runs, and `make types` checks it strictly as theirs.

`assert_type` holds what an editor tells the user of each result.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, assert_type

import pandas as pd
from kikichoko.analysis.agreement import agreement
from kikichoko.analysis.anova import anova, residual_checks
from kikichoko.analysis.chemistry import chemistry
from kikichoko.analysis.citations import descriptors
from kikichoko.analysis.core import Sentence, tidy
from kikichoko.analysis.difference import difference, similarity
from kikichoko.analysis.link import link
from kikichoko.analysis.maps import profile_map
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.performance import assessors, small_panel
from kikichoko.analysis.power import ScorePlan, detectable
from kikichoko.analysis.ranking import rank_test
from matplotlib.axes import Axes
from matplotlib.figure import Figure

TABLES = Path(__file__).parents[1] / "demo_sessions" / "examples"


def test_a_script_of_a_user() -> None:
    scores = pd.read_csv(TABLES / "scores.csv").rename(columns={"assessor": "judge"})
    found = anova(scores, assessor="judge", scores=["sweetness", "body"])
    assert_type(found["sweetness"].sample.p, float)
    assert_type(found.sentences(), tuple[Sentence, ...])
    assert_type(found.tables(), Mapping[str, pd.DataFrame])
    assert_type(found["body"].means, pd.DataFrame)
    assert_type(found.to_dict(), dict[str, Any])
    ax: Axes = Figure().subplots()
    assert_type(found.plot(ax, "sweetness"), Axes)
    assert_type(found["body"].plot(ax=ax), Axes)
    assert_type(found.figure(), Figure)
    people = assessors(scores, assessor="judge", scores=["sweetness", "body"])
    own = tidy(scores, assessor="judge", scores=["sweetness", "body"])
    assert_type(residual_checks(own).plot(ax, "body"), Axes)
    assert_type(people.plot(own, ax, "body"), Axes)
    table = tidy(scores, assessor="judge", scores=["sweetness"])
    assert_type(table.data, pd.DataFrame)
    assert_type(agreement(table).attributes["sweetness"].value("ICC(A,1)"), float)
    assert_type(difference("triangle", 14, 30).p, float)
    assert_type(similarity("triangle", 21, 66, pd=0.2, beta=0.05).shown, bool)
    assert_type(rank_test(pd.read_csv(TABLES / "ranks.csv")).tables(), Mapping[str, pd.DataFrame])
    bottle = chemistry(abv=15.5, meter_value=3.0, acidity=1.3)
    assert_type(bottle.amakarado, float | None)
    plan = ScorePlan(samples=4, assessors=8, replicates=2, interaction=0.2, residual=0.5)
    assert_type(detectable(plan).difference, float)
    shown: Mapping[str, pd.DataFrame] = descriptors(pd.read_csv(TABLES / "words.csv")).tables()
    assert shown
    assert (
        small_panel(pd.read_csv(TABLES / "two.csv"), "bitterness", length=10).warnings is not None
    )


def test_names_that_a_script_may_use_are_typed() -> None:
    for function in (assessors, link, ordinal, profile_map):
        assert function.__annotations__["return"]
