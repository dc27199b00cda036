"""Write a sheet, fill it as a person would, read it: the same answers, and nothing but codes."""

from __future__ import annotations

import getpass
import re
import shutil
import socket
import subprocess
import tempfile
import time
import zipfile
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from kikichoko.forms.questions import default_scorecard
from kikichoko.forms.questions.question_types import Kind, Text
from kikichoko.forms.questions.words import languages, say, topic
from kikichoko.forms.reading import read_files
from kikichoko.forms.spreadsheets.workbook_reader import read_workbook
from kikichoko.forms.spreadsheets.workbook_style import RUN_OVER, WIDTH, Dress, Look, lines
from kikichoko.forms.spreadsheets.workbook_writer import HIDDEN, write_sheet
from openpyxl import Workbook, load_workbook
from sheet_kinds import sheet_of

DATA = Path(__file__).parent / "data"


def values(reading):
    return {(answer.code, answer.attribute): answer.value for answer in reading.answers}


@pytest.mark.parametrize("assessor", ["A01", "B02"], ids=["en", "ja"])
def test_whole_sheet_comes_back(assessor, filled, person, sheets):
    answers = person.answers(sheets[assessor])
    reading = read_files([filled(sheets[assessor], answers)], sheets)
    assert reading.faults == ()
    assert values(reading) == answers
    assert {answer.session for answer in reading.answers} == {"spring-1"}


@pytest.mark.parametrize("language", languages())
def test_default_scorecard_comes_back(language, filled, person):
    sheet = person.sheet("A01", language, default_scorecard())
    answers = person.answers(sheet)
    reading = read_workbook(filled(sheet, answers), {"A01": sheet})
    assert reading.faults == ()
    assert values(reading) == answers
    assert len(answers) == sheet.cells + 3, "all cells, and three places for free words"


def possible(sheet, person):
    """Draw an answer for every place of a sheet; spreadsheets keep 15 digits of a number."""
    letters = st.characters(codec="utf-8", categories=["L", "N", "P", "Zs"])
    answers = {}
    for (code, attribute), value in person.answers(sheet).items():
        question = sheet.scorecard.owner(attribute)
        match question.kind:
            case Kind.LINE:
                answers[code, attribute] = st.integers(0, 10**6).map(lambda n: n / 10**5)
            case Kind.CATEGORY | Kind.BALANCE | Kind.TICKS | Kind.FAULTS:
                answers[code, attribute] = st.sampled_from(question.values)
            case Kind.WORDS:
                text = st.text(letters, max_size=30)
                answers[code, attribute] = text.filter(lambda text: not text.startswith("="))
            case _:
                answers[code, attribute] = st.just(value)
    return st.fixed_dictionaries(answers)


