"""What is answered to a question named before the tasting: numbers with limits, counts, reasons.

Limits are set beside scipy's paired t test and Hahn & Meeker's prediction interval.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.primary_questions import Primary
from scipy import stats

PEOPLE = [f"T{k}" for k in range(8)]
OFF = np.array([0.9, -1.1, 0.4, -0.2, 1.3, -0.8, 0.1, -0.6])


def rows(attribute: str, marks: dict[str, list[float]], people: list[str] = PEOPLE) -> pd.DataFrame:
    """Return tidy rows: one mark an assessor, bottle by bottle."""
    return pd.DataFrame(
        [
            (who, name, attribute, mark)
            for name, given in marks.items()
            for who, mark in zip(people, given, strict=True)
        ],
        columns=["assessor", "sample", "attribute", "score"],
    )


def answer(table: pd.DataFrame, *asked: Primary, **more: object) -> list[str]:
    """Return the answers to named questions, without the question."""
    found = findings_of_tables(table, primary=asked, shuffles=499, **more)
    told = [one.sentence.to("en") for one in found.statements if one.section == "named"]
    return [line.partition("? ")[2] for line in told]


def scale(*bottles: str, name: str = "sweetness") -> Primary:
    return Primary(kind="scale", written=name, attribute=name, bottles=bottles)


@pytest.mark.parametrize(("gap", "begins"), [(3.0, "Yes: "), (0.2, "Not shown (")])
def test_a_pair_is_answered_with_its_difference_and_the_limits_of_paired_t(gap, begins):
    a = 5 + OFF / 2
    b = np.round(5 + gap + OFF[::-1], 2)
    other = rows("acidity", {"a": list(a + OFF), "b": list(a - OFF[::-1])})
    (told,) = answer(
        pd.concat([rows("sweetness", {"a": list(a), "b": list(b)}), other]), scale("b", "a")
    )
    low, high = stats.ttest_rel(b, a).confidence_interval()
    size = f"b above a by {np.mean(b - a):.1f} points, 95 % interval {low:.1f} to {high:.1f}"
    size = size.replace("-", "−")
    assert told.startswith(begins + size)
    assert ("8 of 10 such tastings would find" in told) is (gap < 1)


def test_a_word_is_answered_with_counts_and_one_that_nobody_gave_with_the_reason():
    given = {"a": [1.0] * 8, "b": [1.0] + [0.0] * 7, "c": [0.0] * 8}
    never = {name: [0.0] * 8 for name in given}
    table = pd.concat([rows("aroma:pear", given), rows("fault:stale", never)])
    asked = [
        Primary(kind="word", written="aroma:pear", attribute="aroma:pear"),
        Primary(kind="fault", written="fault:stale", attribute="fault:stale"),
        scale(),
        Primary(kind="maker", written="maker: quality", attribute="quality"),
    ]
    assert answer(table, *asked[:2]) == [
        "Yes: a above b, c (a 8 of 8, b 1 of 8, c 0 of 8).",
        "It cannot be tested: nobody noted it in any bottle.",
    ]
    assert answer(table, *asked[2:]) == [
        "It cannot be tested: nobody answered it.",
        "It cannot be tested: no marks of the maker came back.",
    ]
    assert answer(rows("sweetness", {"a": list(5 + OFF)}), scale()) == [
        "It cannot be tested: there is one bottle only."
    ]


@pytest.mark.parametrize(("last", "told"), [(1.0, "; a claim takes more"), (0.0, ")")])
def test_all_of_a_panel_too_small_for_a_majority_are_told_so(last: float, told: str):
    five = PEOPLE[:5]  # p = 2 / 2**5 = 0.0625: no claim whatever the weight
    marks = {"a": [1.0] * 4 + [last], "b": [0.0] * 5, "c": [0.0] * 5}
    asked = Primary(kind="majority", written="", attribute="sweetness_balance", bottles=("a",))
    noise = {name: list(5 + OFF[k : k + 5]) for k, name in enumerate("abc")}
    table = pd.concat([rows("sweetness_balance", marks, five), rows("acidity", noise, five)])
    (line,) = answer(table, asked)
    assert line.startswith(f"Not shown (too sweet: {4 + int(last)} of 5{told}")


def test_makers_are_answered_one_by_one_with_what_one_more_person_would_show():
    people = [*PEOPLE, "M", "N"]
    level = np.concatenate([5 + OFF / 3, [5.1, 8.5]])
    marks = {name: list(level + shift) for name, shift in (("a", 0.1), ("b", 0.0), ("c", -0.1))}
    roles = dict.fromkeys(PEOPLE, "trained") | {"M": "maker", "N": "maker"}
    asked = Primary(kind="maker", written="maker: quality", attribute="quality")
    (line,) = answer(rows("quality", marks, people), asked, assessors=roles)
    others = level[:8]
    reach = stats.t.ppf(0.975, 7) * others.std(ddof=1) * np.sqrt(1 + 1 / 8)
    by = 8.5 - others.mean()
    assert line == (
        f"Yes: N {by:.1f} points above the others, 95 % interval {by - reach:.1f} to "
        f"{by + reach:.1f}, further than single others stand from each other."
    )


def test_each_of_two_makers_is_told_apart():
    # M gives 2 more than the mean of the others, N 3 less in one bottle: taken together they
    # would stand nowhere.
    level = np.concatenate([5 + OFF, [7.0, 5.0]])
    marks = {name: list(level) for name in "abc"}
    marks["b"][-1] = 2.0
    roles = dict.fromkeys(PEOPLE, "trained") | {"M": "maker", "N": "maker"}
    found = findings_of_tables(
        rows("quality", marks, [*PEOPLE, "M", "N"]), assessors=roles, shuffles=199
    )
    told = [one.sentence.to("en") for one in found.statements if one.section == "maker"]
    others = (5 + OFF).mean()
    first = "The maker M stands furthest from the others in overall quality of {}: "
    assert any(
        line.startswith(tuple(first.format(name) + f"+{7 - others:.1f} points" for name in "abc"))
        for line in told
    )
    assert any(
        f"The maker N stands furthest from the others in overall quality of b: "
        f"−{others - 2:.1f} points (2.0 against a mean of {others:.1f} from 8 others)" in line
        for line in told
    )
    assert not any("makers, taken together" in line for line in told)


def test_a_makers_shift_that_is_not_shown_has_its_number_and_limits():
    level = np.concatenate([5 + OFF, [6.0]])
    marks = {name: list(level + shift) for name, shift in (("a", 0.2), ("b", 0.0), ("c", -0.2))}
    roles = dict.fromkeys(PEOPLE, "trained") | {"M": "maker"}
    found = findings_of_tables(
        rows("quality", marks, [*PEOPLE, "M"]), assessors=roles, shuffles=499
    )
    told = [one.sentence.to("en") for one in found.statements if one.section == "maker"]
    by = 6.0 - level[:8].mean()
    reach = stats.t.ppf(0.975, 7) * level[:8].std(ddof=1) * np.sqrt(1 + 1 / 8)
    limits = f"95 % interval {by - reach:.1f} to {by + reach:.1f}".replace("-", "−")
    assert (
        "That the maker stands apart from the others as a whole is not shown. Of 1 attribute the "
        f"furthest, for how far single others stand apart: overall quality, {by:.1f} points above "
        f"them, {limits}, for itself alone."
    ) in told


def test_a_bottle_about_which_nobody_answered_on_faults_is_not_called_silent():
    """One typed row about one bottle made the report fail (found by hand, 26 November 2026)."""
    marks = rows("sweetness", {name: list(5 + np.roll(OFF, k)) for k, name in enumerate("abc")})
    one = pd.DataFrame([("T0", "b", "fault:musty", 1.0)], columns=marks.columns)
    found = findings_of_tables(pd.concat([marks, one]), shuffles=199)
    told = " ".join(one.sentence.to("en") for one in found.statements)
    assert "Nobody ticked a fault" not in told
    assert "No answer about faults came back for a, c." in told
    do = {one.sample: one.key for one in found.verdicts if one.question == "do"}
    assert do == {"a": "unheard", "b": "hint", "c": "unheard"}


def test_exchanged_controls_advise_to_ask_whoever_poured_and_not_to_train():
    bottles = [Bottle(name="a", use="sample"), Bottle(name="s", use="sample", control="clean"),
               Bottle(name="p", use="sample", control="stale")]  # fmt: skip
    noted = {"a": [0.0] * 8, "s": [2.0] * 8, "p": [2.0] + [0.0] * 7}
    found = findings_of_tables(rows("fault:stale", noted), bottles=bottles, shuffles=199)
    told = " ".join(one.sentence.to("en") for one in found.statements)
    assert "Ask whoever poured first." in told
    assert "train the panel" not in told
    assert [one.key for one in found.verdicts if one.question == "do"] == ["swapped"]


@pytest.mark.parametrize(("last", "told"), [(2.0, True), (0.0, False)])
def test_a_fault_in_every_bottle_leads_to_what_all_cups_share(last: float, told: bool):
    noted = {"a": [2.0] * 8, "b": [2.0] * 8, "c": [last] * 8}
    found = findings_of_tables(rows("fault:stale", noted), shuffles=199)
    said = [one for one in found.statements if "what all cups share" in one.sentence.to("en")]
    assert bool(said) is told
