"""The default scorecard for sake, and how a session changes it.

Names and explanations stand in the catalogue, topic ``scorecard``: the label
under the question's key, and ``<key>_ask``, ``<key>_low``, ``<key>_high``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from .question_types import SECTIONS, Kind, Option, Question, Scorecard, Text
from .term_vocabulary import vocabulary

KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")
_LINES = {
    "appearance": ("clarity", "colour"),
    "aroma": ("aroma_intensity",),
    "palate": (
        "sweetness",
        "acidity",
        "bitterness",
        "umami",
        "astringency",
        "body",
        "texture",
        "carbonation",
        "alcohol_warmth",
        "flavour_intensity",
    ),
    "finish": ("finish_length", "clean_cut", "lingering_aroma", "cloying"),
    "overall": ("quality",),
}
_BALANCE = (-2, -1, 0, 1, 2)


def _line(key: str, section: str, *, hedonic: bool = False) -> Question:
    return _worded(Question(key=key, section=section, kind=Kind.LINE, hedonic=hedonic))


def _worded(question: Question) -> Question:
    """Give a question the words that the catalogue has for its key."""
    key = f"scorecard.{question.key}"
    return replace(
        question,
        label=Text.known(key),
        ask=Text.known(f"{key}_ask"),
        low_label=Text.known(f"{key}_low"),
        high_label=Text.known(f"{key}_high"),
    )


def balance(key: str, section: str = "balance") -> Question:
    """Make a just-about-right question with five categories, 0 being right."""
    options = tuple(
        Option(key=str(value), label=Text.known(f"scorecard.{key}_{place}"), value=value)
        for place, value in enumerate(_BALANCE, start=1)
    )
    question = Question(
        key=key, section=section, kind=Kind.BALANCE, low=-2, high=2, options=options
    )
    return _worded(question)


@cache
def default_scorecard() -> Scorecard:
    """Return the scorecard that a session starts from."""
    lines = {section: [_line(key, section) for key in keys] for section, keys in _LINES.items()}
    listed = vocabulary()
    terms = tuple(Option(key=term.key, label=term.label) for term in listed.ticks())
    faults = tuple(Option(key=term.key, label=term.short, value=3) for term in listed.faults())
    ticks = _worded(Question(key="aroma", section="aroma", kind=Kind.TICKS, high=1, options=terms))
    rated = _worded(
        Question(key="fault", section="faults", kind=Kind.FAULTS, high=3, options=faults)
    )
    return Scorecard(
        (
            *lines["appearance"],
            *lines["aroma"],
            ticks,
            *lines["palate"],
            *lines["finish"],
            balance("sweetness_balance"),
            rated,
            *lines["overall"],
            _worded(Question(key="words", section="words", kind=Kind.WORDS)),
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ScorecardFault:
    """Something wrong in what a session says about its questions."""

    kind: str
    question: str
    field: str
    found: str
    expected: str


def change(
    base: Scorecard,
    *,
    drop: Sequence[str] = (),
    add: Sequence[Mapping[str, object]] = (),
    words: Sequence[Mapping[str, object]] = (),
    faults: Sequence[Mapping[str, object]] = (),
) -> tuple[Scorecard, tuple[ScorecardFault, ...]]:
    """Apply a session's wishes to a scorecard and tell every fault in them.

    Parameters
    ----------
    drop : sequence of str
        Keys of questions (``cloying``), or of one word or fault (``aroma:apple``), to leave out.
    add : sequence of mapping
        New questions, or questions to change when the key exists. Each has
        ``key``, ``section``, ``kind`` and ``label``, optional ``ask``, ``low``,
        ``high``, ``low_label``, ``high_label``, ``options``, ``hedonic``.
        Labels are a string or one string per language.
    words, faults : sequence of mapping
        Further words to tick or faults to rate: ``key`` and ``label``.

    Returns
    -------
    Scorecard, tuple of ScorecardFault
        The scorecard as far as it could be built, and what was wrong.
    """
    found: list[ScorecardFault] = []
    questions = list(base)
    for key, further in (("aroma", words), ("fault", faults)):
        if further:
            questions = [
                _with_options(question, further, found) if question.key == key else question
                for question in questions
            ]
    questions = _without(questions, drop, found)
    for wish in add:
        made = _question(wish, Scorecard(tuple(questions)), found)
        if made is None:
            continue
        place = next((i for i, old in enumerate(questions) if old.key == made.key), None)
        if place is not None:
            questions[place] = made
        else:
            questions.insert(_end_of(made.section, questions), made)
    return Scorecard(tuple(questions)), tuple(found)


def _end_of(section: str, questions: Sequence[Question]) -> int:
    """Find the place after the last question of a section, or of those before it."""
    rank = SECTIONS.index(section)
    places = [i for i, old in enumerate(questions) if SECTIONS.index(old.section) <= rank]
    return max(places, default=-1) + 1


def _without(
    questions: Sequence[Question], drop: Sequence[str], found: list[ScorecardFault]
) -> list[Question]:
    left = list(questions)
    for name in drop:
        key, _, option = name.partition(":")
        at = next((i for i, question in enumerate(left) if question.key == key), None)
        options = {entry.key for entry in left[at].options} if at is not None else set()
        if at is None or (option and option not in options):
            names = (name for q in left for name in (q.key, *q.attributes))
            have = ", ".join(dict.fromkeys(names))
            found.append(_fault("no_question", name, "drop", name, have))
        elif option:
            kept = tuple(entry for entry in left[at].options if entry.key != option)
            left[at] = replace(left[at], options=kept)
        else:
            del left[at]
    return left


def _with_options(
    question: Question, wishes: Sequence[Mapping[str, object]], found: list[ScorecardFault]
) -> Question:
    options = list(question.options)
    for wish in wishes:
        key = str(wish.get("key", ""))
        if not KEY.fullmatch(key):
            found.append(_fault("bad_key", question.key, "key", key, ""))
        elif any(option.key == key for option in options):
            found.append(_fault("twice", question.key, "key", key, ""))
        else:
            label = Text.of(wish.get("label", key))  # type: ignore[arg-type]
            value = 3.0 if question.kind is Kind.FAULTS else 1.0
            options.append(Option(key=key, label=label, value=value))
    return replace(question, options=tuple(options))


def _question(
    wish: Mapping[str, object], card: Scorecard, found: list[ScorecardFault]
) -> Question | None:
    """Build one question from a session's wish; None if it cannot be asked."""
    key = str(wish.get("key", ""))
    faults: list[ScorecardFault] = []
    if not KEY.fullmatch(key):
        faults.append(_fault("bad_key", key, "key", key, ""))
    known = {"key", "section", "kind", "label", "ask", "low", "high", "low_label", "high_label"}
    known |= {"options", "hedonic"}
    faults += [
        _fault("unknown_field", key, name, name, ", ".join(sorted(known)))
        for name in wish
        if name not in known
    ]
    old = card[key] if key in card else Question(key=key, section="palate", kind=Kind.LINE)
    kind, section = str(wish.get("kind", old.kind)), str(wish.get("section", old.section))
    if kind not in [*Kind]:
        faults.append(_fault("bad_value", key, "kind", kind, ", ".join(Kind)))
    if section not in SECTIONS:
        faults.append(_fault("bad_value", key, "section", section, ", ".join(SECTIONS)))
    low, high = wish.get("low", old.low), wish.get("high", old.high)
    if not (isinstance(low, (int, float)) and isinstance(high, (int, float)) and low < high):
        faults.append(_fault("bad_ends", key, "low, high", f"{low}, {high}", ""))
    if key not in card and not wish.get("label"):
        faults.append(_fault("no_label", key, "label", "", ""))
    found += faults
    if faults:
        return None
    made = replace(
        old,
        kind=Kind(kind),
        section=section,
        low=float(low),  # type: ignore[arg-type]
        high=float(high),  # type: ignore[arg-type]
        hedonic=bool(wish.get("hedonic", old.hedonic)),
        **{
            name: Text.of(wish[name])  # type: ignore[arg-type]
            for name in ("label", "ask", "low_label", "high_label")
            if name in wish
        },
    )
    return _optioned(made, wish, found)