# No shrinking: a workbook an example takes too long for thousands of them.
@settings(max_examples=8, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(data=st.data())
def test_any_answers_come_back(data, person, sheets):
    sheet = sheets["A01"]
    answers = data.draw(possible(sheet, person))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.xlsx"
        path.write_bytes(person.blank(sheet))
        person.fill(path, sheet, answers)
        reading = read_workbook(path, sheets)
    written = {place: value for place, value in answers.items() if str(value).strip()}
    assert values(reading) == written
    assert reading.faults == ()


def test_each_answer_tells_where_it_stood_and_what_was_written(filled, sheets):
    answers = {("427", "sweetness"): ["３，５"], ("427", "sweetness_balance"): 1.0}
    path = filled(sheets["A01"], answers, "A01.xlsx")
    found = {answer.attribute: answer for answer in read_workbook(path, sheets).answers}
    assert found["sweetness"].value == 3.5
    assert found["sweetness"].written == "３，５"
    assert found["sweetness_balance"].written == "a little too sweet"
    page, _, cell = found["sweetness"].place.partition("!")
    assert found["sweetness"].file == "A01.xlsx"
    assert load_workbook(path)[page][cell].value == "３，５"


def test_same_sheet_gives_the_same_bytes(tmp_path, sheets):
    write_sheet(sheets["A01"], tmp_path / "one.xlsx")
    time.sleep(2.1)  # zip entries count in two seconds
    write_sheet(sheets["A01"], tmp_path / "two.xlsx")
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


def test_the_workbook_says_nothing_that_the_sheet_does_not(tmp_path, sheets):
    """Every text in every part is the catalogue's, the scorecard's, or one of the sheet's codes."""
    sheet = sheets["A01"]
    write_sheet(sheet, tmp_path / "sheet.xlsx")
    with zipfile.ZipFile(tmp_path / "sheet.xlsx") as parts:
        content = b"".join(parts.read(name) for name in parts.namelist())
        core = parts.read("docProps/core.xml").decode()
        assert {entry.date_time for entry in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert "creator" not in core
    assert "lastModifiedBy" not in core
    for name in (getpass.getuser(), socket.gethostname(), str(tmp_path), "openpyxl"):
        assert name.encode() not in content, name
    # The same sheet with other codes, another assessor and title leaves nothing of the first.
    other = person_less(sheet)
    write_sheet(other, tmp_path / "other.xlsx")
    with zipfile.ZipFile(tmp_path / "other.xlsx") as parts:
        content = b"".join(parts.read(name) for name in parts.namelist())
    for sentinel in (sheet.title, "A01", *(code for p in sheet.presentations for code in p.codes)):
        assert f">{sentinel}<".encode() not in content, sentinel
    assert b"spring-1" in content


def person_less(sheet):
    """Change all that can be told apart in a sheet, but its session."""
    from dataclasses import replace

    presentations = tuple(
        replace(each, codes=tuple(code[::-1] + "7" for code in each.codes))
        for each in sheet.presentations
    )
    return replace(sheet, assessor="Z9", title="-", presentations=presentations)


@pytest.mark.parametrize("across", ["left", "right"])
def test_text_that_surely_fits_runs_over_and_longer_text_is_merged(across):
    room = RUN_OVER * (WIDTH["E"] + WIDTH["F"] - 1)
    most = int(room * 10.4 / 10 / 0.8)
    page = Workbook().active
    for row, count in enumerate((most, most + 1), start=1):
        text = "a" * count
        assert lines(text, WIDTH["E"] + WIDTH["F"], 10) == 1, "both stand on one line"
        Look("en").put(page, f"E{row}", text, Dress(across=across), to=f"F{row}")
    assert [area.coord for area in page.merged_cells.ranges] == ["E2:F2"]
    start = {"left": "E1", "right": "F1"}[across]  # it runs over towards the other end
    assert page[start].value == "a" * most
    assert not page[start].alignment.wrap_text
    assert page["E2"].alignment.wrap_text


def test_what_text_runs_over_into_is_empty(tmp_path, sheets):
    for name in ("A01", "B02"):
        write_sheet(sheets[name], tmp_path / "sheet.xlsx")
        for page in load_workbook(tmp_path / "sheet.xlsx").worksheets[:-1]:
            for cell in (one for row in page["A1:F90"] for one in row):
                if cell.value is None or cell.alignment.wrap_text:
                    continue
                letters = "ABCDEF"[:: -1 if cell.alignment.horizontal == "right" else 1]
                beyond, needed = letters[letters.index(cell.column_letter) :], ""
                for letter in beyond:
                    needed += letter
                    wide = sum(WIDTH[one] for one in needed)
                    if lines(cell.value, RUN_OVER * (wide - 1) + 1, cell.font.size) == 1:
                        break
                else:
                    pytest.fail(f"{page.title}!{cell.coordinate} has no room: {cell.value}")
                over = [page[f"{letter}{cell.row}"] for letter in needed[1:]]
                assert all(one.value is None and one.protection.locked for one in over), over


def test_each_rule_that_tints_speaks_of_the_first_cell_of_its_column(tmp_path, sheets):
    write_sheet(sheets["A01"], tmp_path / "sheet.xlsx")
    page = load_workbook(tmp_path / "sheet.xlsx").worksheets[1]
    tinted = set()
    for area in page.conditional_formatting:
        (rule,) = area.rules
        cells = [cell for part in area.sqref.ranges for cell in part.cells]
        first, column = min(cells)
        assert {across for _, across in cells} == {column}
        assert rule.formula == [f"LEN({page.cell(first, column).coordinate})=0"]
        tinted.update(cells)
    open_cells = {
        (one.row, one.column) for row in page["A1:F90"] for one in row if not one.protection.locked
    }
    covered = {cell for area in page.merged_cells.ranges for cell in list(area.cells)[1:]}
    assert tinted == open_cells - covered


def test_only_answer_cells_are_open_and_each_has_its_rule(tmp_path, sheets):
    sheet = sheets["A01"]
    write_sheet(sheet, tmp_path / "sheet.xlsx")
    book = load_workbook(tmp_path / "sheet.xlsx")
    assert book[HIDDEN].sheet_state == "veryHidden"
    assert book.security.lockStructure
    opened = 0
    for page in book.worksheets:
        assert page.protection.sheet
        ruled = {
            place
            for rule in page.data_validations.dataValidation
            for part in rule.sqref.ranges
            for place in [part.coord.split(":")[0]]
        }
        merged = {cell for area in page.merged_cells.ranges for cell in list(area.cells)[1:]}
        free = {
            cell.coordinate
            for row in page.iter_rows()
            for cell in row
            if not cell.protection.locked and (cell.row, cell.column) not in merged
        }
        words = {place for place in free if place not in ruled}
        assert len(words) <= 1, "free words alone have no rule"
        assert ruled <= free
        opened += len(free)
        assert page.page_setup.paperSize in (None, 9) or page.title == HIDDEN
    assert opened == sheet.cells + 3
    with zipfile.ZipFile(tmp_path / "sheet.xlsx") as parts:
        page = parts.read("xl/worksheets/sheet3.xml").decode()
    looks = dict(re.findall(r'<c r="([A-F]\d+)" s="(\d+)"', page))
    area = re.search(r'mergeCell ref="(D(\d+):F\d+)"', page)
    assert len({looks[f"{letter}{area[2]}"] for letter in "DEF"}) == 1, "open as a whole"
    assert book["1-427"].freeze_panes == "A6"


def test_rules_are_those_of_the_questions(tmp_path, sheets):
    write_sheet(sheets["A01"], tmp_path / "sheet.xlsx")
    page = load_workbook(tmp_path / "sheet.xlsx")["1-427"]
    rules = {rule.formula1: rule for rule in page.data_validations.dataValidation}
    assert rules["0"].type == "decimal"
    assert rules["0"].formula2 == "10"
    assert rules['"0,1,2,3"'].type == "list"
    assert rules['"✓,x,○"'].type == "list"
    assert all(rule.showErrorMessage and rule.allow_blank for rule in rules.values())
    labels = next(source for source in rules if source.startswith(f"{HIDDEN}!"))
    area = labels.split("!")[1].replace("$", "")
    words = [row[0].value for row in load_workbook(tmp_path / "sheet.xlsx")[HIDDEN][area]]
    assert words[2] == "just right"


def test_titles_and_labels_are_never_formulas(tmp_path, person):
    from dataclasses import replace

    card = default_scorecard()
    evil = Text.of('=HYPERLINK("http://x","y")')
    questions = tuple(
        replace(question, label=evil) if question.key == "sweetness" else question
        for question in card
    )
    sheet = replace(person.sheet("A01"), title="=1+1", scorecard=replace(card, questions=questions))
    write_sheet(sheet, tmp_path / "sheet.xlsx")
    book = load_workbook(tmp_path / "sheet.xlsx")
    cells = [cell for page in book.worksheets for row in page.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]


@pytest.mark.parametrize("name", ["workbook", "value", "table"])
def test_words_are_complete_in_each_language(name):
    for language in languages():
        assert set(topic(language, name)) == set(topic("en", name)), language


def by_libreoffice(paths: list[Path], folder: Path) -> list[Path]:
    """Open workbooks in LibreOffice and save them there; where it is absent, use stored copies."""
    program = shutil.which("soffice")
    if program is None:
        return [DATA / path.name for path in paths]
    home = f"-env:UserInstallation=file://{folder / 'profile'}"
    command = [program, home, "--headless", "--convert-to", "xlsx", "--outdir", str(folder / "out")]
    subprocess.run([*command, *map(str, paths)], check=True, capture_output=True, timeout=200)
    return [folder / "out" / path.name for path in paths]


def test_saved_by_another_spreadsheet(tmp_path, filled, person, sheets):
    chosen = {code: sheets[code] for code in ("A01", "B02")}
    paths = [
        filled(sheet, person.answers(sheet), f"saved-{code}.xlsx") for code, sheet in chosen.items()
    ]
    for path, sheet in zip(by_libreoffice(paths, tmp_path), chosen.values(), strict=True):
        reading = read_files([path], sheets)
        assert [fault.message() for fault in reading.faults] == []
        assert values(reading) == person.answers(sheet)


@pytest.mark.parametrize("assessor", ["A01", "B02"], ids=["en", "ja"])
def test_stored_copies_of_another_spreadsheet(assessor, person, sheets):
    """Files in ``data/`` were written by this program, filled, and saved by LibreOffice 7.4."""
    reading = read_files([DATA / f"saved-{assessor}.xlsx"], sheets)
    assert [fault.message() for fault in reading.faults] == []
    assert values(reading) == person.answers(sheets[assessor])


def test_rows_and_columns_hidden_moved_and_values_pasted(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], answers)
    book = load_workbook(path)
    page = book["1-427"]
    for row in range(8, 12):
        page.row_dimensions[row].hidden = True
    page.column_dimensions["D"].hidden = True
    page["D6"].number_format = "0.00"
    page.protection.sheet = False
    page.title = "renamed"
    book["2-518"].sheet_state = "hidden"
    other = book["3-690"]
    merged = [area.coord for area in other.merged_cells.ranges]
    for area in merged:
        other.unmerge_cells(area)
    other.insert_rows(9, 2)
    book.save(path)
    reading = read_workbook(path, sheets)
    assert reading.faults == ()
    assert values(reading) == answers


@pytest.mark.parametrize("language", languages())
def test_a_pair_that_allows_no_difference_says_which_code_is_which(language, tmp_path):
    sheet = sheet_of("paired-ties", language, cups=2)
    write_sheet(sheet, tmp_path / "A1.xlsx")
    page = load_workbook(tmp_path / "A1.xlsx")
    texts = [str(cell.value) for tab in page for row in tab for cell in row if cell.value]
    for one in sheet.presentations:
        first, second = one.codes
        words = (
            f"{say('set.first_cup', language)} = {first} / "
            f"{say('set.second_cup', language)} = {second} / "
            f"{say('set.no_difference', language)}"
        )
        assert words in texts
