"""Sessions that were planned with the first edition of the cards go on with it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from kikichoko.forms.questions.cards import EDITION, card
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.asked_questions import Asked
from kikichoko.panel.plan.plan_file import load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.session.session_folder import card_of, examine

AGED = '[questions]\ncard = "aged"\n'


@pytest.fixture
def before(folder):
    """Return a folder that was planned when there was one edition, which its plan did not say."""
    made = folder(more=AGED, replicates=1)
    session = examine(made)[0]
    first = replace(session, edition=1, scorecard=card("aged", edition=1))
    save(make(first, secret=bytes(32)), made)
    assert "edition" not in json.loads((made / "plan" / "plan.json").read_text("utf-8"))["asked"]
    return made


def test_an_earlier_plan_keeps_its_questions_and_words(before):
    session = examine(before)[0]
    assert session.edition == 1
    assert "keep" in session.scorecard
    assert card_of(session.settings, before).keys == session.scorecard.keys
    sheet = load_open(session).sheets["T1"]
    asked = sheet.questions(sheet.presentations[0])
    assert [one.key for one in asked if one.key in {"keep", "summers"}] == ["keep"]
    assert next(one for one in asked if one.key == "body").label.to("en") == "Body"


def test_a_session_that_is_planned_again_goes_on_with_its_edition(before):
    session = examine(before)[0]
    assert Asked.of(session).content.get("edition", 1) == 1
    told = CliRunner().invoke(kikichoko, ["plan", str(before), "--again"])
    assert told.exit_code == 0, told.output
    again = examine(before)[0]
    assert again.edition == 1
    assert "keep" in load_open(again).sheets["T1"].scorecard


def test_a_new_session_has_the_newest(folder):
    made = folder(more=AGED, replicates=1)
    session = examine(made)[0]
    assert session.edition == EDITION
    save(make(session, secret=bytes(32)), made)
    again = examine(made)[0]
    assert again.edition == EDITION
    assert "summers" in load_open(again).sheets["T1"].scorecard


def test_a_plan_that_cannot_be_read_hides_no_fault(before):
    (before / "plan" / "plan.json").write_text('{"asked": 3', "utf-8")
    assert examine(before)[0].edition == EDITION  # and whoever opens the plan is told


UNTITLED = """name = "test-1"
date = 2026-03-14
language = "{language}"
[serving]
replicates = 1
"""


@pytest.mark.parametrize(("language", "title"), [("en", "Sake tasting"), ("ja", "きき酒")])
def test_a_session_without_a_title_has_one_in_its_language(folder, language, title):
    place = folder()
    (place / "session.toml").write_text(UNTITLED.format(language=language), "utf-8")
    session = examine(place)[0]
    assert session.settings.title == title
    heads = {one.assessor: one.title for one in make(session, secret=bytes(32)).sheets}
    assert heads["T1"] == "Sake tasting"  # reads English
    assert heads["T2"] == "きき酒"  # reads Japanese


def test_a_title_that_somebody_wrote_stands_as_written(folder):
    session = examine(folder(replicates=1, title="Spring"))[0]
    assert {one.title for one in make(session, secret=bytes(32)).sheets} == {"Spring"}
