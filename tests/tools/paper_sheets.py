"""Sheets that the tests of paper and of photos share."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from kikichoko.forms.questions import change, default_scorecard
from kikichoko.forms.questions.sheet import Presentation, Sheet

CODES = ("483", "907", "215", "662")
SET = ("111", "234", "567")


@pytest.fixture(scope="session")
def make_sheet() -> Callable[..., Sheet]:
    """Return what makes a sheet of four cups and a warm-up."""
    return sheet_maker()


def sheet_maker() -> Callable[..., Sheet]:
    """Return a maker of sheets; `wide` adds long labels and every kind of question."""

    def make(
        language: str = "en",
        *,
        wide: bool = False,
        assessor: str = "A07",
        session: str = "spring-24",
    ) -> Sheet:
        card = default_scorecard()
        if wide:
            card, faults = change(
                card,
                add=[
                    {"key": "odd", "section": "overall", "kind": "choice",
                     "label": {"en": "Which cup is the odd one?", "ja": "違う杯はどれですか。"}},
                    {"key": "rank", "section": "overall", "kind": "ranking",
                     "label": "By sweetness",
                     "low_label": "least", "high_label": "most"},
                    {"key": "grade", "section": "overall", "kind": "category", "label": "Grade",
                     "options": ["poor", "fair", "good", "very good"]},
                    {"key": "use", "section": "overall", "kind": "category",
                     "label": "What would you do with this fraction if it were yours to decide?",
                     "options": ["keep it back and taste it again after the summer has gone by",
                                 "blend it with another one", "release it as it is"]},
                    {"key": "umami", "low_label": "hardly anything that deserves the name",
                     "high_label": "as strong as a clear soup of dried kelp",
                     "label": {"en": "Umami, the savoury taste of rice and koji in the middle",
                               "ja": "口の中ほどに広がる米と麹の旨味の強さと厚み"}},
                ],
                words=[
                    {"key": "straw", "label": "wet straw after a long rain in October"},
                    {"key": "ume", "label": {"en": "ume", "ja": "梅の花と青梅の皮のような香り"}},
                ],
                faults=[{"key": "metal", "label": {
                    "en": "metal, an old tin can that stood open, or blood from a bitten tongue",
                    "ja": "金属臭、開けたまま置いた古い缶、または噛んだ舌の血のような臭い"}}],
            )  # fmt: skip
            assert not faults
        asked = tuple(key for key in card.keys if key not in ("odd", "rank"))
        cups = [Presentation(number=0, flight=0, codes=("120",), asked=asked, counted=False)]
        for number, code in enumerate(CODES, start=1):
            rest = 10 if number == 3 else 0
            flight = 1 if number < 3 else 2
            cups.append(
                Presentation(
                    number=number, flight=flight, codes=(code,), asked=asked, rest_before=rest
                )
            )
        if wide:
            asked = ("odd", "rank", "words")
            cups.append(Presentation(number=5, flight=3, codes=SET, asked=asked, rest_before=15))
        return Sheet(
            session=session,
            title="春のきき酒会" if language == "ja" else "Spring tasting",
            assessor=assessor,
            language=language,
            date="2026-11-25",
            presentations=tuple(cups),
            scorecard=card,
            notes=("note_opaque",),
        )

    return make


@pytest.fixture(scope="session")
def printed(make_sheet, simulator):
    """Return the English A4 sheet, and its pages with pictures."""
    sheet = make_sheet()
    return sheet, simulator.printed(sheet)
