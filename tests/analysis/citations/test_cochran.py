"""Cochran's Q held by published tables, other libraries, enumeration and laws."""

from __future__ import annotations

import math
from itertools import permutations, product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import cochran
from kikichoko.analysis.citations import cochran_q as room
from kikichoko.analysis.citations.cochran_q import mcnemar, paired_difference
from kikichoko.analysis.citations.dealt_ticks import squares_dealt
from kikichoko.analysis.core import NotEstimable, TableError
from scipy.optimize import minimize_scalar
from scipy.stats import binom, binomtest, multinomial
from statsmodels.stats.contingency_tables import cochrans_q

# Cochran (1950), Biometrika 37:256-266: media A to D, 69 specimens.
COCHRAN = (
    [[1, 1, 1, 1]] * 4
    + [[1, 1, 0, 1]] * 2
    + [[0, 1, 1, 1]] * 3
    + [[0, 1, 0, 1]]
    + [[0, 0, 0, 0]] * 59
)
# Conover, p. 253, as in the NIST Dataplot page and the statsmodels test suite; NAG g08al.
CONOVER = [[int(mark) for mark in row] for row in (
    ["111", "111", "010", "110", "000", "111", "111", "110", "001", "010", "111", "111"]
)]  # fmt: skip
# statsmodels test suite, test_cochransq2 ("verifies 13.286").
STATSMODELS = [[int(mark) for mark in row] for row in (
    ["0001", "0001", "0001", "1111", "1001", "0101", "1001", "0001", "0100", "0000", "1001", "0011"]
)]  # fmt: skip


