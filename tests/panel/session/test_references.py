"""Reference solutions: every row whole, marked, and tied to the scorecard."""

from __future__ import annotations

import json

import pytest
from kikichoko.forms.questions import default_scorecard
from kikichoko.panel.base.words import say
from kikichoko.panel.cli import main
from kikichoko.panel.session.reference_solutions import MARKS, serving, shelf, solutions


def test_every_row_is_whole_and_marked():
    keys = [one.key for one in solutions()]
    assert len(keys) == len(set(keys))
    for one in solutions():
        assert one.mark in MARKS, one.key
        assert one.source, one.key
        assert one.amount > 0, one.key
        assert one.kind in ("taste", "mouthfeel", "aroma", "off-flavour"), one.key
        assert one.base in ("water", "sake"), one.key
        assert say(f"references.handling_{one.handling}", names="x")


def test_every_row_trains_something_on_the_scorecard():
    known = {name for question in default_scorecard() for name in question.attributes}
    for one in solutions():
        assert set(one.serves) <= known, (one.key, set(one.serves) - known)


def test_faults_that_can_be_spiked_have_a_solution():
    assert [one.key for one in serving("fault:buttery")] == ["diacetyl"]
    assert [one.key for one in serving("fault:musty")] == ["tca"]


def test_spikes_lie_above_the_thresholds_of_the_facts():
    # Thresholds in sake, or in beer where none is known, from memory; TCA read in a glossary.
    thresholds = {
        "diacetyl": 0.1, "acetic": 0.175, "ethyl_acetate": 40, "acetaldehyde": 35, "caproic": 8,
        "dmts": 0.18, "isovaleraldehyde": 0.12, "tca": 0.75,
    }  # fmt: skip
    amounts = {one.key: one.amount for one in solutions()}
    for key, threshold in thresholds.items():
        assert 2 <= amounts[key] / threshold <= 4.5, key


def test_lactic_acid_by_the_definition_of_titratable_acidity():
    # 1 mL of 0.1 mol/L alkali neutralises 0.1 mmol in 10 mL of sake: 10 mmol/L, one proton
    # a lactic acid of 90.08 g/mol; half a mL is 0.45 g/L.
    amount = next(one.amount for one in solutions() if one.key == "sour_sake")
    assert amount == pytest.approx(0.5 * 10e-3 * 90.08, abs=0.002)


def test_amounts_for_a_volume():
    table = shelf("acidity", 0.5).tables()["references.heading"].set_index("key")
    assert table.loc["sour", "for 0.5 L"] == "0.6 g"


def test_command(capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as stop:
        main(["references", "--for", "fault:buttery"])
    assert not stop.value.code
    out = capsys.readouterr().out
    assert "harms the lungs" in out
    assert "from memory" in out
    with pytest.raises(SystemExit):
        main(["references", "--json"])
    assert len(json.loads(capsys.readouterr().out)["chosen"]) == len(solutions())
    with pytest.raises(SystemExit) as stop:
        main(["references", "--for", "joy"])
    assert stop.value.code == 1
