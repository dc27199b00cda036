"""The columns of a batch book, and what may stand in them."""

from __future__ import annotations

from ...analysis.core.words import Sentence
from ...analysis.link.brewing_factors import KNOWN, factor_name
from ..base.words import sentence
from ..session.bottles import POSSIBLE, USUAL

PLACE = ("year", "tank", "lot", "day")
"""What says of which tank, bottling and day a row is; `date` stands for a day without number."""
BREWED = (
    "rice", "polishing", "koji", "koji_share", "yeast", "starter", "mash_days", "mash_max_c",
    "additions", "added_alcohol", "press", "pressed_on",
)  # fmt: skip
"""How a tank was brewed, up to the press."""
BOTTLED = (
    "fraction", "pasteurised", "bottled_on", "available", "volume_ml", "storage", "price",
    "designation",
)  # fmt: skip
"""What became of it: a row with one of these and a lot is a bottling."""
MEASURED = ("temperature_c", "baume", "meter_value", "abv", "acidity", "amino_acidity", "glucose")
"""What is measured, on a day of the mash or at the end."""
COLUMNS = (*PLACE, "date", *BREWED, *BOTTLED, *MEASURED)
DATES = ("date", "pressed_on", "bottled_on")
DEGREES = ("temperature_c", "mash_max_c")
LIMITS = POSSIBLE | {
    "koji_share": (0.0, 100.0),
    "mash_days": (1.0, 200.0),
    "mash_max_c": (-5.0, 60.0),
    "temperature_c": (-5.0, 75.0),
    "baume": (-10.0, 30.0),
    "added_alcohol": (0.0, 100.0),
    "available": (0.0, 1_000_000.0),
    "volume_ml": (10.0, 100_000.0),
}
"""Numbers outside these cannot be right in the unit that is asked for: they are not taken.

What is not in `session.bottles.POSSIBLE` is common practice, no source.
"""
ODD = USUAL | {"mash_days": (10.0, 60.0), "mash_max_c": (5.0, 25.0), "koji_share": (10.0, 40.0)}
"""Numbers outside these are possible but rare: taken, and asked about (common practice, no source).

On a day of the mash a meter value or a strength may be anything that is possible.
"""
PERCENT = ("polishing", "koji_share")
"""Numbers in %, which a spreadsheet may hold as a share."""


def column_name(column: str) -> Sentence | str:
    """Return the name of a column as people call it; a further column is called by its heading."""
    if column in KNOWN:
        return factor_name(column)
    return sentence(f"batches.column_{column}") if column in COLUMNS else column
