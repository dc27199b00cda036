"""One person alone: sheets by place, codes told afterwards, joined only where each has its place.

Cases A1 to A20 stand in tests/outside/alone, written before the code. Who was under which cup is
laid down here by hand.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from kikichoko.forms.answers.answer_values import listed
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.questions.set_questions import how_to
from kikichoko.forms.spreadsheets.workbook_page import KEYS, page_name
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.key.opened_tables import tables
from kikichoko.panel.key.opening import open_key
from kikichoko.panel.plan.plan_file import load_open, load_table
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.turned_cups import turned_cups
from kikichoko.panel.session.session_folder import load
from openpyxl import load_workbook

ALONE = "assessor,role,style,language\nM1,maker,likes,en\n"
CARD = """alone = true
[questions]
card = "brewery"
drop = ["aroma_quality", "acidity", "umami", "bitterness", "body", "fault", "fault_unsure",
        "release"]
"""


def run(*words: object) -> tuple[int, str]:
    done = CliRunner().invoke(kikichoko, [*map(str, words)])
    return done.exit_code, done.output


@pytest.fixture(scope="module")
def made(folder_once) -> Path:
    """A planned session of three bottles, twice, and one maker alone."""
    place = folder_once(assessors=ALONE, more=CARD)
    assert run("plan", place)[0] == 0
    return place


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "session"))


def rows_of(place: Path) -> dict[int, tuple[str, ...]]:
    """Return the codes of each row as the plan has them."""
    return {
        one.flight: one.codes for one in load_table(place).sheets["M1"].presentations if one.beneath
    }


def table(place: Path, lines: list[tuple[str, str, object]], name: str = "typed.csv") -> Path:
    path = place / name
    text = "".join(f"M1,{code},{attribute},{score}\n" for code, attribute, score in lines)
    path.write_text(f"assessor,code,attribute,score\n{text}", "utf-8")
    return path


def marks(places: list[str]) -> list[tuple[str, str, object]]:
    """Give each place a sweetness of its own: 1, 2, 3 …"""
    return [(name, "sweetness", number) for number, name in enumerate(places, start=1)]


def told(codes: tuple[str, ...], order: list[int]) -> list[tuple[str, str, object]]:
    return [("-".join(codes), f"beneath:{code}", at) for code, at in zip(codes, order, strict=True)]


def sweetness(place: Path) -> dict[tuple[str, int], float]:
    session = load(place)
    plan = load_open(session)
    with Store(place) as store:
        found = tables(session, plan, store, open_key(session, plan, store, "test")).scores
    found = found[found["attribute"] == "sweetness"]
    return {
        (str(row.sample), int(row.position)): float(row.score)
        for row in found.itertuples(index=False)
    }


def bottles(place: Path) -> dict[str, str]:
    lines = (place / "plan/server/key.csv").read_text("utf-8-sig").splitlines()[1:]
    return {line.split(",")[0]: line.split(",")[1] for line in lines}


def test_sheets_go_by_place_and_show_codes_only_when_cups_are_turned(place: Path, tmp_path: Path):
    sheet = load_table(place).sheets["M1"]
    codes = rows_of(place)
    assert [one.name for one in sheet.presentations] == [
        *("1C1", "1C2", "1C3", "-".join(codes[1])), *("2C1", "2C2", "2C3", "-".join(codes[2])),
    ]  # fmt: skip
    assert sheet.cups == 6
    assert [one.name for one in sheet.row(sheet.presentations[-1])] == ["2C1", "2C2", "2C3"]
    assert list(codes[1]) == sorted(codes[1]), "an order of codes that tells nothing"
    assert {"sheet.how_1_alone", "sheet.how_2_alone"} <= set(how_to(sheet))
    write_sheet(sheet, tmp_path / "M1.xlsx")
    book = load_workbook(tmp_path / "M1.xlsx")
    for shown in sheet.presentations:
        text = [str(cell.value) for row in book[page_name(shown)].iter_rows() for cell in row]
        seen = [code for code in (*codes[1], *codes[2]) if any(code in one for one in text)]
        assert seen == (sorted(shown.codes) if shown.beneath else [])


def test_lists_for_who_pours_say_no_order_and_all_steps(place: Path):
    orders = (place / "plan/orders.csv").read_text("utf-8-sig")
    assert "M1,1C1,1C2,1C3,2C1,2C2,2C3" in orders
    text = (place / "plan/server/serving.txt").read_text("utf-8")
    for words in ("under each", "Shuffle", "spit every time", "turn them over", "gives a cup away"):
        assert words in text
    assert "places are not balanced" in text
    assert "first cup of a round" not in text
    assert len({code for codes in rows_of(place).values() for code in codes}) == 6


def test_each_mark_goes_to_the_bottle_of_the_code_that_stood_there(place: Path):
    first, second = rows_of(place)[1], rows_of(place)[2]
    lines = marks(["1C1", "1C2", "1C3", "2C1", "2C2", "2C3"])
    lines += told(first, [2, 3, 1]) + told(second, [1, 3, 2])
    assert run("read", place, table(place, lines))[0] == 0
    key = bottles(place)
    by_hand = {
        (key[first[0]], 2): 2.0, (key[first[1]], 3): 3.0, (key[first[2]], 1): 1.0,
        (key[second[0]], 4): 4.0, (key[second[1]], 6): 6.0, (key[second[2]], 5): 5.0,
    }  # fmt: skip
    assert sweetness(place) == by_hand
    with Store(place, reading=True) as store:
        kept = {(one.answer.code, one.answer.attribute) for one in store.answers()}
    assert ("1C1", "sweetness") in kept, "answers stay where they were given"


def test_two_codes_at_one_place_are_asked_and_the_key_stays_closed(place: Path):
    first, second = rows_of(place)[1], rows_of(place)[2]
    lines = marks(["1C1", "1C2", "2C1"]) + told(second, [3, 2, 1])
    code, output = run("read", place, table(place, [*lines, *told(first, [2, 2, 1])]))
    assert code != 0
    assert "Two cups cannot have stood at one place" in output
    assert "M1/1" in run("status", place)[1]
    code, output = run("key", place, "--reason", "test")
    assert code != 0
    assert "1 row of cups (M1/1" in output
    with Store(place, reading=True) as store:
        assert not store.openings()
    assert run("read", place, table(place, told(first, [2, 3, 1]), "again.csv"))[0] == 0
    assert "M1/1" not in run("status", place)[1]
    assert len(sweetness(place)) == 3


def test_half_places_are_no_places(place: Path):
    first = rows_of(place)[1]
    lines = [*marks(["1C1"]), *told(first, [1.5, 1.5, 3])]  # a true tie of a ranking
    assert "Two cups cannot have stood" in run("read", place, table(place, lines))[1]


def test_the_last_code_is_not_filled_in(place: Path):
    first = rows_of(place)[1]
    lines = [*marks(["1C1", "1C2", "1C3"]), *told(first, [2, 3, 1])[:2]]
    run("read", place, table(place, lines))
    session = load(place)
    with Store(place) as store:
        (row,) = turned_cups(load_open(session), store).untold
        assert (row.told, row.codes) == (2, first)
    assert run("key", place, "--reason", "test")[0] != 0
    assert run("change", place, "unknown", first[2])[0] == 0
    key = bottles(place)
    assert sweetness(place) == {(key[first[0]], 2): 2.0, (key[first[1]], 3): 3.0}


def test_a_correction_leaves_both_and_the_later_one_counts(place: Path):
    first = rows_of(place)[1]
    lines = marks(["1C1", "1C2", "1C3"])
    run("read", place, table(place, [*lines, *told(first, [1, 2, 3])]))
    later = table(place, told(first, [2, 1, 3]), "later.csv")
    assert run("read", place, later)[0] != 0, "different: asked"
    assert run("read", place, later, "--correct", "--by", "Yuki")[0] == 0
    key = bottles(place)
    assert sweetness(place)[key[first[0]], 2] == 2.0
    with Store(place, reading=True) as store:
        kept = store.database.execute(
            "SELECT number FROM answers WHERE attribute = ? ORDER BY id", (f"beneath:{first[0]}",)
        ).fetchall()
    assert kept == [(1.0,), (2.0,)]


def test_a_code_of_another_row_or_plan_is_no_answer(place: Path):
    first, second = rows_of(place)[1], rows_of(place)[2]
    strange = [("-".join(first), f"beneath:{second[0]}", 1)]
    assert run("read", place, table(place, strange))[0] != 0
    with Store(place, reading=True) as store:
        assert not store.answers()
    assert run("plan", place, "--again")[0] == 0
    assert load_table(place).sheets["M1"].presentations[0].name == "1C1.2"


def test_cups_are_understood_by_their_number(place: Path):
    run("read", place, table(place, [("2", "sweetness", 4), ("5", "sweetness", 6)]))
    with Store(place, reading=True) as store:
        found = {one.answer.code: one.answer.value for one in store.answers()}
    assert found == {"1C2": 4.0, "2C2": 6.0}


def test_two_people_are_alone_with_codes_of_their_own(folder):
    place = folder(assessors=f"{ALONE}T1,trained,neutral,ja\n", more=CARD)
    assert run("plan", place)[0] == 0
    plan = load_table(place)
    codes = [pour.code for pour in plan.pours]
    assert len(codes) == len(set(codes)) == 12


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"more": 'alone = true\n[questions]\ncard = "brewery"\noptions = ["choice"]'},
         "asked again when all cups were judged"),
        ({"more": "alone = true", "flight_size": 1}, "needs two at least"),
        ({"more": "alone = true", "appearance": "flight"}, "shines through"),
    ],
)  # fmt: skip
def test_what_one_person_cannot_hide_is_refused(folder, settings, words):
    place = folder(assessors=ALONE, **settings)
    code, output = run("plan", place)
    assert code != 0
    assert words in output
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(text.replace("alone = true", "alone = false"), "utf-8")
    assert words not in run("plan", place)[1]


def test_a_triangle_alone_is_refused(folder):
    place = folder(assessors=ALONE, more="alone = true")
    path = place / "session.toml"
    path.write_text(
        path.read_text("utf-8").replace("date", 'method = "triangle"\ndate', 1), "utf-8"
    )
    code, output = run("plan", place)
    assert code != 0
    assert "who sets up the sets knows" in output


def test_new_writes_a_session_for_one(tmp_path: Path):
    place = tmp_path / "evening"
    assert run("new", place, "--alone", "--card", "brewery")[0] == 0
    session = load(place)
    assert session.settings.serving.alone
    assert len(session.assessors) == 1
    assert run("new", tmp_path / "no", "--alone", "--practise", place)[0] != 0


@pytest.mark.usefixtures("without_figures")
def test_the_report_says_how_blind_it_was(place: Path):
    lines = marks(["1C1", "1C2", "1C3", "2C1", "2C2", "2C3"])
    for codes in rows_of(place).values():
        lines += told(codes, [3, 1, 2])
    assert run("read", place, table(place, lines))[0] == 0
    beside = place / "beside.csv"
    text = "assessor,code,attribute,score,remark\nM1,1C3,sweetness,3,cup was <b>warm</b>\n"
    beside.write_text(text, "utf-8")
    assert run("read", place, beside)[0] == 0
    assert run("read", place, beside)[0] == 0, "read again it stands once"
    code, output = run("report", place)
    assert code == 0, output
    page = (place / "report" / "report.html").read_text("utf-8")
    assert page.count("Poured and tasted by the same person") == 1
    assert page.index("Poured and tasted by the same") < page.index("Bottle by bottle")
    assert "Blinding: each cup had a code beneath it" in page
    scores = (place / "scores.csv").read_text("utf-8")
    assert "beneath" not in scores
    assert "remark" not in scores
    name = bottles(place)[rows_of(place)[1][0]]  # its code stood third
    assert page.count(f"M1 on {name}, beside Sweetness: “cup was &lt;b&gt;warm&lt;/b&gt;”") == 1


def test_a_session_with_a_server_says_nothing_of_it(place: Path):
    session = load(place)
    plan = load_open(session)
    lines = marks(["1C1", "1C2", "1C3"])
    run("read", place, table(place, [*lines, *told(rows_of(place)[1], [3, 1, 2])]))
    with Store(place) as store:
        scores = tables(session, plan, store, open_key(session, plan, store, "test")).scores
    said = [str(one.sentence) for one in findings_of_tables(scores).statements]
    assert not any("Poured and tasted" in one for one in said)


def test_a_workbook_is_filled_by_place_and_read(place: Path, tmp_path: Path):
    sheet = load_table(place).sheets["M1"]
    path = tmp_path / "M1.xlsx"
    write_sheet(sheet, path)
    book = load_workbook(path)
    for shown in sheet.presentations:
        page = book[page_name(shown)]
        cells = {
            str(page[f"{key}{row}"].value): f"{cell}{row}"
            for row in range(2, page.max_row + 1)
            for cell, key in KEYS.items()
        }
        for question in sheet.questions(shown):
            for number, name in enumerate(question.attributes_of(shown.codes), start=1):
                if question.kind is Kind.LINE:
                    page[cells[name]] = 5
                if question.kind is Kind.RANKING:
                    page[cells[name]] = number
                if question.kind is Kind.TICKS:
                    page[cells[name]] = listed("value.ticks", "en")[0]
    book.save(path)
    code, output = run("read", place, path)
    assert code == 0, output
    key = bottles(place)
    found = sweetness(place)
    assert {name for name, _ in found} == set(key.values())
    first = rows_of(place)[1]
    assert found[key[first[0]], 1] == 5.0


def test_the_page_of_what_lay_beneath_is_read_from_photos(place: Path, simulator):
    """Each code goes to the place ticked for it; two at one place are asked, none is taken."""
    sheet = load_table(place).sheets["M1"]
    prints, rng = simulator.printed(sheet), np.random.default_rng(5)
    orders = {1: (2, 3, 1), 2: (1, 1, 3)}
    photos, answers = [], {}
    for shown in (one for one in sheet.presentations if one.beneath):
        places = zip(shown.codes, orders[shown.flight], strict=True)
        answers |= {(shown.name, f"beneath:{code}"): float(at) for code, at in places}
    for number, page in enumerate(prints.pages):
        if any(shown.beneath for shown in page.presentations):
            filled = simulator.fill_in(*prints[number], simulator.Hand(rng), answers)
            photos.append(place.parent / f"side-{number}.jpg")
            photos[-1].write_bytes(simulator.Camera.any(rng, 200).jpeg(filled.picture))
    assert len(photos) == 2
    output = run("read", place, *photos)[1]
    assert output.count("Two cups cannot have stood at one place") == 1
    first = rows_of(place)[1]
    with Store(place, reading=True) as store:
        found = {one.answer.attribute: one.answer.value for one in store.answers()}
    assert found == {
        f"beneath:{code}": float(at) for code, at in zip(first, (2, 3, 1), strict=True)
    }
