"""Tables that people already have: CSV, TSV, XLSX or Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from .errors import InputRefused

if TYPE_CHECKING:
    import pandas as pd


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
    blanks = ["", "NA", "NaN", "nan"]
    try:
        match kind:
            case ".csv" | ".txt":
                return pd.read_csv(
                    path,
                    sep=None,
                    engine="python",
                    encoding="utf-8-sig",
                    keep_default_na=False,
                    na_values=blanks,
                )
            case ".tsv":
                return pd.read_csv(
                    path, sep="\t", encoding="utf-8-sig", keep_default_na=False, na_values=blanks
                )
            case ".xlsx":
                return pd.read_excel(
                    path, sheet_name=sheet or 0, keep_default_na=False, na_values=blanks
                )
            case ".parquet":
                return pd.read_parquet(path)
    except ImportError as absent:
        raise InputRefused("cli.table_parquet", path=path) from absent
    except Exception as fault:
        raise InputRefused("cli.table_broken", path=path, kind=kind, why=fault) from fault
    raise InputRefused("cli.table_kind", path=path)
