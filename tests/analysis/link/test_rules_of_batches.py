"""How many batches a slope takes, on both sides of the thresholds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.link import estimability
from kikichoko.analysis.link import score_on_chemistry as scored
from kikichoko.analysis.link.what_is_estimable import _together

FOUR = ("meter_value", "acidity", "abv", "glucose")


def bottles(n: int, names: tuple[str, ...] = FOUR) -> pd.DataFrame:
    rng = np.random.default_rng(3)
    return pd.DataFrame({name: rng.normal(size=n) for name in names})


@pytest.mark.parametrize(
    ("n", "effects", "possible"),
    [(4, 1, False), (5, 1, True), (5, 2, True), (5, 3, False), (6, 3, True)],
)
def test_five_batches_and_two_beyond_the_effects(n: int, effects: int, possible: bool):
    """One mean and the slopes are the effects: 5 - 1 - 3 leaves one, 6 - 1 - 3 leaves two."""
    assert estimability(bottles(n), list(FOUR[:effects])).possible is possible


@pytest.mark.parametrize(("n", "thin"), [(9, True), (10, False)])
def test_fewer_than_five_batches_a_slope_are_thin(n: int, thin: bool):
    said = [one.key for one in estimability(bottles(n), list(FOUR[:2])).warnings]
    assert ("estimability.thin" in said) is thin


@pytest.mark.parametrize(
    ("y", "told"), [((9.0, 1.0, 3.0, 3.0), True), ((8.9, 1.0, 3.0, 3.0), False)]
)
def test_measurements_move_together_from_nine_tenths_on(y: tuple[float, ...], told: bool):
    """The first of four equals nothing but itself: r is 9 / 10, by 81 + 1 + 9 + 9 = 100."""
    inside = np.column_stack([(1.0, 0.0, 0.0, 0.0), y])
    assert len(_together(inside, ["a", "b"])) == int(told)


@pytest.mark.parametrize(("numbers", "attributes"), [(3, []), (4, ["sweet"])])
def test_partial_least_squares_is_asked_from_four_measurements_on(
    monkeypatch: pytest.MonkeyPatch, numbers: int, attributes: list[str]
):
    monkeypatch.setattr(scored, "pls", lambda *_, **__: "asked")
    joined = bottles(6, FOUR[:numbers]).assign(sample=list("abcdef"), session="1")
    scores = [("A", name, "sweet", "1", float(place)) for place, name in enumerate("abcdef")]
    kept = pd.DataFrame(scores, columns=["assessor", "sample", "attribute", "session", "score"])
    found = scored._foretold(kept, ["sweet"], joined, batch=None, seed=1, level=0.95)
    assert list(found) == attributes
