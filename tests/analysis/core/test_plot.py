"""`.plot(ax=…)` draws into the reader's axes, in the reader's theme, and returns them."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import pandas as pd
import pytest
import seaborn as sns
from kikichoko.analysis.agreement import agreement
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.maps import profile_map
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


def test_html_has_every_sentence_and_the_first_table_open(found):
    html = found._repr_html_()
    assert html.count("<details") == len(found.tables()) == html.count("<table")
    assert html.count("<details open>") == 1
    assert "(F(3, 21) = 32.6, p &lt; 0.001)" in html
