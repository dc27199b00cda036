"""What batches can tell apart of how they were brewed."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import TableError
from kikichoko.analysis.link import batch_design


def estimable_by_hand(rows: list[list[int]], contrast: list[int]) -> bool:
    """Tell by exact elimination whether a contrast is a sum of rows of the design."""

    def rank(lines: list[list[int]]) -> int:
        left = [[Fraction(one) for one in line] for line in lines]
        found = 0
        for column in range(len(lines[0])):
            pivot = next((n for n in range(found, len(left)) if left[n][column]), None)
            if pivot is None:
                continue
            left[found], left[pivot] = left[pivot], left[found]
            for n in range(found + 1, len(left)):
                share = left[n][column] / left[found][column]
                left[n] = [a - share * b for a, b in zip(left[n], left[found], strict=True)]
            found += 1
        return found

    return rank([*rows, contrast]) == rank(rows)


@pytest.mark.parametrize("seed", range(12))
def test_by_exact_elimination(seed: int):
    """Told apart is what has every difference of its levels in the row space of the design."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 8))
    table = pd.DataFrame({name: rng.integers(0, 3, n) for name in ("yeast", "rice", "press")})
    table["batch"] = [str(k) for k in range(n)]
    names = ["yeast", "rice", "press"]
    found = batch_design(table, names)
    levels = {name: sorted(set(table[name])) for name in names}
    columns = [(name, level) for name in names for level in levels[name]]
    rows = [[1, *(int(table[name].iloc[k] == level) for name, level in columns)] for k in range(n)]
    for name in names:
        if len(levels[name]) == 1:
            assert name in found.of("constant")
            continue
        apart = all(
            estimable_by_hand(
                rows,
                [0, *(int(one == (name, a)) - int(one == (name, b)) for one in columns)],
            )
            for a, b in combinations(levels[name], 2)
        )
        assert (name in found.of("told apart")) == apart


def tanks(**columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame({"batch": list("abcd")[: len(next(iter(columns.values())))], **columns})


def test_what_changed_together_is_one_difference():
    found = batch_design(
        tanks(year=[1, 1, 2, 2], rice=["g", "g", "m", "m"], yeast=[7, 9, 7, 9]),
        ["year", "rice", "yeast"],
    )
    assert found.groups() == [("year", "rice")]
    assert (found.of("told apart"), found.spare, found.alike) == (["yeast"], 1, 0)
    assert "rice changed together" in str(found.sentences()[1])


def test_a_twin_is_left_over_to_judge_by():
    three = tanks(yeast=[7, 9, 7], rice=["g", "g", "m"])
    assert batch_design(three, ["yeast", "rice"]).spare == 0
    four = tanks(yeast=[7, 9, 7, 7], rice=["g", "g", "m", "m"])
    found = batch_design(four, ["yeast", "rice"])
    assert (found.spare, found.alike) == (1, 2)


def test_one_batch_tells_nothing_of_brewing():
    table = pd.DataFrame({"batch": ["a", "a"], "rice": ["g", "g"], "fraction": ["clear", "cloudy"]})
    found = batch_design(table, ["rice", "fraction"])
    said = " ".join(map(str, found.sentences()))
    assert "nothing about how it was brewed" in said
    assert found.of("within") == ["fraction"]
    assert "told apart" not in set(found.factors["verdict"])


def test_what_is_not_known_of_all_is_not_compared():
    found = batch_design(tanks(koji=["x", "", "y"]), ["koji"])
    assert found.of("unknown") == ["koji"]


def test_faults():
    with pytest.raises(TableError, match="koji"):
        batch_design(tanks(rice=["g", "m"]), ["koji"])
    with pytest.raises(TableError, match="no batch"):
        batch_design(pd.DataFrame({"batch": [], "rice": []}), ["rice"])
