"""A session folder is read whole or refused with every fault named."""

from __future__ import annotations

from pathlib import Path

import pytest
from kikichoko.panel.base.errors import FolderFault, InputRefused, NotReady
from kikichoko.panel.base.headings import near_column
from kikichoko.panel.base.written_numbers import understand
from kikichoko.panel.session import load, template_files
from kikichoko.panel.session.bottles import COLUMNS, read_bottles
from kikichoko.panel.session.template_files import write_template


def test_the_template_is_a_session(tmp_path):
    write_template(tmp_path / "new")
    session = load(tmp_path / "new")
    assert [bottle.fraction for bottle in session.samples] == ["free-run", "clear", "cloudy"]
    assert {one.role for one in session.assessors} == {"maker", "trained", "student"}


def test_new_never_writes_into_a_used_folder(tmp_path):
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(InputRefused, match="holds files already"):
        write_template(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]


def test_new_is_whole_or_nothing(tmp_path, monkeypatch):
    """Broken off it leaves no folder; one that was there is filled by the repeat."""

    def broken(path: Path, content: bytes) -> None:
        if path.name.endswith("bottles.csv"):
            raise OSError("power")
        real(path, content)

    real = template_files._write
    (tmp_path / "there").mkdir()
    with monkeypatch.context() as patched:
        patched.setattr(template_files, "_write", broken)
        for name in ("new", "there"):
            with pytest.raises(OSError, match="power"):
                write_template(tmp_path / name)
    assert [path.name for path in tmp_path.iterdir()] == ["there"]
    assert "session.toml" not in [path.name for path in (tmp_path / "there").iterdir()]
    assert write_template(tmp_path / "there") == [
        tmp_path / "there" / name for name in template_files.template()
    ]
    with pytest.raises(InputRefused, match="holds files already"):
        write_template(tmp_path / "there")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    with pytest.raises(InputRefused, match="holds files already"):
        write_template(tmp_path / "link")


def test_every_fault_of_the_three_files_at_once(folder):
    place = folder(
        bottles="bottle,abv,meter_value,acidity,pasteurised,available\n"
        "one,168,2,1.5,0,2\n"
        "one,16,two,1.5,0,2\n"
        ",16,2,1.5,0,2\n"
        'four,16,"1,500",1.5,3,1.5\n'
        "ＯＮＥ,16,2,1.5,0,2\n",
        assessors="assessor,role,style,language\nT 1,trained,neutral,en\nT2,boss,,\nT2,maker,,fr\n",
        replicates=0,
        codes="secret",
    )
    with pytest.raises(FolderFault) as refused:
        load(place)
    told = str(refused.value)
    for expected in [
        "session.toml, line 8: 'serving.replicates' is 0; it must be at least 1",
        "session.toml, line 11: 'serving.codes' is 'secret'. Write one of: 'shared', 'per-assess",
        "bottles.csv, row 2, column 'abv': '168' cannot be right here. Expected a number from 0",
        "bottles.csv, row 3, column 'bottle': 'one' stands in row 2 already",
        "bottles.csv, row 4, column 'bottle': this bottle has no name",
        "bottles.csv, row 6, column 'bottle': 'ＯＮＥ' stands in row 2 already",
        "bottles.csv, row 5, column 'meter_value': '1,500' is not a number, or can be read as more",
        "bottles.csv, row 5, column 'pasteurised': '3' is not known here",
        "bottles.csv, row 5, column 'available': '1.5' is not a whole number",
        "assessors.csv, row 2, column 'assessor': 'T 1' is not a code",
        "assessors.csv, row 3, column 'role': 'boss' is not known here",
        "assessors.csv, row 4, column 'assessor': 'T2' stands in row 3 already",
    ]:
        assert expected in told, expected


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"more": "[questions]\ndrop = ['sweetnes']"}, "there is no question 'sweetnes' to drop"),
        ({"more": "[serv]\nx = 1"}, "there is no setting 'serv'"),
        ({"more": "[[questions.add]]\nkey = 'Hot'\nlabel = 'Hot'"}, "the key 'Hot' must be small"),
        ({"warm_up": "old"}, "there is no bottle 'old' to warm up with"),
        ({"appearance": "with"}, "appearance cannot be asked with the rest while the cups"),
        ({"title": "Cloudy against clear"}, "holds 'cloudy', which tells what is in a cup"),
        ({"name": "spring tasting"}, "Use 1 to 40 letters, digits and hyphens"),
    ],
)
def test_settings_that_cannot_be(folder, change, expected):
    with pytest.raises(FolderFault) as refused:
        load(folder(**change))
    assert expected in str(refused.value)
    assert "session.toml" in str(refused.value)