def table(rows: list[list[int]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list("ABCDEFGH")[: len(rows[0])])


def by_enumeration(rows: list[list[int]]) -> float:
    """Deal each row's ticks in all ways, with Q written out plainly."""

    def squares(deal: tuple[tuple[int, ...], ...]) -> int:
        return sum(sum(column) ** 2 for column in zip(*deal, strict=True))

    ways = [sorted(set(permutations(row))) for row in rows]
    seen = squares(tuple(map(tuple, rows)))
    deals = [squares(deal) >= seen for deal in product(*ways)]
    return sum(deals) / len(deals)


def test_against_cochran_1950_the_exact_p_stands_beside_the_chi_square_one():
    found = cochran(table(COCHRAN), attribute="growth")
    assert pytest.approx(8.05, abs=0.005) == found.Q  # as printed
    assert found.p_chi2 == pytest.approx(0.045, abs=0.0005)  # as printed
    assert found.p == pytest.approx(27 / 512, abs=1e-12)  # 0.052734: exact, by enumeration below
    assert found.totals["k"].tolist() == [6, 10, 7, 10]
    assert found.informative == 6
    assert "not shown" in str(found)


def test_cochran_1950_by_enumeration():
    informative = [row for row in COCHRAN if 0 < sum(row) < 4]
    assert cochran(table(COCHRAN)).p == pytest.approx(by_enumeration(informative), abs=1e-12)


def test_cochran_1950_no_pair_holds():
    pairs = cochran(table(COCHRAN)).pairs.set_index(["first", "second"])
    # Exact McNemar by hand: two-sided binomial of the discordant specimens.
    expected = {"AB": 0.125, "AC": 1.0, "AD": 0.125, "BC": 0.25, "BD": 1.0, "CD": 0.25}
    assert {a + b: row.p for (a, b), row in pairs.iterrows()} == expected
    assert (pairs["holm"] > 0.05).all()


@pytest.mark.parametrize(
    ("rows", "Q", "p_chi2"),
    [(CONOVER, 2.8, 0.246597), (STATSMODELS, 13.2857143, 0.00405776)],
    ids=["Conover p. 253", "statsmodels"],
)
def test_against_published_table(rows, Q, p_chi2):
    found = cochran(table(rows))
    assert pytest.approx(Q, abs=1e-6) == found.Q
    assert found.p_chi2 == pytest.approx(p_chi2, abs=1e-6)


def test_conover_exact_by_enumeration():
    informative = [row for row in CONOVER if 0 < sum(row) < 3]
    assert cochran(table(CONOVER)).p == pytest.approx(by_enumeration(informative), abs=1e-12)


def test_against_pingouin():
    import pingouin

    data = pingouin.read_dataset("cochran")
    wide = data.pivot_table(index="Subject", columns="Time", values="Energetic")
    theirs = pingouin.cochran(data, dv="Energetic", within="Time", subject="Subject")
    found = cochran(wide)
    assert pytest.approx(theirs["Q"].item(), abs=1e-6) == found.Q
    assert found.p_chi2 == pytest.approx(0.034981, abs=1e-6)
    assert found.p == pytest.approx(0.047661, abs=1e-6)  # every deal counted, 3^17


def test_two_samples_are_mcnemar():
    rows = table([row[:2] for row in STATSMODELS])
    found = cochran(rows)
    first, second = rows["A"], rows["B"]
    assert found.p == pytest.approx(
        mcnemar(int((first > second).sum()), int((second > first).sum())), abs=1e-12
    )


@given(st.lists(st.lists(st.integers(0, 1), min_size=3, max_size=3), min_size=2, max_size=6))
@settings(max_examples=60, deadline=None)
def test_any_small_table_by_enumeration(rows):
    assert cochran(table(rows)).p == pytest.approx(by_enumeration(rows), abs=1e-12)


@given(st.lists(st.lists(st.integers(0, 1), min_size=4, max_size=4), min_size=2, max_size=4))
@settings(max_examples=40, deadline=None)
def test_the_least_p_is_that_of_the_clearest_deal(rows):
    """Ticks given to the first samples, as far as they go, is as clear as it gets."""
    clearest = [sorted(row, reverse=True) for row in rows]
    found = cochran(table(rows))
    assert found.p_least == pytest.approx(by_enumeration(clearest), abs=1e-12)
    assert found.p >= found.p_least - 1e-12


@given(st.permutations(range(12)), st.permutations(range(4)))
@settings(max_examples=20, deadline=None)
def test_names_and_order_change_nothing(people, bottles):
    rows = table(STATSMODELS)
    shuffled = rows.iloc[list(people), list(bottles)]
    assert cochran(shuffled).p == pytest.approx(cochran(rows).p, abs=1e-12)
    assert pytest.approx(cochran(rows).Q, abs=1e-12) == cochran(shuffled).Q


def test_a_simulated_p_agrees_with_the_exact_one(monkeypatch):
    exact = cochran(table(STATSMODELS + CONOVER_AS_FOUR))
    monkeypatch.setattr(room, "squares_dealt", lambda *_: None)
    drawn = cochran(table(STATSMODELS + CONOVER_AS_FOUR), seed=11)
    assert drawn.simulated
    assert drawn.seed == 11
    assert drawn.mc_error > 0
    assert abs(drawn.p - exact.p) < 4 * math.sqrt(exact.p * (1 - exact.p) / 20_000)
    assert drawn.warnings


def test_totals_of_many_samples_are_told_apart():
    """One tick each of seven assessors on 24 samples: sums of squares by counting by hand."""
    squares, ways = squares_dealt((1,) * 7, 24)
    assert ways.sum() == 24**7
    # Seven different samples; all on one; six on one and one on another.
    for total, count in ((7, math.perm(24, 7)), (49, 24), (37, 24 * 23 * 7)):
        assert ways[squares == total].tolist() == [count]


CONOVER_AS_FOUR = [[*row, 1] for row in CONOVER]


def test_many_samples_and_assessors_stay_affordable():
    rows = np.random.default_rng(3).integers(0, 2, (40, 12))
    found = cochran(pd.DataFrame(rows, columns=[f"S{i}" for i in range(12)]))
    assert found.simulated
    assert abs(found.p - found.p_chi2) < 0.02  # large panels: the approximation is close


@pytest.mark.parametrize("b", range(8))
def test_mcnemar_against_scipy(b):
    assert mcnemar(b, 7 - b) == pytest.approx(binomtest(b, 7).pvalue, abs=1e-12)
    assert mcnemar(0, 0) == 1


def score_at(b: int, c: int, n: int, difference: float) -> float:
    """Tango's statistic with the nuisance parameter maximised numerically."""

    def minus_log_likelihood(q: float) -> float:
        cells = np.array([q + difference, q, 1 - 2 * q - difference])
        if (cells < 0).any():
            return math.inf
        counts = np.array([b, c, n - b - c])
        return -float(np.sum(counts * np.log(np.maximum(cells, 1e-300))))

    low, high = max(0.0, -difference), (1 - difference) / 2
    best = minimize_scalar(
        minus_log_likelihood, bounds=(low, high), method="bounded", options={"xatol": 1e-12}
    )
    variance = n * (2 * best.x + difference * (1 - difference))
    return (b - c - n * difference) / math.sqrt(variance)


@pytest.mark.parametrize(("b", "c", "n"), [(3, 1, 8), (0, 4, 69), (5, 2, 10), (12, 3, 40)])
def test_limits_of_a_difference_solve_tangos_equation(b, c, n):
    """Tango (1998): at the limits the score statistic is the normal quantile."""
    found = paired_difference(b, c, n)
    assert score_at(b, c, n, found.low) == pytest.approx(1.959964, abs=1e-4)
    assert score_at(b, c, n, found.high) == pytest.approx(-1.959964, abs=1e-4)
    turned = paired_difference(c, b, n)
    assert (turned.low, turned.high) == pytest.approx((-found.high, -found.low), abs=1e-9)


@pytest.mark.parametrize("cells", [(0.2, 0.2), (0.4, 0.1), (0.05, 0.3), (0.3, 0.0)])
def test_limits_of_a_difference_cover_by_enumeration(cells):
    n = 10
    p, q = cells
    covered = 0.0
    for b in range(n + 1):
        for c in range(n - b + 1):
            found = paired_difference(b, c, n)
            if found.low <= p - q <= found.high:
                covered += multinomial.pmf([b, c, n - b - c], n, [p, q, 1 - p - q])
    assert covered > 0.92  # the score interval is near 95 % on average, not at each point


def test_an_interval_without_discordant_pairs_still_has_a_width():
    found = paired_difference(0, 0, 8)
    assert found.low < 0 < found.high
    assert binom.pmf(0, 8, found.high) > 0.01


def test_missing_marks_leave_out_the_assessor_but_not_the_pair():
    rows = table(STATSMODELS).astype(float)
    rows.loc[0, "A"] = math.nan
    found = cochran(rows)
    assert (found.n, found.incomplete) == (11, 1)
    assert pytest.approx(cochran(table(STATSMODELS[1:])).Q) == found.Q
    assert found.warnings
    whole = cochran(table(STATSMODELS)).pairs
    same = found.pairs.query("first != 'A'").reset_index(drop=True)
    pd.testing.assert_frame_equal(
        same.drop(columns="holm"),
        whole.query("first != 'A'").reset_index(drop=True).drop(columns="holm"),
    )


def test_three_assessors_are_told_what_they_could_not_show():
    found = cochran(table([[1, 0, 0], [1, 0, 0], [1, 1, 0]]))
    assert found.p_least > 0.05
    assert "could not" in str(found.sentences()[0])


def test_refusals():
    with pytest.raises(NotEstimable, match="two samples"):
        cochran(pd.DataFrame({"A": [0, 1]}))
    with pytest.raises(TableError, match="neither 0"):
        cochran(table([[1, 2], [0, 1]]))


def test_to_dict_is_json():
    import json

    said = json.loads(json.dumps(cochran(table(COCHRAN)).to_dict(), allow_nan=False))
    assert {"Q", "p", "p_chi2", "p_least", "pairs", "totals", "sentences"} <= set(said)


# statsmodels, test_contingency_tables.py, test_cochranq: two tables with the results of R's CVST.
NINE_BY_FOUR = [[int(mark) for mark in row] for row in (
    ["1011", "0111", "1110", "0100", "0100", "1010", "0100", "1111", "0100"]
)]  # fmt: skip
NINE_BY_FIVE = [[int(mark) for mark in row] for row in (
    ["00110", "01010", "01101", "10001", "11000", "10100", "01000", "00110", "00000"]
)]  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "Q", "exact"),
    [(NINE_BY_FOUR, 4.2, 0.311279), (NINE_BY_FIVE, 1.217391, 0.959668)],
    ids=["9 by 4", "9 by 5"],
)
def test_against_the_tables_of_statsmodels_and_r(rows, Q, exact):
    """The exact p's were found by another program, by convolving the tables' column sums."""
    found = cochran(table(rows))
    assert pytest.approx(Q, abs=1e-6) == found.Q
    assert found.p == pytest.approx(exact, abs=1e-6)
    theirs = cochrans_q(np.array(rows))
    assert (found.Q, found.p_chi2) == (
        pytest.approx(theirs.statistic, abs=1e-12),
        pytest.approx(theirs.pvalue, abs=1e-12),
    )


def test_the_nine_by_four_table_by_enumeration():
    informative = [row for row in NINE_BY_FOUR if 0 < sum(row) < 4]
    assert cochran(table(NINE_BY_FOUR)).p == pytest.approx(by_enumeration(informative), abs=1e-12)
