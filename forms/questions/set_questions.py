"""The questions of tests of difference, ranking and threshold, asked of coded cups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .question_types import Kind, Option, Question, Scorecard, Text
from .sheet import Presentation, Sheet
from .words import languages, say

OF_SETS = frozenset(
    {"odd", "like_first", "stronger", "is_a", "same", "order"}
    | {"pair_1", "pair_2", "odd_1", "odd_2"}
)
"""The questions that can be asked of a set of cups."""
YES_NO: dict[str, tuple[tuple[str, float], ...]] = {
    "is_a": (("a", 1.0), ("not_a", 0.0)),
    "same": (("same", 1.0), ("different", 0.0)),
    "stronger": (("first_cup", 1.0), ("second_cup", 2.0), ("no_difference", 0.0)),
}

_NAMED = {"stronger": "stronger_named", "strongest": "strongest_named", "order": "order_named"}
"""Entries that name an attribute; without one, strength of taste is asked for."""

UNSEEN = frozenset({"note_opaque", "note_red_light"})
"""Notes which say that the eye is kept out."""
AT_THE_END = frozenset({"quality_again", "choice"})
"""Questions for which assessors go back to the cups when they have judged them all."""
HOW = tuple(f"sheet.how_{place}" for place in range(1, 7))
SET_HOW = (
    "set.how_order",
    "sheet.how_2",
    "sheet.how_3",
    "sheet.how_4",
    "set.how_alone",
    "set.how_answer",
)


def is_test(scorecard: Scorecard) -> bool:
    """Tell whether a scorecard is that of a test, a ranking or a threshold."""
    return any(one.key in OF_SETS for one in scorecard.questions)


def of_a_set(presentation: Presentation) -> bool:
    """Tell whether a presentation asks a question of a test, not how one cup is."""
    return len(presentation.codes) > 1 or bool(OF_SETS & set(presentation.asked))


def how_to(sheet: Sheet) -> tuple[str, ...]:
    """Return the entries that say how to go about a sheet.

    A profile has no right answer and rather an empty place than a guess; a
    test is the other way round, and cups of one set are compared. Nobody is told to
    look into cups that nobody is to look into, nor to stay away from cups that a question
    sends them back to, nor to judge a finish that is not asked.
    """
    entries = SET_HOW if is_test(sheet.scorecard) else HOW
    others = {}
    others["sheet.how_3"] = "sheet.how_3" + ("_unseen" if set(sheet.notes) & UNSEEN else "")
    if not any(one.section == "finish" for one in sheet.scorecard):
        others["sheet.how_3"] += "_no_finish"
    if all(len(one.codes) == 1 for one in sheet.presentations):
        others["set.how_order"] = "sheet.how_1"
    if any(one.kind is Kind.CATEGORY and one.key == "stronger" for one in sheet.scorecard):
        others["set.how_answer"] = "set.how_answer_ties"
    if AT_THE_END & set(sheet.scorecard.keys):
        others["sheet.how_1"] = "sheet.how_1_end"
    if sheet.alone:
        others |= {"sheet.how_1": "sheet.how_1_alone", "sheet.how_2": "sheet.how_2_alone"}
    if sheet.named:
        others["sheet.how_2"] = "sheet.how_2_named"
    return tuple(others.get(entry, entry) for entry in entries)


def set_scorecard(
    asked: Sequence[str],
    attribute: str | Mapping[str, str] = "",
    *,
    ties: bool = False,
    cups: int = 2,
    compared: bool = True,
) -> Scorecard:
    """Return the questions of a test, the test's own first.

    Parameters
    ----------
    asked : sequence of str
        Keys of `OF_SETS`.
    attribute : str or mapping
        What is asked for in a paired comparison, a 3-AFC test or a ranking
        ("sweet"), one string or one per language; empty for "strong" in taste.
    ties : bool
        Whether a paired comparison offers "no difference".
    cups : int
        How many cups are compared: among three and more the strongest is asked for.
    compared : bool
        Whether to ask for the sweeter cup; sessions planned before that could be asked which
        is more sweet.
    """
    questions = [
        _question(key, attribute, ties=ties, cups=cups, compared=compared) for key in asked
    ]
    words = Question(
        key="words",
        section="words",
        kind=Kind.WORDS,
        label=Text.known("set.words"),
        ask=Text.known("set.words_ask"),
    )
    return Scorecard((*questions, words))


def _compared(attribute: str, language: str, *, known: bool) -> dict[str, str]:
    """Return the words that a question about an attribute may need: sweet, sweeter, sweetest."""
    more, most = (
        say(f"set.{degree}_of", language, attribute=attribute) for degree in ("more", "most")
    )
    for line in say("set.degrees", language).split(",") if known else ():
        word, *degrees = line.split()
        if word == attribute:
            more, most = degrees
    return {
        "attribute": attribute, "more": more, "most": most,
        "head_more": more[:1].upper() + more[1:], "head_most": most[:1].upper() + most[1:],
    }  # fmt: skip


def _question(
    key: str, attribute: str | Mapping[str, str], *, ties: bool, cups: int, compared: bool
) -> Question:
    ties = ties and key == "stronger"
    names = {"same": "same_or_different"} | ({"stronger": "strongest"} if cups > 2 else {})
    name = names.get(key, key)
    entries = [name, f"{name}_ties_ask" if ties else f"{name}_ask"]
    if attribute and name in _NAMED:
        named = Text.of(attribute)
        entries = [entry.replace(name, _NAMED[name], 1) for entry in entries]
        spoken = {to: _compared(named.to(to), to, known=compared) for to in languages()}
    else:
        spoken = {to: {} for to in languages()}
    label, ask = (
        Text.of({to: say(f"set.{entry}", to, **values) for to, values in spoken.items()})
        for entry in entries
    )
    kind = Kind.CHOICE
    options: tuple[Option, ...] = ()
    if key in {"is_a", "same"} or ties:
        kind = Kind.CATEGORY
        options = tuple(
            Option(key=option, label=Text.known(f"set.{option}"), value=value)
            for option, value in YES_NO[key]
        )
    if key == "order":
        return Question(
            key=key,
            section="overall",
            kind=Kind.RANKING,
            label=label,
            ask=ask,
            low_label=Text.known("set.least"),
            high_label=Text.known("set.most"),
        )
    values = [option.value for option in options] or [0.0, 1.0]
    return Question(
        key=key,
        section="overall",
        kind=kind,
        low=min(values),
        high=max(values),
        options=options,
        label=label,
        ask=ask,
        after_reference=key == "like_first",
    )
