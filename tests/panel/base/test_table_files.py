"""Tables of people's own: whatever kind, the same columns come out, and nothing takes the day."""

from __future__ import annotations

import time
import zipfile

import pandas as pd
import pytest
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.base.table_files import read_table
from openpyxl import Workbook
from openpyxl.styles import Font

TABLE = pd.DataFrame(
    {"assessor": ["A1", "A2", "A1"], "sample": ["梨", "b", "b"], "score": [1.5, 2.0, None],
     "rank": [1, 2, 3]}
)  # fmt: skip


@pytest.mark.parametrize("ending", [".csv", ".tsv", ".xlsx", ".parquet"])
def test_each_kind_gives_the_same_table(tmp_path, ending):
    path = tmp_path / f"t{ending}"
    match ending:
        case ".xlsx":
            TABLE.to_excel(path, index=False)
        case ".parquet":
            TABLE.to_parquet(path)
        case _:
            TABLE.to_csv(path, index=False, sep="\t" if ending == ".tsv" else ";")
    pd.testing.assert_frame_equal(read_table(path), TABLE, check_dtype=True)


def test_arrow_types_come_out_as_plain_ones(tmp_path):
    path = tmp_path / "t.parquet"
    made = TABLE.convert_dtypes(dtype_backend="pyarrow")
    made["sample"] = made["sample"].astype("category")
    made.to_parquet(path)
    again = read_table(path)
    assert [kind.kind for kind in again.dtypes] == ["O", "O", "f", "i"]
    assert list(again["sample"]) == list(TABLE["sample"])
    assert again["score"].isna().tolist() == [False, False, True]


@pytest.mark.parametrize("place", ["B1048576", "XFD2000"])
def test_a_formatted_cell_far_away_is_no_content(tmp_path, place):
    book = Workbook()
    for row in [list(TABLE.columns), *TABLE.itertuples(index=False)]:
        book.active.append([None if cell != cell else cell for cell in row])  # noqa: PLR0124
    book.active[place].font = Font(bold=True)
    path = tmp_path / "t.xlsx"
    book.save(path)
    began = time.process_time()
    pd.testing.assert_frame_equal(read_table(path), TABLE)
    assert time.process_time() - began < 5


def test_what_is_no_table_is_refused_in_words(tmp_path):
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", bytes(200_000_000))
    with pytest.raises(InputRefused, match="larger than any"):
        read_table(bomb)
    torn = tmp_path / "torn.parquet"
    torn.write_bytes(b"PAR1 and no more")
    with pytest.raises(InputRefused, match="could not be read"):
        read_table(torn)
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as out:
        out.truncate(70_000_000)
    with pytest.raises(InputRefused, match="larger than 60 MB"):
        read_table(huge)
    (tmp_path / "t.doc").write_text("a")
    with pytest.raises(InputRefused, match="not a table"):
        read_table(tmp_path / "t.doc")


def test_a_date_among_numbers_is_refused_and_one_among_texts_is_not(tmp_path):
    import datetime as dt

    def made(*cells: object):
        book = Workbook()
        book.active.append(["bottle", "acidity"])
        for number, cell in enumerate(cells):
            book.active.append([f"b{number}", cell])
        path = tmp_path / "t.xlsx"
        book.save(path)
        return path

    day = dt.datetime(2026, 7, 1)  # noqa: DTZ001 - a spreadsheet's date has no zone
    with pytest.raises(InputRefused, match="row 3"):
        read_table(made(1.5, day))  # half of them are numbers
    assert list(read_table(made(1.5, day, "x"))["acidity"]) == ["1.5", "2026-07-01", "x"]


def test_rows_are_numbered_as_in_the_file(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("Title,,\n\nassessor,sample,score\nA,x,1\n,,\nB,x,2\n", "utf-8")
    assert list(read_table(path).attrs["rows"]) == [4, 6]


@pytest.mark.parametrize(("ending", "text"), [(".csv", "TRUE"), (".xlsx", "yes")])
def test_true_is_told_and_never_a_score(tmp_path, ending, text):
    path = tmp_path / f"t{ending}"
    table = pd.DataFrame({"assessor": ["A1", "A2"], "sample": ["a", "b"], "score": [True, True]})
    table.to_csv(path, index=False) if ending == ".csv" else table.to_excel(path, index=False)
    assert list(read_table(path)["score"]) == [text, text]


def test_lone_returns_and_strict_workbooks_are_told_how_to_be_saved(tmp_path):
    lone = tmp_path / "mac.csv"
    lone.write_bytes(b'assessor,sample,score\rA1,"a\rb",4\r')
    with pytest.raises(InputRefused, match="line ends of old Macintosh"):
        read_table(lone)
    path = tmp_path / "strict.xlsx"
    TABLE.to_excel(path, index=False)
    with zipfile.ZipFile(path) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    main = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    with zipfile.ZipFile(path, "w") as out:
        for name, text in parts.items():
            strict = text.replace(main, b"http://purl.oclc.org/ooxml/spreadsheetml/main")
            out.writestr(name, strict)
    with pytest.raises(InputRefused, match=r"ordinary Excel workbook \(.xlsx\)"):
        read_table(path)


@pytest.mark.parametrize(
    ("cells", "read"),
    [(["60%", "6割"], [60.0, "6割"]), (["60%", "6割", "?"], ["60%", "6割", "?"])],
)
def test_cells_that_are_read_stand_beside_one_that_is_not_where_half_are_numbers(
    tmp_path, cells, read
):
    path = tmp_path / "t.csv"
    rows = "\n".join(f"b{n},{cell}" for n, cell in enumerate(cells))
    path.write_text(f"bottle,polishing\n{rows}\n", "utf-8")
    assert list(read_table(path)["polishing"]) == read
