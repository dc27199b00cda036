"""Sheets of every kind measured on the PDF itself: letters, boxes, and what lies between."""

from __future__ import annotations

import ctypes
import hashlib
from collections.abc import Iterator
from dataclasses import replace

import pypdfium2
import pytest
from kikichoko.forms.paper.pages import lay_out
from kikichoko.forms.paper.sheet_pdf import sheets_pdf
from kikichoko.forms.questions.cards import card
from kikichoko.forms.questions.set_questions import HOW, how_to, set_scorecard
from kikichoko.forms.questions.sheet import Presentation
from kikichoko.forms.questions.words import say
from pypdfium2 import raw
from sheet_kinds import CARDS, KINDS, SETS, sheet_of

MM = 25.4 / 72
Place = tuple[float, float, float, float]
PRINTED = [(language, paper) for language in ("en", "ja") for paper in ("A4", "Letter")]


def things(page: pypdfium2.PdfPage, high: float) -> Iterator[tuple[str, float, Place]]:
    """Yield each text with its size in points, and each open outline, in millimetres from above."""
    for one in page.get_objects():
        left, bottom, right, top = (edge * MM for edge in one.get_bounds())
        place = left, high - top, right, high - bottom
        if one.type == raw.FPDF_PAGEOBJ_TEXT:
            size = ctypes.c_float()
            raw.FPDFTextObj_GetFontSize(one.raw, ctypes.byref(size))
            yield "text", size.value, place
        elif one.type == raw.FPDF_PAGEOBJ_PATH:
            filled, stroked = ctypes.c_int(), ctypes.c_int()
            raw.FPDFPath_GetDrawMode(one.raw, ctypes.byref(filled), ctypes.byref(stroked))
            if stroked.value and not filled.value:
                yield "outline", 0.0, place


@pytest.fixture(scope="module", params=PRINTED, ids="-".join)
def measured(request):
    """Return kind, page as described, texts and boxes as printed, for all kinds of sheets."""
    language, paper = request.param
    sheets = [sheet_of(kind, language, cups=2) for kind in KINDS]
    described = [
        (kind, page)
        for kind, sheet in zip(KINDS, sheets, strict=True)
        for page in lay_out(sheet, paper)
    ]
    found = []
    with pypdfium2.PdfDocument(sheets_pdf(sheets, paper)) as document:
        for (kind, page), leaf in zip(described, document, strict=True):
            seen = list(things(leaf, page.size[1]))
            texts = [(size, place) for what, size, place in seen if what == "text"]
            boxes = [
                place for what, _, place in seen
                if what == "outline"
                and abs((place[2] - place[0]) - (place[3] - place[1])) < 0.05
                and 3 < place[2] - place[0] < 10
            ]  # fmt: skip
            found.append((kind, page, texts, boxes))
    return found


def test_letters_are_large_enough(measured):
    for kind, page, texts, _ in measured:
        assert min(size for size, _ in texts) >= 7.99, (kind, page.number)


def test_boxes_are_large_enough_and_all_there(measured):
    for kind, page, _, boxes in measured:
        if page.presentations:
            assert len(boxes) == len(page.boxes), (kind, page.number)
            assert all(right - left >= 4.5 for left, _, right, _ in boxes)


def test_no_word_nearly_touches_a_box(measured):
    for kind, page, texts, boxes in measured:
        for left, top, right, bottom in boxes if page.presentations else ():
            for _, (x1, y1, x2, y2) in texts:
                across = max(left - x2, x1 - right)
                down = max(top - y2, y1 - bottom)
                beside = down < 0
                assert max(across, down) >= 0.4, (kind, page.number)
                if beside:  # on one line with the box: its own word, or the one before
                    assert across >= 1.0, (kind, page.number, left, top)
                    assert x2 > left or across >= 1.7, (kind, page.number, left, top)


def test_what_is_read_standing_is_large(measured):
    """Instructions of tests at least 10 points, circles 6.5 mm, codes 18 points."""
    for kind, page, texts, boxes in measured:
        if kind in SETS and page.presentations:
            inside = [size for size, (_, top, _, bottom) in texts if top > 36 and
                      bottom < page.size[1] - 17]  # fmt: skip
            assert min(size for size in inside if size > 9.01) >= 10, (kind, page.number)
            assert max(inside) >= 18, (kind, page.number)
            assert all(right - left >= 6.5 for left, _, right, _ in boxes)


