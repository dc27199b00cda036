"""The cards that a session may be held with: which questions, in which order.

The full card follows one sip: the cup held still, the first touch, on the tongue, the swallow
or spit, a minute later, then faults, the whole and free words. What is asked is common
practice of the trade, no source; the order of moments is that of its tasting
(smell, sip, draw air, spit, wait). Words stand in the catalogue, topic ``card``; where it has
none, those of ``scorecard`` serve. `EARLIER` is the card of sessions from before there was a
choice: a session that names no card goes on with it, so that its sheets fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .question_types import Kind, Option, Question, Scorecard, Text
from .scorecard import balance, default_scorecard
from .term_vocabulary import vocabulary
from .words import has

EARLIER, FULL = "earlier", "full"
OPTIONS = ("expected", "another_sip")
"""What a session may ask besides: the sweetness expected from the smell; another sip?"""
STAGES = ("sweetness_expected", "sweetness_first", "sweetness", "sweetness_after")
"""Sweetness as a sip goes by: expected from the smell, at first touch, at its height, after."""
_MOMENTS = {
    "appearance": ("clarity", "colour"),
    "aroma": ("aroma_intensity", "aroma", "aroma_quality", "sweetness_expected"),
    "palate": (
        "carbonation",
        "sweetness_first",
        "sweetness",
        "acidity",
        "umami",
        "bitterness",
        "astringency",
        "body",
        "texture",
        "flavour_intensity",
    ),
    "finish": (
        "clean_cut",
        "sweetness_after",
        "bitterness_after",
        "alcohol_warmth",
        "finish_length",
        "cloying",
    ),
    "faults": ("fault", "fault_unsure"),
    "overall": ("quality", "sweetness_balance", "another_sip", "release"),
    "words": ("words",),
}
_OPTIONAL = {"sweetness_expected": "expected", "another_sip": "another_sip"}
RELEASE = ("now", "rest", "blend", "hold")
"""What a taster advises: as it is, after rest, as part of a blend, not at all."""
_FULL = tuple(key for keys in _MOMENTS.values() for key in keys)
CARDS = {
    EARLIER: (),
    "full": _FULL,
    "brewery": (
        "aroma_intensity",
        "aroma_quality",
        "sweetness_first",
        "sweetness",
        "acidity",
        "umami",
        "bitterness",
        "body",
        "clean_cut",
        "sweetness_after",
        "finish_length",
        "fault",
        "fault_unsure",
        "quality",
        "release",
        "words",
    ),
    "beginners": (
        "aroma_intensity",
        "aroma",
        "sweetness",
        "acidity",
        "bitterness",
        "body",
        "clean_cut",
        "finish_length",
        "another_sip",
        "words",
    ),
}
"""The questions of each card; the order is that of the sip."""


def card(name: str = "full", options: Sequence[str] = ()) -> Scorecard:
    """Return a card by its name.

    Parameters
    ----------
    name : str
        One of `CARDS`.
    options : sequence of str
        Of `OPTIONS`; what a card has anyway needs none.

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
    asked = set(CARDS[name])
    if name == "full":
        asked -= {key for key, option in _OPTIONAL.items() if option not in options}
    asked |= {key for key, option in _OPTIONAL.items() if option in options}
    return Scorecard(
        tuple(
            _question(key, section)
            for section, keys in _MOMENTS.items()
            for key in keys
            if key in asked
        )
    )


def _question(key: str, section: str) -> Question:
    listed = vocabulary()
    if key == "sweetness_balance":
        return _worded(balance(key, section))
    if key == "aroma":
        terms = tuple(Option(key=term.key, label=term.label) for term in listed.ticks())
        made = Question(key=key, section=section, kind=Kind.TICKS, high=1, options=terms)
    elif key == "fault":
        faults = tuple(Option(key=term.key, label=term.short, value=3) for term in listed.faults())
        made = Question(key=key, section=section, kind=Kind.FAULTS, high=3, options=faults)
    elif key == "fault_unsure":
        unsure = (Option(key="cannot_tell", label=Text.known("card.fault_unsure_cannot_tell")),)
        made = Question(
            key=key, section=section, kind=Kind.TICKS, high=1, options=unsure, aside=True
        )
    elif key == "release":
        advice = tuple(
            Option(key=one, label=Text.known(f"card.release_{one}"), value=place)
            for place, one in enumerate(RELEASE, start=1)
        )
        made = Question(
            key=key,
            section=section,
            kind=Kind.CATEGORY,
            low=1,
            high=len(advice),
            options=advice,
            aside=True,
        )
    elif key == "words":
        made = Question(key=key, section=section, kind=Kind.WORDS)
    else:
        aside = key == "sweetness_expected"
        made = Question(key=key, section=section, kind=Kind.LINE, aside=aside)
    return _worded(made)


def _worded(question: Question) -> Question:
    """Give a question its words on this card."""
    parts = {"label": "", "ask": "_ask", "low_label": "_low", "high_label": "_high"}
    given = {}
    for name, ending in parts.items():
        keys = [f"{topic}.{question.key}{ending}" for topic in ("card", "scorecard")]
        known = [key for key in keys if has(key)]
        given[name] = Text.known(known[0]) if known else Text()
    return replace(
        question,
        label=given["label"],
        ask=given["ask"],
        low_label=given["low_label"],
        high_label=given["high_label"],
    )
