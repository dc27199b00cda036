"""What a table becomes on a screen: decided by its words, tested on both sides of each room."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.panel.report.parts import sized
from kikichoko.panel.report.screen_columns import (
    AMPLE,
    CLOSE,
    COLON,
    HALF,
    PADDED,
    PHONE,
    SMALLER,
    _Cells,
    columns,
    ems,
    phone,
)  # fmt: skip
from kikichoko.panel.report.spelling import Spelling, whole_in_cell


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
    letter = "人に、" if language == "ja" else "m "
    n = int(AMPLE[0][0] / ems(letter, language))
    short, long = letter * n, letter * (n + 1)
    assert ems(short, language) <= AMPLE[0][0] < ems(long, language)
    frame = pd.DataFrame({"a": ["x"], "b": [short], "c": [long]})
    _, whole, broken = columns(frame, written(language)).each
    assert whole.desk >= ems(short, language)
    assert broken.desk == pytest.approx(ems(long, language) / 2, abs=0.1)


def test_where_there_is_no_room_for_whole_cells_shorter_ones_are_whole_or_none():
    names = {f"{n}": ["a name of two", "short"] for n in range(60)}
    long, short = (ems(one, "en") for one in ("a name of two", "short"))
    found = {}
    for n in (6, 20, 60):
        frame = pd.DataFrame(dict(list(names.items())[:n]))
        found[n] = columns(frame, written())
    assert found[6].each[1].desk >= long > found[20].each[1].desk >= short
    assert {one.desk for one in found[60].each} == {0.0}
    assert [found[n].paper for n in (6, 60)] == [True, False]


def test_half_a_card_holds_a_short_cell_with_its_heading():
    n = int((HALF - COLON - ems("tank", "en")) / ems("0", "en"))
    for count, half in ((n, True), (n + 1, False)):
        frame = pd.DataFrame({"bottle": ["x"], "tank": ["0" * count]})
        assert columns(frame, written()).each[1].half is half


def test_no_rows_and_japanese_words_stay_whole():
    empty = columns(pd.DataFrame({"a": [], "b": []}), written())
    assert (empty.phone, len(empty.each)) == ("", 2)
    bottles = pd.DataFrame({"瓶": ["生酒"], "グルコース": ["2.0"], "精米歩合 %": ["60"]})
    _, glucose, polished = columns(bottles, written("ja")).each
    assert glucose.phone > 4.5
    assert 3.5 < polished.phone < 5


@pytest.mark.parametrize("language", ["en", "ja"])
def test_limits_are_measured_whole_and_part_from_their_mean_at_a_blank(language: str):
    """Japanese brackets, before which a line may end, were measured as if within the limits too."""
    text = whole_in_cell(sized("7.1", "6.1", "8.1").to(language))
    mean, blank, limits = text.partition(" ")
    assert (mean, blank) == ("7.1", " ")
    assert " " not in limits
    assert _Cells([text], language).pieces == [ems(limits, language)]


def test_a_count_out_of_several_stays_on_one_line():
    """On a telephone "7 of" ended a line and "7" began the next.

    Two marks may part: columns of a telephone have no room for both.
    """
    assert whole_in_cell("7.5 · 8") == "7.5 · 8"
    assert whole_in_cell("M1 7 of 7, E1 10 of 12") == "M1 7\u00a0of\u00a07, E1 10\u00a0of\u00a012"
    assert whole_in_cell("1.5 of 3") == "1.5 of 3"  # no count
    joined = "7\u2060名\u2060中\u20607"
    assert whole_in_cell("7名中7名") == f"{joined}名"
    assert whole_in_cell("瓶の中 7") == "瓶の中 7"