def _optioned(
    question: Question, wish: Mapping[str, object], found: list[ScorecardFault]
) -> Question | None:
    """Give a question of categories, words or faults its options."""
    given = wish.get("options")
    if question.kind is Kind.BALANCE and given is None:
        return question if question.options else replace(question, options=_plain_balance())
    needs = question.kind in (Kind.CATEGORY, Kind.TICKS, Kind.FAULTS)
    if given is None:
        if needs and not question.options:
            found.append(_fault("no_options", question.key, "options", "", ""))
            return None
        return question
    if not isinstance(given, list) or len(given) < 2:
        found.append(_fault("no_options", question.key, "options", str(given), ""))
        return None
    options = []
    for place, entry in enumerate(given, start=1):
        wished = entry if isinstance(entry, dict) else {"label": entry}
        value = wished.get("value", 3 if question.kind is Kind.FAULTS else place)
        key = str(wished.get("key", _slug(str(wished.get("label", place)), place)))
        if question.kind is Kind.TICKS:
            value = 1
        label = Text.of(wished.get("label", key))
        options.append(Option(key=key, label=label, value=float(value)))
    if len({option.key for option in options}) < len(options):
        found.append(_fault("twice", question.key, "options", str(given), ""))
        return None
    values = [option.value for option in options]
    ends = (min(values), max(values)) if question.kind in (Kind.CATEGORY, Kind.BALANCE) else (0, 3)
    if question.kind is Kind.TICKS:
        ends = (0, 1)
    return replace(question, options=tuple(options), low=ends[0], high=ends[1])


def _plain_balance() -> tuple[Option, ...]:
    return tuple(
        Option(key=str(value), label=Text.known(f"scorecard.balance_{place}"), value=value)
        for place, value in enumerate(_BALANCE, start=1)
    )


def _slug(label: str, place: int) -> str:
    """Make a key from a label; labels without Latin letters get a number."""
    slug = re.sub(r"[^a-z0-9]+", "_", label.lower()).strip("_")
    return slug if KEY.fullmatch(slug) else f"option_{place}"


def _fault(kind: str, question: str, field: str, found: str, expected: str) -> ScorecardFault:
    return ScorecardFault(kind=kind, question=question, field=field, found=found, expected=expected)
