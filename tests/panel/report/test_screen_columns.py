"""What a table becomes on a screen: decided by its words, tested on both sides of each room."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.panel.report.screen_columns import (
    CLOSE,
    HALF,
    PADDED,
    PHONE,
    SMALLER,
    WHOLE,
    columns,
    ems,
    phone,
)  # fmt: skip
from kikichoko.panel.report.spelling import Spelling


def written(language: str = "en") -> Spelling:
    return Spelling(SimpleNamespace(language=language, names=frozenset()))  # type: ignore[arg-type]


def test_numbers_fit_and_sentences_become_cards():
    few = pd.DataFrame({"word": ["apple", "pear"], "clear": ["6", "7"], "cloudy": ["2", "0"]})
    assert columns(few, written()).phone == ""
    why = "nothing was noted against it, and it goes out as it is, kept cold and drunk within days"
    told = pd.DataFrame({"bottle": ["clear"], "what to do": [why], "why": [why]})
    assert columns(told, written()).phone == "stacked"
    assert columns(few, written(), stacked=True).phone == "stacked"


@pytest.mark.parametrize(("room", "pad", "within", "beyond"), [
    (PHONE, PADDED, "", "tight"), (SMALLER, CLOSE, "tight", "stacked"),
])  # fmt: skip
def test_both_sides_of_a_telephone(room: float, pad: float, within: str, beyond: str):
    each = room / 4 - pad
    assert phone([each - 0.01] * 4) == within
    assert phone([each + 0.01] * 4) == beyond
    assert phone([each + 0.01] * 4, short=False) == "stacked"


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_short_cell_keeps_its_line_on_a_desk_and_a_long_one_is_broken(language: str):
    letter = "人" if language == "ja" else "m "
    n = int(WHOLE[0] / ems(letter, language))
    short, long = letter * n, letter * (n + 2)
    assert ems(short, language) <= WHOLE[0] < ems(long, language)
    frame = pd.DataFrame({"a": ["x"], "b": [short], "c": [long if language == "en" else "人"]})
    _, whole, broken = columns(frame, written(language)).each
    assert whole.whole >= ems(short, language)
    assert broken.whole < ems(long, language) / 2


def test_where_there_is_no_room_for_whole_cells_shorter_ones_are_whole():
    names = {f"{n}": ["a name of two"] for n in range(30)}
    wide, narrow = (columns(pd.DataFrame(dict(list(names.items())[:n])), written())
                    for n in (6, 30))  # fmt: skip
    length = ems("a name of two", "en")
    assert wide.each[1].whole >= length > narrow.each[1].whole
    assert wide.paper
    assert not narrow.paper


def test_half_a_card_holds_a_short_cell_with_its_heading():
    head = "tank: "
    n = int((HALF - ems(head, "en")) / ems("0", "en"))
    for count, half in ((n, True), (n + 1, False)):
        frame = pd.DataFrame({"bottle": ["x"], head[:-2]: ["0" * count]})
        assert columns(frame, written()).each[1].half is half


def test_no_rows_and_japanese_words_stay_whole():
    empty = columns(pd.DataFrame({"a": [], "b": []}), written())
    assert (empty.phone, len(empty.each)) == ("", 2)
    bottles = pd.DataFrame({"瓶": ["生酒"], "グルコース": ["2.0"], "精米歩合 %": ["60"]})
    _, glucose, polished = columns(bottles, written("ja")).each
    assert glucose.least > 4.5
    assert 3.5 < polished.least < 5
