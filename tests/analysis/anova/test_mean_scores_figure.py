"""Figures of means and differences: what is drawn is what the result says."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.whole_table import Anova
from kikichoko.analysis.core import OptionError, Tidy, tidy
from matplotlib.backends.backend_agg import FigureCanvasAgg


@pytest.fixture(scope="module")
def scores() -> Tidy:
    rng = np.random.default_rng(4)
    i, j = (part.ravel() for part in np.indices((8, 3)))
    names = np.array(["free-run", "clear, pasteurised", "cloudy"])
    table = pd.DataFrame({"assessor": [f"T{n}" for n in i], "sample": names[j]})
    for attribute, shift in (("sweetness", 2.0), ("acidity", 0.0), ("body", 1.0), ("umami", 0.5)):
        level = rng.normal(size=8)[i]
        table[attribute] = 5 + shift * (j == 2) + level + 0.9 * rng.normal(size=24)
    return tidy(table, scores=["sweetness", "acidity", "body", "umami"])


@pytest.fixture(scope="module")
def found(scores: Tidy) -> Anova:
    return anova(scores)


def test_means_and_limits_are_those_of_the_result(found: Anova, scores: Tidy):
    figure = found.figure(scores)
    fields = [axes for axes in figure.axes if axes.get_title(loc="left")]
    assert [axes.get_title(loc="left") for axes in fields] == list(found.attributes)
    for axes, one in zip(fields, found.attributes.values(), strict=True):
        means = one.means.sort_values("mean", ascending=False)
        assert [text.get_text() for text in axes.get_yticklabels()] == means["sample"].to_list()
        diamonds = [line.get_xdata()[0] for line in axes.lines if line.get_marker() == "D"]
        assert diamonds == pytest.approx(means["mean"].to_list())
        thick = [tuple(line.get_xdata()) for line in axes.lines if line.get_linewidth() > 2]
        limits = list(means[["low", "high"]].itertuples(index=False, name=None))
        assert np.array(thick) == pytest.approx(np.array(limits))
        assert sum(len(dots.get_offsets()) for dots in axes.collections) == 24


def test_filled_marks_stand_clear_of_zero(found: Anova):
    for reference in (None, "free-run"):
        figure = found["sweetness"].figure(reference)
        pairs = found["sweetness"].differences
        if reference:
            pairs = found["sweetness"].against(reference)
        marks = [line for line in figure.axes[0].lines if line.get_marker() == "o"]
        filled = [line.get_markerfacecolor() != "white" for line in marks]
        assert filled == ((pairs["low"] > 0) | (pairs["high"] < 0)).to_list()
        assert any(filled)


@pytest.mark.parametrize("columns", [1, 3])
def test_nothing_is_cut_off(found: Anova, columns: int):
    figures = [found.figure(columns=columns), found["body"].figure()]
    for figure in figures:
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        whole = figure.bbox
        texts = [figure._supxlabel]
        for axes in figure.axes:
            texts += [*axes.texts, *axes.get_yticklabels(), axes.title, axes._left_title]
        assert sum(bool(text.get_text()) for text in texts) > 4
        for text in texts:
            if text.get_text():
                box = text.get_window_extent(canvas.get_renderer())
                assert box.x0 >= -1, text.get_text()
                assert box.x1 <= whole.x1 + 1, text.get_text()


def test_unknown_attribute(found: Anova):
    with pytest.raises(OptionError, match="no attribute 'haze'"):
        found.figure(attributes=["haze"])
