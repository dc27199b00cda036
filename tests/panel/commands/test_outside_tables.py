"""Small tables from outside (`tests/outside/tables`): read as their clean table, or refused."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.sax.saxutils import escape

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.session import load
from openpyxl import Workbook

sys.path.insert(0, str(Path(__file__).parents[2] / "outside" / "tables"))
from cases import ANSWERS, BOTTLES, CASES, CLEAN, SCORES, Case

LONG = "assessor,sample,replicate,attribute,score\n" + "".join(
    f"{assessor},{sample},1,sweetness,{sweet}\n"
    for assessor, sample, sweet, _ in (line.split(",") for line in SCORES.splitlines()[1:])
)
CLEAN = CLEAN | {"no amino": re.sub(r",1(\.\d)?,60", ",,60", BOTTLES)}
SHORT = """name = "outside"
title = "Tasting"
date = 2026-03-14
question = "Do they differ?"
[serving]
replicates = 1
spare_sheets = 0
appearance = "off"
[questions]
card = "earlier"
drop = ["fault"]
"""
ODS = "urn:oasis:names:tc:opendocument:xmlns"


def run(*words: object) -> tuple[int, str]:
    """Run a command; return its exit code and all that it said."""
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    return done.exit_code, done.output


def write(case: Case, path: Path, codes: dict[str, str]) -> Path:
    """Write the table of a case as a file of the kind that it names."""
    for name, code in codes.items():
        case.cells[:] = [
            [int(code) if cell == f"{{{name}}}" else cell for cell in row] for row in case.cells
        ]
    path = path.with_suffix(case.suffix)
    if case.suffix == ".ods":
        _ods(path, case.cells)
    elif case.cells:
        _workbook(path, case)
    else:
        table = case.table
        for name, code in codes.items():
            table = table.replace(f"{{{name}}}", code)
        written = table.replace("\n", case.ends).encode(case.encoding)
        path.write_bytes(case.raw or case.mark + written)
    return path


def _workbook(path: Path, case: Case) -> None:
    book = Workbook()
    sheet = book.active
    if case.extra_sheet:
        sheet.append(["Notes", "see the second worksheet"])
        sheet = book.create_sheet("Numbers")
    for row in case.cells:
        sheet.append([
            dt.datetime.fromisoformat(cell.removeprefix("date:"))
            if isinstance(cell, str) and cell.startswith("date:") else cell
            for cell in row
        ])  # fmt: skip
    for letter, style in case.formats.items():
        for cell in sheet[letter]:
            cell.number_format = style
    with path.open("wb") as out:
        book.save(out)


def _ods(path: Path, rows: list[list[object]]) -> None:
    """Write what a free office program writes, as its published format has it (ODF 1.2)."""

    def cell(value: object) -> str:
        if isinstance(value, str):
            return (
                f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p>'
                "</table:table-cell>"
            )
        return (
            f'<table:table-cell office:value-type="float" office:value="{value}">'
            f"<text:p>{value}</text:p></table:table-cell>"
        )

    body = "".join(
        "<table:table-row>" + "".join(map(cell, row))
        + '<table:table-cell table:number-columns-repeated="1015"/></table:table-row>'
        for row in rows
    )  # fmt: skip
    content = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<office:document-content xmlns:office="{ODS}:office:1.0"'
        f' xmlns:table="{ODS}:table:1.0" xmlns:text="{ODS}:text:1.0" office:version="1.2">'
        '<office:body><office:spreadsheet><table:table table:name="Sheet1">'
        f'{body}<table:table-row table:number-rows-repeated="1048570">'
        '<table:table-cell table:number-columns-repeated="1024"/></table:table-row>'
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<manifest:manifest xmlns:manifest="{ODS}:manifest:1.0" manifest:version="1.2">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
        "</manifest:manifest>"
    )
    with zipfile.ZipFile(path, "w") as parts:
        parts.writestr("mimetype", kind)
        parts.writestr("content.xml", content, zipfile.ZIP_DEFLATED)
        parts.writestr("META-INF/manifest.xml", manifest, zipfile.ZIP_DEFLATED)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a session that is planned, to read answers into."""
    place = tmp_path_factory.mktemp("planned") / "session"
    _folder(place, CLEAN["bottles"], CLEAN["assessors"].replace(",no", ",yes"))
    assert run("plan", place)[0] == 0
    return place


def _folder(place: Path, bottles: str, assessors: str) -> Path:
    place.mkdir()
    (place / "session.toml").write_text(SHORT, "utf-8")
    if bottles:
        (place / "bottles.csv").write_text(bottles, "utf-8")
    if assessors:
        (place / "assessors.csv").write_text(assessors, "utf-8")
    return place


def _codes(session: Path) -> dict[str, str]:
    """Return two codes that A2 was dealt."""
    lines = (session / "plan" / "orders.csv").read_text("utf-8-sig").splitlines()
    dealt = next(line for line in lines if line.startswith("A2,")).split(",")
    return {"c1": dealt[1], "c2": dealt[2]}


