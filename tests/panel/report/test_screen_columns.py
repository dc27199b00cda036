"""What a table becomes on a screen: decided by its words, tested on both sides of each room."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.panel.report.parts import sized
from kikichoko.panel.report.screen_columns import (
    ACROSS,
    AMPLE,
    CLOSE,
    COLON,
    GUTTER,
    HALF,
    NAME,
    PADDED,
    PAPER,
    PHONE,
    SMALLER,
    _Cells,
    _first,
    columns,
    ems,
    holds_marks,
    in_line,
    is_name,
    phone,
)  # fmt: skip
from kikichoko.panel.report.spelling import NUMBERED, Spelling, whole_in_cell, whole_names


def written(language: str = "en", *names: str) -> Spelling:
    report = SimpleNamespace(language=language, names=frozenset(names))
    return Spelling(report)  # type: ignore[arg-type]


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
    """On a telephone "7 of" ended a line and "7" began the next."""
    assert whole_in_cell("M1 7 of 7, E1 10 of 12") == "M1 7\u00a0of\u00a07, E1 10\u00a0of\u00a012"
    assert whole_in_cell("1.5 of 3") == "1.5 of 3"  # no count
    joined = "7\u2060名\u2060中\u20607"
    assert whole_in_cell("7名中7名") == f"{joined}名"
    assert whole_in_cell("瓶の中 7") == "瓶の中 7"


def test_of_two_marks_the_second_takes_its_dot_to_the_next_line():
    assert written().cell("7.5 · 8") == "7.5 ·\u00a08"
    assert _Cells([written().cell("7.5 · 7.5")], "en").pieces == [ems("·\u00a07.5", "en")]


def test_marks_of_several_tastings_stand_in_one_line_where_a_telephone_has_room():
    cell = "7.5 · 7.5"
    most = int(ACROSS / (ems(written().cell(cell), "en") + GUTTER))
    for marks, room in ((most, True), (most + 1, False)):
        frame = pd.DataFrame([["Smell", *[cell] * marks]])
        assert in_line(frame, written(), marks) is room
    assert in_line(pd.DataFrame([["a long word beside single marks", "7.5"]]), written(), 9)


@pytest.mark.parametrize(("letters", "whole"), [(NUMBERED, True), (NUMBERED + 1, False)])
def test_a_short_word_of_a_name_keeps_its_number(letters: int, whole: bool):
    word = "vat" + "s" * (letters - 3)
    joined = f"{word}\u00a02" if whole else f"{word} 2"
    assert whole_names(f"of {word} 2", [f"{word} 1"]) == f"of {joined}"
    spelling = written("en", f"{word} 1", f"{word} 2")
    assert spelling.cell(f"{word} 2") == spelling.head(f"{word} 2") == joined
    assert spelling.line(f"{word} 2") == joined
    assert whole_names(f"of {word} 2", ["middle", "press-end 2"]) == f"of {word} 2"


def test_a_short_name_stays_on_one_line():
    short = "-" * int(NAME / ems("-", "en"))
    long = f"{short}-"
    names = written("en", short, long)
    assert (is_name(short, names), is_name(long, names)) == (True, False)
    assert not is_name(short, written()), "no name of this report"


def test_names_above_marks_stay_whole_where_no_cell_is_parted_by_it():
    """A name of two words above each mark, and a sentence beside: heads whole, or cells."""
    name, found = "press-end", {}
    spelling = written("en", name)
    for letters in range(1, 200):
        frame = pd.DataFrame([["Smell", "7.5", "so " * letters]], columns=["", name, "beside"])
        found[ems(frame.iloc[0, 2], "en")] = holds_marks(frame, spelling, names=True)
        assert holds_marks(frame, spelling), "marks alone have room"
    room = max(long for long, whole in found.items() if whole)
    assert PAPER - 15 < room < PAPER
    assert [whole for _, whole in sorted(found.items())] == sorted(found.values(), reverse=True)


@pytest.mark.parametrize(
    ("room", "made"),
    [
        (12.0, [4.0, 8.0]),  # the last wish has room
        (9.2, [2.5, 6.5]),  # half of what is spare, less what rounding up may take
        (6.201, [1.0, 5.0]),  # the longest words alone
        (6.1, [0.0, 0.0]),
    ],
)
def test_a_table_is_made_narrower_but_not_than_its_words(room: float, made: list[float]):
    wanted, words = [[9.0, 9.0], [4.0, 8.0]], [1.0, 5.0]
    assert _first(wanted, words, room, 0.0) == pytest.approx(made, abs=0.01)
    assert _first(wanted, words, room + 2.0, 1.0) == pytest.approx(made, abs=0.01)
