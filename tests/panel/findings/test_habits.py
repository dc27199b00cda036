"""Habits of marking, exchanged cups, hidden duplicates, and what a difference goes with.

Tables are drawn from stated truths. The rule on exchanged cups was counted on such tables (five
assessors, three bottles, two tastings, six attributes): of 400 without exchange and with bottles
3 points apart in three attributes 0 held a false one, of 300 and 200 with equal bottles and with
bottles 1 point apart 4 and 2; an exchange of bottles 3 points apart was found in 57 of 60. With
two of seven assessors as noisy again (1.8 and 2.5 times the scatter, 14 attributes) 0 of 150 and
1 of 100 held a false one; before their own scatter counted it was 3 and 7. An exchange was found
in 66 of 100 either way. Since groups of people are looked at too, 0 of 900 held a false one (five
and eight assessors, bottles 3, 1 and 0 points apart, 150 each), and of two assessors' own tastings
0 of 3,600.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings import exchanged, factors, habits, people, twins
from kikichoko.panel.findings.all_statements import Findings, findings_of_tables
from kikichoko.panel.findings.budget import Budget, Weighed
from kikichoko.panel.findings.differences import chain
from kikichoko.panel.findings.evidence import BALANCE
from kikichoko.panel.session.bottles import Bottle
from scipy import stats

NAMES = ("sweetness", "acidity", "bitterness", "umami", "body", "quality")
APART = {"a": (0, 0, 0, 0, 0, 0), "b": (3, -3, 0, 0, 3, 0), "c": (1, 0, 0, 1, 0, 0)}


def drawn(
    seed: int,
    *,
    people: int = 5,
    tastings: int = 2,
    swap: tuple[str, ...] = (),
    turned: tuple[str, ...] = (),
    levels: float = 0.5,
    halo: float = 0.0,
    scatter: float = 0.7,
) -> pd.DataFrame:
    """Draw a table; `swap` names whose a and b are exchanged in the second tasting."""
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(people):
        who = f"P{number + 1}"
        level = rng.normal(0, levels)
        own = {name: rng.normal(0, 0.3, len(NAMES)) for name in APART}
        for tasting in range(1, tastings + 1):
            for name in APART:
                poured = {"a": "b", "b": "a"}.get(name, name)
                taken = poured if who in swap and tasting == 2 else name
                noise = rng.normal(0, scatter, len(NAMES)) * np.sqrt(1 - halo)
                noise += rng.normal(0, scatter) * np.sqrt(halo)
                way = -1 if who in turned else 1
                marks = 5 + way * np.array(APART[taken]) + own[taken] + level + noise
                rows += [
                    (who, name, tasting, attribute, round(2 * min(max(mark, 0), 10)) / 2)
                    for attribute, mark in zip(NAMES, marks, strict=True)
                ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])


def evidence(table: pd.DataFrame, **values: object):
    return findings_of_tables(table, shuffles=99, **values).evidence


def test_exchanged_cups_are_told_with_person_bottles_and_tasting():
    found = exchanged.exchanges(evidence(drawn(1, swap=("P1",))))
    assert [(one.assessor, one.replicate, one.samples) for one in found] == [("P1", 2, ("a", "b"))]
    assert found[0].turned >= 2
    said = exchanged.statements(evidence(drawn(1, swap=("P1",))))[0]
    assert said.kind == "caution"
    assert "Nothing was exchanged back" in str(said.sentence)


@pytest.mark.parametrize("halo", [0.0, 0.5])
def test_cups_in_order_are_not_called_exchanged(halo: float):
    assert not any(exchanged.exchanges(evidence(drawn(s, halo=halo))) for s in range(6))


def test_one_who_reads_the_scale_the_other_way_round_has_exchanged_nothing():
    assert exchanged.exchanges(evidence(drawn(2, turned=("P1",)))) == []


def test_one_tasting_each_cannot_tell_exchanged_cups_from_a_turned_scale():
    assert exchanged.exchanges(evidence(drawn(1, tastings=1))) == []


def test_one_tray_that_served_two_is_told_of_both_and_of_nobody_else():
    """Two of five each hid the other: the scatter of "the rest" held the other's exchange."""
    (said,) = exchanged.statements(evidence(drawn(1, swap=("P2", "P4"))))
    assert said.about == ("P2", "P4", "a", "b")
    assert "A slip on the tray is likelier than 2 confused people" in str(said.sentence)


