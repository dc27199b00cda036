"""`.plot(ax=…)` draws into the reader's axes, in the reader's theme, and returns them."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
import seaborn as sns
from kikichoko.analysis.agreement import agreement
from kikichoko.analysis.anova import anova, residual_checks
from kikichoko.analysis.citations import descriptors
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.maps import profile_map
from kikichoko.analysis.memory import remember
from kikichoko.analysis.performance import assessor_charts, assessors, history
from kikichoko.analysis.ranking import rank_test
from matplotlib import pyplot as plt
from matplotlib.figure import Figure

TABLES = Path(__file__).parents[3] / "demo_sessions" / "examples"


@pytest.fixture(scope="module")
def scores() -> pd.DataFrame:
    return pd.read_csv(TABLES / "scores.csv")


@pytest.fixture(scope="module")
def found(scores: pd.DataFrame):
    return anova(scores)


def test_the_axes_given_are_drawn_into_and_handed_back(found, scores):
    left, right = Figure().subplots(1, 2)
    assert found.plot(right, "sweetness", table=scores) is right
    assert next(text.get_text() for text in right.get_yticklabels()) == "cloudy heated"
    assert right.get_title() == "sweetness"
    assert not left.lines
    assert found["body"].plot(left) is left
    assert len(left.get_yticklabels()) == 6


def test_the_readers_theme_holds():
    ranks = rank_test(pd.read_csv(TABLES / "ranks.csv"))
    with mpl.rc_context():
        sns.set_theme(context="poster", style="darkgrid", font="DejaVu Serif")
        size, face = mpl.rcParams["axes.labelsize"], Figure().subplots().get_facecolor()
        ax = ranks.plot(Figure().subplots())
        assert ax.xaxis.label.get_size() == size
        assert ax.xaxis.label.get_fontname() == "DejaVu Serif"
        assert ax.get_facecolor() == face
        own = ranks.figure().axes[0]
        assert own.xaxis.label.get_size() == 8
        assert own.get_facecolor() != face


def test_without_axes_the_current_ones_are_taken(scores):
    _, ax = plt.subplots()
    try:
        assert agreement(scores).plot() is ax
        assert ax.texts
    finally:
        plt.close("all")


def test_a_map_is_drawn_without_its_arrows_and_several_attributes_are_asked_about(found, scores):
    ax = Figure().subplots()
    assert profile_map(scores).plot(ax) is ax
    assert ax.get_xlabel().startswith("Dimension 1")
    assert len(ax.get_figure().axes) == 1
    with pytest.raises(OptionError, match="sweetness"):
        found.plot(ax)


def test_results_of_many_fields_draw_the_one_that_is_named(scores):
    checks = residual_checks(scores)
    left, right = Figure().subplots(1, 2)
    assert checks.plot(left, "body") is left
    assert checks.plot(right, "body", normal=True) is right
    own = checks.cells[checks.cells["attribute"] == "body"]
    for ax, across in ((left, "expected"), (right, None)):
        drawn = sum(len(points.get_offsets()) for points in ax.collections)
        assert drawn == len(own)
        assert ax.get_title() == "body"
        if across:
            places = [place for points in ax.collections for place, _ in points.get_offsets()]
            assert sorted(places) == pytest.approx(sorted(own[across]))
    with pytest.raises(OptionError, match=r'Name one: plot\(attribute="…"\)'):
        checks.plot(left)
    with pytest.raises(OptionError, match="nothing to draw of 'bodey'"):
        checks.plot(left, "bodey")


def test_the_lines_of_assessors_are_drawn_for_one_attribute(scores):
    people = assessors(scores)
    ax = people.plot(scores, Figure().subplots(), "sweetness")
    assert len(ax.lines) == scores["assessor"].nunique() + 1
    assert len(ax.get_xticklabels()) == scores["sample"].nunique()
    assert ax.get_title() == "sweetness"


def test_a_wheel_is_drawn_into_the_axes():
    words = descriptors(pd.read_csv(TABLES / "words.csv"))
    tree = pd.DataFrame({"attribute": words.citations.attributes, "group": "all", "family": "all"})
    tree = tree.assign(label=tree["attribute"])
    ax = words.plot(tree, Figure(figsize=(8, 8)).subplots())
    texts = {text.get_text() for text in ax.texts}
    assert len(ax.get_figure().axes) == 1
    assert texts & set(words.citations.attributes)


def test_charts_over_sessions_and_the_memory_draw_one_field():
    rng = np.random.default_rng(2)
    names = pd.MultiIndex.from_product(
        [[f"2026-0{k}" for k in range(1, 6)], list("ABCD"), list("xyz"), [1, 2], ["sweet", "dry"]],
        names=["session", "assessor", "sample", "replicate", "attribute"],
    )
    table = names.to_frame(index=False).assign(score=rng.normal(50, 8, len(names)))
    charts = assessor_charts(table)
    ax = charts.plot(Figure().subplots(), "B")
    assert len(ax.lines[0].get_xdata()) == 5
    assert "B" in ax.get_title()
    with pytest.raises(OptionError, match="measure"):
        charts.plot(ax, "B", measure="speed")
    sessions = pd.DataFrame(
        {"session": names.levels[0], "date": pd.date_range("2026-01-10", periods=5, freq="30D")}
    )
    bottles = pd.DataFrame({"sample": list("xyz"), "batch": list("123")})
    panel = history(table, sessions, bottles, reference="x")
    ax = panel.plot(Figure().subplots(), "dry")
    assert ax.get_title().startswith("dry")
    assert ax.get_legend() is not None
    house = remember(table.assign(score=table["score"] / 100))
    left, right = Figure().subplots(1, 2)
    assert house.plot(left) is left
    assert [text.get_text() for text in left.get_yticklabels()] == list(house.house["attribute"])
    assert [text.get_text() for text in house.plot(right, "widths").get_yticklabels()] == list(
        house.widths["assessor"]
    )


def test_html_has_every_sentence_and_the_first_table_open(found):
    html = found._repr_html_()
    assert html.count("<details") == len(found.tables()) == html.count("<table")
    assert html.count("<details open>") == 1
    assert "(F(3, 21) = 32.6, p &lt; 0.001)" in html


def test_html_speaks_the_language_that_is_asked_for(found, monkeypatch):
    monkeypatch.setenv("KIKICHOKO_LANGUAGE", "ja")
    assert "試料に差がある" in found._repr_html_()
    assert "<th>自由度</th>" in found._repr_html_().replace("分母の", "").replace("分子の", "")
    monkeypatch.setenv("KIKICHOKO_LANGUAGE", "xx")
    assert "The samples differ" in found._repr_html_()


def test_an_argument_that_there_is_not_is_told_in_words(scores):
    with pytest.raises(OptionError, match=r"no argument subject.*assessor, sample"):
        anova(scores, subject="assessor")
