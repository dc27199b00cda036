"""Tables as breweries have them (tests/outside/batch_book), read into a book."""

from __future__ import annotations

import csv
import importlib.util
import io
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from house_plan import ROOT
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.base.plain_cells import frame_csv
from kikichoko.panel.batches import load_book, read_file
from kikichoko.panel.batches.written_cells import year_of
from kikichoko.panel.cli import kikichoko

CASES = ROOT / "tests" / "outside" / "batch_book"
Run = Callable[..., Result]


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tables of the cases, workbooks too, by their numbers."""
    folder = tmp_path_factory.mktemp("tables")
    for path in CASES.glob("*.csv"):
        shutil.copy(path, folder)
    spec = importlib.util.spec_from_file_location("make_workbooks", CASES / "make_workbooks.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.make(folder)
    return folder


@pytest.fixture
def run(tables: Path, tmp_path: Path) -> Run:
    """Run the command on tables of the cases, with the book in a folder of its own."""

    def invoke(*words: str) -> Result:
        given = [
            str(next(tables.glob(f"{one}-*"))) if one.isdecimal() and len(one) == 2 else one
            for one in words
        ]
        where = ["--book", str(tmp_path / "batches")]
        return CliRunner().invoke(kikichoko, ["batches", *where, *given])

    return invoke


def value(folder: Path, place: tuple[str, ...], column: str) -> str:
    book = load_book(folder / "batches")
    own = book.of_tank(*place) if len(place) == 2 else book.of_lot(*place)
    return own[column].value


def test_a_japanese_table_of_tanks(run: Run, tmp_path: Path):
    done = run("01")
    assert done.exit_code == 0
    places = [("2024", "1"), ("2024", "2"), ("2025", "1"), ("2025", "2")]
    wanted = {
        "polishing": ["60", "60", "55", "55"],
        "meter_value": ["3.5", "1", "-2", "0"],
        "mash_days": ["24", "27", "25", "30"],
        "mash_max_c": ["11.5", "10.8", "11", "10.5"],
        "pasteurised": ["生", "一回火入れ", "生", "二回火入れ"],
    }
    for column, values in wanted.items():
        assert [value(tmp_path, place, column) for place in places] == values
    assert value(tmp_path, ("2024", "1"), "pressed_on") == "2025-02-05"
    assert "'▲2.0' was read as -2 (row 4)" in done.stderr
    assert "留添日" in done.stderr


def test_a_sheet_a_year(run: Run, tmp_path: Path):
    done = run("02")
    assert done.exit_code == 0
    assert value(tmp_path, ("2024", "1"), "polishing") == "60"
    assert value(tmp_path, ("2025", "2"), "pressed_on") == "2026-02-06"
    assert "sheet 'notes'" in done.stderr


def test_days_down_and_days_along_the_top_say_the_same(run: Run, tmp_path: Path):
    assert run("03").exit_code == 0
    down = load_book(tmp_path / "batches").days("2025", "1")
    assert down.set_index("day").loc["23", "meter_value"] == "-2.5"
    assert down["meter_value"].isna().sum() == 2
    shutil.rmtree(tmp_path / "batches")
    assert run("04").exit_code == 1
    assert run("04", "--tank", "1", "--year", "2025").exit_code == 0
    along = load_book(tmp_path / "batches").days("2025", "1")
    shared = [name for name in along.columns if name in down.columns]
    assert along[shared].equals(down[shared])


def test_a_fault_in_a_chart_is_named_where_it_stands(tmp_path: Path):
    chart = tmp_path / "chart.csv"
    chart.write_text("day,1,9\nTemp,7.5,11?\nSMV,,-11\n", "utf-8")
    found = read_file(chart, load_book(tmp_path / "batches"), tank="1", year="2025")
    assert [str(one.place) for one in found.problems] == ["chart.csv, row 2, column '9'"]


def test_bottlings_with_decimal_commas(run: Run, tmp_path: Path):
    assert run("05").exit_code == 0
    assert value(tmp_path, ("2025", "1", "A1"), "meter_value") == "-1.5"
    assert value(tmp_path, ("2025", "1", "A1"), "bottled_on") == "2026-02-06"
    assert value(tmp_path, ("2025", "2", "B1"), "press") == "bag hung"
    table = load_book(tmp_path / "batches").table()
    assert list(table["batch"]) == ["1 / 2025"] * 4 + ["2 / 2025"]


def test_own_headings_are_told_once(run: Run, tmp_path: Path):
    first = run("06")
    assert first.exit_code == 1
    assert "Kettle" in first.stderr
    assert "polishing" in first.stderr
    told = ("Kettle=tank", "Which winter=year", "Grain=rice", "Left after milling=polishing")
    assert run("06", *(word for one in told for word in ("--map", one))).exit_code == 0
    again = run("06")
    assert again.exit_code == 0
    assert "0 of them new" in again.stderr
    assert value(tmp_path, ("2024", "North"), "mash_max_c") == "11.5"
    assert value(tmp_path, ("2025", "North"), "rice") == "Miyama Nishiki"


def test_a_heading_told_later_leaves_no_second_column(run: Run, tmp_path: Path):
    place = ("--map", "Kettle=tank", "--map", "Which winter=year")
    assert run("06", *place).exit_code == 0
    assert "Grain" in load_book(tmp_path / "batches").table()
    assert run("06", "--map", "Grain=rice").exit_code == 0
    table = load_book(tmp_path / "batches").table()
    assert "Grain" not in table
    assert table["rice"].iloc[0] == "Gohyakumangoku"


def test_what_is_no_number_is_told_and_not_taken(run: Run, tmp_path: Path):
    done = run("07")
    assert done.exit_code == 3
    places = [
        (3, "meter value"), (3, "acidity"), (4, "mash days"), (4, "alcohol"), (5, "polishing"),
        (6, "alcohol"),
    ]  # fmt: skip
    for row, column in places:
        assert f"07-notes-in-cells.csv, row {row}, column '{column}'" in done.stderr
    assert "15 is outside what sake usually has" in done.stderr
    own = load_book(tmp_path / "batches").of_tank("2024", "2")
    assert {"meter_value", "acidity", "amino_acidity"}.isdisjoint(own)
    assert own["abv"].value == "17"


def test_holes_are_filled_only_where_that_is_said(run: Run, tmp_path: Path):
    done = run("08")
    assert done.exit_code == 3
    assert "row 6, column 'タンク'" in done.stderr
    assert "total" in done.stderr
    assert len(load_book(tmp_path / "batches").tanks) == 2
    filled = run("08", "--fill-down")
    assert "row above in rows 6, 7" in filled.stderr


def test_the_same_twice_and_two_things_at_once(run: Run, tmp_path: Path):
    done = run("09")
    assert done.exit_code == 3
    assert "row 4 says what another row says" in done.stderr
    assert "row 6, column 'polishing': '50' stands here, and '55' in row 5" in done.stderr
    book = load_book(tmp_path / "batches")
    assert len(book.tanks) == 3
    assert "polishing" not in book.of_tank("2025", "2")


@pytest.mark.parametrize("number", ["10", "12"])
def test_refused_with_what_to_do(run: Run, tmp_path: Path, number: str):
    done = run(number)
    assert done.exit_code == 1
    assert ("--map" if number == "10" else "column 4 has cells and no heading") in done.stderr
    assert not (tmp_path / "batches" / "book.csv").exists()


def test_a_sheet_a_tank_whose_year_is_asked_for(run: Run, tmp_path: Path):
    assert "--year" in run("11").stderr
    assert run("11", "--year", "2025").exit_code == 0
    assert len(load_book(tmp_path / "batches").days("2025", "2号")) == 3


def test_formulas_without_value_and_error_marks(run: Run, tmp_path: Path):
    done = run("13")
    assert done.exit_code == 3
    assert "sheet '2025', row 2, column 'meter value'" in done.stderr
    assert "sheet '2025', row 3, column 'polishing'" in done.stderr
    own = load_book(tmp_path / "batches")
    assert "meter_value" not in own.of_tank("2025", "1")
    assert "polishing" not in own.of_tank("2025", "2")


def test_one_book_of_all_tables(run: Run, tmp_path: Path):
    assert run("01", "03", "05").exit_code == 0
    book = load_book(tmp_path / "batches")
    assert len(book.tanks) == 4
    assert book.spellings("2025", "1") == ["仕1号", "1"]
    shown = run().output
    assert "Taken for one tank of 2025: 仕1号, 1" in shown
    assert max(map(len, shown.split("\n\n", maxsplit=1)[0].splitlines())) <= 80
    assert "タンク仕1号 / 2025の日々" in run("--tank", "1", "--language", "ja").output


def test_a_later_table_says_what_changed_and_keeps_what_was(run: Run, tmp_path: Path):
    run("05")
    before = load_book(tmp_path / "batches")
    table = before.table().assign(acidity="2.5", year="2025")[["lot", "tank", "year", "acidity"]]
    later = frame_csv(tmp_path / "later.csv", table)
    done = run(str(later))
    assert "was 1.8, is 2.5 now" in done.stderr
    after = load_book(tmp_path / "batches")
    assert after.facts[: len(before.facts)] == before.facts
    assert after.of_lot("2025", "1", "A1")["acidity"].value == "2.5"
    assert len(list((tmp_path / "batches" / "originals").iterdir())) == 2


def test_a_book_that_was_changed_outside_is_refused(run: Run, tmp_path: Path):
    run("05")
    path = tmp_path / "batches" / "book.csv"
    path.write_text(path.read_text("utf-8-sig").replace(",3\n", ",x\n", 1), "utf-8")
    done = run()
    assert done.exit_code == 1
    assert "book.csv, row" in done.stderr
    with pytest.raises(InputRefused):
        load_book(tmp_path / "batches")


@pytest.mark.parametrize(
    ("written", "year"),
    [("R6BY", 2024), ("令和元年度", 2019), ("H30BY", 2018), ("24/25", 2024), ("2024–2025", 2024),
     ("24/26", None), ("24", None), ("February", None)],
)  # fmt: skip
def test_years_of_brewing(written: str, year: int | None):
    """Reiwa began in 2019, Heisei ended with its 31st year (2019): Heisei 30 is 2018."""
    assert year_of(written) == year


@pytest.mark.parametrize(
    ("letters", "parted"),
    [("cp932", ","), ("euc_jp", ","), ("iso2022_jp", ";"), ("utf_16_le", "\t"), ("utf-8", ";")],
)
def test_a_book_that_a_spreadsheet_program_saved_anew(
    run: Run, tmp_path: Path, letters: str, parted: str
):
    """Facts come back as they were, whatever letters and separators the program chose."""
    run("01")
    before = load_book(tmp_path / "batches")
    path = tmp_path / "batches" / "book.csv"
    rows = list(csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline="")))
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=parted).writerows(rows)
    path.write_bytes(out.getvalue().encode(letters))
    assert load_book(tmp_path / "batches").facts == before.facts
    assert run("02").exit_code == 0
    assert load_book(tmp_path / "batches").facts[: len(before.facts)] == before.facts


@pytest.mark.parametrize(
    "content", [b"", b"\x80\x81\xff\xfe\x00", "年,桶\r\n2024,1\r\n".encode("cp932")]
)
def test_a_book_that_is_none_is_never_taken_for_an_empty_one(
    run: Run, tmp_path: Path, content: bytes
):
    run("01")
    path = tmp_path / "batches" / "book.csv"
    path.write_bytes(content)
    done = run("02")
    assert done.exit_code == 1
    assert "book.csv" in done.stderr
    assert "originals" in done.stderr
    assert path.read_bytes() == content
