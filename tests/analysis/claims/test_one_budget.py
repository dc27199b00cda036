"""The whole step-down against slow enumerations, other libraries, and its own laws."""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from kikichoko.analysis.claims.claim_members import Named
from kikichoko.analysis.claims.claims_result import Claims
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.core.errors import OptionError
from scipy import stats
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.multitest import multipletests


def long(cells: dict[str, np.ndarray]) -> pd.DataFrame:
    """Write tables of cells (assessors x bottles) as one long table."""
    rows = [
        (f"T{i:02d}", f"b{j}", name, value)
        for name, table in cells.items()
        for i, row in enumerate(table)
        for j, value in enumerate(row)
        if not np.isnan(value)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def nothing_claimed(found: Claims) -> bool:
    every = (found.table, found.pairs, found.majority, found.shifts)
    return not any(one["claimed"].any() for one in every)


def two_bottles(rng: np.random.Generator, n: int = 10) -> dict[str, np.ndarray]:
    """Return two scales and a word over two bottles; the first scale differs."""
    return {
        "acid": rng.normal(size=(n, 2)) + np.array([0.0, 2.2]),
        "body": rng.normal(size=(n, 2)),
        "pear": (rng.random((n, 2)) < np.array([0.2, 0.7])).astype(float),
    }


def enumerated(cells: dict[str, np.ndarray]) -> dict[str, float]:
    """Adjust by going through all swaps of two bottles, in the plainest way.

    The scales' p is the paired t, the word's the normal tail of McNemar's z.
    """
    gap = {name: table[:, 0] - table[:, 1] for name, table in cells.items()}
    n = len(gap["acid"])
    weights = {"acid": 1.0, "body": 1.0, "pear": 3.0, "overall": 5.0}
    every = []
    for signs in product((1, -1), repeat=n - 1):
        turned = {name: own * np.array((1, *signs)) for name, own in gap.items()}
        p = {name: stats.ttest_1samp(turned[name], 0).pvalue for name in ("acid", "body")}
        z = turned["pear"].sum() / np.sqrt((turned["pear"] ** 2).sum())
        p["pear"] = 2 * stats.norm.sf(abs(z))
        every.append(p)
    table = pd.DataFrame(every)
    total = -np.log(table).sum(axis=1)
    table["overall"] = [(total >= own - 1e-9).mean() for own in total]
    q = table / pd.Series(weights)
    adjusted: dict[str, float] = {}
    reached = 0.0
    left = list(weights)
    while left:
        name = min(left, key=lambda one: q[one].iloc[0])
        smallest = q[left].min(axis=1)
        reached = max(reached, (smallest <= q[name].iloc[0] + 1e-12).mean())
        adjusted[name] = reached
        left.remove(name)
    return adjusted


@pytest.mark.parametrize("seed", [1, 2])
def test_by_enumeration_of_all_swaps(seed: int):
    """512 swaps of ten assessors' two bottles, gone through twice by independent code."""
    cells = two_bottles(np.random.default_rng(seed))
    found = claims(long(cells), scales=["acid", "body"], words=["pear"])
    assert found.kind == "all shuffles"
    assert found.shuffles == 512
    assert found.seed is None
    expected = enumerated(cells)
    for row in found.table.itertuples():
        assert row.p_adjusted == pytest.approx(expected[row.about or "overall"], abs=1e-9), row


def test_by_enumeration_of_all_permutations():
    """F over three bottles of five assessors: 6 ** 4 permutations of the labels."""
    rng = np.random.default_rng(4)
    cells = rng.normal(size=(5, 3)) + np.array([0.0, 0.0, 1.5])
    table = long({"palate": cells, "nose": np.zeros((5, 3))})
    found = claims(table, scales=[], gaps=[("palate", "nose")])
    assert found.shuffles == 6**4

    def variance_ratio(values: np.ndarray) -> float:
        centred = values - values.mean(axis=1, keepdims=True)
        means = centred.mean(axis=0)
        error = ((centred - means) ** 2).sum() / 8
        return float(5 * (means**2).sum() / 2 / error)

    orders = list(product([[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]],
                          repeat=4))  # fmt: skip
    seen = variance_ratio(cells)
    as_large = 0
    for order in orders:
        dealt = np.array(
            [cells[0], *(row[list(o)] for row, o in zip(cells[1:], order, strict=True))]
        )
        as_large += variance_ratio(np.array(dealt)) >= seen - 1e-9
    row = found.table.iloc[0]
    assert row["p_adjusted"] == pytest.approx(as_large / len(orders), abs=1e-9)
    assert row["p"] == pytest.approx(stats.f.sf(seen, 2, 8))


@pytest.mark.parametrize(("bottles", "by_f"), [(3, True), (4, False)])
def test_scales_of_three_bottles_are_judged_by_f_and_of_four_by_the_range(bottles: int, by_f: bool):
    """F of statsmodels' two-way table; scipy's studentized range."""
    cells = np.random.default_rng(6).normal(size=(7, bottles)) + np.eye(bottles)[0]
    found = claims(long({"palate": cells, "nose": np.zeros((7, bottles))}), scales=[],
                   gaps=[("palate", "nose")], shuffles=99).table.iloc[0]  # fmt: skip
    fit = smf.ols("score ~ assessor + sample", long({"palate": cells})).fit()
    range_p = stats.studentized_range.sf(
        np.ptp(cells.mean(axis=0)) / np.sqrt(fit.mse_resid / 7), bottles, fit.df_resid
    )
    expected = anova_lm(fit)["PR(>F)"]["sample"] if by_f else range_p
    assert found["p"] == pytest.approx(expected, rel=1e-3)
    assert abs(anova_lm(fit)["PR(>F)"]["sample"] / range_p - 1) > 0.05


def test_three_bottles_with_holes_are_judged_by_f():
    """statsmodels' F of the samples after the assessors, two cells missing."""
    cells = np.random.default_rng(8).normal(size=(6, 3)) + np.array([0.0, 0.5, 1.0])
    cells[0, 1] = cells[3, 2] = np.nan
    table = long({"palate": cells, "nose": np.where(np.isnan(cells), np.nan, 0.0)})
    found = claims(table, scales=[], gaps=[("palate", "nose")], shuffles=99).table.iloc[0]
    fit = smf.ols("score ~ assessor + sample", table[table["attribute"] == "palate"]).fit()
    assert found["p"] == pytest.approx(anova_lm(fit)["PR(>F)"]["sample"])


@pytest.mark.parametrize(("times", "wider"), [(1.0, False), (4.0, True)])
def test_one_of_three_bottles_gets_wider_limits_only_where_it_clearly_scatters_more(
    times: float, wider: bool
):
    """Its two pairs against limits of statsmodels' least squares; the third pair keeps those."""
    rng = np.random.default_rng(1)
    spread = np.array([1.0, 1.0, times])
    table = long({f"s{k}": rng.normal(size=(7, 3)) * spread for k in range(6)})
    pairs = claims(table, shuffles=499).pairs
    own = pairs[pairs["about"] == "s0"]
    fit = smf.ols("score ~ assessor + sample", table[table["attribute"] == "s0"]).fit()
    plain = 2 * stats.t.isf(0.025, 12) * np.sqrt(2 * fit.mse_resid / 7)
    share = ((own["high"] - own["low"]) / plain).to_numpy()
    assert share[0] == pytest.approx(1.0)
    assert (share[1:] > 1.2).all() if wider else share[1:] == pytest.approx(1.0)


def test_one_fault_against_scipy_permutation():
    """scipy.stats.permutation_test, all 2 ** 10 swaps within pairs."""
    rng = np.random.default_rng(8)
    noted = (rng.random((10, 2)) < np.array([0.1, 0.7])).astype(float)
    found = claims(long({"sulphur": noted}), scales=[], faults=["sulphur"])
    reference = stats.permutation_test(
        (noted[:, 0], noted[:, 1]),
        lambda a, b, axis: np.abs((a - b).mean(axis=axis)),
        permutation_type="samples",
        n_resamples=2000,
        alternative="greater",
    )
    assert found.table["p_adjusted"].iloc[0] == pytest.approx(reference.pvalue)


@pytest.mark.parametrize(("noted", "claimed"), [(5, False), (6, True)])
def test_a_claim_on_both_sides_of_five_per_cent(noted: int, claimed: bool):
    """A fault noted in one bottle only by m of 10 has p = 2 / 2**m: 0.0625 and 0.031."""
    cells = np.zeros((10, 2))
    cells[:noted, 1] = 1
    found = claims(long({"sulphur": cells}), scales=[], faults=["sulphur"])
    assert found.table["p_adjusted"].iloc[0] == pytest.approx(2 / 2**noted)
    assert found.claimed("fault", "sulphur") is claimed
    assert bool(found.pairs["claimed"].iloc[0]) is claimed
    assert found.pairs["higher"].iloc[0] == "b1"


@pytest.mark.parametrize(("n", "claimed"), [(10, False), (11, True)])
def test_a_majority_needs_eleven_of_eleven(n: int, claimed: bool):
    """Three bottles: Holm's first step is 0.005 / 3; 2 / 2**11 is below, 2 / 2**10 above."""
    balance = np.column_stack([np.ones(n), np.zeros(n), -(np.arange(n) % 2)])
    found = claims(long({"balance": balance}), scales=[], balances=["balance"])
    assert found.smallest_panel == 11
    row = found.majority.iloc[0]
    assert bool(row["claimed"]) is claimed
    assert row["p_adjusted"] == pytest.approx(3 * 2 / 2**n * 10)
    assert ("b0 is too sweet for most of such people." in map(str, found.sentences())) is claimed


def test_pairs_against_least_squares_with_holes():
    """statsmodels OLS of assessor and sample: differences, limits and p of single pairs."""
    rng = np.random.default_rng(3)
    cells = np.round(rng.normal(size=(7, 4)), 3)
    cells[0, 1] = cells[3, 2] = cells[5, 0] = np.nan
    table = long({"palate": cells, "nose": np.where(np.isnan(cells), np.nan, 0.0)})
    found = claims(table, scales=[], gaps=[("palate", "nose")])
    fit = smf.ols("score ~ assessor + sample", table[table["attribute"] == "palate"]).fit()
    for row in found.pairs.itertuples():
        names = [f"sample[T.{one}]" for one in (row.sample_a, row.sample_b)]
        contrast = " - ".join(one if one in fit.params else "0" for one in names)
        test = fit.t_test(contrast)
        assert row.difference == pytest.approx(float(test.effect.item()))
        assert row.p == pytest.approx(float(test.pvalue))
        assert (row.low, row.high) == pytest.approx(tuple(test.conf_int()[0]))


def test_two_bottles_are_the_paired_t():
    """scipy.stats.ttest_rel."""
    cells = np.random.default_rng(11).normal(size=(9, 2))
    found = claims(long({"acid": cells}))
    paired = stats.ttest_rel(cells[:, 0], cells[:, 1])
    assert found.table["p"].iloc[0] == pytest.approx(paired.pvalue)
    limits = paired.confidence_interval()
    assert found.pairs[["low", "high"]].to_numpy()[0] == pytest.approx([limits.low, limits.high])


def test_the_maker_is_adjusted_by_holm():
    """statsmodels.stats.multitest; half a per cent for the maker where there is no balance."""
    rng = np.random.default_rng(7)
    cells = {f"s{k}": rng.normal(size=(8, 3)) + rng.normal(size=(8, 1)) for k in range(5)}
    cells["s0"][0] += 60
    found = claims(long(cells), makers=["T00"])
    holm = multipletests(found.shifts["p"], method="holm")[1]
    expected = np.minimum(holm * 0.05 / 0.005, 1)
    assert found.shifts["p_adjusted"].to_numpy() == pytest.approx(expected)
    assert found.shifts.set_index("attribute")["claimed"].to_dict() == {
        "s0": True, "s1": False, "s2": False, "s3": False, "s4": False,
    }  # fmt: skip
    assert not found.table["claimed"].any()
    assert (found.table["n"] == 7).all()


@pytest.mark.parametrize(("scales", "told"), [(["nowhere"], ["nowhere"]), ([], [])])
def test_nothing_that_can_be_judged_claims_nothing(scales: list[str], told: list[str]):
    table = pd.DataFrame(
        [(f"T{i}", b, float(i % 3)) for i in range(5) for b in "ab"],
        columns=["assessor", "sample", "score"],
    )
    found = claims(table, scales=scales, shuffles=99)
    assert found.table["about"].tolist() == told
    assert not found.table["claimed"].any()
    assert {"kind", "about", "p", "p_adjusted", "claimed"} <= set(found.table)
    assert found.pairs.empty
    assert found.detectable().empty
    assert [str(one) for one in found.sentences()] == [
        "Nothing may be claimed of these bottles. That does not show that they are alike."
    ]


def test_rows_and_names_change_nothing():
    """Shuffled rows, and other names for people and bottles: the same claims."""
    cells = two_bottles(np.random.default_rng(9))
    table = long(cells)
    asked = {"scales": ["acid", "body"], "words": ["pear"]}
    plain = claims(table, **asked)
    mixed = claims(table.sample(frac=1, random_state=3), **asked)
    renamed = table.assign(
        assessor=table["assessor"].map(lambda one: f"X{99 - int(one[1:])}"),
        sample=table["sample"].map({"b0": "zz", "b1": "aa"}),
    )
    other = claims(renamed, **asked)
    for found in (mixed, other):
        one, two = (x.table.set_index(["kind", "about"])["p_adjusted"] for x in (plain, found))
        pd.testing.assert_series_equal(one.sort_index(), two.sort_index())
    names = {"b0": "zz", "b1": "aa", "": ""}
    assert other.pairs["higher"].tolist() == [names[one] for one in plain.pairs["higher"]]


def test_a_seed_repeats():
    rng = np.random.default_rng(5)
    table = long({f"s{k}": rng.normal(size=(6, 4)) for k in range(4)})
    first, again, other = (claims(table, seed=seed, shuffles=499) for seed in (1, 1, 2))
    assert first.kind == "random shuffles"
    assert (first.seed, first.shuffles) == (1, 500)
    pd.testing.assert_frame_equal(first.table, again.table)
    assert (first.table["p_adjusted"] != other.table["p_adjusted"]).any()


def test_scale_and_level_change_nothing():
    """Doubled scores with any level added: the same p, doubled differences."""
    rng = np.random.default_rng(12)
    cells = {f"s{k}": np.round(rng.normal(size=(6, 4)), 2) for k in range(3)}
    moved = {name: 2 * table + 3 for name, table in cells.items()}
    one, two = claims(long(cells), shuffles=499), claims(long(moved), shuffles=499)
    assert two.table["p_adjusted"].tolist() == pytest.approx(one.table["p_adjusted"].tolist())
    assert two.pairs["difference"].tolist() == pytest.approx((2 * one.pairs["difference"]).tolist())


def test_whole_numbers_that_agree_prove_nothing():
    """Two assessors, two bottles, every scale 5 against 6: a step is what writing makes."""
    table = long({f"s{k}": np.array([[5.0, 6.0], [5.0, 6.0]]) for k in range(18)})
    found = claims(table)
    assert found.kind == "rotations"
    assert nothing_claimed(found)
    assert str(found.sentences()[0]).startswith("Nothing may be claimed")


def test_naming_a_question_finds_it():
    """The same data: claimed when named, not when it is one of twenty."""
    rng = np.random.default_rng(26)
    cells = {f"s{k:02d}": rng.normal(size=(6, 3)) for k in range(20)}
    cells["s00"] = rng.normal(size=(6, 3)) + np.array([0.0, 0.0, 1.5])
    table = long(cells)
    plain = claims(table).table.set_index("about")["p_adjusted"]["s00"]
    named = claims(table, named=[Named(kind="scale", about="s00")])
    row = named.table.set_index("about").loc["s00"]
    assert row["named"]
    assert row["weight"] == 10
    assert row["p_adjusted"] < plain / 3
    pair = claims(table, named=[Named(kind="scale", about="s00", pair=("b0", "b2"))])
    rows = pair.pairs.set_index(["about", "sample_a", "sample_b"])["p_adjusted"]
    assert rows["s00", "b0", "b2"] < plain / 3
    assert len(pair.table) == 21


def test_named_majority_and_maker_share_the_large_part():
    rng = np.random.default_rng(2)
    cells = {f"s{k}": rng.normal(size=(9, 3)) for k in range(4)}
    cells["balance"] = np.ones((9, 3))
    cells["s1"][0] += 30
    asked = [
        Named(kind="majority", about="balance", sample="b1"),
        Named(kind="maker", about="s1"),
    ]
    scales = [f"s{k}" for k in range(4)]
    given = {"scales": scales, "balances": ["balance"], "makers": ["T00"]}
    plain = claims(long(cells), **given)
    named = claims(long(cells), named=asked, **given)
    assert not plain.majority["claimed"].any()
    assert named.majority.set_index("sample")["claimed"].to_dict() == {
        "b0": False, "b1": True, "b2": False,
    }  # fmt: skip
    assert named.shifts.set_index("attribute")["claimed"]["s1"]
    assert named.shifts["named"].sum() == 1


def test_what_cannot_be_compared_is_said():
    """One assessor, and an attribute with too few cells: untested, never an error."""
    alone = claims(long({"acid": np.array([[1.0, 2.0, 3.0]])}))
    assert not alone.table["tested"].any()
    assert nothing_claimed(alone)
    assert "acid" in str(alone.warnings[0])
    cells = np.random.default_rng(1).normal(size=(6, 3))
    few = np.full((6, 3), np.nan)
    few[0] = 1.0
    found = claims(long({"acid": cells, "haze": few}))
    assert found.table.set_index("about")["tested"].to_dict() == {
        "acid": True, "haze": False, "": True,
    }  # fmt: skip


def test_intervals_are_never_empty_and_json_is_whole():
    cells = two_bottles(np.random.default_rng(3))
    found = claims(long(cells), scales=["acid", "body"], words=["pear"])
    assert (found.pairs["high"] > found.pairs["low"]).all()
    told = found.to_dict()
    assert {"table", "pairs", "majority", "shifts", "seed", "method"} <= set(told)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"named": [Named(kind="scale", about="s0")] * 4}, "At most three"),
        ({"scales": ["s0"], "words": ["s0"]}, "one kind"),
        ({"named": [Named(kind="scale", about="nowhere")]}, "nowhere"),
        ({"named": [Named(kind="maker")]}, "no maker"),
        ({"named": [Named(kind="gap")]}, "gap"),
        ({"gaps": [("s0", "none")]}, "none"),
        ({"alpha": 5}, "0.05"),
        ({"shuffles": 10}, "99"),
    ],
)
def test_bad_arguments_are_refused_in_words(given: dict[str, object], words: str):
    table = long({"s0": np.random.default_rng(1).normal(size=(4, 3))})
    with pytest.raises(OptionError, match=words):
        claims(table, **given)


def test_a_named_pair_needs_two_bottles():
    with pytest.raises(OptionError, match="two different bottles"):
        Named(kind="scale", about="s0", pair=("a", "a"))
    with pytest.raises(OptionError, match="kind"):
        Named(kind="colour")
