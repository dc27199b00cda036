"""The cards that a session may be held with: which questions, in which order.

The full card follows one sip: the cup held still, the first touch, on the tongue, the swallow
or spit, a minute later, then faults, the whole and free words. What is asked is common
practice of the trade, no source; the order of moments is that of its tasting
(smell, sip, draw air, spit, wait). The cards for cloudy and for aged sake keep that order. The
grades of the official kind run from 1, the best, to 5, as in the preliminary round of the
national new-sake contest (result notices of the National Research Institute of Brewing, brewing
years 2014 and 2015); its card was not seen, and the words here are our own.

Words stand in the catalogue, topic ``card``; where it has none, those of ``scorecard`` serve.
`EARLIER` is the card of sessions from before there was a choice: a session that names no card
goes on with it, so that its sheets fit. A session that was planned with the cards of an earlier
edition goes on with that: its order stands in `_BEFORE`, its words in the topic ``card_before``.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache

from .question_types import Kind, Option, Question, Scorecard, Text
from .scorecard import balance, default_scorecard
from .term_vocabulary import vocabulary
from .words import has

EARLIER, FULL = "earlier", "full"
EDITION = 3
"""Of order and words: 1 until November 2026, 2 until tests of difference asked which is sweeter."""
OPTIONS = ("expected", "another_sip", "side_by_side", "choice", "style", "no_fault")
"""What a session may ask besides: the sweetness expected from the smell; another sip?; at the end,
the cups side by side again, and the order of choice with its reasons; the liking of the style; a
box for a cup in which no fault was noticed."""
STAGES = ("sweetness_expected", "sweetness_first", "sweetness", "sweetness_after")
"""Sweetness as a sip goes by: expected from the smell, at first touch, at its height, after."""
_MOMENTS = {
    "appearance": ("clarity", "colour", "lees", "settling"),
    "aroma": (
        "aroma_intensity", "aroma", "aroma_quality", "maturity", "aged_or_stale", "aroma_grade",
        "sweetness_expected",
    ),
    "palate": (
        "carbonation", "bubbles", "sweetness_first", "sweetness", "acidity", "umami", "bitterness",
        "astringency", "body", "roundness", "gas_pressure", "texture", "flavour_intensity",
        "taste_grade",
    ),
    "finish": (
        "clean_cut", "prickle_after", "sweetness_after", "bitterness_after", "alcohol_warmth",
        "finish_length", "cloying",
    ),
    "faults": ("fault", "fault_none", "fault_unsure"),
    "overall": (
        "quality", "grade", "demerit", "liking", "sweetness_balance", "another_sip", "keep",
        "summers", "release", "style_liking", "quality_again", "choice", "choice_reason",
    ),
    "words": ("words",),
}  # fmt: skip
_OPTIONAL = {
    "sweetness_expected": "expected",
    "another_sip": "another_sip",
    "style_liking": "style",
    "quality_again": "side_by_side",
    "choice": "choice",
    "choice_reason": "choice",
    "fault_none": "no_fault",
}
NO_FAULT = "fault_none:nothing"
"""The answer that no fault was noticed in a cup."""
RELEASE = ("now", "rest", "blend", "hold")
"""What a taster advises: as it is, after rest, as part of a blend, not at all."""
KEEP = ("now", "year", "years", "past")
"""How much longer an aged sake should be kept, as the first edition asked it."""
SUMMERS = ("harm", "same", "one", "more")
"""What further summers in store would do to an aged sake."""
GRADES = ("1", "2", "3", "4", "5")
"""Quality in grades, 1 the best."""
CHOICE = ("first", "second", "third", "none")
"""A cup's place in a taster's order of choice."""
DEMERITS = (
    "aroma_weak", "aroma_loud", "aroma_off", "thin", "cluttered", "unbalanced", "cloying",
    "bitter", "no_cut", "rough", "stale",
)  # fmt: skip
"""Why a grade was not better."""
REASONS = ("aroma", "sweetness", "acidity", "umami", "clean_cut", "touch", "food", "new")
"""Why a cup was chosen."""
BUBBLES_AND_LEES = (
    "lees", "settling", "carbonation", "bubbles", "gas_pressure", "texture", "prickle_after",
)  # fmt: skip
AGEING = ("colour", "maturity", "aged_or_stale", "roundness", "bitterness_after", "finish_length")
ASIDE = frozenset(
    {"sweetness_expected", "aroma_grade", "taste_grade", "grade", "demerit", "liking", "keep"}
    | {"release", "fault_unsure", "fault_none", "style_liking", "quality_again", "choice"}
    | {"choice_reason", "summers"}
)
"""No property of the bottle: kept out of profile, tests and claims."""
_CHOSEN = {
    "release": RELEASE,
    "keep": KEEP,
    "summers": SUMMERS,
    "choice": CHOICE,
    "aroma_grade": GRADES,
    "taste_grade": GRADES,
    "grade": GRADES,
}
_TICKED = {
    "fault_unsure": ("cannot_tell",),
    "fault_none": ("nothing",),
    "demerit": DEMERITS,
    "choice_reason": REASONS,
}
_OF_OTHERS = (
    {"lees", "settling", "maturity", "aged_or_stale", "aroma_grade", "bubbles", "roundness"}
    | {"gas_pressure", "taste_grade", "prickle_after", "grade", "demerit", "liking", "keep"}
    | {"summers"}
)  # fmt: skip
_FULL = tuple(key for keys in _MOMENTS.values() for key in keys if key not in _OF_OTHERS)
CARDS = {
    EARLIER: (),
    "full": _FULL,
    "brewery": (
        "aroma_intensity", "aroma_quality", "sweetness_first", "sweetness", "acidity", "umami",
        "bitterness", "body", "clean_cut", "sweetness_after", "finish_length", "fault",
        "fault_unsure", "quality", "release", "words",
    ),
    "beginners": (
        "aroma", "aroma_intensity", "sweetness_first", "sweetness", "acidity",
        "flavour_intensity", "clean_cut", "bitterness_after", "finish_length", "another_sip",
        "words",
    ),
    "cloudy": (
        "lees", "settling", "aroma_intensity", "aroma_quality", "carbonation", "bubbles",
        "sweetness_first", "sweetness", "acidity", "umami", "bitterness", "body", "gas_pressure",
        "texture", "clean_cut", "prickle_after", "sweetness_after", "finish_length", "fault",
        "fault_unsure", "quality", "release", "words",
    ),
    "aged": (
        "colour", "aroma_intensity", "aroma", "aroma_quality", "maturity", "aged_or_stale",
        "sweetness", "acidity", "umami", "bitterness", "astringency", "body", "roundness",
        "flavour_intensity", "clean_cut", "sweetness_after", "bitterness_after", "finish_length",
        "fault", "fault_unsure", "quality", "summers", "release", "words",
    ),
    "official": (
        "aroma", "aroma_grade", "taste_grade", "fault", "fault_unsure", "grade", "demerit",
        "release", "words",
    ),
    "guests": (
        "liking", "sweetness_balance", "style_liking", "choice", "choice_reason", "words",
    ),
}  # fmt: skip
"""The questions of each card; the order is that of the sip."""
_BEFORE = {
    "beginners": (
        "aroma_intensity", "aroma", "sweetness", "acidity", "bitterness", "body", "clean_cut",
        "finish_length", "another_sip", "words",
    ),
    "aged": tuple("keep" if key == "summers" else key for key in CARDS["aged"]),
}  # fmt: skip
"""The cards of the first edition that are other ones now."""


def card(name: str = "full", options: Sequence[str] = (), edition: int = EDITION) -> Scorecard:
    """Return a card by its name.

    Parameters
    ----------
    name : str
        One of `CARDS`.
    options : sequence of str
        Of `OPTIONS`; what a card has anyway needs none.
    edition : int
        1 for the order and words of sessions that were planned with the first edition.

    Raises
    ------
    KeyError
        If there is no such card.

    Examples
    --------
    >>> card().keys[2:6]
    ('aroma_intensity', 'aroma', 'aroma_quality', 'carbonation')
    >>> "sweetness_expected" in card("full", ["expected"])
    True
    """
    if name == EARLIER:
        return default_scorecard()
    own = CARDS[name] if edition > 1 else _BEFORE.get(name, CARDS[name])
    asked = set(own)
    if name == "full":
        asked -= {key for key, option in _OPTIONAL.items() if option not in options}
    asked |= {key for key, option in _OPTIONAL.items() if option in options}
    return Scorecard(
        tuple(
            _question(key, section, edition)
            for section, keys in _MOMENTS.items()
            for key in _in_order([key for key in keys if key in asked], own)
        )
    )


def _in_order(keys: Sequence[str], own: Sequence[str]) -> list[str]:
    """Let the questions of a card take their places in the card's own order."""
    here = iter([key for key in own if key in keys])
    return [next(here) if key in own else key for key in keys]


