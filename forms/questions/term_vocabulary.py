"""The sake vocabulary: what can be said about a bottle, and how it is said.

Families hold groups, groups hold terms. The arrangement is this project's own;
the terms are the trade's. Words of liking are kept apart from words that
describe: `Vocabulary.hedonic` never enters a descriptor table.

A session adds terms or synonyms of its own with `extend`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from .question_types import Text
from .words import FALLBACK

if TYPE_CHECKING:
    import pandas as pd

KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")
OWN = "own"
_UNNAMED = Text()
LANGUAGES = ("en", "ja")
SENSES = ("aroma", "fault", "taste", "mouthfeel", "finish", "appearance")
_LISTED = ("key", "group", "label", "explanation", "synonyms", "fault", "compound", "reference")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What families, groups and terms have in common.

    Attributes
    ----------
    key : str
        Small letters, digits, underscore; the name in all tables.
    label : Text
        The name in each language.
    romaji : str
        The Japanese name in Latin letters.
    synonyms : mapping of str to tuple of str
        Other ways to say it, by language.
    """

    key: str
    label: Text
    romaji: str = ""
    synonyms: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def ways(self, language: str) -> tuple[str, ...]:
        """Return every way to say it in one language, the label first.

        >>> vocabulary()["stale"].ways("ja")[:3]
        ('老香', '老ね香', '老ね')
        """
        own = dict(self.label.texts).get(language)
        given = self.synonyms.get(language, ())
        return tuple(dict.fromkeys([own, *given] if own else given))


@dataclass(frozen=True, slots=True, kw_only=True)
class Family(Entry):
    """A family of groups; `sense` is one of `SENSES`."""

    sense: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group(Entry):
    """A group of terms that are easily taken for each other."""

    family: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Term(Entry):
    """One thing that can be smelt, tasted, felt or seen.

    Attributes
    ----------
    explanation : str
        Plain words for somebody who never met it.
    compound : str
        The substance that is known for it, empty where none is.
    mark : str
        Where the compound was taken from: "source" (named in `source`),
        "memory" (check before relying on it), or empty.
    reference : str
        Something to smell or taste when training: common practice, no source.
    tick : bool
        Whether it stands on the default list of words to tick.
    fault : bool
        Whether it may be rated as a fault.
    short : Text
        Its label on the default list of faults; empty if it is not on it.
    """

    group: str
    explanation: str = ""
    compound: str = ""
    mark: str = ""
    source: str = ""
    reference: str = ""
    tick: bool = False
    fault: bool = False
    short: Text = _UNNAMED


@dataclass(frozen=True, slots=True, kw_only=True)
class VocabularyFault:
    """Something wrong in a term that a session adds; words in topic ``vocabulary``."""

    kind: str
    term: str
    field: str
    found: str
    expected: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """Families, groups and terms in their order, and the words of liking.

    Attributes
    ----------
    families, groups, terms : tuple
        In the order in which they are shown.
    hedonic : mapping of str to mapping of str to tuple of str
        Words of liking, "good" and "bad", each by language.
    """

    families: tuple[Family, ...]
    groups: tuple[Group, ...]
    terms: tuple[Term, ...]
    hedonic: Mapping[str, Mapping[str, tuple[str, ...]]]

    def __getitem__(self, key: str) -> Term:
        for term in self.terms:
            if term.key == key:
                return term
        raise KeyError(key)

    def __contains__(self, key: object) -> bool:
        return any(term.key == key for term in self.terms)

    def group(self, key: str) -> Group:
        """Return the group of that key; KeyError if there is none."""
        return next(group for group in self.groups if group.key == key)

    def family_of(self, term: Term) -> Family:
        """Return the family that a term's group belongs to."""
        key = self.group(term.group).family
        return next(family for family in self.families if family.key == key)

    def of_group(self, key: str) -> tuple[Term, ...]:
        """Return the terms of one group."""
        return tuple(term for term in self.terms if term.group == key)

    def groups_of(self, key: str) -> tuple[Group, ...]:
        """Return the groups of one family."""
        return tuple(group for group in self.groups if group.family == key)

    def ticks(self) -> tuple[Term, ...]:
        """Return the default words to tick."""
        return tuple(term for term in self.terms if term.tick)

    def faults(self) -> tuple[Term, ...]:
        """Return the default faults to rate; their labels are in `Term.short`."""
        return tuple(term for term in self.terms if term.short)

    def name(self, key: str, language: str = FALLBACK) -> str:
        """Write the label of a term, group or family; the key itself if it is none."""
        for entry in (*self.terms, *self.groups, *self.families):
            if entry.key == key:
                return entry.label.to(language)
        return key

    def table(self, language: str = FALLBACK) -> pd.DataFrame:
        """Return one row a term, in order.

        Returns
        -------
        DataFrame
            Columns ``term, label, japanese, romaji, group, group_label,
            family, family_label, sense, explanation, compound, mark, source,
            reference, tick, fault``.
        """
        import pandas as pd

        rows = []
        for term in self.terms:
            family = self.family_of(term)
            rows.append(
                {
                    "term": term.key,
                    "label": term.label.to(language),
                    "japanese": term.label.to("ja"),
                    "romaji": term.romaji,
                    "group": term.group,
                    "group_label": self.group(term.group).label.to(language),
                    "family": family.key,
                    "family_label": family.label.to(language),
                    "sense": family.sense,
                    "explanation": term.explanation,
                    "compound": term.compound,
                    "mark": term.mark,
                    "source": term.source,
                    "reference": term.reference,
                    "tick": term.tick,
                    "fault": term.fault,
                }
            )
        return pd.DataFrame(rows)


