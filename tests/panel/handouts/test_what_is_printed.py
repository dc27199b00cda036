"""What the server reads from, and what cannot be printed: told before anything is."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.forms.paper.code_labels import Label, write_labels, write_table
from kikichoko.forms.paper.sheet_pdf import new_pdf
from kikichoko.forms.paper.typeset import LackingLetters, font_path, lacking, named, stood_in
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.handouts.lacking_letters import lacking_letters, refuse_lacking
from kikichoko.panel.handouts.server_files import cautions, fill_rules, parcel_lines, pour_table
from kikichoko.panel.plan.plan_file import load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.session import load
from kikichoko.panel.session.roster import Assessor
from PIL import ImageFont

# Unicode's own charts: 𠮷 is U+20BB7, 한 U+D55C, 국 U+AD6D, 🍶 U+1F376.
LACKING = {"𠮷": "U+20BB7", "한": "U+D55C", "국": "U+AD6D", "🍶": "U+1F376", "\ue000": "U+E000"}
PRINTED = "鷗醬㌘㎖髙﨑淸德麴祇釀①℃×−→αд"


@pytest.mark.parametrize("bold", [False, True])
def test_what_is_lacking_is_what_another_reader_of_the_face_draws_as_an_empty_box(bold: bool):
    face = ImageFont.truetype(str(font_path(bold=bold)), 40)
    empty = bytes(face.getmask("\U0010fffd"))
    assert empty == bytes(face.getmask("𠮷"))
    for letter in (*PRINTED, *LACKING):
        assert (bytes(face.getmask(letter)) == empty) == (letter in LACKING), letter
        assert bool(lacking(letter)) == (letter in LACKING), letter


def test_a_character_is_told_with_its_code_point():
    for letter, point in LACKING.items():
        assert re.match(rf"{letter} \({re.escape(point)}[,)]", named(letter))
    assert lacking("line\nbreak\tand\u3000blank\u200b") == ()
    assert stood_in("旨い🍶") == "旨い〓"


def test_all_words_of_the_sheets_can_be_printed():
    for room in ("forms", "panel", "analysis"):
        words = font_path().parents[2] / room / "words"
        for topic in words.rglob("*.toml"):
            assert not lacking(topic.read_text("utf-8")), topic.name


@pytest.mark.parametrize("letter", LACKING)
def test_no_paper_is_written_without_its_characters(letter: str, tmp_path: Path):
    path = tmp_path / "out.pdf"
    for write in (
        lambda: new_pdf("A4", "2026-03-14", "en", text=f"ab\n{letter}"),
        lambda: write_labels([Label(big="123", below=letter)], path, date="2026-03-14"),
        lambda: write_table("T", ["a"], [[letter]], path, date="2026-03-14"),
    ):
        with pytest.raises(LackingLetters, match=re.escape(LACKING[letter])):
            write()
    assert not path.exists()


def test_the_plan_is_refused_with_file_row_and_column(folder: Callable[..., Path]):
    bottles = "bottle,fraction\nearly,free-run\n𠮷野 鷗,clear\nlate,🍶 notes are not printed\n"
    place = folder(bottles=bottles, title="한국 tasting", short=True)
    run = CliRunner().invoke(kikichoko, ["plan", str(place)])
    assert run.exit_code == 1
    assert "bottles.csv, row 3, column 'bottle'" in run.output
    assert "𠮷 (U+20BB7" in run.output
    assert "鷗 (" not in run.output
    assert "session.toml, line 3: title = '한국 tasting'" in run.output
    assert "한 (U+D55C" in run.output
    assert "국 (U+AD6D" in run.output
    assert "🍶" not in run.output
    assert not (place / "plan").exists()


def test_own_questions_are_looked_at_but_not_what_is_never_printed(folder: Callable[..., Path]):
    place = folder(more='[[questions.words]]\nkey = "yuzu"\nlabel = "yuzu 🍋"\nsynonyms = ["🍊"]\n')
    (told,) = lacking_letters(load(place))
    assert "🍋" in told.to()
    lines = (place / "session.toml").read_text("utf-8").splitlines()
    number = 1 + lines.index('label = "yuzu 🍋"')
    assert str(told.place) == f"session.toml, line {number}"
    assert "🍊" not in told.to()


def test_what_was_planned_by_an_earlier_version_is_not_printed_either(
    folder: Callable[..., Path],
):
    place = folder(bottles="bottle\n𠮷\nlate\n", short=True)
    session = load(place)
    save(make(session), place)
    run = CliRunner().invoke(kikichoko, ["sheets", str(place)])
    assert run.exit_code == 1
    assert "bottles.csv, row 2, column 'bottle'" in run.output
    assert not (place / "sheets").exists()
    (place / "bottles.csv").write_text("bottle\n吉\nlate\n", "utf-8")
    run = CliRunner().invoke(kikichoko, ["sheets", str(place)])
    assert "plan.json: bottle = '𠮷'" in run.output
    assert "plan DIR --again" in run.output


def test_what_can_be_printed_is_planned(folder: Callable[..., Path]):
    place = folder(bottles=f"bottle\n{PRINTED}\nlate\n", title=PRINTED[::-1], short=True)
    session = load(place)
    refuse_lacking(session)
    save(make(session), place)
    refuse_lacking(session, load_open(session))


@pytest.mark.parametrize(("letter", "drawn"), [("𠮷", False), ("鷗", True)])
def test_a_figure_is_not_drawn_with_an_empty_box(letter: str, drawn: bool, tmp_path: Path):
    table = tmp_path / "ranks.csv"
    rows = [
        f"a{who},{one},{1 + (who + at) % 3}" for who in range(6) for at, one in enumerate("?BC")
    ]
    table.write_text("\n".join(["assessor,sample,score", *rows]).replace("?", letter), "utf-8")
    figure = tmp_path / "f.png"
    run = CliRunner().invoke(kikichoko, ["rank", str(table), "--figure", str(figure)])
    assert figure.exists() == drawn, run.output
    if not drawn:
        assert run.exit_code == 1
        assert "ranks.csv, row 2, column 'sample': 𠮷 (U+20BB7" in run.output


def test_the_flight_that_is_looked_at_has_its_own_vessel(folder: Callable[..., Path]):
    place = folder(appearance="flight", replicates=1)
    session = load(place)
    plan = make(session)
    looked_at = {pour.flight for pour in plan.pours if not pour.tasted}
    assert len(looked_at) == 1
    blind, look = fill_rules(plan.pours, session, "en")
    assert "cover them" in blind
    assert f"Flight {max(looked_at)} is only looked at" in look
    assert "do not cover" in look
    assert "clear glasses, or white cups with a blue ring" in look
    assert "蛇の目" in fill_rules(plan.pours, session, "ja")[1]
    (place / "session.toml").write_text(
        (place / "session.toml").read_text("utf-8").replace(
            'appearance = "flight"', 'appearance = "flight"\nappearance_vessel = "tulip glasses"'
        ),
        "utf-8",
    )  # fmt: skip
    assert "in: tulip glasses." in fill_rules(plan.pours, load(place), "en")[1]


def test_where_nothing_is_only_looked_at_there_is_one_rule(folder: Callable[..., Path]):
    session = load(folder(appearance="off"))
    assert len(fill_rules(make(session).pours, session, "en")) == 1


@pytest.mark.parametrize(("language", "first"), [("en", "first"), ("ja", "始め")])
def test_what_is_served_before_the_flights_has_no_flight_0(folder, language, first):
    session = load(folder(warm_up="early", available=9, replicates=1))
    flights = [row[0] for row in pour_table(make(session).pours, session.bottles, language)[1:]]
    assert flights[0] == first
    assert flights.count(first) == 1
    assert "0" not in flights
    assert "1" in flights


@pytest.mark.parametrize(("heated", "raw"), [("2", False), ("0", True)])
def test_cold_storage_is_asked_of_raw_bottles_only(
    folder: Callable[..., Path], heated: str, raw: bool
):
    bottles = f"bottle,fraction,pasteurised\nearly,clear,{heated}\nlate,clear,{heated}\n"
    told = "\n".join(cautions(load(folder(bottles=bottles)), "en"))
    assert ("Raw sake stays at 5 °C" in told) is raw


def test_a_parcel_warns_each_taster_in_their_language_and_names_no_bottle(
    folder: Callable[..., Path],
):
    """Care checks of tests/outside/words/sealed/labels.md, open since 2026-11-26."""
    bottles = "bottle,fraction,pasteurised\nearly,cloudy,0\nlate,clear,2\n"
    session = load(folder(bottles=bottles))
    pair = (Assessor(code="A1", role="maker"), Assessor(code="A2", role="maker", language="ja"))
    told = "\n".join(parcel_lines(pair, session))
    assert told.count("A1") == told.count("A2") == 1
    assert "close again when foam rises" in told
    assert "泡が上がったら閉める" in told
    assert not any(name in told for name in ("early", "late"))
    calm = load(folder(bottles=bottles.replace("cloudy,0", "clear,2")))
    assert parcel_lines(pair, calm) == []
