"""What telephones send is taken once, in order, by the rules of sheets; the rest is refused.

Cases P01 to N15 and H01 to H13 stand in tests/outside/table, written before the code. Status
codes: RFC 9110 (400, 403, 404, 413, 415, 503).
"""

from __future__ import annotations

import json
import re
import shutil
import socket
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.spreadsheets.workbook_page import KEYS, page_name
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from kikichoko.panel.base.plain_cells import frame_csv
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.key.opened_tables import tables
from kikichoko.panel.plan.plan_file import load_open, load_table
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load
from table_visitor import FORM, Phone, ask, in_thread, planned


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """A planned session of three bottles and three assessors."""
    return planned(tmp_path_factory.mktemp("table") / "session")


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "session"))


def cups_of(place: Path, code: str = "T1") -> list[str]:
    return [cup.name for cup in load_table(place).own_sheets[code].presentations]


def rows(place: Path) -> list[tuple[object, ...]]:
    with Store(place, reading=True) as store:
        return [
            (one.answer.assessor, one.answer.code, one.answer.attribute, one.answer.value)
            for one in store.answers()
        ]


def test_a_flight_is_kept_touch_by_touch(place: Path):
    """P03 to P08, H13: marks, blanks, a mark taken back, ticks at a cup's end, no way back."""
    first, second, _ = cups_of(place)
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert phone.mark(first, "sweetness", 6.3) == "saved"
        assert phone.mark(first, "acidity", 4) == "saved"
        assert phone.mark(first, "acidity", None) == "saved"
        assert phone.mark(first, "sweetness", 7.25) == "saved"
        assert phone.mark(second, "sweetness", 2) == "closed", "one cup at a time"
        assert phone.mark(first, "choice", 1) == "closed", "asked at the end"
        assert ("T1", first, "fault_unsure:cannot_tell", 0.0) not in rows(place)
        assert phone.go_on(first) == "saved"
        assert phone.mark(first, "sweetness", 1) == "closed"
        assert phone.mark(second, "sweetness", 2) == "saved"
        assert phone.state()["closed"] == [first]
    found = {(code, attribute): value for _, code, attribute, value in rows(place)}
    assert found[first, "sweetness"] == 7.25
    assert (first, "acidity") not in found
    assert found[first, "fault_unsure:cannot_tell"] == 0.0
    faults = [value for (code, name), value in found.items() if name.startswith("fault:")]
    assert faults
    assert set(faults) == {0.0}
    with Store(place, reading=True) as store:
        kept = store.database.execute(
            "SELECT number FROM answers WHERE code = ? AND attribute = 'sweetness' ORDER BY id",
            (first,),
        ).fetchall()
        assert kept == [(6.3,), (7.25,)], "nothing that was entered is lost"
        assert sum(one.corrections for one in store.answers()) == 0
        told = store.database.execute("SELECT outcome FROM touches").fetchall()
        assert [one for (one,) in told].count("closed") == 3, "what was refused is kept too"


def test_a_cup_without_an_answer_says_nothing_of_its_words(place: Path):
    """P07."""
    first = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert phone.mark(first, "words", "  good\n") == "saved"
        assert phone.go_on(first) == "saved"
    assert [value for *_, value in rows(place)] == ["  good\n"]


def test_a_remark_stands_beside_its_answer(place: Path):
    """A remark goes to the answer below which it was written; beside words or ticks it has none."""
    first, second, _ = cups_of(place)
    with in_thread(place) as links:
        phone, beside = Phone(links, "T1"), "sweetness:@remark"
        assert phone.mark(first, beside, " then <b>dry</b>") == "saved"
        assert phone.mark(first, beside, 5) == "value", "a remark is text"
        assert phone.mark(second, beside, "early") == "closed"
        for other in ("words:@remark", "fault:stale:@remark", "sourness:@remark", ":@remark"):
            assert phone.mark(first, other, "x") == "strange", other
        page = phone.page("?begun=1").text
        assert "then &lt;b&gt;dry&lt;/b&gt;</textarea>" in page
        assert f'name="{first}|words:@remark"' not in page
        assert phone.form({"cup": first, f"{first}|{beside}": "then sweet", "go": "save"}).status
        assert phone.form({"cup": first, f"{first}|{beside}": "then sweet", "go": "save"}).status
        assert rows(place) == [("T1", first, beside, "then sweet")]
        assert phone.mark(first, beside, "  ") == "saved"
        assert phone.go_on(first) == "saved"
    assert rows(place) == [], "taken back; of ticks nothing is said where only a remark stood"


