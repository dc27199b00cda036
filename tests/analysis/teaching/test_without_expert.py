"""A class without an expert (tests/outside/classes/second.toml, M09), both sides of the limits."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.teaching import beside_the_table
from kikichoko.analysis.teaching.without_expert import FEW_CELLS, FEWEST, BesideTable, Taster
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
    assert "You had one cup of each bottle" in said(found.students["Q7"])
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
        apart=None, follows=[], findings=pd.DataFrame({"finding": [], "attribute": []}),
    )  # fmt: skip
    assert one.few is few
