"""Tables that people already have: CSV, TSV, XLSX, ODS or Parquet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import InputRefused
from .headings import renamed
from .plain_cells import as_written
from .table_grid import BOOKS, TEXTS, FoundTable, NoTable, is_blank, read_grid, text_in, trouble
from .written_numbers import UNITS, not_measured, understand

if TYPE_CHECKING:
    import pandas as pd

LARGEST = 60_000_000  # bytes of a table
_BLANKS = ["", "NA", "NaN", "nan"]
_TEXT_COLUMNS = frozenset({
    "session", "assessor", "sample", "attribute", "bottle", "name", "batch", "lot", "tank",
    "fraction", "pasteurised", "storage", "control", "code", "use", "claims",
})  # fmt: skip
"""Columns that hold names, in which a figure is a name too."""
_DATES_AMONG = 0.5
"""Share of numbers in a column from which on a date among them is a number gone astray."""


def _nearly_named(path: Path) -> Path | None:
    """Find the file that was meant beside one that is not there."""
    from difflib import get_close_matches

    folder = path.parent
    names = [one.name for one in folder.iterdir() if one.is_file()] if folder.is_dir() else []
    found = get_close_matches(path.name, names, n=1, cutoff=0.8)
    return path.with_name(found[0]) if found else None


def read_table(
    path: Path, sheet: str | None = None, *, known: Sequence[str] = (), named: Iterable[str] = ()
) -> pd.DataFrame:
    """Read a table; names stay text, nothing but an empty cell counts as missing.

    Parameters
    ----------
    path : Path
        A ``.csv``, ``.tsv``, ``.xlsx``, ``.ods`` or ``.parquet`` file.
    sheet : str, optional
        Worksheet of a workbook; the first one by default.
    known : sequence of str
        Columns whose headings may be spelled otherwise, in any language of the catalogue.
    named : iterable of str
        Columns that were named as they stand in the table.

    Returns
    -------
    DataFrame
        Its ``attrs["rows"]`` are the rows' numbers in the file, the heading being row 1.

    Raises
    ------
    InputRefused
        If the file is absent, of another kind, or broken.
    """
    if not path.is_file():
        near = _nearly_named(path)
        if near:
            raise InputRefused("cli.table_missing_near", path=path, near=near)
        raise InputRefused("cli.table_missing", path=path)
    kind = path.suffix.lower()
    if kind not in (*TEXTS, *BOOKS, ".parquet"):
        raise InputRefused("cli.table_old" if kind == ".xls" else "cli.table_kind", path=path)
    if path.stat().st_size > LARGEST:
        raise InputRefused("cli.table_large", path=path, most=LARGEST // 1_000_000)
    if kind == ".parquet":
        return _plain(_parquet(path))
    try:
        grid = read_grid(path, LARGEST, sheet)
    except (NoTable, OSError) as fault:
        raise InputRefused("cli.table_broken", path=path, kind=kind, why=fault) from fault
    _refuse_odd(path, grid)
    table = _plain(_frame(grid))
    kept = {name for name in named if name}
    table = table.rename(columns=renamed([str(name) for name in table.columns], known, kept))
    _understood(path, table, grid, kept)
    table.attrs["rows"] = _numbers(grid)
    return table


def _parquet(path: Path) -> pd.DataFrame:
    import pandas as pd

    try:
        return pd.read_parquet(path)
    except ImportError as absent:
        raise InputRefused("cli.table_parquet", path=path) from absent
    except Exception as fault:
        why = " ".join(str(fault).split())[:300] or type(fault).__name__
        raise InputRefused("cli.table_broken", path=path, kind=".parquet", why=why) from fault


def _refuse_odd(path: Path, grid: FoundTable) -> None:
    """Refuse a table whose columns cannot be told, and formulas that nobody computed."""
    if not grid.rows:
        key = "cli.table_other_sheets" if len(grid.sheets) > 1 else "cli.table_empty"
        raise InputRefused(key, path=path, listed=list(grid.sheets))
    if grid.twice:
        raise InputRefused("cli.table_twice", path=path, name=grid.twice[0])
    if grid.too_wide:
        number = grid.too_wide[0]
        raise InputRefused("cli.table_wide", path=path, row=number, n=len(grid.heading))
    for number, row in grid.rows if grid.sheets else ():
        for heading, cell in zip(grid.heading, row, strict=True):
            if trouble(cell) == "formula":
                told = {"row": number, "column": heading, "found": text_in(cell)}
                raise InputRefused("cli.table_formula", path=path, **told)


def _frame(grid: FoundTable) -> pd.DataFrame:
    """Give pandas the cells as text, so that it tells numbers from names as it always does."""
    import pandas as pd

    kept = [
        at for at, name in enumerate(grid.heading)
        if name or any(not is_blank(row[at]) for _, row in grid.rows)
    ]  # fmt: skip
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([grid.heading[at] for at in kept])
    if grid.sheets or len(kept) < len(grid.heading):
        writer.writerows([text_in(row[at]) for at in kept] for _, row in grid.rows)
    else:
        writer.writerows(row for _, row in grid.rows)
    out.seek(0)
    table = pd.read_csv(
        out, keep_default_na=False, na_values=_BLANKS, index_col=False, skip_blank_lines=False
    )
    for place in range(table.shape[1]):
        cells = table.iloc[:, place]
        if cells.dtype == bool:  # TRUE is no score, and is told as it was written
            table.isetitem(place, ["TRUE" if cell else "FALSE" for cell in cells])
    return table


def _numbers(grid: FoundTable) -> Sequence[int]:
    numbers = [number for number, _ in grid.rows]
    whole = range(numbers[0], numbers[-1] + 1)
    return whole if len(whole) == len(numbers) else tuple(numbers)


def _understood(path: Path, table: pd.DataFrame, grid: FoundTable, kept: set[str]) -> None:
    """Make numbers of columns in which people wrote numbers in their own way, in place."""
    import numpy as np

    for place, name in enumerate(map(str, table.columns)):
        if table.iloc[:, place].dtype.kind != "O" or name in _TEXT_COLUMNS:
            continue
        cells = [cell if isinstance(cell, str) else None for cell in table.iloc[:, place]]
        measured = name in UNITS or name == "meter_value"
        blank = [cell is None or (measured and not_measured(cell)) for cell in cells]
        values = [None if cell is None else understand(cell, name) for cell in cells]
        open_cells = [at for at, value in enumerate(values) if value is None and not blank[at]]
        if not open_cells:
            made = [np.nan if value is None else value for value in values]
            table.isetitem(place, np.array(made, dtype=float))
            continue
        found = sum(value is not None for value in values)
        numbers = found >= _DATES_AMONG * (len(cells) - sum(blank))
        if measured and numbers and found:  # so that only what is not understood is told as such
            mixed = [cells[at] if at in open_cells else value for at, value in enumerate(values)]
            table.isetitem(place, np.array([*mixed, None], dtype=object)[:-1])
        dates = [at for at in open_cells if _is_date(grid, name, at)]
        if dates and numbers and name not in kept:
            told = {"row": grid.rows[dates[0]][0], "column": name, "found": cells[dates[0]]}
            raise InputRefused("cli.table_date", path=path, **told)


def _is_date(grid: FoundTable, name: str, at: int) -> bool:
    row = grid.rows[at][1]
    columns = [k for k, heading in enumerate(grid.heading) if heading == name]
    return any(trouble(row[k]) == "date" for k in columns)


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """Return numpy's types for whatever a file brought, and texts as they were written."""
    import numpy as np
    import pandas as pd

    made = table.copy()
    for place in range(made.shape[1]):
        values: Any = made.iloc[:, place]
        kind = values.dtype
        if isinstance(kind, pd.CategoricalDtype) or kind.kind in "OUS" or "string" in str(kind):
            texts = [as_written(cell) if isinstance(cell, str) else cell for cell in values]
            made.isetitem(place, np.array([*texts, None], dtype=object)[:-1])
        elif isinstance(kind, pd.ArrowDtype):
            whole = kind.kind in "iub" and not values.isna().any()
            made.isetitem(place, values.to_numpy(dtype=None if whole else float))
    return made.rename(columns=lambda name: as_written(name) if isinstance(name, str) else name)
