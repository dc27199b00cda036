"""What the columns of a typed table hold, told from their headings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from ..answers.answer_values import listed
from ..answers.numbers import tidied
from ..questions.question_types import Kind, Question, Scorecard
from ..questions.sheet import Sheet
from ..questions.words import has, languages, say

# These questions are answered part by part: one column a fault, one a ranked cup.
_ONLY_PARTS = (Kind.FAULTS, Kind.RANKING)
ROLES = ("assessor", "code", "attribute", "score", "session", "remark")


@dataclass
class Headings:
    """The columns of one table, counted from 0.

    Attributes
    ----------
    assessor, code, attribute, score, session, remark : int or None
        Columns by what they hold.
    attributes : dict of int to str
        In a wide table, the attribute of each column; the key of a question
        of words to tick where a column lists those that apply.
    faults : list of tuple
        Kind, column, what was found, what was expected.
    """

    assessor: int | None = None
    code: int | None = None
    attribute: int | None = None
    score: int | None = None
    session: int | None = None
    remark: int | None = None
    attributes: dict[int, str] = field(default_factory=dict)
    faults: list[tuple[str, int | None, str, str]] = field(default_factory=list)
    names: dict[str, set[str]] = field(default_factory=dict)

    @property
    def known(self) -> int:
        """How many columns were recognised; 0 where none says whose or about what."""
        roles = sum(getattr(self, role) is not None for role in ROLES)
        if self.assessor is None and self.code is None:
            return 0
        return roles + len(self.attributes)

    @property
    def complete(self) -> bool:
        """Whether answers can be read: whose, about which cup, and what."""
        long = self.attribute is not None and self.score is not None
        wide = self.attribute is None and bool(self.attributes)
        return self.assessor is not None and self.code is not None and (long or wide)

    def attribute_of(self, text: str) -> str | None:
        """Return the one attribute that `text` names, or None."""
        found = self.names.get(_folded(text), set())
        return next(iter(found)) if len(found) == 1 else None


@lru_cache(maxsize=20_000)
def _folded(text: str) -> str:
    return " ".join(tidied(text).casefold().split())


def _other_labels(cards: Iterable[Scorecard]) -> dict[str, set[str]]:
    """Collect what other cards, and those of the first edition, call the questions of these."""
    found: dict[str, set[str]] = {}
    for question in (one for card in cards for one in card if one.kind not in _ONLY_PARTS):
        for topic in ("card", "card_before", "scorecard"):
            key = f"{topic}.{question.key}"
            for language in languages() if has(key) else ():
                found.setdefault(_folded(say(key, language)), set()).add(question.key)
    return found


def _called(role: str, have: str) -> str:
    """Name a column that is missing, in Japanese too where the others are."""
    if have.isascii() or role not in ROLES:
        return role
    return f"{role} ({listed(f'table.{role}', 'ja')[0]})"


def read_headings(texts: Sequence[str], sheets: Mapping[str, Sheet]) -> Headings:
    """Tell what each column holds."""
    heads = Headings(names=_names(sheets))
    roles = {
        _folded(word): role
        for role in ROLES
        for language in languages()
        for word in listed(f"table.{role}", language)
    }
    ignored = {_folded(word) for code in languages() for word in listed("table.ignored", code)}
    unread = []
    long = any(roles.get(_folded(text)) == "attribute" for text in texts)
    for column, text in enumerate(texts):
        folded = _folded(text)
        role = roles.get(folded, "")
        if role == "remark" and not long:
            role = ""  # in a wide table it would not say beside which answer
        named = heads.names.get(folded, set())
        if not folded:
            continue
        if role and getattr(heads, role) is None and not named:
            setattr(heads, role, column)
        elif len(named) == 1:
            _take(heads, column, next(iter(named)), text)
        elif folded not in ignored:
            unread.append((column, text, named))
    _judge(heads, texts, unread, sheets)
    return heads


def _take(heads: Headings, column: int, attribute: str, text: str) -> None:
    """Take a column for its attribute, once."""
    if attribute in heads.attributes.values():
        heads.faults.append(("heading_twice", column, text, attribute))
    else:
        heads.attributes[column] = attribute


def _judge(
    heads: Headings,
    texts: Sequence[str],
    unread: Sequence[tuple[int, str, set[str]]],
    sheets: Mapping[str, Sheet],
) -> None:
    """Tell missing columns, and headings that name nothing or more than one thing."""
    have = ", ".join(text.strip() for text in texts if text.strip())
    needed = ["assessor", "code"]
    if heads.attribute is not None or not heads.attributes:
        needed += ["attribute", "score"]
    missing = [role for role in needed if getattr(heads, role) is None]
    heads.faults += [("no_column", None, have, _called(role, have)) for role in missing]
    keys = dict.fromkeys(key for sheet in sheets.values() for key in sheet.scorecard.keys)
    for column, text, named in unread:
        if named:
            heads.faults.append(("ambiguous_heading", column, text, ", ".join(sorted(named))))
        elif heads.attribute is None:
            heads.faults.append(("unknown_attribute", column, text, ", ".join(keys)))
        else:
            heads.faults.append(("unknown_column", column, text, ""))


def _names(sheets: Mapping[str, Sheet]) -> dict[str, set[str]]:
    """Collect all that can name an attribute, in all languages of the sheets."""
    names: dict[str, set[str]] = {}

    def add(text: str, attribute: str) -> None:
        if text:
            names.setdefault(_folded(text), set()).add(attribute)

    cards = {id(sheet.scorecard): sheet.scorecard for sheet in sheets.values()}.values()
    for card in cards:
        for question in card:
            labels = {text for _, text in question.label.texts}
            if question.kind not in _ONLY_PARTS:
                for text in (question.key, *labels):
                    add(text, question.key)
            for option, attribute in _parts(question):
                add(attribute, attribute)
                for text in option:
                    add(text, attribute)
                    for label in (question.key, *labels):
                        add(f"{label}: {text}", attribute)
                        add(f"{label}:{text}", attribute)
    for sheet in sheets.values():
        for question in sheet.scorecard:
            if question.kind is Kind.RANKING:
                for presentation in sheet.presentations:
                    for attribute in question.attributes_of(presentation.codes):
                        add(attribute, attribute)
    for text, keys in _other_labels(cards).items():
        names.setdefault(text, keys)
    # A key is unique; where a label is spelled like another question's key, the key counts.
    for card in cards:
        for question in card:
            if question.kind not in _ONLY_PARTS:
                names[_folded(question.key)] = {question.key}
    return names


def _parts(question: Question) -> list[tuple[list[str], str]]:
    """Return the labels and the attribute of each word to tick or fault to rate."""
    if question.kind not in (Kind.TICKS, Kind.FAULTS):
        return []
    return [
        ([text for _, text in option.label.texts] + [option.key], f"{question.key}:{option.key}")
        for option in question.options
    ]