@pytest.mark.parametrize(("language", "paper"), PRINTED)
def test_as_few_sides_as_the_questions_need(language, paper):
    sides = {kind: len(lay_out(sheet_of(kind, language), paper)) for kind in KINDS}
    # a cover; a warm-up and six cups in two flights; three cups in the appearance flight
    assert sides["full"] == (9 if paper == "A4" else 16)
    assert (sides["brewery"], sides["beginners"], sides["earlier"]) == (8, 5, 9)
    for kind in ("triangle", "duo-trio", "paired", "3-afc", "same-different", "a-not-a"):
        assert sides[kind] == 3, kind  # a cover, three sets a side
    assert sides["tetrad"] == sides["two-out-of-five"] == 5


@pytest.mark.parametrize("language", ["en", "ja"])
def test_the_cover_explains_what_its_sheet_has(language):
    def told(kind: str) -> str:
        return "".join(word.text for word in lay_out(sheet_of(kind, language))[0].words)

    line = say("paper.mark_line", language, length="80")[:12]
    square, circle = (say(f"paper.mark_{name}", language)[:8] for name in ("square", "round"))
    for kind in SETS:
        assert circle in told(kind)
        assert line not in told(kind)
        assert square not in told(kind)
        assert say("paper.fix_circle", language)[:9] in told(kind)
        # no finish is asked, and one cup stands alone
        assert ("finish" if language == "en" else "後味") not in told(kind)
        order = "sheet.how_1" if kind == "a-not-a" else "set.how_order"
        assert how_to(sheet_of(kind, language))[0] == order
    for kind in CARDS:
        assert (line in told(kind)) == (kind != "official")  # which has no lines
        assert square in told(kind)
        # nobody is told to look into cups that nobody is to look into
        assert say("sheet.how_3", language)[:6] not in told(kind)


@pytest.mark.parametrize("language", ["en", "ja"])
def test_the_cover_forbids_going_back_where_no_question_asks_for_it(language):
    plain, end = "sheet.how_1", "sheet.how_1_end"
    assert how_to(sheet_of("brewery", language))[0] == plain == HOW[0]
    for asked in (card("guests"), card("full", ["side_by_side"]), card("brewery", ["choice"])):
        assert how_to(replace(sheet_of("brewery", language), scorecard=asked))[0] == end
    told = "".join(word.text for word in lay_out(sheet_of("guests", language))[0].words)
    assert say(end, language)[:14] in told


@pytest.mark.parametrize("language", ["en", "ja"])
def test_nobody_is_told_to_guess_where_no_difference_may_be_said(language):
    told = {}
    for kind in ("paired", "paired-ties"):
        words = lay_out(sheet_of(kind, language))[0].words
        told[kind] = "".join(word.text for word in words).replace(" ", "")
    may, must = (say(f"set.{key}", language).replace(" ", "")[-20:]
                 for key in ("how_answer_ties", "how_answer"))  # fmt: skip
    assert may in told["paired-ties"]
    assert must not in told["paired-ties"]
    assert must in told["paired"]


def test_no_letter_of_a_choice_stands_alone():
    """As "る" did of "やや甘すぎる", on the cards for guests and along one sip."""
    for kind in ("guests", "full"):
        words = [word.text for page in lay_out(sheet_of(kind, "ja")) for word in page.words]
        assert "すぎる" in words
        assert "る" not in words


def test_questions_that_share_a_side_stand_apart_where_there_is_room():
    page = lay_out(sheet_of("guests", "en"))[1]
    ends = {word.y for word in page.words if word.text == "very much"}
    names = {word.y for word in page.words if word.text == "Sweetness against acidity"}
    assert min(names) - min(ends) > 6


def test_the_foot_of_a_page_speaks_of_what_the_page_has():
    def feet(kind: str) -> set[str]:
        return {page.words[-1].text for page in lay_out(sheet_of(kind, "en")) if page.presentations}

    line, box, circle, both = (
        say(f"paper.hint{of}", "en", length="80") for of in ("_line", "_box", "_circle", "")
    )
    assert feet("full") == {both, line}  # the appearance flight has lines alone
    assert (feet("official"), feet("triangle")) == ({box}, {circle})


@pytest.mark.parametrize("language", ["en", "ja"])
def test_of_three_cups_the_strongest_is_asked_for_and_of_two_the_stronger(language):
    asked = {
        cups: set_scorecard(["stronger"], {"en": "dry", "ja": "辛い"}, cups=cups)["stronger"].ask
        for cups in (2, 3)
    }
    said = {cups: ask.to(language) for cups, ask in asked.items()}
    first = {"en": ("Which cup is drier?", "Which cup is driest?"),
             "ja": ("より辛いのは", "最も辛いのは")}[language]  # fmt: skip
    assert said[2].startswith(first[0])
    assert said[3].startswith(first[1])
    longer = set_scorecard(["stronger"], {"en": "astringent", "ja": "渋い"})["stronger"]
    assert longer.label.to(language) == {"en": "More astringent", "ja": "より渋い杯"}[language]
    planned = set_scorecard(["stronger"], {"en": "dry", "ja": "辛い"}, compared=False)["stronger"]
    assert planned.label.to(language) == {"en": "More dry", "ja": "より辛い杯"}[language]


