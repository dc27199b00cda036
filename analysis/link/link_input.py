"""Join scores to the numbers of their bottles, and choose which numbers to ask about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ..chemistry import taste_indices as indices
from ..core.errors import OptionError, TableError
from ..core.words import Sentence
from .what_is_estimable import PER_EFFECT

FIRST = ("meter_value", "acidity")
KNOWN = ("abv", "glucose", "amino_acidity", "polishing_ratio")
_NOT_CHEMISTRY = {
    "available",
    "volume",
    "volume_ml",
    "group",
    "pasteurised",
    "tank",
    "lot",
    "vintage",
    "year",
    "months",
}
_BATCH = ("batch", "tank", "vintage", "year", "lot")
COMPUTED = ("amakarado", "notando", "glucose_minus_acidity")


def named_bottles(bottles: pd.DataFrame) -> pd.DataFrame:
    """Name the column of the bottle ``sample``; refuse a bottle with two rows."""
    for name in ("sample", "bottle", "name"):
        if name in bottles:
            renamed = bottles.rename(columns={name: "sample", "polishing": "polishing_ratio"})
            for key in ("sample", "session"):
                if key in renamed:
                    renamed[key] = renamed[key].astype(str)
            keys = [key for key in ("session", "sample") if key in renamed]
            twice = renamed[renamed.duplicated(keys)]
            if len(twice):
                listed = sorted(set(twice["sample"]))
                raise TableError((Sentence.of("link.bottle_twice", listed=listed),))
            return renamed
    have = [str(name) for name in bottles.columns]
    raise TableError((Sentence.of("table.no_column", column="sample", have=have),))


def batch_column(bottles: pd.DataFrame, named: str | None, served: pd.Series) -> str:
    """Find the column of the batch; tank and vintage (or lot) are joined into one.

    A bottle is a batch of its own only where that is said, by naming the column of the bottle:
    fractions of one tank that count as batches would turn chance into slopes.
    """
    if named in ("sample", "bottle", "name"):
        return "sample"
    for name in {*_BATCH, named} & set(bottles):
        bottles[name] = bottles[name].mask(bottles[name].astype(str).str.strip() == "")
    if named is not None:
        if named not in bottles:
            have = [str(name) for name in bottles.columns]
            raise TableError((Sentence.of("table.no_column", column=named, have=have),))
        return _whole(bottles, named)
    stated = [name for name in _BATCH if _is_stated(bottles, name)]
    if "batch" in stated:
        return _whole(bottles, "batch")
    here = bottles[bottles["sample"].isin(served)].drop_duplicates("sample")
    # A lot of its own for every bottle tells nothing about batches.
    own_lots = "lot" in stated and len(here) > 1 and here["lot"].nunique() == len(here)
    if "tank" not in stated:
        if "lot" not in stated or own_lots:
            raise TableError((Sentence.of("link.batch_not_told", n=len(here)),))
        return _whole(bottles, "lot")
    tank = bottles[_whole(bottles, "tank")].astype(str)
    more = next((name for name in ("vintage", "year", "lot") if name in stated), None)
    if more == "lot" and own_lots:
        more = None
    bottles["batch"] = tank
    if more is not None:
        given = bottles[more].notna()
        bottles.loc[given, "batch"] = tank[given] + " / " + bottles.loc[given, more].astype(str)
    return "batch"


def _is_stated(bottles: pd.DataFrame, name: str) -> bool:
    return name in bottles and bool(bottles[name].notna().any())


def _whole(bottles: pd.DataFrame, column: str) -> str:
    """Return the column of the batch; refuse bottles of which it says nothing."""
    without = bottles.loc[bottles[column].isna(), "sample"].astype(str).tolist()
    if without:
        raise TableError((Sentence.of("link.no_batch", column=column, listed=without),))
    return column


def wanted_attributes(
    table: pd.DataFrame, attributes: Sequence[str] | None
) -> tuple[pd.DataFrame, list[str]]:
    """Keep the rows of the attributes to relate."""
    have = [str(name) for name in table["attribute"].unique()]
    wanted = list(attributes or have)
    unknown = [name for name in wanted if name not in have]
    if unknown:
        raise OptionError("link.no_attribute", found=unknown, have=have)
    return table[table["attribute"].isin(wanted)], wanted


def numbers_of(bottles: pd.DataFrame) -> list[str]:
    """Name the measurements of a table of bottles, the best known first."""
    numeric = [
        str(name)
        for name in bottles.columns
        if pd.api.types.is_numeric_dtype(bottles[name])
        and not pd.api.types.is_bool_dtype(bottles[name])
    ]
    first = [name for name in (*FIRST, *KNOWN) if name in numeric]
    return first + [name for name in numeric if name not in {*first, *_NOT_CHEMISTRY, *COMPUTED}]


def default_predictors(bottles: pd.DataFrame, served: pd.DataFrame, batch: str) -> list[str]:
    """Choose meter value and acidity, then others while there are batches for them."""
    here = bottles[bottles["sample"].isin(served["sample"])]
    names = [name for name in numbers_of(here) if here[name].notna().all() and name != batch]
    if not names:
        have = [str(name) for name in bottles.columns]
        raise TableError((Sentence.of("link.no_numbers", have=have),))
    count = here[batch].nunique()
    first = [name for name in names if name in FIRST]
    most = max(len(first), count // PER_EFFECT, 1)
    return names[:most]


def computed(bottles: pd.DataFrame, names: Sequence[str]) -> pd.DataFrame:
    """Add the published indices that are named and not there."""
    table = bottles.copy()
    for name in names:
        if name in table:
            continue
        needed = ("glucose", "acidity") if name == "glucose_minus_acidity" else FIRST
        if name not in COMPUTED or any(column not in table for column in needed):
            have = [str(column) for column in bottles.columns]
            raise TableError((Sentence.of("table.no_column", column=name, have=have),))
        first, second = (table[column].to_numpy(float) for column in needed)
        if name == "glucose_minus_acidity":
            table[name] = first - second
        else:
            formula = indices.amakarado if name == "amakarado" else indices.notando
            table[name] = formula(first, second)
    return table


def joined_bottles(
    served: pd.DataFrame, bottles: pd.DataFrame, keys: list[str], names: Sequence[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Join bottles to what was served; tell which have no row or no number."""
    joined = served.merge(bottles, on=keys, how="left", indicator=True)
    absent = joined["_merge"] == "left_only"
    numbers = joined[list(names)].apply(pd.to_numeric, errors="coerce")
    incomplete = numbers.isna().any(axis=1) & ~absent
    reason = np.select([absent, incomplete], ["no row in the bottles", "a number is missing"], "")
    joined[list(names)] = numbers
    dropped = joined.loc[absent | incomplete, ["sample", "session"]].assign(
        reason=reason[(absent | incomplete).to_numpy()]
    )
    kept = joined[~(absent | incomplete)].drop(columns="_merge")
    return kept.reset_index(drop=True), dropped.reset_index(drop=True)