@cache
def vocabulary() -> Vocabulary:
    """Return the vocabulary that comes with the program.

    Examples
    --------
    >>> words = vocabulary()
    >>> words["apple"].label.to("ja"), words.family_of(words["apple"]).label.to("en")
    ('りんご', 'Fruit and flowers')
    """
    source = files(__package__).joinpath("vocabulary.toml").read_text("utf-8")
    content = tomllib.loads(source)
    liking: dict[str, dict[str, tuple[str, ...]]] = {}
    for name, given in content["hedonic"].items():
        direction, language = name.rsplit("_", 1)
        liking.setdefault(direction, {})[language] = tuple(given)
    return Vocabulary(
        families=tuple(Family(**_common(one), sense=one["sense"]) for one in content["family"]),
        groups=tuple(Group(**_common(one), family=one["family"]) for one in content["group"]),
        terms=tuple(_term(one) for one in content["term"]),
        hedonic=liking,
    )


def _common(one: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "key": one["key"],
        "label": Text(tuple((language, one[language]) for language in LANGUAGES)),
        "romaji": one.get("romaji", ""),
        "synonyms": {
            language: tuple(one[f"synonyms_{language}"])
            for language in LANGUAGES
            if f"synonyms_{language}" in one
        },
    }


def _term(one: Mapping[str, Any]) -> Term:
    plain = ("explanation", "compound", "mark", "source", "reference", "tick", "fault")
    short = tuple((lang, one[f"short_{lang}"]) for lang in LANGUAGES if f"short_{lang}" in one)
    return Term(
        **_common(one),
        group=one["group"],
        short=Text(short),
        **{name: one[name] for name in plain if name in one},
    )


