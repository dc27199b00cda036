"""Pass marks of a screening: exact errors, both sides of each mark, and what is said."""

from __future__ import annotations

from itertools import permutations, product
from math import factorial

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import NotEstimable, OptionError, TableError
from kikichoko.analysis.core.words import Sentence, say
from kikichoko.analysis.teaching import pass_mark, screening
from kikichoko.analysis.teaching.pass_marks import (
    ABLE,
    DECIDE,
    DESCRIBED,
    MATCHED,
    POWER,
    RISK,
    STEPS,
    _chance,
    _matches,
    _orders_at_hand,
    _row_in_order,
    row_is_right,
)
from scipy.stats import binom, norm


def test_matches_of_a_guesser_by_enumeration():
    """All orders of six names; the expected number of matches is one (de Montmort)."""
    counts = [sum(place == name for place, name in enumerate(order))
              for order in permutations(range(6))]  # fmt: skip
    for k in range(7):
        assert _matches(k, 6) == pytest.approx(sum(one >= k for one in counts) / factorial(6))
    assert sum(_matches(k, 6) for k in range(1, 7)) == pytest.approx(1.0)


def test_triangles_of_a_guesser_by_enumeration():
    """All 3^8 ways to choose: 6 of 8 is the pass mark, 5 would let too many pass."""
    mark = pass_mark("detection", 8)
    rights = [sum(one == 0 for one in choice) for choice in product(range(3), repeat=8)]
    assert mark.needed == 6
    assert mark.risk == pytest.approx(np.mean([one >= 6 for one in rights]))
    assert mark.risk <= RISK < np.mean([one >= 5 for one in rights])
    assert ABLE["detection"] == 0.8
    assert mark.able == pytest.approx(binom.sf(5, 8, 1 / 3 + 2 / 3 * 0.8))


def test_rows_of_a_guesser_are_fibonacci():
    """Orders with nobody more than one place off: 1, 2, 3, 5, 8, 13 (enumerated)."""
    for m, known in ((2, 2), (3, 3), (4, 5), (5, 8), (6, 13)):
        assert sum(map(row_is_right, permutations(range(m)))) == known
    assert STEPS == 4
    assert _orders_at_hand() == pytest.approx(5 / 24)
    mark = pass_mark("ranking", 3)
    assert (mark.needed, mark.risk) == (3, pytest.approx((5 / 24) ** 3))


def test_who_tells_neighbours_apart_puts_a_row_in_order():
    """Two cups: never more than one place off. Bonferroni's bound for a swap over two places."""
    assert 1 - 3 * norm.sf(2 * ABLE["ranking"] / np.sqrt(2)) < _row_in_order(ABLE["ranking"]) < 1
    assert _row_in_order(0.0) == pytest.approx(5 / 24, abs=4 * np.sqrt(0.165 / 40_000))


def test_the_mark_for_naming_is_the_published_share():
    assert (MATCHED, DESCRIBED) == (0.8, 0.65)
    assert pass_mark("matching", 8).needed == 7
    assert pass_mark("matching", 10).needed == 8
    assert pass_mark("matching", 3).needed == 4  # all three right come by guessing in 1 of 6
    assert np.isnan(pass_mark("description", 4).risk)
    assert pass_mark("description", 4).needed == pytest.approx(2.6)


def smallest(n: int, least: int, chance) -> int:
    """Return the first number right that who guesses reaches in 5 % at most; n + 1 if none."""
    return next((k for k in range(least, n + 1) if chance(k) <= 0.05), n + 1)