@pytest.mark.parametrize(("people", "most"), [(2, 1), (4, 1), (5, 2), (7, 3), (9, 3)])
def test_fewer_than_half_and_at_most_three_share_a_tray(people: int, most: int):
    assert exchanged._most(people) == most


def test_exchanged_cups_show_in_ones_own_two_tastings_where_few_others_tasted():
    (said,) = exchanged.statements(evidence(drawn(3, people=2, swap=("P1",), scatter=0.3)))
    assert said.about == ("P1", "a", "b")
    assert "Which tasting it was cannot be told" in str(said.sentence)
    assert not exchanged.exchanges(evidence(drawn(3, people=2, scatter=0.3)))


@pytest.mark.parametrize(("ratio", "told"), [(17.0, True), (16.0, False)])
def test_own_tastings_look_exchanged_beyond_f(ratio: float, told: bool):
    """F on 6 and 6 df is 16.65 at 0.01 / 6 (scipy.stats.f.isf)."""
    n = 4  # scales; a and b lie `gap` apart, exchanged back nothing is left but `usual`
    gap = np.sqrt(ratio / (2 * n))
    first = {"a": np.full(n, gap), "b": np.zeros(n), "c": np.zeros(n)}
    second = {"a": np.zeros(n), "b": np.full(n, gap), "c": np.zeros(n)}
    found = exchanged.own_exchange(first, second, ("a", "b"), 1.0, 6)
    assert (found is not None) is told


def test_levels_far_apart_are_a_habit_and_near_ones_are_not_told():
    table = drawn(3, levels=0.0)
    high = table["assessor"] == "P2"
    far = table.assign(score=(table["score"] + 3.0 * high).clip(0, 10))
    said = habits._levels(evidence(far))
    assert [one.about[1] for one in said] == ["P2"]
    assert "habit of marking" in str(said[0].sentence)
    assert habits._levels(evidence(table)) == []


def test_students_stand_beside_the_expert_in_level_and_direction():
    table = drawn(4, levels=0.0, turned=("P3",))
    high = table["assessor"] == "P2"
    table = table.assign(score=(table["score"] + 2.5 * high).clip(0, 10))
    roles = {"P1": "expert"} | dict.fromkeys(("P2", "P3", "P4", "P5"), "student")
    one = Weighed(kind="scale", about="sweetness", p=0.001, adjusted=0.01, pairs=(("b", "a"),))
    budget = Budget(found=None, judged=(one,), alpha=0.05, majority_from=None)
    said = [str(s.sentence) for s in habits._students(evidence(table, assessors=roles), budget)]
    assert "P2 +2." in said[0]
    assert said[1].endswith("P1 1, P2 1, P3 0, P4 1, P5 1.")
    assert "not the truth" in said[2]


@pytest.mark.parametrize(("claimed", "n"), [(True, 2), (False, 1)])
def test_pairs_of_the_students_are_all_that_are_claimed_balance_too(claimed: bool, n: int):
    """A pair of balance is claimed, or not: it counts as `overview.without_expert` counts it."""
    table = drawn(4, levels=0.0).replace({"attribute": {"acidity": BALANCE}})
    judged = tuple(
        Weighed(kind=kind, about=about, p=0.001, adjusted=adjusted, pairs=(pair,))
        for kind, about, adjusted, pair in (
            ("scale", "sweetness", 0.01, ("b", "a")),
            ("balance", BALANCE, 0.01 if claimed else 0.5, ("a", "b")),
        )
    )
    budget = Budget(found=None, judged=judged, alpha=0.05, majority_from=None)
    roles = {"P1": "expert"} | dict.fromkeys(("P2", "P3", "P4", "P5"), "student")
    told = habits._students(evidence(table, assessors=roles), budget)[1].sentence
    start = "Of the 2 differences" if n == 2 else "The one difference"
    assert str(told).startswith(start)
    assert told.to("ja").startswith(f"この報告書で示された{n}の差")
    assert str(told).endswith(f"P1 {n}, P2 {n}, P3 {n}, P4 {n}, P5 {n}.")


