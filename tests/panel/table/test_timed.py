"""Time in the mouth on telephones: planned, touched, kept, refused.

Cases D01 to D08, T01 to T22, M01 to M09 stand in tests/outside/table/timed.md, written before the
code. Status codes: RFC 9110 (400, 413). Balance of orders: Williams (1949), Aust. J. Sci. Res. A
2:149-168 (six words, six tasters: each word once at each place, once behind each other one).
"""

from __future__ import annotations

import math
import re
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner
from desk_visitor import seriously_wrong
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.timed_events import sips
from playwright.sync_api import Browser, Page, expect
from table_visitor import SENTINELS, Phone, ask, in_thread, planned

TIMED = "[]\n[timed]\n"
OWN = '{key = "koji", label = {en = "koji"}}'
SIX = f'["sweetness", "acidity", "umami", "bitterness", "pear", {OWN}]'
RUN = "0123abcd"


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    return planned(tmp_path_factory.mktemp("timed") / "session", options=TIMED)


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "session"))


def cups_of(place: Path, code: str = "T1") -> list[str]:
    return [cup.name for cup in load_table(place).own_sheets[code].presentations]


def tell(phone: Phone, cup: str, event: str, ms: object, value: object = None, **other: object):
    """Send one moment; what became of it, or the status."""
    part, run = other.pop("part", "dominance"), other.pop("run", RUN)
    told = {"run": run, "ms": ms, "event": event, "value": value, **other}
    reply = phone.send(phone.touch("timed", code=cup, attribute=part, value=told))
    return reply.told["done"][0][1] if reply.status == 200 else reply.status


def test_a_sip_is_kept_moment_by_moment_and_is_no_answer(place: Path):
    """T03, T04, T05, T07, T08, T10, T14, T21, R09."""
    first, second, _ = cups_of(place)
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        story = [("sip", 0, None), ("word", 1200, "sweetness"), ("word", 1200, "acidity")]
        story += [("out", 2000, "spat"), ("word", 3000, None), ("end", 60_000, "time")]
        assert [tell(phone, first, *one) for one in story] == ["saved"] * 6
        level = {"part": "intensity", "run": "00000001"}
        assert tell(phone, first, "sip", 0, **level) == "saved"
        assert tell(phone, first, "level", 700, 6.3, **level) == "saved"
        assert tell(phone, first, "end", 900, "again", **level) == "saved"
        level["run"] = "00000002"
        assert tell(phone, first, "sip", 0, **level) == "saved"
        assert tell(phone, first, "away", 100, 3000, **level) == "saved"
        assert tell(phone, first, "end", 4000, "early", **level) == "saved"
        page = phone.page("?begun=1").text
        assert f'"{first}": {{"dominance": "done", "intensity": "done"}}' in page
        assert phone.go_on(first) == "saved"
        assert tell(phone, first, "sip", 0, run="00000003") == "closed"
        assert tell(phone, second, "sip", 0, run="00000003") == "saved"
        assert "Left blank" in ask(links, f"/l/{links.leader}/").text
    with Store(place, reading=True) as store:
        assert store.answers() == []
        told = [(one.code, one.part, one.number, one.state) for one in sips(store)]
    assert told == [
        (first, "dominance", 1, "counted"), (first, "intensity", 1, "begun again"),
        (first, "intensity", 2, "counted"), (second, "dominance", 1, "broken off"),
    ]  # fmt: skip


HOSTILE = [
    ("word", -1, "sweetness"), ("word", 499, "sweetness"), ("word", 60_001, "sweetness"),
    ("word", 10**12, "sweetness"), ("word", 600, "pear"), ("word", 600, 3), ("word", 600, ""),
    ("level", 600, 5.0), ("out", 600, "drank"), ("away", 600, -1), ("end", 600, "time"),
    ("end", 600, "over"), ("sip", 0, None), ("sip", 600, None),
]  # fmt: skip