def test_broken_toml_names_its_line(folder):
    place = folder()
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(text.replace('title = "Tasting"', "title = Tasting"))
    with pytest.raises(FolderFault, match="line 3"):
        load(place)


def test_missing_folder_says_what_to_do(tmp_path):
    with pytest.raises(NotReady, match="kikichoko new"):
        load(tmp_path)


def test_rare_values_warn_and_do_not_block(folder):
    place = folder(
        bottles="bottle,fraction,abv,meter_value,acidity,supernatant\n"
        "low,clear,8,-45,5.6,yes\nhigh,cloudy,23,3,1.4,\n",
        masking="none",
        appearance="with",
        replicates=1,
        more="[[questions.add]]\nkey='liking'\nlabel='Liking'\nsection='overall'\nhedonic=true",
    )
    told = [caution.to() for caution in load(place).cautions]
    for expected in [
        "column 'abv': 23 is outside what sake usually has (5 to 22)",
        "the numbers of 'high' were not measured on clear liquid",
        "the eye will know them before the tongue",
        "each bottle is served once to each assessor",
        "people who describe are also asked for liking (liking)",
    ]:
        assert any(expected in line for line in told), expected
    assert len(told) == 5


def test_spreadsheets_and_other_separators(folder):
    from openpyxl import Workbook

    place = folder()
    (place / "bottles.csv").unlink()
    book = Workbook()
    book.active.append(["bottle", "abv", "available"])
    book.active.append(["one", 16.5, 2])
    book.active.append(["two", "１６，５", 3])
    book.save(place / "bottles.xlsx")
    (place / "assessors.csv").write_text("﻿assessor;role\nA1;trained\nA2;maker\n", "utf-8")
    session = load(place)
    assert [bottle.abv for bottle in session.bottles] == [16.5, 16.5]
    assert [one.code for one in session.assessors] == ["A1", "A2"]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("3", 3), ("+3", 3), ("−2.5", -2.5), ("-2,5", -2.5), ("１．５", 1.5), (" 4 ", 4),
        ("0,125", 0.125), ("1,500", None), ("1,000.5", 1000.5), ("nan", None), ("inf", None),
        ("1_000", None), ("two", None), ("", None), ("3 %", None),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(text, number):
    assert understand(text) == number


def test_further_columns_of_a_bottle_are_kept_and_a_near_one_is_told(tmp_path: Path):
    """Rice, yeast, press and notes are kept; "Acidty" is told, not refused."""
    text = "bottle,Rice,pressed on,Acidty,lot\nN1,山田錦,2026-02-11,1.4,a\nN2,,2026-02-12,1.6,b\n"
    (tmp_path / "bottles.csv").write_text(text, "utf-8")
    bottles, faults, cautions = read_bottles(tmp_path)
    assert not faults
    assert bottles[0].further == {"Rice": "山田錦", "pressed on": "2026-02-11", "Acidty": "1.4"}
    assert bottles[1].further == {"pressed on": "2026-02-12", "Acidty": "1.6"}
    assert bottles[0].acidity is None
    assert len(cautions) == 1
    assert "'Acidty'" in cautions[0].to("en")
    assert "'acidity'" in cautions[0].to("en")


@pytest.mark.parametrize(
    ("name", "told"), [("平均", 1), ("Total", 1), ("平均の酒", 0), ("clear", 0)]
)
def test_a_row_that_sums_up_the_others_is_told_and_kept(tmp_path: Path, name: str, told: int):
    text = f"bottle,abv\nN1,16\nN2,17\n{name},16.5\n"
    (tmp_path / "bottles.csv").write_text(text, "utf-8")
    bottles, faults, cautions = read_bottles(tmp_path)
    assert (len(bottles), faults, len(cautions)) == (3, [], told)
    assert all("row 4" in one.to("en") for one in cautions)


