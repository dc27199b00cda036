"""The field of measures can be read on every shade, by the law of contrast that browsers use."""

from __future__ import annotations

import numpy as np
import pandas as pd
from kikichoko.analysis.agreement.agreement_figure import draw_agreement
from matplotlib.colors import to_rgb


def light(colour) -> float:
    """Return the relative luminance of a colour (sRGB, IEC 61966-2-1)."""
    parts = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in colour]
    return float(np.dot(parts, [0.2126, 0.7152, 0.0722]))


def test_every_number_stands_out_from_its_shade_and_gaps_stay_empty():
    """At least 4.5 to 1: Web Content Accessibility Guidelines 2.2, criterion 1.4.3."""
    rows = [(f"a{n}", "W", n / 20, -0.004, 0.9) for n in range(21)]
    rows.append(("a3", "ICC(C,1)", 0.5, 0.1, 0.8))
    columns = ["attribute", "measure", "estimate", "low", "high"]
    axes = draw_agreement(pd.DataFrame(rows, columns=columns), level=0.95, language="en").axes[0]
    shades = np.asarray(axes.collections[-1].get_facecolor())[:, :3].reshape(21, 2, 3)
    written = [number for number in axes.texts if number.get_text()]
    assert len(written) == 22
    for number in written:
        column, row = (int(place) for place in number.get_position())
        both = sorted([light(to_rgb(number.get_color())), light(shades[row, column])])
        assert (both[1] + 0.05) / (both[0] + 0.05) >= 4.5, number.get_text()
        assert "−0.00" not in number.get_text()