def test_what_cannot_be_is_refused_kept_and_told(place: Path, capfd: pytest.CaptureFixture[str]):
    """M01 to M06, H02: negative, backward, beyond the end, unknown, second sip, after the end."""
    cup = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert tell(phone, cup, "word", 10, "sweetness") == "value", "no sip yet"
        assert tell(phone, cup, "sip", 0) == "saved"
        assert tell(phone, cup, "word", 500, "sweetness") == "saved"
        assert {tell(phone, cup, *one) for one in HOSTILE} == {"value"}
        assert tell(phone, cup, "sip", 0, part="sourness") == "strange"
        assert tell(phone, "000", "sip", 0, run="00000001") == "strange"
        level = {"part": "intensity", "run": "00000009"}
        assert tell(phone, cup, "sip", 0, **level) == "saved"
        lines = (10.01, -0.1, "5", None)
        assert {tell(phone, cup, "level", 9, value, **level) for value in lines} == {"value"}
        wrong = [1.5, True, None, "9", [], 1e999, math.nan, 10**400, 1 << 60]
        assert {tell(phone, cup, "word", ms, "sweetness") for ms in wrong} == {400}
        assert tell(phone, cup, "dance", 600) == 400
        assert tell(phone, cup, "word", 600, "x" * 61) == 400
        assert tell(phone, cup, "word", 600, "sweetness", run="0123ABCD") == 400
        assert tell(phone, cup, "word", 600, "sweetness", more=1) == 400
        many = [phone.touch("timed", code=cup, attribute="dominance") for _ in range(201)]
        assert phone.send(*many).status == 400
        moment = {"run": RUN, "ms": 900, "event": "word", "value": "acidity"}
        told = phone.touch("timed", code=cup, attribute="dominance", value=moment)
        for _ in range(2):
            assert phone.send(told).told["done"] == [[told["n"], "saved"]], "M06: once"
        told["value"] = {**moment, "ms": 901}
        assert phone.send(told).told["done"] == [[told["n"], "conflict"]]
        assert tell(phone, cup, "end", 1000, "early") == "saved"
        assert tell(phone, cup, "word", 1100, "acidity") == "value", "after its end"
    lines = capfd.readouterr().err
    assert "Not taken from T1: value" in lines
    assert "Refused with 400" in lines
    with Store(place, reading=True) as store:
        (kept,) = store.database.execute(
            "SELECT count(*) FROM touches WHERE outcome = 'value' AND assessor = 'T1'"
        ).fetchone()
        assert kept == 2 + len(HOSTILE) + 4, "what was refused is kept with its reason"
        (one,) = [one for one in sips(store) if one.part == "dominance" and one.assessor == "T1"]
        assert [moment.ms for moment in one.moments] == [0, 500, 900, 1000]
        assert store.answers() == []


def test_a_sip_has_a_most(place: Path, monkeypatch: pytest.MonkeyPatch):
    """M05, both sides."""
    monkeypatch.setattr("kikichoko.panel.table.timed_touches.MOST", 3)
    cup = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        assert [tell(phone, cup, "sip" if not n else "word", n, "umami" if n else None)
                for n in range(4)] == ["saved"] * 3 + ["value"]  # fmt: skip


def test_sips_go_on_over_a_new_start_and_two_telephones(place: Path):
    """M08, M09, T16: what was begun before the server was stopped is known after it."""
    cup = cups_of(place)[0]
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        tell(phone, cup, "sip", 0)
        tell(phone, cup, "word", 800, "umami")
    with in_thread(place) as links:
        phone.links = links
        assert tell(phone, cup, "word", 700, "acidity") == "value"
        assert tell(phone, cup, "word", 900, "acidity") == "saved"
        other = Phone(links, "T1")
        assert tell(other, cup, "word", 950, "umami") == "value", "not begun on this one"
        assert tell(other, cup, "sip", 0) == "saved"
        assert tell(phone, cup, "end", 1000, "early") == "saved"
        assert tell(other, cup, "end", 60_000, "time") == "saved"
    with Store(place, reading=True) as store:
        assert [(one.state, len(one.moments)) for one in sips(store)] == [
            ("begun again", 4), ("counted", 2)
        ]  # fmt: skip


def test_words_stand_in_an_order_of_each_taster(tmp_path: Path):
    """D01, D06: own words, balanced places and followers, one order a session, no bottle."""
    people = "assessor,role,style,language\n" + "".join(f"T{n},student,,en\n" for n in range(6))
    place = planned(tmp_path / "s", options=f"[]\n[timed]\nwords = {SIX}\n", assessors=people)
    sheets = load_table(place).own_sheets
    orders = [sheet.timed.keys for sheet in sheets.values()]
    assert len(orders) == 6
    for at in range(6):
        assert len({order[at] for order in orders}) == 6
    assert len({pair for order in orders for pair in pairwise(order)}) == 30
    labels = {one.key: one.label.to("ja") for one in sheets["T1"].timed.words}
    assert labels["sweetness"], labels["koji"] == ("甘味", "koji")
    assert {sheet.timed.seconds for sheet in sheets.values()} == {60}
    page = (place / "plan" / "plan.json").read_text("utf-8")
    assert not any(word in page for word in SENTINELS)


