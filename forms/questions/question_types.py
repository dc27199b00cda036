"""What can be asked: a question, its kind, its scale and its words in each language."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from .words import FALLBACK, has, languages, say


class Kind(StrEnum):
    """How a question is answered.

    A line is marked anywhere between its ends; a category is one of a few
    words in order; a balance is a just-about-right scale, 0 being right; ticks
    are words that apply or not (0/1); faults are severities from 0 (not
    noticed) to 3 (strong); a choice names one of the coded cups; a ranking
    gives each coded cup its place; words are free text.
    """

    LINE = "line"
    CATEGORY = "category"
    BALANCE = "balance"
    TICKS = "ticks"
    FAULTS = "faults"
    CHOICE = "choice"
    RANKING = "ranking"
    WORDS = "words"


SECTIONS = ("appearance", "aroma", "palate", "finish", "balance", "faults", "overall", "words")
SEVERITIES = (0, 1, 2, 3)


@dataclass(frozen=True, slots=True)
class Text:
    """A few words in one or more languages; what is missing falls back to English.

    Examples
    --------
    >>> Text.of({"en": "Sweetness", "ja": "甘味"}).to("ja")
    '甘味'
    >>> Text.of("Sweetness").to("ja")
    'Sweetness'
    """

    texts: tuple[tuple[str, str], ...] = ()

    @classmethod
    def of(cls, given: str | Mapping[str, str]) -> Text:
        """Make a text from one string or from one string per language."""
        if isinstance(given, str):
            return cls(((FALLBACK, given),))
        return cls(tuple(given.items()))

    @classmethod
    def known(cls, key: str) -> Text:
        """Take a text from the catalogue; empty if it has none under `key`."""
        if not has(key):
            return cls()
        return cls(tuple((language, say(key, language)) for language in languages()))

    def to(self, language: str) -> str:
        """Return the words in `language`."""
        words = dict(self.texts)
        return words.get(language) or words.get(FALLBACK) or next(iter(words.values()), "")

    def __bool__(self) -> bool:
        return bool(self.texts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One of the words, faults or categories that a question offers."""

    key: str
    label: Text
    value: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question of a scorecard.

    Attributes
    ----------
    key : str
        The attribute's name in all tables: small letters, digits, underscore.
    section : str
        One of `SECTIONS`, or ``cups`` for the codes under the cups of one person alone.
    kind : Kind
    low, high : float
        Ends of the scale; a line's ends, a severity's 0 and 3.
    options : tuple of Option
        Categories in order, or the words to tick, or the faults to rate.
    label, ask, low_label, high_label : Text
        The name, one line that says what to judge, and the words at the ends.
    hedonic : bool
        Whether it asks for liking; a trained panel should not be asked.
    after_reference : bool
        Whether the first cup of a set is a reference, which cannot be chosen.
    aside : bool
        Whether the answer is no property of the bottle (what the taster expects, advises,
        cannot tell): kept out of profile, tests and claims.
    """

    key: str
    section: str
    kind: Kind
    low: float = 0.0
    high: float = 10.0
    options: tuple[Option, ...] = ()
    label: Text = Text()
    ask: Text = Text()
    low_label: Text = Text()
    high_label: Text = Text()
    hedonic: bool = False
    after_reference: bool = False
    aside: bool = False

    def cups(self, codes: Sequence[str]) -> tuple[str, ...]:
        """Return the codes among which a cup can be chosen."""
        return tuple(codes[1:] if self.after_reference else codes)

    @property
    def sense(self) -> str:
        """What it is judged by: appearance, liking (quality too), or taste (aroma too)."""
        if self.hedonic or self.section == "overall":
            return "liking"
        return "appearance" if self.section == "appearance" else "taste"

    @property
    def attributes(self) -> tuple[str, ...]:
        """The attributes it fills in the tidy table; one per word or fault."""
        if self.kind in (Kind.TICKS, Kind.FAULTS):
            return tuple(f"{self.key}:{option.key}" for option in self.options)
        return (self.key,)

    def attributes_of(self, codes: Sequence[str]) -> tuple[str, ...]:
        """Return the attributes it fills at one presentation.

        They are its `attributes`, but for a ranking, which gives each of the
        coded cups a place of its own: ``order:427``, ``order:518``.
        """
        if self.kind is Kind.RANKING:
            return tuple(f"{self.key}:{code}" for code in codes)
        return self.attributes

    @property
    def values(self) -> tuple[float, ...]:
        """The numbers that can be answered, empty where any number in range can."""
        match self.kind:
            case Kind.CATEGORY | Kind.BALANCE:
                return tuple(option.value for option in self.options)
            case Kind.TICKS:
                return (0.0, 1.0)
            case Kind.FAULTS:
                return tuple(float(severity) for severity in SEVERITIES)
            case _:
                return ()


@dataclass(frozen=True, slots=True)
class Scorecard:
    """The questions of a session, in the order they are asked."""

    questions: tuple[Question, ...]

    def __iter__(self) -> Iterator[Question]:
        return iter(self.questions)

    def __getitem__(self, key: str) -> Question:
        for question in self.questions:
            if question.key == key:
                return question
        raise KeyError(key)

    def __contains__(self, key: object) -> bool:
        return any(question.key == key for question in self.questions)

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of all questions."""
        return tuple(question.key for question in self.questions)

    def owner(self, attribute: str) -> Question:
        """Return the question that an attribute of the tidy table belongs to.

        Raises
        ------
        KeyError
            If no question fills that attribute.
        """
        return self[attribute.partition(":")[0]]

    def name(self, attribute: str, language: str = FALLBACK) -> str:
        """Write an attribute as people read it: the label of its question or its option."""
        question = self.owner(attribute)
        chosen = attribute.partition(":")[2]
        for option in question.options:
            if chosen and option.key == chosen:
                return option.label.to(language)
        return question.label.to(language) or attribute
