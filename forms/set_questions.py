"""The questions of tests of difference, ranking and threshold, asked of coded cups."""

from __future__ import annotations

from collections.abc import Mapping

from .questions import Kind, Option, Question, Scorecard, Text
from .words import languages, say

ASKED: dict[str, tuple[str, ...]] = {
    "triangle": ("odd",),
    "duo-trio": ("like_first",),
    "paired": ("stronger",),
    "3-afc": ("stronger",),
    "tetrad": ("pair_1", "pair_2"),
    "two-out-of-five": ("odd_1", "odd_2"),
    "a-not-a": ("is_a",),
    "same-different": ("same",),
    "ranking": ("order",),
    "threshold": ("stronger",),
}
YES_NO: dict[str, tuple[tuple[str, float], ...]] = {
    "is_a": (("a", 1.0), ("not_a", 0.0)),
    "same": (("same", 1.0), ("different", 0.0)),
    "stronger": (("first_cup", 1.0), ("second_cup", 2.0), ("no_difference", 0.0)),
}

_ENTRIES = {"stronger": "stronger_named", "order": "order_named", "same": "same_or_different"}


def set_scorecard(
    method: str, attribute: str | Mapping[str, str] = "", *, ties: bool = False
) -> Scorecard:
    """Return the questions of a test, the test's own first.

    Parameters
    ----------
    method : str
        A key of `ASKED`.
    attribute : str or mapping
        What is asked for in a paired comparison, a 3-AFC test or a ranking
        ("sweet"), one string or one per language; empty for "strong" in taste.
    ties : bool
        Whether a paired comparison offers "no difference".
    """
    questions = [_question(key, attribute, ties=ties) for key in ASKED[method]]
    words = Question(
        key="words",
        section="words",
        kind=Kind.WORDS,
        label=Text.known("set.words"),
        ask=Text.known("set.words_ask"),
    )
    return Scorecard((*questions, words))


def _question(key: str, attribute: str | Mapping[str, str], *, ties: bool) -> Question:
    named = Text.of(attribute) if attribute else Text.known("set.strong")
    spoken = {language: named.to(language) for language in languages()}
    name = _ENTRIES.get(key, key)
    label, ask = (
        Text.of({to: say(f"set.{entry}", to, attribute=word) for to, word in spoken.items()})
        for entry in (name, f"{name}_ask")
    )
    kind = Kind.CHOICE
    options: tuple[Option, ...] = ()
    if key in {"is_a", "same"} or (key == "stronger" and ties):
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
    )
