"""Cards: the order of one sip, complete in both languages, one side a cup."""

from __future__ import annotations

import pytest
from kikichoko.forms.paper.question_blocks import presentation_pages
from kikichoko.forms.questions.cards import CARDS, EARLIER, KEEP, OPTIONS, STAGES, card, name_of
from kikichoko.forms.questions.question_types import SECTIONS, Kind
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.forms.questions.sheet import Presentation, Sheet

NAMES = [name for name in CARDS if name != EARLIER]


def test_the_full_card_follows_one_sip():
    """The order of the issue: cup held still, first touch, tongue, swallow, a minute later."""
    keys = card("full", OPTIONS).keys
    order = [
        "clarity", "aroma_intensity", "aroma", "aroma_quality", "sweetness_expected", "carbonation",
        "sweetness_first", "sweetness", "acidity", "umami", "bitterness", "astringency", "body",
        "texture", "flavour_intensity", "clean_cut", "sweetness_after", "bitterness_after",
        "alcohol_warmth", "finish_length", "cloying", "fault", "fault_none", "fault_unsure",
        "quality",
        "sweetness_balance", "another_sip", "release", "style_liking", "quality_again", "choice",
        "choice_reason", "words",
    ]  # fmt: skip
    assert [key for key in keys if key != "colour"] == order
    assert card()["clarity"].section == card()["colour"].section == "appearance"
    assert set(STAGES) <= set(keys)


def test_the_beginners_card_follows_one_sip_too():
    """Still cup, first touch, on the tongue, smell from within, swallow, a minute later."""
    assert card("beginners").keys == (
        "aroma", "aroma_intensity", "sweetness_first", "sweetness", "acidity",
        "flavour_intensity", "clean_cut", "bitterness_after", "finish_length", "another_sip",
        "words",
    )  # fmt: skip
    with_more = card("beginners", ["expected", "style"]).keys
    assert with_more[:4] == ("aroma", "aroma_intensity", "sweetness_expected", "sweetness_first")
    assert with_more.index("style_liking") == with_more.index("another_sip") + 1


def test_the_first_edition_is_as_it_was():
    """Order and words of sessions that were planned before 27 November 2026 (commit 7c01430c)."""
    assert card("beginners", edition=1).keys == (
        "aroma_intensity", "aroma", "sweetness", "acidity", "bitterness", "body", "clean_cut",
        "finish_length", "another_sip", "words",
    )  # fmt: skip
    assert "keep" in card("aged", edition=1)
    assert "summers" not in card("aged", edition=1)
    assert [one.key for one in card("aged", edition=1)["keep"].options] == list(KEEP)
    before = {
        name: (made.label.to("en"), made.ask.to("en"), made.ask.to("ja"))
        for name in ("aroma_intensity", "aroma", "body", "finish_length")
        for made in [card("full", edition=1)[name]]
    }
    assert before == {
        "aroma_intensity": ("Aroma intensity", "Cup held still: how strong?", "杯を静かに持って"),
        "aroma": ("Aroma words", "Its character. Tick what applies.", "当てはまる言葉に印を。"),
        "body": ("Body", "On the tongue: how full?", "舌の上"),
        "finish_length": ("Length of finish", "A minute later.", "1分後"),
    }
    assert name_of("keep", "en") == "Keeping"


@pytest.mark.parametrize("name", NAMES)
def test_sections_stand_in_order_and_words_in_both_languages(name: str):
    made = card(name, OPTIONS)
    places = [SECTIONS.index(question.section) for question in made]
    assert places == sorted(places)
    for question in made:
        for text in (question.label, question.ask):
            assert text.to("en") != text.to("ja")
        for option in question.options:
            assert option.label.to("ja")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_cup_fits_one_side(name: str, language: str, paper: str):
    made = card(name)
    blind = tuple(key for key in made.keys if made[key].section != "appearance")
    cup = Presentation(number=1, flight=1, codes=("427",), asked=blind)
    sheet = Sheet(
        session="s", title="Sake", assessor="A01", language=language, date="2026-03-14",
        presentations=(cup,), scorecard=made,
    )  # fmt: skip
    both_sides = (name, paper) == ("full", "Letter")
    assert len(presentation_pages(sheet, cup, paper)) == (2 if both_sides else 1)


def test_options_and_what_is_no_property_of_the_bottle():
    assert "sweetness_expected" not in card()
    assert "another_sip" not in card()
    assert "sweetness_expected" in card("full", ["expected"])
    aside = {question.key for question in card() if question.aside}
    assert aside == {"fault_unsure", "release"}
    options = {question.key for question in card("full", OPTIONS) if question.aside} - aside
    assert options == {
        "sweetness_expected", "style_liking", "quality_again", "choice", "choice_reason",
        "fault_none",
    }  # fmt: skip
    assert card("full")["release"].kind is Kind.CATEGORY


def test_the_earlier_card_is_as_it_was():
    assert card(EARLIER) == default_scorecard()


def test_a_brewery_card_is_short():
    """12 to 15 answers a cup, besides the table of faults, where a row without a mark means 0."""
    asked = [q for q in card("brewery") if q.kind not in (Kind.FAULTS, Kind.WORDS)]
    assert 12 <= len(asked) <= 15


def test_grades_say_which_end_is_best_in_both_languages():
    """1 is best, as in the preliminary round of the national contest (NRIB notices, BY2014–15)."""
    grade = card("official")["grade"]
    assert grade.values == (1, 2, 3, 4, 5)
    assert "1 is best" in grade.ask.to("en")
    assert "1が最も良い" in grade.ask.to("ja")
    assert all(card("official")[key].aside for key in ("grade", "aroma_grade", "taste_grade"))


def test_liking_is_kept_apart_from_a_profile():
    asked = card("guests")
    assert asked["liking"].hedonic
    assert asked["liking"].aside
    assert not any(
        question.hedonic for name in NAMES if name != "guests" for question in card(name)
    )


def test_the_command_offers_every_card():
    from kikichoko.panel.commands.new import command

    offered = next(one for one in command.params if one.name == "card")
    assert list(offered.type.choices) == [name for name in CARDS if name != EARLIER]