def test_a_side_says_which_cups_it_holds():
    sides = lay_out(sheet_of("beginners", "en"))[1:]
    for side, head in zip(sides, ("Warm-up and cup 1 of 6", "Cups 2 and 3 of 6"), strict=False):
        assert head in [word.text for word in side.words]


# The check marks on the second page of sheets printed by the version of 2026-11-26 before pages
# could be shared (commit 1ef6286); with another one such a page would be refused.
PRINTED_BEFORE = {
    ("full", "en", "A4"): "d74d",
    ("full", "ja", "Letter"): "4878",
    ("brewery", "en", "A4"): "6cd1",
    ("brewery", "ja", "Letter"): "1dc4",
    ("beginners", "en", "A4"): "c3a0",
    ("beginners", "ja", "Letter"): "43cb",
    ("earlier", "en", "A4"): "99e2",
    ("earlier", "ja", "Letter"): "a99f",
    ("triangle", "en", "A4"): "0b5f",
    ("triangle", "ja", "Letter"): "5c47",
    ("duo-trio", "en", "A4"): "f753",
    ("duo-trio", "ja", "Letter"): "40ce",
    ("paired", "en", "A4"): "1af5",
    ("paired", "ja", "Letter"): "b105",
    ("tetrad", "en", "A4"): "b4bb",
    ("tetrad", "ja", "Letter"): "bbdf",
    ("two-out-of-five", "en", "A4"): "107c",
    ("two-out-of-five", "ja", "Letter"): "e47b",
    ("same-different", "en", "A4"): "b64b",
    ("same-different", "ja", "Letter"): "c03a",
    ("a-not-a", "en", "A4"): "9798",
    ("a-not-a", "ja", "Letter"): "14f4",
    ("ranking", "en", "A4"): "0376",
    ("ranking", "ja", "Letter"): "e8e8",
}


def test_sheets_printed_before_keep_their_places():
    found = {
        (kind, language, paper): lay_out(sheet_of(kind, language, edition=1), paper, earlier=True)[
            1
        ].check
        for kind, language, paper in PRINTED_BEFORE
    }
    assert found == PRINTED_BEFORE


# Of the check marks of all pages of sheets printed with the first edition of the cards, when
# pages were shared already (commit 7c01430c).
PRINTED_SHARED = {
    ("full", "en", "A4"): "2c3fad9d",
    ("full", "ja", "Letter"): "953155e7",
    ("brewery", "en", "A4"): "1a646a00",
    ("brewery", "ja", "Letter"): "45e5ccbc",
    ("beginners", "en", "A4"): "ad6b44a1",
    ("beginners", "ja", "Letter"): "bab51f4c",
    ("earlier", "en", "A4"): "2e75643a",
    ("earlier", "ja", "Letter"): "d949f280",
    ("cloudy", "en", "A4"): "e2fe168d",
    ("cloudy", "ja", "Letter"): "4cfb1487",
    ("aged", "en", "A4"): "4c0e13b4",
    ("aged", "ja", "Letter"): "7f5a20f8",
    ("official", "en", "A4"): "6445267f",
    ("official", "ja", "Letter"): "902e9d82",
    ("guests", "en", "A4"): "18123649",
    ("guests", "ja", "Letter"): "d4eb579e",
    ("triangle", "en", "A4"): "8ff0bdec",
    ("triangle", "ja", "Letter"): "409411b4",
    ("duo-trio", "en", "A4"): "252a7add",
    ("duo-trio", "ja", "Letter"): "8b32c9c6",
    ("paired", "en", "A4"): "13819014",
    ("paired", "ja", "Letter"): "2770b10e",
    ("3-afc", "en", "A4"): "7bc529cc",
    ("3-afc", "ja", "Letter"): "4de10e56",
    ("tetrad", "en", "A4"): "84b2772d",
    ("tetrad", "ja", "Letter"): "99e1bf5f",
    ("two-out-of-five", "en", "A4"): "8a085c6d",
    ("two-out-of-five", "ja", "Letter"): "6421a7d1",
    ("same-different", "en", "A4"): "ca2bb5e7",
    ("same-different", "ja", "Letter"): "42ce917f",
    ("a-not-a", "en", "A4"): "f1d7ceee",
    ("a-not-a", "ja", "Letter"): "49140e6c",
    ("ranking", "en", "A4"): "a6e13292",
    ("ranking", "ja", "Letter"): "a288cd69",
}