def extend(
    base: Vocabulary, wishes: Iterable[Mapping[str, object]]
) -> tuple[Vocabulary, tuple[VocabularyFault, ...]]:
    """Add a session's own terms, or further synonyms to known ones.

    Parameters
    ----------
    base : Vocabulary
    wishes : iterable of mapping
        Each with ``key`` and, for a new term, ``label`` (a string, or one per
        language); optional ``group`` (by default the group of own terms),
        ``synonyms`` (a list, or one list per language), ``explanation``,
        ``fault``, ``compound``, ``reference``. A known key gets the synonyms
        added; nothing else of a known term is changed.

    Returns
    -------
    Vocabulary, tuple of VocabularyFault
        The vocabulary as far as it could be built, and everything that was wrong.

    Examples
    --------
    >>> more, wrong = extend(vocabulary(), [{"key": "loquat", "label": "loquat",
    ...     "group": "stone_berry", "synonyms": ["loquats", "biwa"]}])
    >>> more["loquat"].ways("en"), wrong
    (('loquat', 'loquats', 'biwa'), ())
    """
    terms = list(base.terms)
    faults: list[VocabularyFault] = []
    groups = {group.key for group in base.groups} | {OWN}
    for number, wish in enumerate(wishes, start=1):
        key = str(wish.get("key", ""))
        named = key or f"{number}"
        unknown = sorted(set(map(str, wish)) - set(_LISTED))
        faults += [_wrong("unknown_field", named, name, name, _LISTED) for name in unknown]
        if not KEY.fullmatch(key):
            faults.append(_wrong("bad_key", named, "key", key, ()))
            continue
        synonyms, bad = _synonyms(wish.get("synonyms", ()))
        if bad:
            faults.append(_wrong("bad_synonyms", named, "synonyms", bad, ()))
        place = next((i for i, term in enumerate(terms) if term.key == key), None)
        if place is not None:
            changed = sorted(set(map(str, wish)) & set(_LISTED) - {"key", "synonyms"})
            faults += [_wrong("known_term", named, name, key, ()) for name in changed]
            old = terms[place]
            both = {
                language: (*old.synonyms.get(language, ()), *synonyms.get(language, ()))
                for language in LANGUAGES
            }
            terms[place] = replace(old, synonyms=both)
            continue
        group = str(wish.get("group", OWN))
        if group not in groups:
            faults.append(_wrong("no_group", named, "group", group, sorted(groups)))
            continue
        label = wish.get("label")
        if not isinstance(label, (str, Mapping)) or not label:
            faults.append(_wrong("no_label", named, "label", str(label or ""), ()))
            continue
        term = Term(
            key=key,
            label=Text.of(label),
            group=group,
            synonyms=synonyms,
            explanation=str(wish.get("explanation", "")),
            compound=str(wish.get("compound", "")),
            reference=str(wish.get("reference", "")),
            fault=wish.get("fault", False) is True,
        )
        last = max((i for i, old in enumerate(terms) if old.group == group), default=len(terms) - 1)
        terms.insert(last + 1, term)
    return _with_own(replace(base, terms=tuple(terms))), tuple(faults)


def _with_own(made: Vocabulary) -> Vocabulary:
    """Give terms without a group a family and a group of their own, shown last."""
    if not made.of_group(OWN) or any(group.key == OWN for group in made.groups):
        return made
    label = Text.known(f"vocabulary.{OWN}")
    return replace(
        made,
        families=(*made.families, Family(key=OWN, label=label, sense="aroma")),
        groups=(*made.groups, Group(key=OWN, label=label, family=OWN)),
    )


def _synonyms(given: object) -> tuple[dict[str, tuple[str, ...]], str]:
    """Sort synonyms by language; a plain list is sorted by its script."""
    if isinstance(given, Mapping):
        listed = {str(language): words for language, words in given.items()}
        if set(listed) <= set(LANGUAGES) and all(_texts(words) for words in listed.values()):
            return {language: tuple(words) for language, words in listed.items()}, ""
        return {}, str(given)
    if not _texts(given):
        return {}, str(given)
    words: list[str] = list(given)  # type: ignore[call-overload]
    japanese = tuple(word for word in words if is_japanese(word))
    english = tuple(word for word in words if not is_japanese(word))
    return {language: part for language, part in (("en", english), ("ja", japanese)) if part}, ""


def _texts(given: object) -> bool:
    return isinstance(given, (list, tuple)) and all(isinstance(word, str) for word in given)


def is_japanese(text: str) -> bool:
    """Tell whether a text has kana or kanji in it.

    >>> is_japanese("りんご"), is_japanese("ringo")
    (True, False)
    """
    blocks = (("\u3040", "\u30ff"), ("\u4e00", "\u9fff"), ("\uff66", "\uff9f"))
    return any(first <= letter <= last for letter in text for first, last in blocks)


def _wrong(kind: str, term: str, name: str, found: str, expected: Iterable[str]) -> VocabularyFault:
    listed = ", ".join(expected)
    return VocabularyFault(kind=kind, term=term, field=name, found=found, expected=listed)
