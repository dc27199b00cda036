"""Lasting differences and changes between sessions: rates where nothing is true, and where it is.

The panels are eight assessors, four samples, four sessions; assessor x sample 0.4, sample x
session as stated, residual 0.8.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.change_between_sessions import EFFECT
from kikichoko.analysis.anova.whole_table import Anova
from kikichoko.analysis.core import NotEstimable

RUNS = 150


def panels(seed: int, *, changes: float, lasts: float = 0.0, holes: bool = False) -> pd.DataFrame:
    """Draw `RUNS` panels as attributes; with `holes` each sample misses a session."""
    rng = np.random.default_rng(seed)
    shape = (RUNS, 8, 4, 4)
    r, i, j, t = np.indices(shape)
    score = (
        5
        + rng.normal(size=(RUNS, 8, 1, 1))
        + lasts * np.arange(4)[:, None]
        + 0.4 * rng.normal(size=(RUNS, 8, 4, 1))
        + 0.5 * rng.normal(size=(RUNS, 1, 1, 4))
        + 0.5 * rng.normal(size=(RUNS, 8, 1, 4))
        + changes * rng.normal(size=(RUNS, 1, 4, 4))
        + 0.8 * rng.normal(size=shape)
    )
    names = {"attribute": r, "assessor": i, "sample": j, "session": t}
    table = pd.DataFrame({name: part.ravel().astype(str) for name, part in names.items()})
    table["score"] = score.ravel()
    return table[(j != (t + 1) % 4).ravel()] if holes else table


def share(found: Anova, effect: str = "sample") -> float:
    return float((found.tests(effect)["p"] <= 0.05).mean())


@pytest.mark.parametrize("holes", [False, True])
def test_what_only_changes_is_not_claimed_to_last(holes):
    """Interaction SD 1, no lasting difference: at most 5 % and two standard errors (3.6)."""
    table = panels(3, changes=1.0, holes=holes)
    found = anova(table, sessions="random")
    assert share(found) <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / RUNS)
    # The same taken as replicates claims a difference of these sessions in most of them.
    assert share(anova(table)) > 0.5
    assert share(found, EFFECT) > 0.95
    said = " ".join(str(one) for one in found.sentences())
    assert "The samples change between these sessions in 0" in said
    assert "sessions in general" in said


@pytest.mark.parametrize("holes", [False, True])
def test_what_does_not_change_is_not_claimed_to(holes):
    """No interaction: 5 % of the tests of change, within three standard errors (5.3)."""
    found = anova(panels(4, changes=0.0, holes=holes), sessions="random")
    assert share(found, EFFECT) == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / RUNS))
    assert share(found) <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / RUNS)


def test_what_lasts_is_found_beside_change():
    """Steps of 1 between samples, interaction SD 0.5."""
    found = anova(panels(5, changes=0.5, lasts=1.0), sessions="random")
    assert share(found) > 0.9
    term = found["0"].sample.error_term
    assert term == "assessor:sample + sample:session"


def test_claims_of_these_sessions_and_of_sessions_in_general_are_told_apart():
    table = panels(6, changes=0.5)
    table = table[table["attribute"] == "0"]

    def scopes(**options) -> list[str]:
        keys = [one.key for one in anova(table, **options).sentences()]
        return [key for key in keys if key.startswith("anova.scope")]

    assert scopes() == scopes(sessions="fixed") == ["anova.scope_these"]
    assert scopes(sessions="random") == ["anova.scope_general"]
    table = table[table["session"] == "0"]
    assert scopes() == []
    assert EFFECT not in anova(table, sessions="random")["0"].effects


def test_samples_of_one_session_each_cannot_last():
    """Every sample in a session of its own is refused; two served twice are enough to go on."""
    table = panels(7, changes=0.0)
    table = table[table["attribute"] == "0"]
    own = table["sample"] == table["session"]
    with pytest.raises(NotEstimable, match="every sample stands in one session only"):
        anova(table[own], sessions="random")
    assert EFFECT not in anova(table[own])["0"].effects
    again = own | (table["sample"].isin(["0", "1"]) & table["session"].isin(["0", "1"]))
    assert anova(table[again], sessions="random")["0"].sessions == "general"
