"""Reading the tables that a brewery has into facts of its book.

Rows are tanks, bottlings or days; days may also stand along the top. A cell that cannot be read
in one way is left out and told with its place; everything else is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ...analysis.core.wording import itemised
from ..base.errors import InputRefused
from ..base.headings import column_of, folded
from ..base.problems import Problem
from ..base.table_grid import BOOKS, TEXTS, Cell, FoundTable, NoTable, read_grid, text_in, trouble
from ..base.words import Sentence, sentence
from ..base.written_numbers import not_measured
from .book import BatchBook, Fact
from .columns import BREWED, COLUMNS, DATES, LIMITS, ODD, column_name
from .written_cells import TOTALS, day_of, nth_day, number_of, plain, tank_key, year_of

LARGEST = 20_000_000  # bytes of a table
Place = str | Sentence


@dataclass(slots=True)
class TableRead:
    """What came of a file.

    Attributes
    ----------
    facts : list of Fact
    problems : list of Problem
        Cells and rows that were not taken, each with what to do.
    questions : list of Problem
        What was taken, and is rare.
    told : list of Sentence
        What was understood otherwise than it is written, and what was passed over.
    kept : list of str
        Headings that the book has no column for: kept as they stand.
    rows : int
        Rows that were read.
    """

    facts: list[Fact] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    questions: list[Problem] = field(default_factory=list)
    told: list[Sentence] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    rows: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """One table of a file with what is known of all its rows."""

    file: str
    name: str
    grid: FoundTable
    columns: tuple[str, ...]
    tank: str
    year: str
    turned: tuple[int, ...] = ()
    """Of a chart whose days stand along the top the rows of its columns."""

    def spot(self, row: int, column: str) -> tuple[int, str]:
        """Return row and column of a cell as the file has them."""
        if not self.turned or column not in self.grid.heading[1:]:
            return row, column
        day = text_in(self.grid.rows[row - 1][1][0])
        return self.turned[self.grid.heading.index(column) - 1], day

    @property
    def where(self) -> Place:
        return _where(self.file, self.name)

    def problem(self, row: int, column: str, key: str, **values: object) -> Problem:
        """Name a fault by file, sheet, row and the heading as it stands."""
        at, head = self.spot(row, column)
        told = {"file": self.where, "row": at, "column": head}
        place = sentence("folder.place_cell" if column else "folder.place_row", **told)
        return Problem(place, sentence(key, **values))


def _where(file: str, sheet: str) -> Place:
    return sentence("batches.sheet", file=file, sheet=sheet) if sheet else file


def read_file(
    path: Path,
    book: BatchBook,
    *,
    sheet: str = "",
    tank: str = "",
    year: str = "",
    fill: bool = False,
) -> TableRead:
    """Read a table of a brewery.

    Parameters
    ----------
    path : Path
        CSV, TSV, XLSX or ODS; of a workbook all worksheets, unless `sheet` names one.
    book : BatchBook
        Its names tell what headings mean that are not understood by themselves.
    sheet, tank, year : str
        For tables that do not say so themselves.
    fill : bool
        Whether an empty cell of the tank or the year means the row above.

    Raises
    ------
    InputRefused
        If the file is no table, or says nowhere which tank or which year it is about.
    """
    if not path.is_file():
        raise InputRefused("cli.table_missing", path=path)
    if path.suffix.lower() not in (*TEXTS, *BOOKS):
        raise InputRefused("batches.kind", path=path)
    if year and year_of(year) is None:
        raise InputRefused("batches.bad_year", found=year)
    found = TableRead()
    grids = list(_grids(path, sheet))
    refused: list[Sentence] = []
    for name, grid in grids:
        try:
            one = _sheet(path.name, name, grid, book.names, tank=tank, year=year)
        except InputRefused as fault:
            refused.append(fault.sentence)
            continue
        if len(grids) > 1 or tank or year:
            _say_of_all(one, found, tank=tank, year=year)
        _rows(one, found, fill=fill)
    if len(refused) == len(grids):
        raise InputRefused("batches.refused", listed=itemised(refused))
    found.told += [sentence("batches.passed_over", why=why) for why in refused]
    return found


def _grids(path: Path, wanted: str) -> Iterator[tuple[str, FoundTable]]:
    """Yield the worksheets with something in them; of a text the one table, without a name."""
    try:
        first = read_grid(path, LARGEST, wanted or None)
        if not first.sheets or wanted:
            yield (wanted, first)
            return
        for name in first.sheets:
            yield (name, read_grid(path, LARGEST, name))
    except (NoTable, OSError) as fault:
        kind = path.suffix.lower()
        raise InputRefused("cli.table_broken", path=path, kind=kind, why=fault) from fault


def _sheet(
    file: str, name: str, grid: FoundTable, names: Mapping[str, str], *, tank: str, year: str
) -> _Sheet:
    """Tell what the columns of a table are, and whether tank and year are known of its rows.

    Raises
    ------
    InputRefused
        If one of the two is not, if two columns mean the same, or one has no heading.
    """
    where = _where(file, name)
    if not grid.rows:
        raise InputRefused("batches.empty", where=where)
    upright = _upright(grid, names)
    turned = () if upright is grid else tuple(number for number, _ in grid.rows)
    grid = upright
    columns = tuple(_column(text, names) for text in grid.heading)
    for place, (text, column) in enumerate(zip(grid.heading, columns, strict=True), start=1):
        if not text and any(text_in(cells[place - 1]) for _, cells in grid.rows):
            raise InputRefused("batches.no_heading", where=where, row=grid.head, n=place)
        same = [one for one, own in zip(grid.heading, columns, strict=True) if own == column]
        if column and len(same) > 1:
            told = {"listed": same, "column": column_name(column)}
            raise InputRefused("batches.same_column", where=where, row=grid.head, **told)
    if grid.too_wide:
        raise InputRefused("batches.too_wide", where=where, row=grid.too_wide[0])
    by_name = year_of(name)
    tank = tank or ("" if by_name or tank_key(name) == plain(name).casefold() else name)
    year = str(year_of(year) or by_name or "")
    for column, given in (("tank", tank), ("year", year)):
        if column not in columns and not given:
            told = {"column": column_name(column), "name": column}
            told |= {"have": list(grid.heading), "known": list(COLUMNS)}
            raise InputRefused("batches.lacks", where=where, row=grid.head, **told)
    return _Sheet(
        file=file, name=name, grid=grid, columns=columns, tank=tank, year=year, turned=turned
    )


def _column(heading: str, names: Mapping[str, str]) -> str:
    """Return the column that a heading means; its own words where the book has none for it."""
    return names.get(folded(heading)) or column_of(heading, COLUMNS) or heading


def _upright(grid: FoundTable, names: Mapping[str, str]) -> FoundTable:
    """Turn a chart whose days stand along the top into rows of days."""
    heading = [text for text in grid.heading if text]
    if len(heading) < 2 or _column(heading[0], names) not in ("day", "date"):
        return grid
    if any(not nth_day(text) and day_of(text) is None for text in heading[1:]):
        return grid
    width = len(heading)
    named = tuple(text_in(cells[0]) for _, cells in grid.rows)
    turned = [(at, (heading[at], *(cells[at] for _, cells in grid.rows))) for at in range(1, width)]
    return FoundTable((heading[0], *named), tuple(turned), grid.head, grid.sheets)


def _say_of_all(sheet: _Sheet, found: TableRead, *, tank: str, year: str) -> None:
    """Say where the tank or the year of all rows comes from."""
    for column, given, asked in (("tank", sheet.tank, tank), ("year", sheet.year, year)):
        if given and column not in sheet.columns:
            key = "batches.as_told" if asked else "batches.from_sheet"
            told = {"where": sheet.where, "column": column_name(column), "value": given}
            found.told.append(sentence(key, **told))


def _rows(sheet: _Sheet, found: TableRead, *, fill: bool) -> None:
    """Read the rows of a table one by one into facts."""
    own = [text for text, column in zip(sheet.grid.heading, sheet.columns, strict=True)
           if text and column not in COLUMNS]  # fmt: skip
    found.kept += [text for text in own if text not in found.kept]
    taken: dict[tuple[str, ...], Fact] = {}
    doubtful: set[tuple[str, ...]] = set()
    turned: dict[tuple[str, str, str], list[int]] = {}
    several = _several(sheet)
    before: dict[str, str] = {}
    repeated, filled, totals = [], [], []
    for number, cells in sheet.grid.rows:
        named = dict(zip(sheet.columns, cells, strict=False))
        texts = {column: plain(text_in(cell)) for column, cell in named.items() if column}
        if texts.get("tank", "").casefold() in TOTALS:
            totals.append(number)
            continue
        if fill:
            for column in ("tank", "year"):
                if column in texts and not texts[column] and before.get(column):
                    texts[column] = before[column]
                    filled.append(number)
        place = _place(sheet, number, texts, found, several)
        if place is None:
            continue
        before = {column: texts.get(column, "") for column in ("tank", "year")}
        found.rows += 1
        made = _facts(sheet, number, named, place=place, found=found, turned=turned)
        again = [one for one in made if one.key in taken and taken[one.key].value == one.value]
        if made and len(again) == len(made):
            repeated.append(number)
        for one in made:
            other = taken.setdefault(one.key, one)
            if other.value != one.value:
                doubtful.add(one.key)
                told = {"found": one.written, "other": other.written, "before": other.row}
                found.problems.append(
                    sheet.problem(number, _heading(sheet, one.column), "batches.differs", **told)
                )
    found.facts += [one for key, one in taken.items() if key not in doubtful]
    for key, rows in (("repeated", repeated), ("filled", filled), ("totals", totals)):
        if rows:
            told_rows = list(dict.fromkeys(rows))
            told_at = {"where": sheet.where, "rows": told_rows, "n": len(told_rows)}
            found.told.append(sentence(f"batches.{key}", **told_at))
    for (heading, text, value), rows in turned.items():
        told = {"where": sheet.where, "column": heading, "found": text, "value": value}
        found.told.append(sentence("batches.turned", rows=rows, n=len(rows), **told))


def _heading(sheet: _Sheet, column: str) -> str:
    return sheet.grid.heading[sheet.columns.index(column)]


def _several(sheet: _Sheet) -> frozenset[str]:
    """Return the lots that stand in rows of several fractions: each of these is a bottling."""
    if not {"lot", "fraction"} <= set(sheet.columns):
        return frozenset()
    at, part = sheet.columns.index("lot"), sheet.columns.index("fraction")
    fractions: dict[str, set[str]] = {}
    for _, cells in sheet.grid.rows:
        fractions.setdefault(plain(text_in(cells[at])), set()).add(plain(text_in(cells[part])))
    return frozenset(lot for lot, own in fractions.items() if len(own) > 1)


def _place(
    sheet: _Sheet,
    number: int,
    texts: Mapping[str, str],
    found: TableRead,
    several: frozenset[str],
) -> dict[str, str] | None:
    """Tell of which tank, year, bottling and day a row is; None where that cannot be told."""
    tank = texts.get("tank", sheet.tank)
    if not tank:
        given = sheet.problem(number, _heading(sheet, "tank"), "batches.no_tank")
        found.problems.append(given)
        return None
    written = texts.get("year", sheet.year)
    year = year_of(written)
    if year is None:
        at = _heading(sheet, "year") if "year" in sheet.columns else ""
        found.problems.append(sheet.problem(number, at, "batches.no_year", found=written or "–"))
        return None
    lot = texts.get("lot", "")
    if texts.get("fraction") and ("lot" not in sheet.columns or lot in several):
        parts = (lot, texts["fraction"], texts.get("pasteurised", ""))
        lot = ", ".join(filter(None, parts))
    day = ""
    if {"day", "date"} & set(sheet.columns):
        date = day_of(texts.get("date", ""))
        day = nth_day(texts.get("day", "")) or (date.isoformat() if date else "")
        if not day and (on := day_of(texts.get("day", ""))):
            day = on.isoformat()
        if not day:
            at = _heading(sheet, "day" if "day" in sheet.columns else "date")
            text = texts.get("day") or texts.get("date") or "–"
            found.problems.append(sheet.problem(number, at, "batches.no_day", found=text))
            return None
    return {"year": str(year), "tank": tank, "lot": lot, "day": day}


def _facts(
    sheet: _Sheet,
    number: int,
    cells: Mapping[str, Cell],
    *,
    place: Mapping[str, str],
    found: TableRead,
    turned: dict[tuple[str, str, str], list[int]],
) -> list[Fact]:
    """Read the cells of one row; how a tank was brewed is of the tank, whatever the row is."""
    made = []
    whole = {"year": place["year"], "tank": place["tank"]}
    for column, cell in cells.items():
        if not column or column in ("year", "tank", "lot", "day"):
            continue
        heading, written = _heading(sheet, column), text_in(cell).strip()
        kind = trouble(cell)
        if kind in ("formula", "error_cell"):
            key = f"folder.{kind}"
            found.problems.append(sheet.problem(number, heading, key, found=written))
            continue
        if not written:
            continue
        value = _value(sheet, number, column, written, dated=not place["day"], found=found)
        if value is None:
            continue
        if column in LIMITS and value != written and _was_turned(written, column, heading):
            turned.setdefault((heading, written, value), []).append(number)
        at = whole if column in BREWED else place
        told = {"column": column, "value": value, "written": written}
        row, _ = sheet.spot(number, heading)
        made.append(Fact(**at, **told, file=sheet.file, sheet=sheet.name, row=row))
    return made


def _was_turned(written: str, column: str, heading: str) -> bool:
    return number_of(written, column, heading)[1] or plain(written).startswith(("▲", "△"))


def _value(
    sheet: _Sheet, number: int, column: str, written: str, *, dated: bool, found: TableRead
) -> str | None:
    """Return what a cell holds as the book writes it; None where it holds nothing, or is told."""
    heading = _heading(sheet, column)
    if column in DATES:
        if not_measured(written):
            return None
        day = day_of(written)
        if day is None:
            found.problems.append(sheet.problem(number, heading, "batches.no_date", found=written))
            return None
        return day.isoformat()
    if column not in LIMITS:
        return written
    if not_measured(written):
        return None
    value, _ = number_of(written, column, heading)
    low, high = LIMITS[column]
    told: dict[str, object] = {"found": written, "low": f"{low:g}", "high": f"{high:g}"}
    if value is None or not low <= value <= high:
        key = "folder.not_a_number" if value is None else "folder.out_of_range"
        found.problems.append(sheet.problem(number, heading, key, **told))
        return None
    least, most = ODD.get(column, (low, high))
    if dated and not least <= value <= most:
        told |= {"low": f"{least:g}", "high": f"{most:g}"}
        found.questions.append(sheet.problem(number, heading, "folder.unusual", **told))
    return f"{value:.10g}"


def listed(problems: Sequence[Problem], language: str) -> str:
    """Write problems one a line."""
    return "\n".join(f"- {one.to(language)}" for one in problems)
