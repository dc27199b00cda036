"""Tables that people already have: CSV, TSV, XLSX or Parquet."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.answers.cells import rectangle
from ...forms.answers.workbook_bounds import check_workbook
from .errors import InputRefused
from .plain_cells import as_written

if TYPE_CHECKING:
    import pandas as pd

LARGEST = 60_000_000  # bytes of a table
_BLANKS = ["", "NA", "NaN", "nan"]


def read_table(path: Path, sheet: str | None = None) -> pd.DataFrame:
    """Read a table; names stay text, nothing but an empty cell counts as missing.

    Parameters
    ----------
    path : Path
        A ``.csv``, ``.tsv``, ``.xlsx`` or ``.parquet`` file.
    sheet : str, optional
        Worksheet of an XLSX file; the first one by default.

    Raises
    ------
    InputRefused
        If the file is absent, of another kind, or broken.
    """
    import pandas as pd

    if not path.is_file():
        raise InputRefused("cli.table_missing", path=path)
    kind = path.suffix.lower()
    if kind not in (".csv", ".txt", ".tsv", ".xlsx", ".parquet"):
        raise InputRefused("cli.table_kind", path=path)
    if path.stat().st_size > LARGEST:
        raise InputRefused("cli.table_large", path=path, most=LARGEST // 1_000_000)
    try:
        match kind:
            case ".csv" | ".txt":
                table = _text(path, _separator(path))
            case ".tsv":
                table = _text(path, "\t")
            case ".xlsx":
                table = _workbook(path, sheet)
            case _:
                table = pd.read_parquet(path)
    except ImportError as absent:
        raise InputRefused("cli.table_parquet", path=path) from absent
    except Exception as fault:
        why = " ".join(str(fault).split())[:300] or type(fault).__name__
        raise InputRefused("cli.table_broken", path=path, kind=kind, why=why) from fault
    return _plain(table)


def _text(path: Path, separator: str) -> pd.DataFrame:
    import pandas as pd

    return pd.read_csv(
        path, sep=separator, encoding="utf-8-sig", keep_default_na=False, na_values=_BLANKS
    )


def _workbook(path: Path, sheet: str | None) -> pd.DataFrame:
    """Read one worksheet as far as something is written on it, as pandas reads tables."""
    from openpyxl import load_workbook
    from pandas.io import parsers

    content = path.read_bytes()
    check_workbook(content)
    book = load_workbook(io.BytesIO(content), data_only=True)
    page = book.worksheets[0] if sheet is None else book[sheet]
    rows = [[_value(cell) for cell in row] for row in rectangle(page)]
    parser: Any = vars(parsers)["TextParser"]  # what pandas itself reads worksheets with
    table: pd.DataFrame = parser(rows, header=0, keep_default_na=False, na_values=_BLANKS).read()
    return table


def _value(cell: object) -> object:
    """Write an empty cell as pandas does, and a whole number as one."""
    if cell is None:
        return ""
    return int(cell) if isinstance(cell, float) and cell.is_integer() else cell


def _separator(path: Path) -> str:
    """Tell by which sign the heading parts its columns."""
    with path.open(encoding="utf-8-sig") as opened:
        first = opened.readline(1_000_000)
    return max(",;\t|", key=first.count)


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
