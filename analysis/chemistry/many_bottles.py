"""The chemistry of several bottles at once, from a table with one row a bottle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from ..core.errors import OptionError, TableError
from ..core.result import Result
from ..core.tidy_table import row_numbers
from ..core.words import Sentence
from .one_bottle import MEASURED, Chemistry, chemistry

_ALSO = {
    "polishing_ratio": ("polishing_ratio", "polishing"),
    "clear_supernatant": ("clear_supernatant", "supernatant"),
}
"""Names under which a session's table of bottles carries these columns."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ChemistryTable(Result):
    """The chemistry of several bottles.

    Attributes
    ----------
    bottles : tuple of Chemistry
        In the order of the table.
    """

    bottles: tuple[Chemistry, ...]

    @property
    def data(self) -> pd.DataFrame:
        """One row a bottle, one column a number."""
        return pd.DataFrame([bottle.row() for bottle in self.bottles])

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how many bottles lie outside the range of the indices."""
        known = [bottle for bottle in self.bottles if bottle.in_fitted_range is not None]
        outside = [bottle.name for bottle in known if not bottle.in_fitted_range]
        said = [Sentence.of("chemistry.bottles", n=len(self.bottles))]
        if outside:
            said.append(Sentence.of("chemistry.outside", n=len(outside), listed=outside))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the columns that people ask for first."""
        shown = [
            "name",
            *MEASURED[:5],
            "extract_official",
            "original_extract",
            "amakarado",
            "notando",
            "glucose_minus_acidity",
        ]
        numbers = self.data[shown]
        filled = [name for name in shown if name == "name" or numbers[name].notna().any()]
        table = numbers[filled].astype({name: float for name in filled if name != "name"})
        return {"chemistry.table": table}


def chemistry_table(table: pd.DataFrame, **columns: str) -> ChemistryTable:
    """Compute the chemistry of each row of a table.

    Parameters
    ----------
    table : DataFrame
        One row a bottle. Columns ``bottle`` (or ``sample``, ``name``), ``abv``,
        ``meter_value``, ``acidity``, ``amino_acidity``, ``glucose``,
        ``polishing_ratio``, ``extract``, ``clear_supernatant``; each may be absent.
    **columns : str
        Other names of these columns, as ``abv="alcohol"``.

    Raises
    ------
    TableError
        With all faults, by row (counted from 1) and column.

    Examples
    --------
    >>> table = pd.DataFrame({"bottle": ["a", "b"], "meter_value": [3, -5], "acidity": [1.5, 1.8]})
    >>> chemistry_table(table).data["amakarado"].round(2).tolist()
    [-0.43, -0.03]
    """
    known = [*MEASURED, "extract", "clear_supernatant"]
    absent = [given for given in columns.values() if given not in table.columns]
    have = [str(column) for column in table.columns]
    if absent:
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in absent)
        )
    source = {
        name: columns.get(name) or next((one for one in _ALSO.get(name, ()) if one in table), name)
        for name in known
    }
    present = {name: given for name, given in source.items() if given in table.columns}
    if not present:
        raise TableError((Sentence.of("chemistry.no_columns", have=have, listed=known),))
    naming = next(
        (name for name in (columns.get("bottle"), "bottle", "sample", "name") if name in table),
        None,
    )
    bottles, faults = [], []
    for place, (_, row) in zip(row_numbers(table), table.iterrows(), strict=True):
        name = str(row[naming]) if naming else str(place)
        values = {key: None if _blank(row[given]) else row[given] for key, given in present.items()}
        clear = values.pop("clear_supernatant", None)
        wrong = list(_not_numbers(values, present, place))
        if wrong:
            faults += wrong
            continue
        try:
            bottles.append(chemistry(name=name, clear_supernatant=_yes_no(clear), **values))
        except OptionError as refused:
            faults.append(Sentence.of("chemistry.row", row=place, why=refused.sentence))
    if faults:
        raise TableError(tuple(faults))
    warnings = tuple(
        Sentence.of("chemistry.of_bottle", name=bottle.name, text=warning)
        for bottle in bottles
        for warning in bottle.warnings
        if warning.key != "chemistry.extrapolated"
    )
    return ChemistryTable(bottles=tuple(bottles), warnings=warnings)


def _not_numbers(
    values: Mapping[str, object], columns: Mapping[str, str], row: int
) -> Iterable[Sentence]:
    for key, value in values.items():
        if pd.isna(pd.to_numeric(pd.Series([value]), errors="coerce"))[0] and not _blank(value):
            yield Sentence.of("table.bad_score", row=row, column=columns[key], found=repr(value))


def _blank(value: object) -> bool:
    return value is None or not str(value).strip() or bool(pd.isna(pd.Series([value]))[0])


def _yes_no(value: object) -> bool | None:
    if _blank(value):
        return None
    return str(value).strip().lower() not in {"no", "false", "0", "0.0"}