def test_pass_marks_of_all_sizes_by_scipy_and_by_enumeration():
    """The smallest mark that holds 5 %: binomial by scipy.stats, matches of all orders."""
    for n in range(1, 41):
        for task, p in (("detection", 1 / 3), ("ranking", 5 / 24)):
            mark = pass_mark(task, n)
            assert mark.needed == smallest(n, 1, lambda k, n=n, p=p: binom.sf(k - 1, n, p))
            assert mark.risk == pytest.approx(binom.sf(mark.needed - 1, n, p))
    for n in range(1, 8):
        counts = [sum(place == name for place, name in enumerate(order))
                  for order in permutations(range(n))]  # fmt: skip

        def chance(k: int, counts=counts, n=n) -> float:
            each = binom.sf(k - 1, n, 1 / n)
            return float(max(np.mean([one >= k for one in counts]), each if k <= n else 0))

        mark = pass_mark("matching", n)
        assert mark.needed == smallest(n, -(-4 * n // 5), chance)
        assert mark.risk == pytest.approx(chance(mark.needed), abs=1e-15)


def test_the_planned_evening_holds_both_errors():
    marks = [pass_mark(*one) for one in (("matching", 8), ("detection", 8), ("ranking", 3))]
    assert [mark.task for mark in marks] == list(DECIDE)
    assert max(mark.risk for mark in marks) <= RISK
    assert np.prod([mark.able for mark in marks]) >= POWER


def answers(right: dict[str, list[float | None]], who: str = "S1", date: str = "1") -> pd.DataFrame:
    rows = [(date, who, task, str(place), one) for task, own in right.items()
            for place, one in enumerate(own)]  # fmt: skip
    return pd.DataFrame(rows, columns=["date", "assessor", "task", "item", "right"])


ABLE_ONE: dict[str, list[float | None]] = {
    "matching": [1] * 7 + [0], "detection": [1] * 6 + [0] * 2, "ranking": [1] * 3,
}  # fmt: skip


@pytest.mark.parametrize("task", DECIDE)
def test_one_less_than_the_mark_is_another_evening(task: str):
    assert screening(answers(ABLE_ONE)).candidates["ready"].tolist() == [True]
    own = list(ABLE_ONE[task])
    own[own.index(1)] = 0
    found = screening(answers({**ABLE_ONE, task: own}))
    assert found.candidates["ready"].tolist() == [False]
    assert found.candidates["again"].tolist() == [task]
    text = " ".join(map(str, found.sentences()))
    assert "worth another evening" in text
    assert "fail" not in text.lower()


def test_a_blank_leaves_a_task_open_and_a_description_decides_nothing():
    blank = screening(answers({**ABLE_ONE, "ranking": [1, 1, None]}))
    assert blank.candidates[["ready", "open"]].to_numpy().tolist() == [[False, "ranking"]]
    assert "2 of 3 answered" in " ".join(map(str, blank.sentences()))
    for points in (0.0, 1.0):
        found = screening(answers({**ABLE_ONE, "description": [points] * 4}))
        assert found.candidates["ready"].tolist() == [True]
    enough = screening(answers({"description": [1.0, 1.0, 0.0]}))  # 2 of 3, 0.65 of 3 is 1.95
    assert enough.table["state"].tolist() == ["passed"]
    short_of = screening(answers({**ABLE_ONE, "description": [1.0, 0.9, 0.0]}))
    assert short_of.table.set_index("task")["state"]["description"] == "below"  # not "again"
    assert "below its mark, without deciding anything (1.9 of 3)" in str(short_of.sentences()[0])
    assert "もう一度" not in short_of.sentences()[0].to("ja")


def test_whole_counts_are_written_as_such_beside_parts_of_points():
    found = screening(answers({**ABLE_ONE, "description": [1.0, 0.9, 0.0]}))
    text = found.text()
    assert ".00" not in text.partition("Every task")[2].replace("1.00", "")
    shown = found.tables()["screening.heading"].set_index("task")
    assert [shown["right"]["ranking"], shown["right"]["description"]] == ["3", "1.9"]
    assert found.table["right"].tolist() == [7, 6, 3, 1.9]  # numbers for whoever counts on


def test_codes_stand_in_their_order_and_the_record_by_date():
    every = pd.concat([
        answers(ABLE_ONE, "S2", "2026-03-05"), answers(ABLE_ONE, "S1", "2026-09-10"),
        answers({**ABLE_ONE, "ranking": [0, 0, 0]}, "S1", "2026-03-05"),
    ])  # fmt: skip
    found = screening(every.reset_index(drop=True))
    assert found.candidates["assessor"].tolist() == ["S1", "S2"]
    assert found.candidates["times"].tolist() == [2, 1]
    assert found.candidates["ready"].tolist() == [True, True]
    said = [str(one) for one in found.sentences() if "has come" in str(one)]
    assert len(said) == 1
    lucky = 1 - (1 - pass_mark("detection", 8).risk) ** 2
    assert f"{100 * lucky:.0f} %" in said[0]
    assert found.to_dict()["candidates"]


def test_an_evening_without_an_answer_takes_nothing_back():
    planned = answers({task: [None] * len(own) for task, own in ABLE_ONE.items()}, date="2")
    found = screening(pd.concat([answers(ABLE_ONE), planned]).reset_index(drop=True))
    assert found.candidates[["times", "ready", "open"]].to_numpy().tolist() == [[1, True, ""]]
    assert "ready to begin training" in str(found)
    assert "has come" not in str(found)
    alone = screening(planned)
    assert "nothing has been typed in yet" in str(alone)
    assert alone.candidates["times"].tolist() == [0]


def test_what_is_no_answer_is_refused_with_its_row():
    with pytest.raises(TableError, match="Row 3"):
        screening(answers({"detection": [1, 1.01]}))
    with pytest.raises(TableError, match="Row 2"):
        screening(answers({"detection": ["yes", 1]}))  # type: ignore[list-item]
    with pytest.raises(TableError, match="no task 'smelling'"):
        screening(answers({"smelling": [1]}))
    with pytest.raises(TableError, match="right"):
        screening(answers(ABLE_ONE).drop(columns="right"))
    with pytest.raises(NotEstimable):
        screening(answers({}))
    with pytest.raises(OptionError):
        pass_mark("detection", 0)


@pytest.mark.parametrize(
    ("share", "english", "japanese"),
    [(0.0004, "less than 0.1 %", "0.1 %未満"), (0.0006, "0.1 %", "0.1 %"),
     (0.9996, "more than 99.9 %", "99.9 %超"), (0.9994, "99.9 %", "99.9 %")],
)  # fmt: skip
def test_a_chance_beyond_what_is_written_is_said_in_words(share, english: str, japanese: str):
    said = Sentence.of("screening.errors", risk=_chance(share), able="")
    assert f"in at most {english};" in say(said.key, "en", **dict(said.values))
    assert f"多くて{japanese}。" in say(said.key, "ja", **dict(said.values))