def test_sheets_of_the_first_edition_keep_their_places():
    found = {}
    for kind, language, paper in PRINTED_SHARED:
        pages = lay_out(sheet_of(kind, language, edition=1), paper, earlier=2)
        marks = " ".join(page.check for page in pages).encode()
        found[kind, language, paper] = hashlib.sha256(marks).hexdigest()[:8]
    assert found == PRINTED_SHARED


LONG = {
    "en": ("Evening river special junmai, pasteurised once, stored 14 months at 2 degrees, tank 3",
           "Evening river special junmai, pasteurised once, stored 14 months at 2 degrees, tank 4"),
    "ja": ("夕川特別純米一回火入れ二度で十四か月貯蔵した中取り無濾過原酒直汲み瓶囲い三号槽",
           "夕川特別純米一回火入れ二度で十四か月貯蔵した中取り無濾過原酒直汲み瓶囲い四号槽"),
}  # fmt: skip


@pytest.mark.parametrize(("language", "paper"), PRINTED)
def test_long_names_of_an_open_flight_are_whole_and_no_smaller_than_the_rest(language, paper):
    sheet = sheet_of("brewery", language, cups=2)
    asked = sheet.presentations[1].asked
    named = replace(
        sheet,
        named=True,
        presentations=tuple(
            Presentation(number=n, flight=1, codes=(name,), asked=asked)
            for n, name in enumerate(LONG[language], start=1)
        ),
    )
    pages = lay_out(named, paper)
    for page in pages:
        assert min(word.size for word in page.words) >= 8.0, page.number
        assert max(word.y for word in page.words) < page.size[1]
    for number, name in enumerate(LONG[language], start=1):
        for page in (pages[0], pages[number]):
            told = "".join(word.text for word in page.words).replace(" ", "")
            assert name.replace(" ", "") in told, page.number


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_section_that_goes_on_on_a_further_side_has_its_heading_again(language):
    """On Letter "Cannot tell" stood without one on the second side of the full card."""
    sides = lay_out(sheet_of("full", language), "Letter")[1:3]
    assert [page.presentations[0].name for page in sides] == ["120", "120"]
    keys = {one.attribute.partition(":")[0] for one in sides[1].boxes}
    asked = {one.key: one.section for one in sheet_of("full", language).scorecard}
    for section in {asked[key] for key in keys} | {"overall", "words"}:
        assert say(f"scorecard.section_{section}", language) in [w.text for w in sides[1].words]
    middle = sides[1].size[0] / 2
    assert any(one.x > middle for one in sides[1].fields), "both columns are used"


@pytest.mark.parametrize(("language", "paper"), PRINTED)
def test_cups_that_are_looked_at_stand_in_both_columns_and_nothing_is_drunk(language, paper):
    sheet = sheet_of("full", language)
    page = lay_out(sheet, paper)[-1]
    middle = page.size[0] / 2
    places = {one.code: one.x > middle for one in page.scales}
    assert list(places.values()) == [False, False, True]  # in the order of tasting
    told = " ".join(word.text for word in page.words)
    bread = {"en": "bread", "ja": "パン"}[language]
    assert bread not in told
    assert any(bread in word.text for other in lay_out(sheet, paper)[1:-1] for word in other.words)


@pytest.mark.parametrize("language", ["en", "ja"])
def test_cups_are_named_by_their_codes_where_no_difference_may_be_said(language):
    page = lay_out(sheet_of("paired-ties", language))[1]
    told = [word.text for word in page.words]
    first = page.presentations[0]
    for code in first.codes:
        assert told.count(code) == 1
    assert not any(say("set.first_cup", language) in text for text in told)
    own = [box for box in page.boxes if box.code == first.name]
    assert [box.value for box in own] == [1.0, 2.0, 0.0]  # first, second, no difference
    for box, text in zip(own, [*first.codes, say("set.no_difference", language)], strict=True):
        below = next(w for w in page.words if w.text == text and w.y > box.y)
        assert below.x == pytest.approx(box.x)


def test_a_rest_stands_apart_from_the_name_of_its_flight():
    page = lay_out(sheet_of("full", "en"))[-1]
    told = [word.text for word in page.words if "Rest 10 minutes" in word.text]
    assert [text.partition(" · ")[0] for text in told] == ["Flight 3"]