def test_a_turned_scale_is_told_with_the_gaps_without_it():
    said = habits.without(evidence(drawn(5, turned=("P1",))), ["P1"])
    assert said is not None
    text = str(said.sentence)
    assert "no mark was turned round" in text
    assert "b above a" in text


def test_one_word_read_the_other_way_round_is_told_of_that_word_alone():
    said = habits.without(evidence(drawn(5)), ["P1"], ["sweetness"])
    assert said is not None
    text = str(said.sentence)
    assert text.startswith("In sweetness the marks of P1 run against those of the others.")
    assert "acidity" not in text
    assert text.count("with everybody") == 1


@pytest.mark.parametrize(
    ("found", "told"),
    [(["sweetness"], ["sweetness"]), (["whole card", "sweetness"], [])],
)
def test_the_whole_card_is_spoken_of_where_it_is_turned(found: list[str], told: list[str]):
    rows = pd.DataFrame({"assessor": "P1", "attribute": found})
    assert people._turned_in(rows, ["P1"]) == told


BOTTLES = (Bottle(name="a"), Bottle(name="b"), Bottle(name="c", control="same:a"))


def test_a_duplicate_tells_how_far_the_panel_repeats_itself_and_is_no_product():
    table = drawn(6)
    twin = table[table["sample"] == "a"].assign(sample="c")
    both = pd.concat([table[table["sample"] != "c"], twin])
    found = evidence(both, bottles=BOTTLES)
    assert found.products == ["a", "b"]
    said, *_ = twins.statements(found)
    assert said.kind == "description"
    assert "c was a under another code" in str(said.sentence)
    gaps = twins.gaps(found)
    assert gaps["mean"].abs().max() == 0
    moved = both.assign(score=both["score"] + 2.0 * (both["sample"] == "c"))
    told, *_ = twins.statements(evidence(moved.assign(score=moved["score"].clip(0, 10)),
                                        bottles=BOTTLES))  # fmt: skip
    # All gaps are the same for everybody: no scatter, no test; the size is said.
    assert "+2.0" in str(told.sentence)


def test_a_duplicate_set_apart_from_its_twin_is_a_caution():
    table = drawn(7, people=8)
    twin = table[table["sample"] == "a"].assign(sample="c")
    rng = np.random.default_rng(8)
    twin = twin.assign(score=(twin["score"] + 2 + rng.normal(0, 0.4, len(twin))).clip(0, 10))
    both = pd.concat([table[table["sample"] != "c"], twin])
    said, *_ = twins.statements(evidence(both, bottles=BOTTLES))
    assert said.kind == "caution"
    assert "set them apart" in str(said.sentence)


def test_the_duplicate_counts_as_repeats_when_assessors_are_judged():
    table = drawn(9, tastings=1, people=6)
    twin = table[table["sample"] == "a"].assign(sample="d")
    known = (*(Bottle(name=name) for name in "abc"), Bottle(name="d", control="same:a"))
    found = people.assessors_found(evidence(pd.concat([table, twin]), bottles=known))
    assert not any(one.key == "assessors.no_replicates" for one in found.warnings)


def weighed(*pairs: tuple[str, str]) -> Budget:
    one = Weighed(kind="scale", about="sweetness", p=0.001, adjusted=0.01, pairs=pairs)
    return Budget(found=None, judged=(one,), alpha=0.05, majority_from=None)