BAD = [
    ('words = ["sweetness"]', "one word only"), ("words = []\nintensity = ''", "asks nothing"),
    ('words = ["sweetness", "sweetness"]', "twice"), ('words = ["sweetness", "blue"]', "'blue'"),
    ('words = ["a", {key = "K"}]', "no question"), ('words = ["umami", {key = "k"}]', "no label"),
    (f"words = {[f'{c}' for c in 'abcdefghi']}", "at most 8"), ("seconds = 4", "at least 5"),
    ("seconds = 181", "at most 180"), ('seconds = "45 seconds"', "a whole number"),
    ('intensity = "nonsense"', "'nonsense'"), ("minutes = 1", "no setting"),
]  # fmt: skip


def test_wishes_that_cannot_be_met_are_refused(tmp_path: Path):
    """D02, D03: with file, line, what was expected; nothing is written."""
    place = planned(tmp_path / "s", options="[]")
    text = (place / "session.toml").read_text("utf-8")
    shutil.rmtree(place / "plan")
    for wrong, told in BAD:
        (place / "session.toml").write_text(f"{text}\n[timed]\n{wrong}\n", "utf-8")
        run = CliRunner().invoke(kikichoko, ["plan", str(place)])
        assert run.exit_code != 0, wrong
        assert told in run.output, (wrong, run.output)
        assert "session.toml" in run.output
        assert not (place / "plan").exists()
    for good in ("seconds = 5", "seconds = 180", "words = []", 'intensity = ""'):
        (place / "session.toml").write_text(f"{text}\n[timed]\n{good}\n", "utf-8")
        run = CliRunner().invoke(kikichoko, ["status", str(place)])
        assert "[timed]" not in run.output, run.output
    ranked = text.partition("[questions]")[0].replace("date", 'method = "ranking"\ndate', 1)
    (place / "session.toml").write_text(f"{ranked}\n[timed]\n", "utf-8")
    run = CliRunner().invoke(kikichoko, ["plan", str(place)])
    assert "in a profile only" in run.output


def test_paper_is_told_and_stays_as_it_is(place: Path, tmp_path: Path):
    """D04, D07, D08: the plan says that paper has no clock; a change after it is told."""
    plain = planned(tmp_path / "plain", options="[]")
    assert all(sheet.timed is None for sheet in load_table(plain).own_sheets.values())
    run = CliRunner().invoke(kikichoko, ["plan", str(place), "--again"])
    assert "Paper and workbooks have no clock" in run.output
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(text.replace("[timed]", "[timed]\nseconds = 59"), "utf-8")
    run = CliRunner().invoke(kikichoko, ["status", str(place)])
    assert run.exit_code != 0
    assert "changed after planning" in run.output


def hear(page: Page) -> None:
    """Let a page send at once, as when its network is back; nothing makes it load anew here."""
    page.evaluate("window.dispatchEvent(new Event('online'))")


PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
         "locale": "en-GB"}  # fmt: skip


HIDING = """
let hidden = false;
Object.defineProperty(document, "hidden", { get: () => hidden });
addEventListener("message", (told) => {
  if (told.data !== "dark" && told.data !== "bright") { return; }
  hidden = told.data === "dark";
  document.dispatchEvent(new Event("visibilitychange"));
});
"""
"""A screen that goes dark when it is told to."""


def turn(page: Page, to: str) -> None:
    """Turn the screen dark or bright, and wait until the page has heard of it."""
    page.evaluate(
        """to => new Promise(heard => {
            document.addEventListener("visibilitychange", () => heard(), { once: true });
            postMessage(to, "*");
        })""",
        to,
    )