def test_a_ranking_has_no_place_for_remarks(tmp_path: Path):
    place = planned(tmp_path / "session", top='method = "ranking"')
    first = load_table(place).own_sheets["T1"].presentations[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert "@remark" not in phone.page("?begun=1").text
        question = load_table(place).own_sheets["T1"].questions(first)[0].key
        assert phone.mark(first.name, f"{question}:@remark", "x") == "strange"


def test_what_is_asked_at_the_end_and_the_way_back(place: Path):
    """P08, P09, N05: the end opens when all cups are closed; the leader lets an assessor back."""
    cups = cups_of(place)
    with in_thread(place) as links:
        phone, leader = Phone(links, "T1"), f"/l/{links.leader}/"
        assert phone.go_on() == "closed", "no end before all cups"
        for cup in cups:
            phone.mark(cup, "sweetness", 5)
            phone.go_on(cup)
        assert phone.mark(cups[0], "choice", 1) == "saved"
        assert phone.mark(cups[0], "sweetness", 1) == "closed"
        assert phone.go_on() == "saved"
        assert phone.state()["finished"]
        back = b"act=back&assessor=T1"
        assert ask(links, leader, back, Content_Type=FORM).status == 303
        assert ask(links, leader, b"act=pause", Content_Type=FORM).status == 303
        assert ask(links, leader, b"act=open&assessor=T1", Content_Type=FORM).status == 400
    with in_thread(place) as links:  # started again
        phone = Phone(links, "T1")
        state = phone.state()
        assert state["paused"]
        assert state["closed"] == cups[:-1]
        assert phone.mark(cups[-1], "sweetness", 6) == "saved"
        page = ask(links, f"/l/{links.leader}/").text
        assert f"cup {cups[-1]} (3 of 3)" in page
    found = {row[1:3]: row[3] for row in rows(place)}
    assert found[cups[0], "choice_reason:aroma"] == 0.0
    assert found[cups[-1], "sweetness"] == 6.0


def test_the_same_touch_again_is_taken_once(place: Path):
    """N03, H07: sent again; sent again with another content; a number that comes late."""
    first = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        told = [phone.touch(code=first, attribute="sweetness", value=value) for value in (3, 4)]
        for _ in range(3):
            assert phone.send(*told).told["done"] == [[1, "saved"], [2, "saved"]]
        other = {**told[0], "value": 9}
        assert phone.send(other).told["done"] == [[1, "conflict"]]
        phone.number = 9
        assert phone.mark(first, "sweetness", 5) == "saved"
        phone.number = 6
        assert phone.mark(first, "sweetness", 1) == "late"
    assert rows(place) == [("T1", first, "sweetness", 5.0)]


def test_two_devices_on_one_link_are_noticed(place: Path, monkeypatch):
    """N06, N07: both are told, nothing is lost, the later touch stands, the place is the same."""
    for here in ("seats", "leader_page"):  # however busy the machine is
        monkeypatch.setattr(f"kikichoko.panel.table.{here}.STILL_THERE", 1e9)
    first, second, _ = cups_of(place)
    with in_thread(place) as links:
        one, other = Phone(links, "T1"), Phone(links, "T1")
        one.mark(first, "sweetness", 3)
        assert one.state()["others"] == 0
        assert other.state()["others"] == 1
        assert other.mark(first, "sweetness", 4) == "saved"
        assert other.go_on(first) == "saved"
        assert one.state()["others"] == 1
        assert one.state()["closed"] == [first]
        assert one.go_on(first) == "saved", "closed already: that is what was wanted"
        assert one.mark(second, "acidity", 2) == "saved"
        assert "<strong>2</strong>" in ask(links, f"/l/{links.leader}/").text
    assert ("T1", first, "sweetness", 4.0) in rows(place)


BAD = [
    b"", b"{", b"\xff\xfe", b"[]", b"null", b'{"device":1,"touches":[]}',
    b"[" * 10_000 + b"]" * 10_000,
]  # fmt: skip
ODD = [
    {"n": 1, "kind": "answer", "value": True}, {"n": 1, "kind": "answer", "value": [1]},
    {"n": 1.5, "kind": "answer"}, {"n": 0, "kind": "done"}, {"n": 10**30, "kind": "done"},
    {"n": True, "kind": "done"}, {"n": 1, "kind": "open"}, {"n": 1, "kind": "answer", "code": 7},
    {"n": 1, "kind": "answer", "value": "x" * 2001}, {"n": 1, "kind": "pause"}, 7,
]  # fmt: skip
WRONG = [
    ("sweetness", 10.01, "value"), ("sweetness", -1, "value"), ("sweetness", "5", "value"),
    ("sweetness", 1e300, "value"), ("fault_unsure:cannot_tell", 2, "value"),
    ("fault:stale", 1.5, "value"), ("release", 9, "value"), ("words", 5, "value"),
    ("sourness", 5, "strange"), ("fault", 1, "strange"), ("sweetness:x", 1, "strange"),
    ("sweetness' OR 1=1 --", 1, "strange"), ("", 1, "strange"),
]  # fmt: skip


def test_what_no_page_of_ours_sends_changes_nothing(place: Path):
    """H01 to H04, H06, H09: links, codes, bodies, values, hosts and origins."""
    first = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        url = phone.path + "touches"
        own, leader = links.seats["T1"], links.leader
        for path in (
            f"/t/{own[:-1]}/",
            f"/t/{own}x/",
            f"/t/{leader}/",
            f"/l/{own}/",
            "/",
            "/t//",
            f"/t/{own}/../l/",
            "/t/%00/",
            f"/T/{own}/",
        ):
            assert ask(links, path).status == 404, path
        for content in BAD:
            assert ask(links, url, content).status == 400, content[:40]
        for odd in ODD:
            content = json.dumps({"device": phone.device, "touches": [odd]}).encode()
            assert ask(links, url, content).status == 400, odd
        for number in (b"NaN", b"-Infinity"):
            content = b'{"device":"%s","touches":[{"n":1,"kind":"answer","value":%s}]}'
            assert ask(links, url, content % (phone.device.encode(), number)).status == 400
        for device in ("", "x" * 16, "../../etc/passwd", "A" * 32, "a" * 65):
            content = json.dumps({"device": device, "touches": []}).encode()
            assert ask(links, url, content).status == 400
        many = [phone.touch(code=first, attribute="sweetness", value=1)] * 201
        assert phone.send(*many).status == 400
        assert ask(links, url, b"x" * 1_000_000).status == 413
        one = json.dumps({"device": phone.device, "touches": []}).encode()
        for wanted, headers in (
            (400, {"Host": "evil.example"}), (400, {"Host": f"evil.example:{links.port}"}),
            (400, {"Host": links.host}), (403, {"Origin": "http://evil.example"}),
            (403, {"Origin": f"https://{links.place}"}), (403, {"Sec_Fetch_Site": "cross-site"}),
            (415, {"Content_Type": "text/plain"}), (415, {"Content_Type": "multipart/form-data"}),
            (400, {"Content_Length": "-5"}), (200, {"Origin": f"http://{links.place}"}),
        ):  # fmt: skip
            assert ask(links, url, one, **headers).status == wanted, headers
        phone.number = 0
        for attribute, value, wanted in WRONG:
            assert phone.mark(first, attribute, value) == wanted, (attribute, value)
        for code in ("000", f"{first}-{first}", "999", ""):
            assert phone.mark(code, "sweetness", 5) == "strange"
        assert rows(place) == []
        assert phone.mark(first, "sweetness", 5) == "saved", "the table is still there"


def test_every_answer_carries_the_headers_of_a_closed_page(place: Path):
    """H10. Content security policy: W3C CSP level 3."""
    with in_thread(place) as links:
        for path in (f"/t/{links.seats['T1']}/", f"/l/{links.leader}/", "/nothing"):
            told = {name.lower(): one for name, one in ask(links, path).headers.items()}
            policy = told["content-security-policy"]
            assert policy.startswith("default-src 'none'")
            assert "frame-ancestors 'none'" in policy
            assert "unsafe" not in policy
            assert told["x-content-type-options"] == "nosniff"
            assert told["referrer-policy"] == "no-referrer"
            assert told["cache-control"] == "no-store"
            assert "server" not in told


def test_words_are_text_wherever_they_are_shown(place: Path):
    """H05."""
    first = cups_of(place)[0]
    nasty = "</textarea><script>alert(1)</script>\u202egnp\u0000\ud800'\"&"
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert phone.mark(first, "words", nasty) == "saved"
        page = phone.page("?begun=1").text
    assert "<script>alert" not in page
    assert "&lt;/textarea&gt;&lt;script&gt;" in page
    (row,) = rows(place)
    assert row[3] == nasty.replace("\ud800", "\\ud800")


def test_slow_and_idle_connections_keep_nobody_out(place: Path):
    """H08: half heads, half bodies and idle ones; 300 here, 1,000 in benchmarks/table.py."""
    first = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        half = f"POST {phone.path}touches HTTP/1.1\r\nHost: {links.place}\r\n"
        body = "Content-Type: application/json\r\nContent-Length: 900\r\n\r\n{"
        opened = []
        for place_ in range(300):
            line = socket.create_connection((links.host, links.port), timeout=20)
            opened.append(line)
            if place_ % 3:
                line.sendall((half if place_ % 3 == 1 else half + body).encode())
        for value in range(5):
            assert phone.mark(first, "sweetness", value) == "saved"
        for line in opened:
            line.close()


def test_without_script_the_form_says_the_same(place: Path):
    """P14, P05, P06: a whole form at once; blanks are asked about; sent twice, taken once."""
    first = cups_of(place)[0]
    fields = {"cup": first, f"{first}|sweetness": "６，５", f"{first}|fault:stale": "2"}
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        page = phone.page("?begun=1").text
        assert len(re.findall(r'<section class="cup" data-cup="\d+">', page)) == 1, "one is shown"
        asked = phone.form({**fields, "go": "on"})
        assert asked.status == 200
        assert "questions have no answer: " in asked.text
        assert phone.state()["closed"] == []
        for _ in range(2):
            assert phone.form({**fields, "go": "on", "sure": "1"}).status == 303
        assert phone.state()["closed"] == [first]
        odd = phone.form({"cup": first, f"{first}|sweetness": "lots", "go": "save"})
        assert "was not taken" in odd.text
        assert phone.form({"cup": "1-2", "go": "on"}).status == 400
    found = {attribute: value for _, _, attribute, value in rows(place)}
    assert found["sweetness"] == 6.5
    assert found["fault:stale"] == 2.0
    assert found["fault_unsure:cannot_tell"] == 0.0


def test_late_changes_and_a_new_plan_hold_at_once(place: Path):
    """N09 to N11."""
    cups = cups_of(place)
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        phone.mark(cups[0], "sweetness", 3)
        mark = phone.state()["mark"]
        run = CliRunner().invoke(kikichoko, ["change", str(place), "left", "T1", "--after", "2"])
        assert run.exit_code == 0, run.output
        assert phone.state()["mark"] != mark
        assert phone.mark(cups[2], "sweetness", 3) == "strange"
        assert phone.go_on(cups[0]) == "saved"
        run = CliRunner().invoke(kikichoko, ["plan", str(place), "--again"])
        assert run.exit_code == 0, run.output
        assert phone.mark(cups[1], "sweetness", 3) == "strange"
        new = cups_of(place)
        assert phone.mark(new[0], "sweetness", 4) == "saved"
    with Store(place, reading=True) as store:
        assert [
            (one.plan, one.answer.code)
            for one in store.answers()
            if one.answer.attribute == "sweetness"
        ] == [("1", cups[0]), ("2", new[0])]


def test_paper_and_telephone_that_differ_wait_for_a_person(place: Path):
    """N15, both ways round."""
    first = cups_of(place)[0]
    typed = place / "typed.csv"
    typed.write_text(f"assessor,code,attribute,score\nT1,{first},acidity,4\n", "utf-8")
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        phone.mark(first, "sweetness", 3)
        assert CliRunner().invoke(kikichoko, ["read", str(place), str(typed)]).exit_code == 0
        assert phone.mark(first, "acidity", 4) == "saved"
        assert phone.mark(first, "acidity", 5) == "differs"
        assert phone.mark(first, "acidity", None) == "differs"
    typed.write_text(f"assessor,code,attribute,score\nT1,{first},sweetness,8\n", "utf-8")
    assert CliRunner().invoke(kikichoko, ["read", str(place), str(typed)]).exit_code == 3
    assert {row[2:] for row in rows(place)} == {("sweetness", 3.0), ("acidity", 4.0)}
    with Store(place, reading=True) as store:
        assert {one.kind for one in store.faults().values()} == {"two_answers"}


def filled(place: Path, code: str) -> dict[str, dict[str, float | str]]:
    """Fill a sheet with a hand of its own: some lines blank, some words ticked."""
    sheet = load_table(place).own_sheets[code]
    said: dict[str, dict[str, float | str]] = {}
    for turn, cup in enumerate(sheet.presentations):
        mine = said.setdefault(cup.name, {})
        for place_, question in enumerate(sheet.questions(cup)):
            some = (turn + place_) % 5
            if question.kind is Kind.LINE and some:
                mine[question.key] = some * 2 + 0.5 if some < 4 else 8.0
            elif question.kind is Kind.CATEGORY and some:
                mine[question.key] = question.options[some % len(question.options)].value
            elif question.kind in (Kind.TICKS, Kind.FAULTS) and some:
                mine[question.attributes[some % len(question.attributes)]] = 1.0
            elif question.kind is Kind.WORDS and some:
                mine[question.key] = f"words {turn}"
    return said


def test_a_ranking_gives_each_place_once(tmp_path: Path):
    """P16: a place of another cup is refused; it is free again when that cup gave it up."""
    place = planned(tmp_path / "session", top='method = "ranking"')
    (cup,) = cups_of(place)
    codes = cup.split("-")
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        page = phone.page("?begun=1").text
        assert page.count("<select ") == 3
        assert [phone.mark(cup, f"order:{code}", at + 1) for at, code in enumerate(codes)] == [
            "saved"
        ] * 3
        assert phone.mark(cup, f"order:{codes[0]}", 2) == "taken"
        assert phone.mark(cup, f"order:{codes[0]}", 1.5) == "value"
        assert phone.mark(cup, f"order:{codes[0]}", 4) == "value"
        assert phone.mark(cup, f"order:{codes[1]}", None) == "saved"
        assert phone.mark(cup, f"order:{codes[0]}", 2) == "saved"
        swapped = {"cup": cup, "go": "on"}
        swapped |= {f"{cup}|order:{code}": str(3 - at) for at, code in enumerate(codes)}
        assert phone.form(swapped).status == 303
        assert phone.state()["closed"] == [cup]
    assert [row[3] for row in sorted(rows(place), key=lambda row: codes.index(row[2][6:]))] == [
        3.0, 2.0, 1.0,
    ]  # fmt: skip


def typed(path: Path, place: Path, code: str) -> Path:
    """Write a workbook and type what that hand said."""
    from openpyxl import load_workbook

    sheet, said = load_table(place).own_sheets[code], filled(place, code)
    write_sheet(sheet, path)
    book = load_workbook(path)
    for cup in sheet.presentations:
        page = book[page_name(cup)]
        for row in range(2, page.max_row + 1):
            for answer, beside in KEYS.items():
                value = said[cup.name].get(str(page[f"{beside}{row}"].value))
                if value is None:
                    continue
                question = sheet.scorecard.owner(str(page[f"{beside}{row}"].value))
                if question.kind is Kind.CATEGORY:
                    (value,) = [one.label.to(sheet.language) for one in question.options
                                if one.value == value]  # fmt: skip
                page[f"{answer}{row}"] = value
    book.save(path)
    return path


def test_the_table_is_the_same_from_telephones_workbooks_and_both(place: Path, tmp_path: Path):
    """N14: one session three times; what stands, and so scores.csv, is the same to the letter."""
    people, scores, words = ["T1", "T2", "T3"], [], []
    for phones in (people, [], people[:2]):
        here = Path(shutil.copytree(place, tmp_path / f"with-{len(phones)}"))
        with in_thread(here) as links:
            for code in phones:
                phone, said = Phone(links, code), filled(here, code)
                for end in (False, True):
                    for cup, answers in said.items():
                        touches = [
                            phone.touch(code=cup, attribute=one, value=value)
                            for one, value in answers.items()
                            if (one.partition(":")[0] in {"choice", "choice_reason"}) == end
                        ]
                        touches += [] if end else [phone.touch("done", code=cup)]
                        done = phone.send(*touches).told["done"]
                        assert {outcome for _, outcome in done} <= {"saved"}, done
                assert phone.go_on() == "saved"
        books = [typed(here / f"{code}.xlsx", here, code) for code in people if code not in phones]
        if books:
            CliRunner().invoke(kikichoko, ["read", str(here), *map(str, books)])
        session = load(here)
        with Store(here, reading=True) as store:
            made = tables(session, load_open(session), store)
        scores.append(frame_csv(tmp_path / "scores.csv", made.scores).read_bytes())
        words.append(made.words.to_csv())
    assert scores[0].count(b"\n") > 200
    assert scores[0] == scores[1] == scores[2]
    assert words[0] == words[1] == words[2]
