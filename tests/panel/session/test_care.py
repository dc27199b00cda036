"""Cautions for whoever opens a bottle.

What must stand for which bottle is K1-K12 of ``tests/outside/words/labels.md`` (section E),
written by a person of the trade who had not seen the program: common practice, no source.
"""

from __future__ import annotations

import pytest
from kikichoko.panel.base.words import say
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.care import care, care_label, care_mark

HEATED = {"pasteurised": "2"}


@pytest.mark.parametrize(
    ("bottle", "lively"),
    [
        (Bottle(name="N", fraction="cloudy", pasteurised="0"), True),
        (Bottle(name="N", fraction="おりがらみ"), True),
        (Bottle(name="N", fraction="cloudy", **HEATED), False),
        (Bottle(name="N", fraction="薄にごり生", **HEATED), True),
        (Bottle(name="スパークリング", **HEATED), True),
        (Bottle(name="N", fraction="活性にごり", **HEATED), True),
        (Bottle(name="N", fraction="微発泡", **HEATED), True),
        (Bottle(name="Sparkling", **HEATED), True),
        (Bottle(name="kassei", **HEATED), True),
        (Bottle(name="N", fraction="活性炭濾過", **HEATED), False),
        (Bottle(name="N", fraction="free run", pasteurised="0"), False),
        (Bottle(name="Original", fraction="original", pasteurised="0"), False),
    ],
)
def test_which_bottles_may_be_under_pressure(bottle: Bottle, lively: bool):
    assert bottle.lively is lively
    assert care_label(bottle, "en").startswith("PRESSURE") is lively


@pytest.mark.parametrize(
    ("further", "lively"),
    [
        ({"style": "スパークリング"}, True),
        ({"種類": "活性にごり"}, True),
        ({"rice": "Yamada Nishiki", "notes": "lightly sparkling, wired cork"}, True),
        ({"notes": "no fizz", "filter": "活性炭濾過"}, False),
        ({"notes": "not at all sparkling", "gas": "炭酸なし"}, False),
        ({"gas": "not carbonated by us, bottle fermented"}, True),
        ({"notes": "not filtered, sparkling"}, True),
        ({"notes": "not filtered sparkling sake"}, True),
        ({"notes": "発泡は弱くない"}, True),
        ({"rice": "Yamada Nishiki"}, False),
    ],
)
def test_a_further_column_may_say_that_a_bottle_is_sparkling(further: dict, lively: bool):
    """Cases by the one who wrote the rule, from practice; no source."""
    bottle = Bottle(name="N", fraction="free run", further=further, **HEATED)
    assert bottle.lively is lively
    assert care_label(bottle, "en").startswith("PRESSURE") is lively


def told(*bottles: Bottle) -> str:
    return "\n".join(care(bottles, "en"))


def test_a_lively_bottle_gets_every_caution_and_is_never_turned():
    text = told(Bottle(name="Active", fraction="cloudy", pasteurised="0"))
    for part in ("upright and cold", "Do not shake or turn", "close again when foam rises",
                 "how far a bottle will gush", "corkscrew", "made for pressure",
                 "swollen closure", "5 °C or below", "opening date"):  # fmt: skip
        assert part in text
    assert "Turn gently" not in text


def test_a_heated_cloudy_bottle_is_turned_and_shouts_no_pressure():
    text = told(Bottle(name="Settled", fraction="cloudy", **HEATED))
    assert "Turn gently" in text
    assert "pressure" not in text.lower()


def test_a_heated_clear_bottle_needs_none():
    assert told(Bottle(name="Clear", fraction="free run", **HEATED)) == ""
    assert care_label(Bottle(name="Clear", **HEATED), "en") == ""


def test_a_raw_bottle_is_kept_cold():
    assert "opening date" in told(Bottle(name="Raw", fraction="free run", pasteurised="0"))


@pytest.mark.parametrize("language", ["en", "ja"])
def test_every_list_marks_the_bottle(language: str):
    active = Bottle(name="活性にごり", pasteurised="0")
    raw = Bottle(name="Raw", fraction="free run", pasteurised="0")
    settled = Bottle(name="Nigori, heated", **HEATED)
    marks = [care_mark(one, language) for one in (active, raw, settled)]
    assert len({*marks, ""}) == 4
    assert care_mark(Bottle(name="Clear", **HEATED), language) == ""


def test_the_cautions_are_there_in_japanese():
    told = "\n".join(care([Bottle(name="活性にごり", pasteurised="0")], "ja"))
    for part in ("立てて冷やして", "振らない", "泡が上がったら閉める", "噴くか", "5 ℃以下", "耐圧"):
        assert part in told
    assert not any(letter in told for letter in ("swirl", "回す"))


def test_nothing_to_fill_by_says_swirl():
    assert "swirl" not in say("plan.fill_rule", "en", temperature="10", vessel="cup").lower()


def test_what_tasters_may_see_names_no_bottle():
    told = "\n".join(care([Bottle(name="Geheim", pasteurised="0")], "en", named=False))
    assert "1 bottle (the pour list" in told
    assert "Geheim" not in told


@pytest.mark.parametrize(("degrees", "warm"), [(29.9, False), (30.0, True)])
@pytest.mark.parametrize("language", ["en", "ja"])
def test_portions_name_their_bottle_once_and_say_what_may_be_warmed(
    degrees: float, warm: bool, language: str
):
    """Who served the second portion warm was told never to warm it."""
    both = [
        Bottle(name=f"nigori {at:g}", poured_from="nigori", fraction="cloudy", pasteurised="0",
               temperature_c=at)
        for at in (10.0, degrees)
    ]  # fmt: skip
    said = care(both, language)
    assert not any("nigori 10" in one or f"nigori {degrees:g}" in one for one in said)
    assert all(one.count("nigori") == 1 for one in said)
    assert len(said) == (3 if warm else 2)
    closed = {"en": "never the closed bottle", "ja": "栓をした瓶は温めない"}[language]
    assert any(closed in one for one in said) is warm
    which = {"en": "Raw or under pressure, and served warm", "ja": "生酒または内圧のおそれがあり"}
    assert any(which[language] in one for one in said) is warm, "heated ones are served warm too"
    mark = care_mark(both[0], language)
    assert "5" in mark
    assert {"en": "PRESSURE", "ja": "内圧"}[language] in mark
    heated = Bottle(name="sparkling", fraction="sparkling", **HEATED)
    assert "5" not in care_mark(heated, language)
