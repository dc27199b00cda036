"""The plane: names cover neither marks nor each other, and lines say what they are."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.chemistry import taste_indices as indices
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.link.chemistry_figure import draw_plane, draw_slopes
from matplotlib.backends.backend_agg import FigureCanvasAgg


@pytest.fixture
def bottles():
    rng = np.random.default_rng(2)
    return pd.DataFrame(
        {
            "sample": [f"tank {k} clear" for k in range(14)],
            "meter_value": rng.uniform(-5, 8, 14),
            "acidity": rng.uniform(1.1, 2.0, 14),
            "tank": [k % 4 for k in range(14)],
        }
    )


def test_names_do_not_overlap(bottles):
    figure = draw_plane(bottles, group="tank", language="en")
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    axes = figure.axes[0]
    names = [text for text in axes.texts if text.get_text().startswith("tank")]
    assert len(names) >= 10
    boxes = [text.get_window_extent(canvas.get_renderer()) for text in names]
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    points = axes.transData.transform(bottles[["meter_value", "acidity"]].to_numpy())
    assert not any(box.contains(*point) for box in boxes for point in points)


def test_published_lines_lie_where_the_index_says(bottles):
    figure = draw_plane(bottles, language="en")
    lines = figure.axes[0].collections
    contour = next(one for one in lines if hasattr(one, "levels"))
    for level, path in zip(contour.levels, contour.get_paths(), strict=True):
        if len(path.vertices):
            meter, acid = path.vertices.T
            assert indices.amakarado(meter, acid) == pytest.approx(level, abs=2e-3)


def test_missing_numbers_are_refused(bottles):
    with pytest.raises(OptionError, match="acidity"):
        draw_plane(bottles.drop(columns="acidity"), language="en")
    with pytest.raises(OptionError):
        draw_plane(bottles.assign(acidity=np.nan), language="en")


def test_slopes_figure_has_a_row_a_slope():
    table = pd.DataFrame(
        {
            "attribute": ["sweetness", "body"],
            "predictor": ["acidity", "meter_value"],
            "slope": [-2.0, 0.1],
            "low": [-3.0, -0.1],
            "high": [-1.0, 0.3],
            "holds": [True, False],
        }
    )
    axes = draw_slopes(table, language="en").axes[0]
    labels = [label.get_text() for label in axes.get_yticklabels()]
    assert labels == ["sweetness per 0.1 mL of acidity", "body per 1 of meter value"]