def test_a_timed_flight_by_touch_with_the_network_cut(browser: Browser, place: Path):
    """T01 to T04, T06 to T08, T10, T11, T13 to T15, T17, T18, T22, M10.

    The page's clocks are the browser's own, put forward: nothing waits for a minute.
    """
    cup = cups_of(place)[0]
    context = browser.new_context(**PHONE)
    context.set_default_timeout(60_000)
    context.add_init_script(HIDING)
    try:
        with in_thread(place) as links:
            page = context.new_page()
            page.clock.install()
            faults: list[str] = []
            page.on("pageerror", lambda fault: faults.append(str(fault)))
            page.goto(links.of("T1") + "?begun=1")
            card = page.locator(f'section.cup[data-cup="{cup}"]')
            first = card.locator("[data-part=dominance]")
            second = card.locator("[data-part=intensity]")
            run, pressed = page.locator("#run"), ("aria-pressed", "true")
            first.get_by_role("button", name="Begin").tap()
            expect(run.get_by_text("Spit whenever you like")).to_be_visible()
            assert seriously_wrong(page) == []
            expect(run.locator(".clock")).to_be_hidden()
            context.set_offline(True)
            run.get_by_role("button", name="Sip").tap()
            run.get_by_role("button", name="Sweetness").tap()
            expect(run.get_by_role("button", name="Sweetness")).to_have_attribute(*pressed)
            assert seriously_wrong(page) == []
            run.get_by_role("button", name="日本語").tap()
            expect(run.get_by_role("button", name="甘味")).to_have_attribute(*pressed)
            run.get_by_role("button", name="吐いた").tap()
            spent = run.get_by_role("button", name="飲んだ")
            expect(spent).to_have_attribute("aria-disabled", "true")
            page.keyboard.press("0")
            expect(run.get_by_role("button", name="今は何も")).to_have_attribute(*pressed)
            turn(page, "dark")
            page.clock.fast_forward(8_000)
            turn(page, "bright")
            expect(run.locator(".clock")).to_have_text(re.compile(r"残り \d+ 秒"))
            page.clock.fast_forward(60_000)
            expect(run.get_by_text("この一口は終わりです")).to_be_visible()
            context.set_offline(False)
            run.get_by_role("button", name="English").tap()
            run.get_by_role("button", name="Go on").tap()
            expect(first.get_by_text("Done", exact=True)).to_be_visible()
            second.get_by_role("button", name="Begin").tap()
            run.get_by_role("button", name="Sip").tap()
            expect(run.get_by_role("slider")).to_have_attribute("aria-valuetext", "0")
            hear(page)
            expect(page.locator("#state")).to_have_text("Saved")
            page.reload()
            expect(second.get_by_text("Broken off")).to_be_visible()
            second.get_by_role("button", name="another sip").tap()
            run.get_by_role("button", name="Sip").tap()
            run.get_by_role("button", name="Begin again").tap()
            expect(run.get_by_text("marked as begun again")).to_be_visible()
            run.get_by_role("button", name="Sip").tap()
            track = run.get_by_role("slider")
            box = track.bounding_box()
            page.touchscreen.tap(box["x"] + 0.6 * box["width"], box["y"] + 40)
            expect(track).to_have_attribute("aria-valuetext", "6")
            track.press("ArrowDown")
            expect(track).to_have_attribute("aria-valuetext", "5.5")
            run.get_by_role("button", name="Nothing more").tap()
            run.get_by_role("button", name="Go on").tap()
            hear(page)
            expect(page.locator("#state")).to_have_text("Saved")
            card.locator(".next").tap()
            expect(card.get_by_text("Without an answer")).not_to_contain_text("What strikes now")
            assert faults == []
    finally:
        context.close()
    with Store(place, reading=True) as store:
        found = {(one.part, one.number): one for one in sips(store)}
        assert store.answers() == []
        outcomes = {one for (one,) in store.database.execute("SELECT outcome FROM touches")}
    assert outcomes == {"saved"}
    whole = found["dominance", 1].moments
    assert [(one.event, one.value) for one in whole if one.event != "away"] == [
        ("sip", None), ("word", "sweetness"), ("out", "spat"), ("word", None), ("end", "time")
    ]  # fmt: skip
    assert 8_000 <= next(one.value for one in whole if one.event == "away") < 60_000
    assert [one.ms for one in whole] == sorted(one.ms for one in whole)
    assert whole[-1].ms == 60_000
    states = [found["intensity", number].state for number in (1, 2, 3)]
    assert states == ["broken off", "begun again", "counted"]
    assert [one.value for one in found["intensity", 3].moments] == [None, 6.0, 5.5, "early"]