def test_numbers_that_are_read_as_something_else_are_told_once_a_column(tmp_path: Path):
    """As ▲ for minus, and what stands for no number."""
    end = "If that is not what you mean, correct it."
    rows = "N1,▲2,n/a,いいえ\nN2,+3,n/a,yes\nN3,-1,1.4,いいえ\n"
    (tmp_path / "bottles.csv").write_text(
        "bottle,meter_value,acidity,supernatant\n" + rows, "utf-8"
    )
    bottles, faults, cautions = read_bottles(tmp_path)
    assert not faults
    assert [bottle.meter_value for bottle in bottles] == [-2, 3, -1]
    assert [one.to("en") for one in cautions] == [
        f"bottles.csv, column 'meter_value': '▲2' is read as '-2' (row 2). {end}",
        "bottles.csv, column 'acidity': 'n/a' is read as not measured (row 2, 3).",
    ]


@pytest.mark.parametrize(
    ("heading", "near"),
    [
        ("acidty", "acidity"), ("Meter value", "meter_value"), ("fracton", "fraction"),
        ("tanks", "tank"), ("rice", ""), ("yeast", ""), ("press", ""), ("notes", ""),
        ("pressed on", ""), ("bottled on", ""), ("mash", ""), ("brewer", ""),
    ],
)  # fmt: skip
def test_what_is_near_a_known_column(heading: str, near: str):
    assert near_column(heading, COLUMNS) == near


def test_accents_that_stand_apart_are_put_together(folder):
    """A39: macOS writes é as two signs; the bottle is the same."""
    place = folder()
    table = (place / "bottles.csv").read_text("utf-8").replace("early", "e\u0301toile")
    (place / "bottles.csv").write_text(table, "utf-8")
    assert load(place).bottles[0].name == "\u00e9toile"


def test_a_name_copied_from_a_page_is_the_name(folder):
    """Our pages join a name at its hyphen by a sign that nobody sees."""
    place = folder()
    first = load(place).bottles[0].name
    table = (place / "bottles.csv").read_text("utf-8")
    copied = table.replace(first, "press\u2060-\u2060end")
    (place / "bottles.csv").write_text(copied, "utf-8")
    assert load(place).bottles[0].name == "press-end"


@pytest.mark.parametrize(
    ("file", "content", "told"),
    [
        ("bottles.csv", b'bottle,tank\r\n"a\rb",4\r\n', "line ends of old Macintosh"),
        ("bottles.csv", b'bottle,tank\n"a\nb",4\n', "a line break or another control"),
        ("assessors.csv", b'assessor,role\n"T\n5",trained\n', "a line break or another control"),
    ],
)
def test_line_breaks_inside_a_cell_are_told(folder, file: str, content: bytes, told: str):
    place = folder()
    (place / file).write_bytes(content)
    with pytest.raises(FolderFault, match=told):
        load(place)


def test_a_folder_without_its_settings_is_told_what_to_do(folder, tmp_path):
    place = folder()
    (place / "plan").mkdir()
    (place / "plan/plan.json").write_text("{}", "utf-8")
    (place / "session.toml").unlink()
    with pytest.raises(NotReady, match=r"session.toml is gone.*plan.json"):
        load(place)
    (tmp_path / "file").write_text("mine", "utf-8")
    with pytest.raises(NotReady, match="is a file, not the folder"):
        load(tmp_path / "file")
    with pytest.raises(InputRefused, match=r"is a file\. Give the name"):
        write_template(tmp_path / "file")


@pytest.mark.parametrize("sessions", [0, 1, 7])
def test_a_folder_of_sessions_names_some_of_them(tmp_path: Path, sessions: int):
    for number in range(sessions):
        (tmp_path / "all" / f"s {number}").mkdir(parents=True)
        (tmp_path / "all" / f"s {number}" / "session.toml").touch()
    with pytest.raises(NotReady) as told:
        load(tmp_path / "all")
    named = [number for number in range(7) if f"s {number}'" in str(told.value)]
    assert named == list(range(min(sessions, 5)))
    assert ("kikichoko new" in str(told.value)) == (sessions == 0)