@cache
def name_of(attribute: str, language: str) -> str:
    """Return what any of our cards calls an attribute; a session's own keep their key.

    Examples
    --------
    >>> name_of("acidity", "ja"), name_of("our_own", "ja")
    ('酸味', 'our_own')
    """
    before = (card(name, edition=1) for name in _BEFORE)
    for known in (*map(card, CARDS), *before, default_scorecard()):
        with suppress(KeyError):
            return known.name(attribute, language)
    return attribute


def _question(key: str, section: str, edition: int) -> Question:
    if key == "sweetness_balance":
        return _worded(balance(key, section), edition)
    made = Question(key=key, section=section, kind=Kind.LINE, aside=key in ASIDE)
    if key == "aroma":
        terms = tuple(Option(key=term.key, label=term.label) for term in vocabulary().ticks())
        made = replace(made, kind=Kind.TICKS, high=1, options=terms)
    elif key == "fault":
        faults = vocabulary().faults()
        severe = tuple(Option(key=term.key, label=term.short, value=3) for term in faults)
        made = replace(made, kind=Kind.FAULTS, high=3, options=severe)
    elif key in _TICKED:
        made = replace(made, kind=Kind.TICKS, high=1, options=_options(key, _TICKED[key]))
    elif key in _CHOSEN:
        chosen = tuple(
            replace(option, value=place)
            for place, option in enumerate(_options(key, _CHOSEN[key]), start=1)
        )
        made = replace(made, kind=Kind.CATEGORY, low=1, high=len(chosen), options=chosen)
    elif key == "words":
        made = replace(made, kind=Kind.WORDS)
    return _worded(replace(made, hedonic=key == "liking"), edition)


def _options(key: str, names: Sequence[str]) -> tuple[Option, ...]:
    """Return the options of a question; grades of all questions share their words."""
    topic = "grade" if names is GRADES else key
    return tuple(Option(key=name, label=Text.known(f"card.{topic}_{name}")) for name in names)


def _worded(question: Question, edition: int) -> Question:
    """Give a question its words on this card."""
    topics = (*(() if edition > 1 else ("card_before",)), "card", "scorecard")
    parts = {"label": "", "ask": "_ask", "low_label": "_low", "high_label": "_high"}
    given = {}
    for name, ending in parts.items():
        keys = [f"{topic}.{question.key}{ending}" for topic in topics]
        known = [key for key in keys if has(key)]
        given[name] = Text.known(known[0]) if known else Text()
    return replace(
        question,
        label=given["label"],
        ask=given["ask"],
        low_label=given["low_label"],
        high_label=given["high_label"],
    )