def _read(case: Case, place: Path, session: Path) -> tuple[int, str]:
    """Run a command on a table of a case; return its exit code and what it said of it."""
    (place / "scores.csv").write_text(SCORES, "utf-8")
    (place / "bottles.csv").write_text(CLEAN["bottles"], "utf-8")
    match case.command:
        case "chemistry":
            return run("chemistry", write(case, place / "table", {}), "--json")
        case "anova":
            path = write(case, place / "table", {})
            return run("anova", path, "--scores", "sweetness,acidity", "--json")
        case "link" | "link scores":
            path = write(case, place / "table", {})
            pair = (place / "scores.csv", path) if case.command == "link" else (
                path, place / "bottles.csv")  # fmt: skip
            return run("link", *pair, "--scores", "sweetness,acidity", "--json")
        case "plan":
            folder = _folder(place / "session", "", CLEAN["assessors"])
            write(case, folder / "bottles", {})
            return _planned(folder)
        case "plan assessors":
            folder = _folder(place / "session", CLEAN["bottles"], "")
            write(case, folder / "assessors", {})
            return _planned(folder)
        case "history":
            folder = _folder(place / "session", "", CLEAN["assessors"])
            (folder / "scores.csv").write_text(LONG, "utf-8")
            write(case, folder / "bottles", {})
            return run("history", folder, "--link", "--json")
    folder = place / "session"
    shutil.copytree(session, folder)
    path = write(case, place / "answers", _codes(session))
    code, said = run("read", folder, path)
    return code, said + json.dumps(_answers(folder))


def _planned(folder: Path) -> tuple[int, str]:
    """Plan a folder; return the cautions, or why not, and what was understood of its tables."""
    code, said = run("plan", folder)
    if code:
        return code, said
    session = load(folder)
    cautions = [line for line in said.splitlines() if line.startswith("Careful")]
    return code, "\n".join([*cautions, repr(session.bottles), repr(session.assessors)])


def _answers(folder: Path) -> list[tuple[str, str, float]]:
    from kikichoko.panel.returns.store import Store

    with Store(folder, reading=True) as store:
        return sorted(
            (one.answer.assessor, one.answer.attribute, one.answer.value) for one in store.answers()
        )


def _plain(said: str, place: Path) -> str:
    """Leave out where the file lies, how its rows are counted, lots and the clock."""
    said = said.replace(str(place), "")
    said = re.sub(r"\b(answers|table|bottles|assessors)\.(csv|txt|tsv|xlsx|ods)\b", r"\1", said)
    return re.sub(r"\b\d{3}\b|\brow \d+|\bin [\d.]+ s\b", "", said)


@pytest.fixture(scope="module")
def clean(
    tmp_path_factory: pytest.TempPathFactory, planned: Path
) -> Callable[[Case], tuple[int, str]]:
    """Return what a command says of the clean table of a case, asked once for each."""
    known: dict[tuple[str, str], tuple[int, str]] = {}

    def asked(case: Case) -> tuple[int, str]:
        which = (case.command, case.same)
        if which not in known:
            place = tmp_path_factory.mktemp("clean")
            table = CLEAN[case.same]
            as_is = Case(name="", who="", what="", command=case.command, table=table)
            code, said = _read(as_is, place, planned)
            known[which] = code, _plain(said, place)
        return known[which]

    return asked


def judged(case: Case, place: Path, planned: Path, clean: Callable[[Case], tuple[int, str]]) -> str:
    """Say what is wrong with what became of a table; nothing where all is as demanded."""
    code, said = _read(case, place, planned)
    plain = _plain(said, place)
    heard = said.lower()
    lacks = [words for words in case.refused if not any(one.lower() in heard for one in words)]
    if case.refused and code != 0 and not lacks:
        return ""
    if case.same == "any" and code == 0:
        lacks = [words for words in case.told if not any(one in said for one in words)]
        return f"not told {lacks}" if lacks else ""
    if case.same:
        wanted = clean(case)
        assert wanted[0] in (0, 3), wanted
        return "" if (code, plain) == wanted else f"exit {code}: {said[:600]}"
    if case.told:
        lacks = [words for words in case.told if not any(one in said for one in words)]
        return f"exit {code}, not told {lacks}: {said[:600]}" if code or lacks else ""
    return f"exit {code}, lacks {lacks}: {said[:600]}"


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.name} {case.what}")
def test_table_from_outside(case: Case, tmp_path: Path, planned: Path, clean) -> None:
    assert not judged(case, tmp_path, planned, clean)


def test_the_cases_are_of_three_people():
    assert len(CASES) == len({case.name for case in CASES}) == 84
    assert {case.who for case in CASES} == {"brewer", "teacher", "analyst"}
    assert ANSWERS.count("{c") == 2