FOUR = tuple(
    Bottle(name=f"{tank}{part}", tank=tank, fraction=part)
    for tank in ("T1", "T2")
    for part in ("free", "press")
)


@pytest.mark.parametrize(
    ("pairs", "told"),
    [
        ((("T1press", "T1free"), ("T2press", "T2free")), ["the fraction"]),
        ((("T2free", "T1free"), ("T2press", "T1press")), ["the tank"]),
        ((("T1press", "T1free"),), []),
        ((("T1press", "T1free"), ("T2free", "T2press")), []),
    ],
)
def test_what_a_difference_goes_with_is_told_where_all_pairs_agree(pairs, told):
    table = drawn(1).replace({"sample": {"a": "T1free", "b": "T1press", "c": "T2free"}})
    found = factors.statements(evidence(table, bottles=FOUR), weighed(*pairs))
    assert [word for one in found for word in ("the fraction", "the tank")
            if f"goes with {word}" in str(one.sentence)] == told  # fmt: skip


@pytest.mark.parametrize(
    ("pairs", "steps"),
    [
        ([("a", "b"), ("a", "c"), ("b", "c")], [["a"], ["b"], ["c"]]),
        ([("a", "c"), ("b", "c")], [["a", "b"], ["c"]]),
        ([("a", "b"), ("a", "c"), ("b", "c"), ("a", "d")], []),
        ([("a", "b"), ("c", "d")], []),
    ],
)
def test_pairs_become_a_chain_only_where_every_step_is_claimed(pairs, steps):
    assert chain(pairs) == steps


@pytest.mark.parametrize(("step", "told"), [(0.86, False), (0.88, True)])
def test_others_have_an_order_at_one_in_a_thousand(step: float, told: bool):
    """F of scipy's own two-way table on both sides of 0.001, six others, three bottles."""
    rest = np.array([[0.5, -0.5, 0.0], [-0.5, 0.5, 0.0], [0.0, 0.5, -0.5], [0.0, -0.5, 0.5],
                     [0.5, 0.0, -0.5], [-0.5, 0.0, 0.5]])  # fmt: skip
    cells = pd.DataFrame(5 + rest + step * np.arange(3))
    means = cells.mean()
    f = 6 * means.var(ddof=1) / ((rest**2).sum() / 10)
    assert bool(stats.f.sf(f, 2, 10) <= 0.001) is told
    assert habits.in_order(cells) is told
    assert not habits.in_order(pd.DataFrame(5 + 0 * rest))


def opposed(seed: int, by: float) -> Findings:
    """Seven assessors, four bottles twice; the last one runs against the others in sweetness."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(7):
        for j, name in enumerate("abcd"):
            own = rng.normal(0, 0.4, 6)
            for turn in (1, 2):
                marks = 5 + own + rng.normal(0, 0.5, 6)
                marks[0] += (j - 1.5) * (-by if i == 6 else 1.0)
                rows += [(f"T{i}", name, turn, q, m) for q, m in zip(NAMES, marks, strict=True)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])
    return findings_of_tables(table, shuffles=99)


@pytest.mark.parametrize(("by", "kind"), [(-1.0, ""), (0.5, "hint"), (0.7, "claim")])
def test_who_runs_against_the_others_is_hinted_at_before_it_is_shown(by: float, kind: str):
    """With the others, against them by half of their slope, and by more of it."""
    found = opposed(4, by)
    told = [one for one in found.statements if set(one.about) & {"T6"} and one.section == "each"]
    assert [one.kind for one in told] == ([kind] if kind else [])
    if kind == "hint":
        assert 0.05 < told[0].p_adjusted <= 0.20
        assert str(told[0].sentence).startswith(
            "A hint only, not shown: in sweetness T6 marks less where the others mark more."
        )
    keys = [getattr(one.sentence, "key", "") for one in found.statements]
    assert ("findings.without_in" in keys) is bool(kind)
