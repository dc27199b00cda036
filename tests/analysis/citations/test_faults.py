"""Faults: counts with exact limits, controls, and a rule that is stated."""

from __future__ import annotations

import json

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import Controls, Rule, faults
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.ordinal import ordinal
from scipy.stats import binomtest


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
    assert f"{upper:.0%}" in str(found.sentences()[0])


def test_the_rule_decides():
    found = faults(table(MARKS)).decisions.set_index("sample")
    assert found["decision"].to_dict() == {"A": "hold", "B": "recheck", "C": "pass"}
    assert found.loc["A", "faults"] == "stale"


def test_a_small_panel_never_passes_a_bottle():
    found = faults(table({("A", "stale"): [0, 0, 0]}))
    assert found.decisions["decision"].item() == "recheck"


def test_the_rule_can_be_changed_and_is_said():
    strict = Rule(recheck_from=2, fewest=3)
    found = faults(table(MARKS), rule=strict)
    assert found.decisions.set_index("sample").loc["B", "decision"] == "pass"
    said = str(found.sentences()[-2])
    assert "common practice, no source" in said
    assert "2 assessors" in said
    with pytest.raises(OptionError, match="hold_share"):
        Rule(hold_share=0)


@given(st.integers(1, 30), st.data())
@settings(max_examples=80, deadline=None)
def test_one_more_who_noted_it_never_makes_the_word_milder(n, data):
    k = data.draw(st.integers(0, n - 1))
    strong = data.draw(st.integers(0, k))
    order = ("pass", "recheck", "hold")
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
