"""Every kind of sheet that is printed, to measure and to look at."""

from __future__ import annotations

from kikichoko.forms.questions.cards import EDITION, card
from kikichoko.forms.questions.question_types import Scorecard
from kikichoko.forms.questions.set_questions import set_scorecard
from kikichoko.forms.questions.sheet import Presentation, Sheet

CARDS = ("full", "brewery", "beginners", "earlier", "cloudy", "aged", "official", "guests")
SETS = {
    "triangle": (("odd",), 3), "duo-trio": (("like_first",), 3), "paired": (("stronger",), 2),
    "3-afc": (("stronger",), 3), "tetrad": (("pair_1", "pair_2"), 4),
    "two-out-of-five": (("odd_1", "odd_2"), 5),
    "same-different": (("same",), 2), "a-not-a": (("is_a",), 1), "ranking": (("order",), 5),
    "paired-ties": (("stronger",), 2),
}  # fmt: skip
KINDS = (*CARDS, *SETS)
_CODES = [str(101 + 37 * n % 899) for n in range(60)]


def sheet_of(kind: str, language: str, cups: int = 6, edition: int = EDITION) -> Sheet:
    """Return a sheet of one kind: a warm-up and an appearance flight on the cards."""
    if kind in SETS:
        asked, size = SETS[kind]
        scorecard = set_scorecard(asked, cups=size, ties=kind.endswith("ties"))
        keys = scorecard.keys
        presentations = [
            Presentation(number=n, flight=1 + (n > 3), asked=keys,
                         codes=tuple(_CODES[n * size : (n + 1) * size]),
                         rest_before=10 if n == 4 else 0)
            for n in range(1, cups + 1)
        ]  # fmt: skip
        notes: tuple[str, ...] = ("note_opaque", "note_guess")
    else:
        scorecard = card(kind, edition=edition)
        presentations = _of_a_card(scorecard, cups)
        notes = ("note_opaque", "note_appearance_flight")
    return Sheet(
        session="spring-1",
        title="春のきき酒会" if language == "ja" else "Spring tasting",
        assessor="A1",
        language=language,
        date="2026-03-14",
        presentations=tuple(presentations),
        scorecard=scorecard,
        notes=notes,
        plan=1,
    )


def _of_a_card(scorecard: Scorecard, cups: int) -> list[Presentation]:
    seen = tuple(one.key for one in scorecard if one.section == "appearance")
    blind = tuple(key for key in scorecard.keys if key not in seen)
    made = [Presentation(number=0, flight=0, codes=("120",), asked=blind, counted=False)]
    made += [
        Presentation(number=n, flight=1 + (n > 3), codes=(_CODES[n],), asked=blind,
                     rest_before=10 if n == 4 else 0)
        for n in range(1, cups + 1)
    ]  # fmt: skip
    if seen:
        made += [
            Presentation(number=cups + n, flight=3, codes=(_CODES[20 + n],), asked=seen,
                         rest_before=10 if n == 1 else 0)
            for n in range(1, cups // 2 + 1)
        ]  # fmt: skip
    return made
