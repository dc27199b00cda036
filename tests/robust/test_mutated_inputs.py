"""A sample of `benchmarks/mutated_inputs.py`, and the files at which readers once failed."""

from __future__ import annotations

import io
import os
import random
import re
import zipfile
from contextlib import suppress
from pathlib import Path

import mutated_runs
import pytest
from kikichoko.forms.answers import workbook_bounds
from kikichoko.forms.answers.answer import Reading
from kikichoko.forms.photo import photo_reader, picture_files
from kikichoko.forms.reading import read_file
from kikichoko.panel.base.errors import PanelError
from PIL import Image


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> mutated_runs.Bench:
    return mutated_runs.prepare(tmp_path_factory.mktemp("mutated"))


def test_what_was_found_is_refused_in_words(bench):
    """Files of the long runs that once ended in a fault of the program or took over 2 GB."""
    with zipfile.ZipFile(Path(__file__).parent / "found_inputs.zip") as found:
        for name in found.namelist():
            with pytest.raises(PanelError):
                bench.read(name.partition("-")[2], found.read(name), bench.place)


def test_good_files_give_answers(bench):
    assert len(bench.wanted["sheet.xlsx"]) > 40
    for name in ("typed.csv", "wide.csv", "table.xlsx"):
        assert len(bench.wanted[name]) > 15


def test_no_mutated_file_breaks_a_promise(bench):
    done, broken, longest, largest = mutated_runs.run(bench, 0.006, 31, None, lambda _: None)
    assert sum(done.values()) >= 110
    assert broken == []
    assert longest <= mutated_runs.SECONDS
    assert largest <= mutated_runs.MEGABYTES


HOSTILE = mutated_runs.outside()


@pytest.mark.parametrize("how", sorted(HOSTILE.MUTATORS))
def test_each_outsiders_file_is_read_or_told(bench, how, tmp_path):
    """Verdicts of the outsider: refuse, accept, either; `ask` may take what is certain."""
    one = HOSTILE.MUTATORS[how]
    name = {"xlsx": "sheet.xlsx", "csv": "typed.csv", "png": "page.png", "jpeg": "page.jpg",
            "pdf": "page.pdf", "any": "sheet.xlsx", "toml": ""}[one.kind]  # fmt: skip
    if not name:
        name = "session.toml"
    good = bench.good[name]
    try:
        made = one.run(good, random.Random(how))  # noqa: S311 - to be repeatable
    except HOSTILE.NotApplicable:
        made = one.run(HOSTILE.BUILT_IN[one.kind](), random.Random(how))  # noqa: S311
    if one.kind == "toml":
        with suppress(PanelError):  # told in words
            bench.read(name, made, bench.place)
        return
    path = tmp_path / f"returned{one.suffix or Path(name).suffix}"
    path.write_bytes(made)
    reading = read_file(path, bench.sheets)
    answers = {(a.assessor, a.code, a.attribute): a.value for a in reading.answers}
    if one.verdict == "accept":
        assert answers == bench.wanted[name]
    if one.verdict == "refuse" and not answers:
        assert reading.faults
    if how in mutated_runs.SILENT:
        wanted = bench.wanted[name]
        assert not {cell for cell in answers if wanted.get(cell, answers[cell]) != answers[cell]}
    for fault in reading.faults:
        said = fault.message("en")
        assert not [sign for sign in said if ord(sign) < 32 and sign not in "\n\t"]


def kinds(reading: Reading) -> set[str]:
    return {fault.kind for fault in reading.faults}


def test_what_is_too_large_is_not_opened(bench, tmp_path, monkeypatch):
    """A smaller bound stands in for what a workbook may unpack to and a picture may show."""
    monkeypatch.setattr(workbook_bounds, "LARGEST_INSIDE", 1_000_000)
    monkeypatch.setattr(picture_files, "MOST_PIXELS", 1_000_000)
    wide = tmp_path / "wide.csv"
    wide.write_bytes(b"assessor,code" + b"," * 1_000_000 + b"\n")
    assert kinds(read_file(wide, bench.sheets)) == {"too_large"}
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", bytes(workbook_bounds.LARGEST_INSIDE + 1))
    assert kinds(read_file(bomb, bench.sheets)) == {"too_large"}
    side = 1_001
    large = tmp_path / "large.png"
    Image.new("1", (side, side)).save(large)
    assert kinds(read_file(large, bench.sheets)) == {"too_large"}


def test_a_worksheet_of_more_cells_than_any_table_is_refused(bench, monkeypatch):
    """At the limit it is opened, one cell beyond it is not."""
    good = bench.good["sheet.xlsx"]
    with zipfile.ZipFile(io.BytesIO(good)) as parts:
        sheets = [name for name in parts.namelist() if name.startswith("xl/worksheets/")]
        most = max(len(re.findall(rb"<c[ >/]", parts.read(name))) for name in sheets)
    monkeypatch.setattr(workbook_bounds, "MOST_CELLS", most)
    workbook_bounds.check_workbook(good)
    monkeypatch.setattr(workbook_bounds, "MOST_CELLS", most - 1)
    with pytest.raises(workbook_bounds.Unopened, match=f"{most} cells"):
        workbook_bounds.check_workbook(good)


def test_whatever_a_reader_throws_is_that_files_fault(bench, tmp_path, monkeypatch):
    page = tmp_path / "page.png"
    page.write_bytes(bench.good["page.png"])

    def fails(*_: object) -> None:
        raise RuntimeError("a fault\x1b[2J of the reader")

    monkeypatch.setattr(photo_reader, "find", fails)
    (fault,) = read_file(page, bench.sheets).faults
    assert fault.kind == "unreadable_file"
    assert "RuntimeError: a fault␛[2J of the reader" in fault.message("en")
    sheet = tmp_path / "T1.xlsx"
    sheet.write_bytes(bench.good["sheet.xlsx"])
    monkeypatch.setattr("kikichoko.forms.spreadsheets.workbook_reader.read_book", fails)
    assert kinds(read_file(sheet, bench.sheets)) == {"unreadable_file"}


def test_names_of_all_kinds_are_read(bench, tmp_path):
    for label, build in HOSTILE.NAMES.items():
        raw = build(".xlsx", random.Random(label))  # noqa: S311 - to be repeatable
        path = tmp_path / os.fsdecode(raw)
        path.write_bytes(bench.good["sheet.xlsx"])
        reading = read_file(path, bench.sheets)
        if label in ("name_lock_file", "name_apple_double"):
            continue
        assert len(reading.answers) == len(bench.wanted["sheet.xlsx"]), label
