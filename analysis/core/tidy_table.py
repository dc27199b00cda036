"""The tidy table: one row an answer, checked before anything is computed from it.

Columns, always in this order: ``session, assessor, sample, replicate,
position, attribute, score``. Names of assessors, samples, sessions and
attributes are text; replicate and position are whole numbers from 1 or
missing; score is a number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, TypedDict, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from .errors import OptionError, TableError
from .words import Sentence

Floats = npt.NDArray[np.float64]
COLUMNS = ("session", "assessor", "sample", "replicate", "position", "attribute", "score")
_CELL = ["session", "assessor", "sample", "replicate", "attribute"]
_LISTED = 20
_NEAR = 75
"""Likeness of a heading to the one that is missing, in %, from which on it is offered."""
_NUMBERING = ("code", "id", "index", "row", "number")
"""Headings of columns that number rows or cups, and hold no answers."""


class OfOthers(Protocol):
    """A table that another library holds, and that can become one of pandas."""

    def to_pandas(self) -> pd.DataFrame:
        """Return it as pandas has it."""


class Columns(TypedDict, total=False):
    """What the columns of a DataFrame are called, where they are not called so; see `tidy`."""

    assessor: str
    sample: str
    score: str
    scores: Sequence[str] | None
    replicate: str | None
    session: str | None


class LongColumns(Columns, total=False):
    """As `Columns`, and which column says what was asked."""

    attribute: str | None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tidy:
    """A checked tidy table and what had to be left out of it.

    Attributes
    ----------
    data : DataFrame
        The rows with a score, columns `COLUMNS`, sorted.
    dropped : DataFrame
        The rows without a score, same columns, and ``reason``.
    """

    data: pd.DataFrame
    dropped: pd.DataFrame

    @property
    def attributes(self) -> list[str]:
        """Attributes in their order of appearance."""
        return [str(name) for name in self.data["attribute"].unique()]

    @property
    def assessors(self) -> list[str]:
        """Assessors, sorted."""
        return sorted(str(name) for name in self.data["assessor"].unique())

    @property
    def samples(self) -> list[str]:
        """Samples, sorted."""
        return sorted(str(name) for name in self.data["sample"].unique())

    def of(self, attribute: str) -> pd.DataFrame:
        """Return the rows of one attribute."""
        return self.data[self.data["attribute"] == attribute].copy()


def tidy(
    table: pd.DataFrame | OfOthers,
    *,
    assessor: str = "assessor",
    sample: str = "sample",
    score: str = "score",
    attribute: str | None = "attribute",
    replicate: str | None = None,
    position: str | None = None,
    session: str | None = None,
    scores: Sequence[str] | None = None,
    number_repeats: bool = False,
) -> Tidy:
    """Check a long or a wide table and return it tidy.

    Every fault is told, not only the first. Rows without a score are set
    apart and counted, never filled in. Replicates that are numbered from 0
    are counted from 1.

    Parameters
    ----------
    table : DataFrame
        Long (one row an answer, with the columns `attribute` and `score`) or
        wide (one column per attribute, named in `scores`). Any table that can
        turn itself into one of pandas (``to_pandas``) will do, such as one of polars.
    assessor, sample, score, attribute, replicate, position, session : str
        Names of the columns. `replicate`, `position` and `session` are taken
        by their standard names when present, and may be absent.
    scores : sequence of str, optional
        The attribute columns of a wide table. A table that has neither a column `score` nor
        `attribute` does without where it is plain: then all columns of numbers are attributes,
        and columns of text are left aside.
    number_repeats : bool
        Whether answers to one cell that carry no replicate are numbered as they
        stand, from the first row to the last, instead of refused.

    Returns
    -------
    Tidy

    Raises
    ------
    TableError
        For a missing column, text or an infinite number in a score, a missing
        assessor or sample, or two answers for one cell. Rows are counted from
        1, without the heading; those of a file as spreadsheets count them.

    Examples
    --------
    >>> wide = pd.DataFrame({"who": ["A", "B"], "bottle": ["x", "x"], "sweet": [3.0, None]})
    >>> checked = tidy(wide, assessor="who", sample="bottle", scores=["sweet"])
    >>> checked.data[["assessor", "sample", "attribute", "score"]].values.tolist()
    [['A', 'x', 'sweet', 3.0]]
    >>> len(checked.dropped)
    1
    """
    table = _of_pandas(table)
    names = {"assessor": assessor, "sample": sample}
    for standard, given in (
        ("replicate", replicate),
        ("position", position),
        ("session", session),
    ):
        if given is not None:
            names[standard] = given
        elif standard in table.columns:
            names[standard] = standard
    if scores is None and score == "score" and not {score, attribute} & set(table.columns):
        scores = _attributes_of(table, names) or None
    wanted = [*names.values(), *(scores or [])]
    if scores is None:
        names["score"] = score
        wanted.append(score)
        if attribute is not None and attribute in table.columns:
            names["attribute"] = attribute
    missing = [name for name in wanted if name not in table.columns]
    if missing:
        options = {given: standard for standard, given in names.items()}
        raise TableError(
            tuple(_no_column(name, table, options.get(name, "scores")) for name in missing)
        )
    long = _long(table, names, scores, default_attribute=score)
    faults = [*_bad_numbers(long), *_bad_names(long)]
    if number_repeats and not faults and long["replicate"].isna().all():
        long["replicate"] = long.groupby(_CELL, dropna=False).cumcount() + 1
    cells = _cells(long)
    order = np.lexsort(cells)
    empty = long["score"].isna().to_numpy()[order]
    near = cells[:, order[~empty]]
    if (near[:, 1:] == near[:, :-1]).all(axis=0).any():
        again, untold = _twice(long)
        faults += again
    else:
        untold = 0
    if faults:
        raise TableError(tuple(faults[:_LISTED]), more=untold + len(faults[_LISTED:]))
    for name in ("replicate", "position"):
        long[name] = pd.to_numeric(long[name]).astype("Int64")
    long["score"] = pd.to_numeric(long["score"]).astype(float)
    whole = long[list(COLUMNS)]
    dropped = whole.take(order[empty]).reset_index(drop=True).assign(reason="no score")
    return Tidy(data=whole.take(order[~empty]).reset_index(drop=True), dropped=dropped)


def _cells(long: pd.DataFrame) -> Floats:
    """Return numbers that sort rows into the order of the tidy table; equal ones are one cell.

    Rows by what counts least to what counts most, as `numpy.lexsort` wants them.
    """
    replicate = long["replicate"].to_numpy(float, na_value=np.nan)
    names = [_ranks(long[name]) for name in ("sample", "assessor", "session")]
    attribute = _ranks(long["attribute"], as_met=True)
    return np.array([np.nan_to_num(replicate, nan=np.inf), *names, attribute], float)


def _ranks(names: pd.Series, *, as_met: bool = False) -> Floats:
    """Return the places of names in sorted order, or as they are met; missing ones come last."""
    if isinstance(names.dtype, pd.CategoricalDtype):  # they bring their order with them
        codes = names.cat.codes.to_numpy(float)
        return np.where(codes < 0, np.inf, codes)
    number, kinds = pd.factorize(names)
    order = range(len(kinds)) if as_met else np.argsort(np.asarray(kinds, object))
    ranks = np.full(len(kinds) + 1, float(len(kinds)))
    ranks[order] = np.arange(len(kinds))
    found: Floats = ranks[number]
    return found


def _attributes_of(table: pd.DataFrame, names: dict[str, str]) -> list[str]:
    """Name the columns of numbers in a wide table whose attributes nobody named.

    Raises
    ------
    TableError
        If a column could as well say something of the sample, number the rows, or be both
        numbers and text.
    """
    taken = {*names.values(), *COLUMNS}
    given = table[[name for name in table.columns if name not in taken]].replace("", np.nan)
    given = given.loc[:, [not _no_number(given[name]) for name in given.columns]]
    numbers = given.apply(pd.to_numeric, errors="coerce").astype(float)
    numbers = numbers.loc[:, numbers.notna().any().to_numpy(bool)]
    if numbers.empty:
        return []
    mixed = numbers.isna().sum() > given[numbers.columns].isna().sum()
    numbering = (numbers.nunique() == numbers.count()) & ((numbers % 1 == 0) | numbers.isna()).all()
    doubt = mixed | (numbering & (len(table) > 1))
    doubt |= numbers.columns.astype(str).str.casefold().isin(_NUMBERING)
    for by in (names["assessor"], names["sample"]):
        if by in table.columns and table[by].duplicated().any():
            within = numbers.groupby(table[by].to_numpy())
            doubt |= (within.max() - within.min()).max().fillna(0) == 0
    sure = [str(name) for name in numbers.columns[~doubt]]
    doubtful = [str(name) for name in numbers.columns[doubt]]
    if sure and doubtful:
        told = {"sure": ",".join(sure), "doubtful": list(doubtful)}
        raise TableError((Sentence.of("table.which_attributes", **told),))
    return sure


def _no_number(column: pd.Series) -> bool:
    """Tell columns that hold yes and no, or dates."""
    kind = column.dtype
    return pd.api.types.is_bool_dtype(kind) or pd.api.types.is_datetime64_any_dtype(kind)


def _no_column(name: str, table: pd.DataFrame, option: str) -> Sentence:
    """Tell a missing column, what it may be called instead, and the option that names it."""
    from rapidfuzz.process import extractOne

    columns = [str(column) for column in table.columns]
    told = {"column": name, "have": list(columns), "option": f"--{option}", "argument": option}
    near = extractOne(name, columns, processor=str.casefold, score_cutoff=_NEAR)
    if near:
        return Sentence.of("table.near_column", near=near[0], **told)
    return Sentence.of("table.no_column_option", **told)


def row_numbers(table: pd.DataFrame) -> Sequence[int]:
    """Return the rows' numbers for messages: those of the file, or counted from 1.

    Whoever reads a table from a file leaves its row numbers in ``attrs["rows"]``.
    """
    rows: Sequence[int] = table.attrs.get("rows", ())
    return rows if len(rows) == len(table) else range(1, len(table) + 1)


def as_tidy(table: Tidy | pd.DataFrame, **column_names: Unpack[LongColumns]) -> Tidy:
    """Return `table` as it is, or checked if it is a DataFrame.

    Parameters
    ----------
    table : Tidy or DataFrame
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Raises
    ------
    TableError
        As `tidy`.
    OptionError
        For names of columns beside a table that is tidy already, or for an argument
        that there is not.
    """
    known = tidy.__kwdefaults__ or {}
    if wrong := [name for name in column_names if name not in known]:
        raise OptionError("table.no_argument", found=wrong, have=list(known))
    if not isinstance(table, Tidy):
        return tidy(table, **column_names)
    if column_names:
        raise OptionError("table.tidy_already", columns=list(column_names))
    return table


def _of_pandas(table: pd.DataFrame | OfOthers) -> pd.DataFrame:
    """Return a table of pandas with types of numpy, whoever holds it (polars, pyarrow)."""
    if not isinstance(table, pd.DataFrame):
        if not hasattr(table, "to_pandas"):
            raise OptionError("table.no_table", kind=type(table).__name__)
        table = table.to_pandas()
    arrow = [name for name, kind in table.dtypes.items() if isinstance(kind, pd.ArrowDtype)]
    return table.astype(dict.fromkeys(arrow, object)) if arrow else table


def _long(
    table: pd.DataFrame,
    names: dict[str, str],
    scores: Sequence[str] | None,
    default_attribute: str,
) -> pd.DataFrame:
    """Bring a table into long form with standard names and a `row` for messages."""
    plain = pd.DataFrame({standard: table[given] for standard, given in names.items()})
    plain["row"] = row_numbers(table)
    if scores is not None:
        parts = [
            plain.assign(attribute=str(name), score=table[name].to_numpy(), column=str(name))
            for name in scores
        ]
        plain = pd.concat(parts, ignore_index=True)
    else:
        plain["column"] = names["score"]
        if "attribute" not in plain:
            plain["attribute"] = default_attribute
    for name in ("session", "replicate", "position"):
        if name not in plain:
            plain[name] = "1" if name == "session" else np.nan
    for name in ("session", "assessor", "sample", "attribute"):
        plain[name] = _texts(plain[name])
    return plain


def _texts(names: pd.Series) -> pd.Series:
    """Write names as text: each kind of name once, where they are text already."""
    texts = isinstance(names.dtype, pd.StringDtype) or (
        names.dtype == object and pd.api.types.infer_dtype(names, skipna=True) == "string"
    )
    if not texts:
        return names.map(_text)
    number, kinds = pd.factorize(names)
    if all(kind and kind == kind.strip() for kind in kinds):
        return names
    written = pd.Series([*(_text(kind) for kind in kinds), pd.NA], dtype=names.dtype)
    return written.take(number).set_axis(names.index)


def _text(value: object) -> object:
    """Write a name as text; 101.0 read from a spreadsheet is the name 101."""
    if value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return pd.NA
    if isinstance(value, (float, np.floating)) and float(value).is_integer():
        return str(int(value))
    return str(value).strip() or pd.NA


def _bad_numbers(long: pd.DataFrame) -> list[Sentence]:
    faults = []
    for name in ("score", "replicate", "position"):
        given = long[name]
        if _whole_numbers(given, any_number=name == "score"):
            continue
        number = pd.to_numeric(given, errors="coerce")
        blank = given.isna()
        if not pd.api.types.is_numeric_dtype(given):
            blank |= given.map(lambda cell: isinstance(cell, str) and not cell.strip())
        if name == "replicate" and (number == 0).any():
            number = number + 1  # counted from 0
        whole = number.isna() | (name == "score") | ((number % 1 == 0) & (number >= 1))
        wrong = (number.isna() & ~blank) | np.isinf(number.astype(float)) | ~whole
        long[name] = number
        if not wrong.any():
            continue
        faults += [
            Sentence.of(
                f"table.bad_{name}",
                row=row,
                column=column if name == "score" else name,
                found=repr(found) if isinstance(found, str) else found,
            )
            for row, column, found in zip(
                long.loc[wrong, "row"], long.loc[wrong, "column"], given[wrong], strict=True
            )
        ]
    return faults


def _whole_numbers(given: pd.Series, *, any_number: bool) -> bool:
    """Tell at a glance whether all is missing or from 1 on, as in most tables."""
    if not isinstance(given.dtype, np.dtype) or given.dtype.kind not in "iuf":
        return False
    number = given.to_numpy()
    number = number[~np.isnan(number)]
    fine = np.isfinite(number) if any_number else (number >= 1) & (number % 1 == 0)
    return bool(fine.all())


def _bad_names(long: pd.DataFrame) -> list[Sentence]:
    faults = []
    for name in ("assessor", "sample", "attribute"):
        blank = long[name].isna()
        if blank.any():
            rows = long.loc[blank, "row"].unique()
            faults += [Sentence.of("table.no_name", row=row, column=name) for row in rows]
    return faults


def _twice(long: pd.DataFrame) -> tuple[list[Sentence], int]:
    """Find answers given more than once, with no replicate to tell them apart.

    What the same rows hold, such as all attributes of a wide table, is one fault. Told are
    the first ones and how many more there are.
    """
    scored = long[long["score"].notna()]
    repeated = scored[scored.duplicated(_CELL, keep=False)]
    if repeated.empty:
        return [], 0
    cells = repeated.groupby(_CELL, dropna=False, sort=False)["row"].agg(tuple).reset_index()
    same = [name for name in _CELL if name != "attribute"]
    faults = cells.groupby([*same, "row"], dropna=False, sort=False)["attribute"].agg(list)
    how = "table.number_repeats" if long["replicate"].isna().all() else "table.mend_repeats"
    first = faults.reset_index().head(_LISTED)
    told = [
        Sentence.of(
            "table.twice" if len(attributes) == 1 else "table.twice_several",
            rows=[str(row) for row in rows],
            assessor=assessor,
            sample=sample,
            attribute=attributes[0],
            n=len(attributes),
            how=Sentence.of(how),
        )
        for rows, assessor, sample, attributes in zip(
            *(first[name] for name in ("row", "assessor", "sample", "attribute")), strict=True
        )
    ]
    return told, len(faults) - len(told)
