"""Faults: counts with exact limits, controls, and a rule that is stated."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import Controls, Rule, false_notes, fault_errors, faults
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.ordinal import ordinal
from scipy.stats import binom, binomtest


def table(severities: dict[tuple[str, str], list[int]], replicate: int = 1) -> pd.DataFrame:
    """Make a tidy table from severities by (bottle, fault), one number an assessor."""
    return pd.DataFrame(
        [
            {
                "assessor": f"T{i}",
                "sample": bottle,
                "attribute": fault,
                "replicate": replicate,
                "score": severity,
            }
            for (bottle, fault), row in severities.items()
            for i, severity in enumerate(row)
        ]
    )


MARKS = {
    ("A", "stale"): [0, 2, 3, 1, 0, 2, 0, 0],
    ("A", "musty"): [0] * 8,
    ("B", "stale"): [0, 0, 1, 0, 0, 0, 0, 0],
    ("B", "musty"): [0] * 8,
    ("C", "stale"): [0] * 8,
    ("C", "musty"): [0] * 8,
}


def test_counts_and_limits_against_scipy():
    found = faults(table(MARKS)).table.set_index(["sample", "fault"])
    row = found.loc["A", "stale"]
    exact = binomtest(4, 8).proportion_ci(method="exact")
    assert (row["k"], row["n"], row["strong"]) == (4, 8, 3)
    assert (row["low"], row["high"]) == pytest.approx((exact.low, exact.high), abs=1e-9)
    assert row["severity"] == 2


@pytest.mark.parametrize(
    ("n", "upper"), [(3, 0.6316), (5, 0.4507), (8, 0.3123), (10, 0.2589), (20, 0.1391), (30, 0.095)]
)
def test_nobody_noticed_by_hand(n, upper):
    """The exact one-sided limit is 1 - 0.05**(1/n)."""
    found = faults(table({("A", "stale"): [0] * n}))
    assert found.table["upper"].item() == pytest.approx(upper, abs=5e-5)
    assert f"{100 * upper:.0f} %" in str(found.sentences()[0])


def test_the_rule_decides():
    found = faults(table(MARKS)).decisions.set_index("sample")
    assert found["decision"].to_dict() == {"A": "hold", "B": "hint", "C": "pass"}
    assert found.loc["A", "faults"] == "stale"


def test_a_small_panel_never_passes_a_bottle():
    found = faults(table({("A", "stale"): [0, 0, 0, 0]}))
    assert found.decisions["decision"].item() == "open"
    found = faults(table({("A", "stale"): [0, 0, 0, 0, 0]}))
    assert found.decisions["decision"].item() == "pass"


@pytest.mark.parametrize(
    ("k", "strong", "n", "cups", "word"),
    [
        (4, 0, 8, 4, "hold"),  # half of the assessors
        (3, 0, 8, 3, "recheck"),  # one fewer
        (1, 1, 2, 1, "hint"),  # half, but one alone
        (1, 1, 1, 1, "hint"),
        (3, 3, 9, 3, "hold"),  # a third of them strongly
        (3, 2, 9, 3, "recheck"),
        (2, 0, 9, 2, "recheck"),
        (1, 0, 9, 2, "recheck"),  # twice by one
        (1, 0, 9, 1, "hint"),
    ],
)
def test_both_sides_of_every_threshold(k: int, strong: int, n: int, cups: int, word: str):
    assert Rule().decide(k, strong, n, cups) == word


def _slow(n: int, kinds: int, replicates: int, rate: float, rule: Rule) -> dict[str, float]:
    """Count out by brute force over notes by assessor: chance of each word for any of `kinds`."""
    chance = dict.fromkeys(("hold", "recheck", "hint"), 0.0)
    each = [
        (c, math.comb(replicates, c) * rate**c * (1 - rate) ** (replicates - c))
        for c in range(replicates + 1)
    ]
    for cups in itertools.product(each, repeat=n):
        weight = math.prod(one[1] for one in cups)
        notes = [one[0] for one in cups]
        noting = sum(count > 0 for count in notes)
        # every false note taken as strong: the most that the rule can hold back
        word = rule.decide(noting, noting, n, sum(notes))
        order = ["hint", "recheck", "hold"]
        for milder in order[: order.index(word) + 1] if word in order else []:
            chance[milder] += weight
    return {word: 1 - (1 - p) ** kinds for word, p in chance.items()}


@pytest.mark.parametrize(
    ("n", "bottles", "kinds", "replicates", "rate"),
    [(5, 4, 15, 1, 0.01), (4, 3, 15, 2, 0.01), (3, 3, 10, 2, 0.004), (6, 2, 3, 1, 0.05)],
)
def test_false_flags_by_enumeration(n, bottles, kinds, replicates, rate):
    known = replace(false_notes(), rate=rate)
    found = fault_errors(n, bottles, kinds, replicates=replicates, false=known)
    slow = _slow(n, bottles * kinds, replicates, rate, found.rule)
    own = found.table.set_index("decision")["any_flagged"]
    assert own.to_dict() == pytest.approx(slow, rel=1e-9)
    assert own["recheck"] <= 0.2
    fewer = found.rule.recheck_from - 1
    if fewer >= 2:  # one note less would flag more than the rule allows
        less = fault_errors(
            n, bottles, kinds, replicates=replicates, false=known, rule=Rule(recheck_from=fewer)
        )
        assert less.table.set_index("decision").loc["recheck", "any_flagged"] > 0.2


def test_a_single_note_flags_most_sessions_and_two_do_not():
    """False notes in 0.4 to 1 % of cups and faults, 8 assessors, 4 bottles, 15 faults."""
    for rate in (0.004, 0.01):
        known = replace(false_notes(), rate=rate)
        own = fault_errors(8, 4, 15, false=known).table.set_index("decision")
        assert own.loc["hint", "any_flagged"] > 0.85
        assert own.loc["recheck", "any_flagged"] < 0.16
        assert own.loc["hold", "any_flagged"] < 0.005


def test_misses_against_scipy():
    found = fault_errors(8, 4, 15, replicates=2)
    row = found.missed.set_index("share").loc[0.3]
    notes = found.rule.recheck_from
    assert row["hint"] == pytest.approx(0.7**16)
    assert row["recheck"] == pytest.approx(binom.cdf(notes - 1, 16, 0.3), rel=0.2)
    assert row["hold"] == pytest.approx(binom.cdf(3, 8, 1 - 0.7**2))


def test_rate_of_false_notes_from_clean_controls_and_earlier_sessions():
    marks = {
        **MARKS,
        ("clean", "stale"): [1, 0, 0, 0, 0, 0, 0, 0],
        ("clean", "musty"): [0] * 8,
    }
    found = faults(table(marks), controls=Controls(clean=["clean"]), earlier=(2, 184)).errors.false
    assert (found.k, found.n) == (3, 200)
    exact = binomtest(3, 200).proportion_ci(method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-9)
    assert found.rate == pytest.approx(4 / 300)  # the default's 1 of 100 added
    assert faults(table(MARKS)).errors.false.rate == 0.01
    assert "clean controls" in str(faults(table(MARKS)).errors)
    with pytest.raises(OptionError, match="5 of 4"):
        false_notes(5, 4)


def test_the_panel_of_many_false_notes_needs_more_of_them():
    careful = fault_errors(10, 4, 15, false=false_notes(1, 1000)).rule.recheck_from
    loose = fault_errors(10, 4, 15, false=false_notes(50, 1000)).rule.recheck_from
    assert (careful, loose) == (2, 4)


def test_faults_written_in_free_words_count_and_are_marked():
    written = pd.DataFrame(
        {
            "assessor": ["T2", "T1", "T1", "T7"],
            "sample": ["B", "B", "C", "A"],
            "fault": ["stale", "stale", "smoky", "stale"],
        }
    )
    found = faults(table(MARKS), written=written)
    rows = found.table.set_index(["sample", "fault"])
    # B: T2 had marked it as well, T1 only wrote it; A: four marked it, T7 wrote it.
    assert rows.loc[("B", "stale"), ["k", "n", "written"]].tolist() == [2, 8, 1]
    assert rows.loc[("A", "stale"), ["k", "n", "written"]].tolist() == [5, 8, 1]
    # C: a fault that the card does not ask for, of the eight who answered on faults.
    assert rows.loc[("C", "smoky"), ["k", "n", "written"]].tolist() == [1, 8, 1]
    assert rows.loc[("A", "smoky"), ["k", "n", "written"]].tolist() == [0, 8, 0]
    assert pd.isna(rows.loc[("C", "smoky"), "severity"])
    assert rows.loc[("B", "stale"), "decision"] == "recheck"
    said = str(found)
    assert "1 of them in their own words only" in said
    assert "smoky by 1 of 8" in said
    assert found.decisions.set_index("sample").loc["C", "decision"] == "hint"


def test_the_rule_can_be_changed_and_is_said():
    strict = Rule(recheck_from=1, fewest=3)
    found = faults(table(MARKS), rule=strict)
    assert found.decisions.set_index("sample").loc["B", "decision"] == "recheck"
    said = str(found)
    assert "common practice, no source" in said
    assert "taste again from 1 note of" in said
    assert "fewer than 3 assessors" in said
    with pytest.raises(OptionError, match="hold_share"):
        Rule(hold_share=0)


@given(st.integers(1, 30), st.data())
@settings(max_examples=80, deadline=None)
def test_one_more_who_noted_it_never_makes_the_word_milder(n, data):
    k = data.draw(st.integers(0, n - 1))
    strong = data.draw(st.integers(0, k))
    order = ("pass", "open", "hint", "recheck", "hold")
    before = order.index(Rule().decide(k, strong, n))
    assert order.index(Rule().decide(k + 1, strong, n)) >= before
    assert order.index(Rule().decide(k + 1, strong + 1, n)) >= before


def test_the_worst_replicate_counts_once():
    twice = pd.concat([table(MARKS), table({("B", "stale"): [2] + [0] * 7}, replicate=2)])
    row = faults(twice).table.set_index(["sample", "fault"]).loc["B", "stale"]
    assert (row["k"], row["n"]) == (2, 8)


def test_roles_are_told_apart():
    roles = {f"T{i}": "trained" if i < 4 else "student" for i in range(8)}
    found = faults(table(MARKS), roles=roles).by_role
    own = found[(found["sample"] == "A")].set_index("role")
    assert own["k"].to_dict() == {"trained": 3, "student": 1}


def test_controls_by_hand():
    marks = {
        **MARKS,
        ("spiked", "stale"): [1, 1, 1, 0, 0, 0, 0, 0],
        ("spiked", "musty"): [0] * 8,
        ("clean", "stale"): [1, 0, 0, 0, 0, 0, 0, 0],
        ("clean", "musty"): [0] * 8,
    }
    known = Controls(spiked={"spiked": "stale"}, clean=["clean"])
    found = faults(table(marks), controls=known)
    assert set(found.table["sample"]) == {"A", "B", "C"}
    kinds = found.controls.set_index("kind")
    assert (kinds.loc["spiked", "k"], kinds.loc["clean", "k"]) == (3, 1)
    assert "says little" in str(found.warnings[0])
    pair = found.against_clean.set_index("sample").loc["A"]
    # In A only: assessors 1, 2, 3, 5; in the clean control only: assessor 0.
    assert (pair["only_sample"], pair["only_control"]) == (4, 1)
    assert pair["p"] == pytest.approx(binomtest(1, 5).pvalue)


def test_severity_is_that_of_the_ordinal_model():
    """The same numbers as the model gives by itself (held against R in its own tests)."""
    marks = {
        ("A", "stale"): [3, 2, 3, 2, 3, 1, 2, 3],
        ("B", "stale"): [1, 0, 2, 1, 0, 0, 1, 1],
        ("C", "stale"): [0, 0, 1, 0, 1, 0, 0, 1],
        ("A", "musty"): [0] * 8,
        ("B", "musty"): [1] + [0] * 7,
        ("C", "musty"): [0] * 8,
    }
    found = faults(table(marks))
    row = found.severity.set_index("fault").loc["stale"]
    assert list(found.severity["fault"]) == ["stale"]  # one assessor is too few for musty
    own = table({key: value for key, value in marks.items() if key[1] == "stale"})
    model = ordinal(own, "stale", shuffles=1999)
    assert row["p"] == pytest.approx(model.tests["p"].iloc[0])
    assert (row["worst"], row["p_shuffled"] < 0.01) == ("A", True)
    assert row["low"] <= row["difference"] <= row["high"]
    assert "ordinal model" in str(found)


def test_never_a_clearance_of_safety():
    assert "never a clearance of safety" in str(faults(table(MARKS)))


def test_refusals():
    with pytest.raises(OptionError, match="severity of -1"):
        faults(table({("A", "stale"): [-1, 0]}))
    with pytest.raises(OptionError, match="no attribute 'mouldy'"):
        faults(table(MARKS), attributes=["mouldy"])
    with pytest.raises(OptionError, match="no sample 'Z'"):
        faults(table(MARKS), controls=Controls(clean=["Z"]))
    with pytest.raises(NotEstimable):
        faults(table(MARKS), attributes=[])


def test_to_dict_is_json():
    said = json.loads(json.dumps(faults(table(MARKS)).to_dict(), allow_nan=False))
    assert said["decisions"][0] == {"sample": "A", "decision": "hold", "faults": "stale"}
    assert said["table"][1]["severity"] is None
