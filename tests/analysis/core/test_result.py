"""Results hold sentences, not text: also in tables, until somebody reads them."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from english_left import english_left
from kikichoko.analysis.chemistry import chemistry
from kikichoko.analysis.core.p_values import holds
from kikichoko.analysis.core.result import plain, spoken
from kikichoko.analysis.core.wording import add_up, percent, stated_percent
from kikichoko.analysis.core.words import Sentence
from kikichoko.analysis.difference import (
    a_not_a,
    choices,
    difference,
    paired,
    replicated,
    similarity,
)
from kikichoko.analysis.power import agreement_size, assessors_for, fault_size


def test_a_table_follows_its_reader():
    held = pd.DataFrame({"who": [Sentence.of("common.assessors", n=1), "A01"], "n": [1.5, 2.0]})
    assert list(spoken(held, "en")["who"]) == ["1 assessor", "A01"]
    assert list(spoken(held, "ja")["who"]) == ["評価者1名", "A01"]
    assert list(spoken(held, "ja")["n"]) == [1.5, 2.0]
    assert plain(held)[0] == {"who": "1 assessor", "n": 1.5}
    assert plain(held, "ja")[0] == {"who": "評価者1名", "n": 1.5}


def test_a_results_values_follow_its_reader():
    result = difference("triangle", 20, 30)
    english, japanese = result.to_dict(), result.to_dict("ja")
    assert english["sentences"] == [str(line) for line in result.sentences()]
    assert japanese["sentences"] == [line.to("ja") for line in result.sentences()]


def test_the_sample_that_nobody_chose_waits_for_its_reader():
    table = pd.DataFrame({"assessor": ["A01", "A02", "A03"], "chosen": ["early"] * 3})
    found = choices(table, assessor="assessor", answer="chosen")
    assert found.names == ("early", Sentence.of("answer_table.other"))
    result = paired(found.first, found.second, found.ties, names=found.names)
    assert plain(result)["names"] == ["early", "the other"]
    assert "the other" in str(result.sentences()[0])


@pytest.mark.parametrize(
    "result",
    [
        pytest.param(lambda: chemistry(abv=15, meter_value=2, acidity=1.4), id="chemistry"),
        pytest.param(lambda: paired(6, 3, 1), id="paired"),
    ],
)
def test_no_english_is_frozen_in_a_table(result):
    cells = [cell for table in result().tables().values() for cell in table.to_numpy().ravel()]
    assert any(isinstance(cell, Sentence) for cell in cells)
    assert result().text("en")


@pytest.mark.parametrize(
    ("share", "said"),
    # Both sides of each threshold; a true 0 or 100 is the only one that is said.
    [
        (0.0, "0 %"),
        (0.0004, "< 0.1 %"),
        (0.0006, "0.1 %"),
        (0.0094, "0.9 %"),
        (0.0096, "1 %"),
        (0.5, "50 %"),
        (0.9904, "99 %"),
        (0.9906, "99.1 %"),
        (0.9994, "99.9 %"),
        (0.9996, "> 99.9 %"),
        (1.0, "100 %"),
    ],
)
def test_a_percentage_is_never_rounded_to_0_or_100(share: float, said: str):
    assert percent(share) == said


def test_a_stated_level_is_not_rounded():
    assert [stated_percent(level) for level in (0.9, 0.95, 0.975, 0.999)] == [
        "90 %",
        "95 %",
        "97.5 %",
        "99.9 %",
    ]
    assert math.isclose(0.975, float(stated_percent(0.975).removesuffix(" %")) / 100)


def test_results_write_the_level_that_was_asked_for():
    results = [
        difference("triangle", 12, 20, level=0.975),
        similarity("triangle", 12, 60, pd=0.275, beta=0.025),
        paired(14, 6, 2, level=0.975),
        a_not_a(15, 20, 8, 20, level=0.975),
        replicated("triangle", [3, 4, 1, 2], [4, 4, 4, 4], level=0.975),
        agreement_size(6, 8, level=0.975),
        fault_size(8, level=0.975),
        assessors_for("triangle", alpha=0.05, beta=0.025, pd=0.275),
    ]
    for result in results:
        said = " ".join(map(str, result.sentences()))
        assert "97.5 %" in said
        assert "98 %" not in said
        assert "28 %" not in said


@pytest.mark.parametrize(
    ("p", "alpha", "held"),
    [
        (0.05, 0.05, True),
        (0.05, 1 - 0.95, True),
        (0.1, 1 - 0.9, True),  # 1 - 0.9 is a little less than 0.1
        (0.050001, 0.05, False),
        (0.0, 0.05, True),
        (math.nan, 0.05, False),
    ],
)
def test_a_p_value_holds_up_to_the_risk_itself(p: float, alpha: float, held: bool):
    assert holds(p, alpha) is held
    assert holds(pd.Series([p, 1.0]), alpha).tolist() == [held, False]
    assert holds(np.array([p, 1.0]), alpha).tolist() == [held, False]


def test_a_japanese_table_has_japanese_heads_and_codes_and_leaves_names_alone():
    table = pd.DataFrame(
        {
            "decision": ["hold", "", "of one's own"],
            "component": ["assessor:sample", "residual", "vat:session"],
            "sample": ["hold", "recheck", "open"],
            "holds": [True, False, True],
            "own": ["hold", "pass", "open"],
        }
    )
    shown = spoken(table, "ja")
    assert list(shown) == ["判断", "成分", "試料", "成り立つ", "own"]
    assert list(shown["判断"]) == ["出荷を止める", "", "of one's own"]
    assert list(shown["成分"]) == ["評価者×試料", "残差", "vat×会"]
    assert list(shown["試料"]) == ["hold", "recheck", "open"]
    assert list(shown["成り立つ"]) == ["はい", "いいえ", "はい"]
    pd.testing.assert_frame_equal(spoken(table, "en"), table)
    assert list(spoken(table.iloc[:0], "ja")) == list(shown)


def test_a_japanese_result_says_no_english_of_its_own():
    results = [
        difference("triangle", 13, 23),
        similarity("triangle", 21, 66, pd=0.3, beta=0.05),
        assessors_for("triangle", pd=0.3),
        agreement_size(6, 8),
        fault_size(8),
        chemistry(abv=15.5, meter_value=3, acidity=1.5),
    ]
    for result in results:
        assert english_left(str(result)) != []
        assert english_left(result.text("ja")) == []


@pytest.mark.parametrize(("share", "said"), [
    (0.125, "13 %"), (0.1249, "12 %"), (0.625, "63 %"), (0.0025, "0.3 %"), (0.00249, "0.2 %"),
    (0.0095, "1 %"), (0.00949, "0.9 %"), (0.9905, "99.1 %"), (0.99049, "99 %"),
    (0.145 + 1e-17, "15 %"), (0.57 * 0.5, "29 %"),
])  # fmt: skip
def test_a_half_of_a_percent_goes_away_from_zero(share: float, said: str):
    assert percent(share) == said


@pytest.mark.parametrize(("parts", "whole", "fits"), [
    ([1 / 8, 3 / 8, 1 / 2], 1, False),  # 13 + 38 + 50 = 101
    ([1 / 3, 1 / 3, 1 / 3], 1, False),  # 33 + 33 + 33 = 99
    ([0.25, 0.75], 1, True),
    ([0.604, 0.254], 0.858, False),  # 60 + 25 beside 86
    ([0.61, 0.25], 0.86, True),
])  # fmt: skip
def test_parts_that_do_not_add_up_as_written_are_noticed(
    parts: list[float], whole: float, fits: bool
):
    assert add_up(parts, whole) is fits
