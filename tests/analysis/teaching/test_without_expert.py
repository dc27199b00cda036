"""A class without an expert (tests/outside/classes/second.toml, M09), both sides of the limits."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.teaching import beside_the_table
from kikichoko.analysis.teaching.student_tests import WHOLE_CARD
from kikichoko.analysis.teaching.student_tests import Test as StudentTest
from kikichoko.analysis.teaching.without_expert import (
    FEW_CELLS,
    FEWEST,
    FOUND,
    BesideTable,
    Taster,
    _beyond,
    _named_beside,
)
from kikichoko.panel.cli import kikichoko

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def path(class_truth, tmp_path_factory) -> Path:
    data, maker = class_truth.recipes(class_truth.CLASSES / "second.toml")
    out = tmp_path_factory.mktemp("class") / "table.csv"
    class_truth.write_table(*maker.draw(data, "M09"), out)
    return out


@pytest.fixture(scope="module")
def found(path: Path) -> BesideTable:
    return beside_the_table(pd.read_csv(path))


def said(one) -> str:
    return " ".join(text.to("en") for text in one.sentences())


def test_each_is_set_beside_the_others_only(found: BesideTable):
    for one in found.students.values():
        assert "No expert tasted" in said(one)
        assert "the expert's" not in said(one)
    first = said(found.students["Q1"])
    assert "Your order of the bottles follows the others'" in first
    assert "The cups of one bottle that you filled in twice (72 pairs of marks) lie" in first
    assert "bitter: your order runs the other way from the others'" in said(found.students["Q5"])
    assert "only what you wrote can be shown back" in said(found.students["Q6"])
    assert len(found.students["Q6"].written) == found.students["Q6"].cells[0]
    assert "You marked no bottle twice" in said(found.students["Q7"])
    last = said(found.students["Q8"])
    assert "do not follow the bottles as the others' do" in last
    assert "order of the bottles follows" not in last
    teacher = said(found)
    assert "Q6 filled in 9 of 144 places" in teacher
    assert "Different from the rest of the panel: Q5, Q8" in teacher


def test_the_command_writes_a_page_for_each(path: Path, tmp_path: Path):
    out = tmp_path / "pages"
    ran = CliRunner().invoke(kikichoko, ["teach", str(path), "--out", str(out)])
    assert ran.exit_code == 0, ran.output
    assert len(list(out.glob("feedback-*.pdf"))) == 8


def test_it_takes_four_tasters(path: Path):
    table = pd.read_csv(path)
    people = sorted(table["assessor"].unique())[:FEWEST]
    assert set(beside_the_table(table, people).students) == set(people)
    with pytest.raises(NotEstimable, match="takes 4 tasters or more"):
        beside_the_table(table, people[:-1])


@pytest.mark.parametrize(("given", "few"), [(29, True), (30, False)])
def test_below_a_third_of_the_places_is_few(given: int, few: bool):
    assert FEW_CELLS == 1 / 3
    one = Taster(
        student="S1", sessions=["1"], cells=(given, 90), written=pd.DataFrame(), pairs=0,
        apart=None, follows=[], alike=[], whole_alike=False,
        findings=pd.DataFrame({"finding": [], "attribute": []}),
    )  # fmt: skip
    assert one.few is few


def drawn(people: int, *, apart: float = 1.5, **odd: tuple[float, float]) -> pd.DataFrame:
    """Draw six bottles, two cups, three attributes; `odd` gives a person's slope and noise."""
    rng = np.random.default_rng(20261126)
    truth = dict(zip("abcdef", apart * np.array([-1.5, 1.0, -0.5, 0.0, 1.5, -0.5]), strict=True))
    return pd.DataFrame(
        [
            (f"T{who}", bottle, cup, attribute, 5 + slope * value + rng.normal(0, noise))
            for who in range(1, people + 1)
            for attribute in ("sweet", "sour", "body")
            for slope, noise in (
                odd.get(f"T{who}", (1.0, 0.4)) if attribute == "sour" else (1.0, 0.4),
            )
            for bottle, value in truth.items()
            for cup in (1, 2)
        ],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )


def test_of_bottles_that_are_alike_no_order_is_told():
    found = beside_the_table(drawn(5, apart=0.0))
    for one in found.students.values():
        assert one.whole_alike
        assert one.follows == []
        assert one.findings.empty
        assert "so alike that all of you together do not tell them apart" in said(one)


@pytest.mark.parametrize(("slope", "leans"), [(0.0, True), (0.5, False)])
def test_who_leans_the_other_way_without_being_shown_to_is_not_told_that_all_is_well(slope, leans):
    """T1 is so noisy there that nothing of T1's order is shown either way."""
    found = beside_the_table(drawn(6, T1=(slope, 2.0)))
    one = found.students["T1"]
    assert one.findings.empty
    assert (one.leaning == ["sour"]) is leans
    assert all(found.students[f"T{n}"].leaning == [] for n in range(2, 7))
    assert ("on sour your few marks lean the other way from the others'" in said(one)) is leans
    assert ("nothing needs repair" in said(one)) is not leans


def test_one_of_four_who_goes_the_other_way_is_told_so_and_nobody_else_is():
    found = beside_the_table(drawn(4, T1=(-1.0, 0.3)))
    assert "sour: your order runs the other way from the others'" in said(found.students["T1"])
    for who in ("T2", "T3", "T4"):
        assert found.students[who].findings.empty
        assert found.students[who].follows == ["sweet", "sour", "body"]
        assert found.students[who].alike == []


@pytest.mark.parametrize(("noise", "told"), [(0.9, False), (2.5, True)])
def test_cups_that_differ_within_a_margin_are_a_hint_for_the_teacher_alone(
    noise: float, *, told: bool
):
    assert FOUND == 0.5
    found = beside_the_table(drawn(8, T3=(1.0, noise)))
    assert ("cups of one bottle often differ" in said(found.students["T3"])) is told
    assert "T3" in said(found)
    assert ("Different from the rest of the panel: T3" in said(found)) is told


@pytest.mark.parametrize(
    ("found", "slope", "named", "told"),
    [
        ("guessing", -0.9, "reversed", True),  # limits of 99 % below 0 (t with 20 df: 2.845)
        ("guessing", -0.5, "guessing", True),
        ("narrow", 0.35, "guessing", True),  # limits of 95 % hold 0 (2.086)
        ("narrow", 0.45, "narrow", False),  # those of 99 % do: a hint
        ("narrow", 0.6, "narrow", True),
    ],
)
def test_a_slope_has_its_name_beside_the_others_for_certain(
    found: str, slope: float, named: str, *, told: bool
):
    low, high = slope - 2.845 * 0.2, slope + 2.845 * 0.2
    mine = {
        aspect: StudentTest(aspect, WHOLE_CARD, p, slope, low, high, 0.2, 20)
        for aspect, p in (("direction", 0.001 if slope < -0.5 else 0.06), ("width", 0.001))
    }
    row = {"assessor": "T1", "attribute": "whole card", "finding": found, "value": slope,
           "low": low, "high": high}  # fmt: skip
    tests = {"T1": {WHOLE_CARD: mine, 0: mine}}
    called = _named_beside(row, tests, ["sweet"])
    assert called["finding"] == named
    assert _beyond(called, tests, ["sweet"], 0.05) is told
