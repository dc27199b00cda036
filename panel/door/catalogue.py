"""Words that people see, kept in one catalogue per room and language.

A language is a folder ``words/<language>/`` of a room with one TOML file per
topic. A key is ``topic.name``; only the topic that is needed is read. An entry
is a template for `str.format`. Words that follow a number stand in its format,
one form after the other: ``{cups} {cups:cup|cups}``. Where the whole sentence
changes with the number named ``n``, the entry is a table of the forms instead
(``{one = ..., other = ...}``); a number that needs a sentence of its own in a
language that counts all alike has it under ``"=1"``. Where a language has no
entry, English stands in.

How a language counts and lists is said in ``language.toml`` beside this file:
its plural rule as translators write it for gettext, the names of its forms in
the rule's order, and what stands between the items of a list.

Results do not hold text but `Sentence` objects: a key with its values. The
sentence is written out when somebody reads it, in that reader's language.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from string import Formatter
from typing import Any

from .rounding import rounded

FALLBACK = "en"
DOOR = "kikichoko"
STATISTICS = "kikichoko.analysis"
"""The room whose words `Sentence.of` takes: nearly all sentences are about statistics."""

_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufffe\uffff]"
)
_IN_BRACKETS = re.compile(r"\([^()]*\)|（[^（）]*）")
SHELL = "sh"
"""The format of a name inside a command that is printed to be pasted: ``{folder:sh}``."""
_FORMED = re.compile(r"\{\w+:")
"""A value that is written in a form of its own."""
Entry = str | Mapping[str, str]


@cache
def _topic(room: str, language: str, topic: str) -> Mapping[str, Any]:
    """Read one topic of one language; an absent file is an empty topic."""
    source = files(room).joinpath("words", language, f"{topic}.toml")
    return tomllib.loads(source.read_text("utf-8")) if source.is_file() else {}


def _entry(room: str, language: str, key: str) -> tuple[Entry, str]:
    """Return the entry of `key` and the language that it is in."""
    topic, _, name = key.partition(".")
    for candidate in (language, FALLBACK):
        entry: Entry | None = _topic(room, candidate, topic).get(name)
        if entry is not None:
            return entry, candidate
    message = f"no entry {key!r} in the catalogue of {room}"
    raise KeyError(message)


def _grammar(language: str) -> Mapping[str, Any]:
    """Return how a language counts and lists; English ways where it does not say."""
    return _topic(DOOR, language, "language") or _topic(DOOR, FALLBACK, "language")


@cache
def _plural_rule(language: str) -> Callable[[int], int]:
    """Make a function of the language's rule: from a number to the place of its form."""
    from gettext import c2py

    return c2py(_grammar(language)["plural"])


def plural_form(number: object, language: str) -> str:
    """Name the plural form that `number` takes; the last for what is no whole number.

    A number that is written out already counts by its digits: "1" is one, "1.0" is not.

    Examples
    --------
    >>> plural_form(1, "en"), plural_form(0, "en"), plural_form(1.5, "en"), plural_form(1, "ja")
    ('one', 'other', 'other', 'other')
    """
    forms: list[str] = _grammar(language)["forms"]
    if isinstance(number, str) and number.isdecimal():
        number = int(number)
    try:
        whole = int(number)  # type: ignore[call-overload]
    except (TypeError, ValueError, OverflowError):
        return forms[-1]
    return forms[_plural_rule(language)(abs(whole))] if whole == number else forms[-1]


class _NoEnd(str):
    """Stands for an end of an interval that is none, whatever the format."""

    __slots__ = ()

    def __format__(self, format_spec: str) -> str:
        return str(self)


_NO_END = _NoEnd("–")


class _Writer(Formatter):
    """Fills a template; a format with ``|`` holds the forms of a word, numbers round half up."""

    def __init__(self, language: str) -> None:
        self.language = language

    def format_field(self, value: Any, format_spec: str) -> str:
        """Write one value, or the form of a word that goes with it."""
        words = format_spec.split("|")
        if format_spec == SHELL:
            return as_pasted(str(value))
        if len(words) == 1:
            return rounded(value, format_spec)
        forms: list[str] = _grammar(self.language)["forms"]
        return words[forms.index(plural_form(value, self.language))]


def as_pasted(text: str) -> str:
    """Quote a name so that a printed command can be pasted into a shell.

    Examples
    --------
    >>> as_pasted("spring"), as_pasted("tank 3"), as_pasted("-old")
    ('spring', "'tank 3'", './-old')
    """
    own = f"./{text}" if text.startswith("-") else text
    return subprocess.list2cmdline([own]) if sys.platform == "win32" else shlex.quote(own)


def listed(items: list[str], language: str) -> str:
    """Write a list out, with what the language puts between its items.

    Where an item holds that itself, outside of brackets, something wider stands between all.

    Examples
    --------
    >>> listed(["dry", "sweet"], "en"), listed(["辛口", "甘口"], "ja")
    ('dry, sweet', '辛口、甘口')
    >>> listed(["tank 1, late", "tank 2"], "en"), listed(["dry (1, 2)", "sweet"], "en")
    ('tank 1, late; tank 2', 'dry (1, 2), sweet')
    """
    grammar = _grammar(language)
    between: str = grammar["between"]
    own = any(between.strip() in _IN_BRACKETS.sub("", item) for item in items)
    return str(grammar.get("between_lists", between) if own else between).join(items)


def begun(line: Sentence | str, language: str, names: Container[str] = ()) -> str:
    r"""Write a line with a capital at its beginning, where the language begins sentences so.

    A sentence that begins with one of `names` begins with the letter that the name has.

    Examples
    --------
    >>> begun("free-run is dry.", "en"), begun("free-runは辛口。", "ja")
    ('Free-run is dry.', 'free-runは辛口。')
    >>> told = Sentence.of("common.below", first="a", then="b")
    >>> begun(told, "en", {"a", "b"}), begun(told, "en")
    ('a\nb', 'A\nb')
    """
    text = line.to(language) if isinstance(line, Sentence) else line
    if not _grammar(language).get("capitals", True) or _first(line, language) in names:
        return text
    return text[:1].upper() + text[1:]


def _first(line: object, language: str) -> str:
    """Return the value with which a line begins; nothing where it begins with its own words."""
    if isinstance(line, (list, tuple)):
        return _first(line[0], language) if line else ""
    if not isinstance(line, Sentence):
        return line if isinstance(line, str) else ""
    entry, _ = line.entry(language)
    words, name, *_ = next(iter(Formatter().parse(entry)), ("", None))
    return "" if words or name is None else _first(dict(line.values).get(name), language)


@dataclass(frozen=True, slots=True)
class Sentence:
    """A statement that waits for its reader's language.

    Values may be sentences themselves, or lists, which are written out in turn.

    Examples
    --------
    >>> str(Sentence.of("common.assessors", n=1)), str(Sentence.of("common.assessors", n=8))
    ('1 assessor', '8 assessors')
    """

    key: str
    values: tuple[tuple[str, object], ...] = ()
    room: str = STATISTICS

    @classmethod
    def of(cls, key: str, /, **values: object) -> Sentence:
        """Make the sentence of `key` with `values`."""
        return cls(key, tuple(values.items()))

    def to(self, language: str) -> str:
        """Write the sentence in `language`.

        Raises
        ------
        KeyError
            If the key stands in no catalogue: a fault of the program.
        """
        values = dict(self.values)
        entry, own = self.entry(language)
        spoken = {name: _spoken(value, language, own) for name, value in values.items()}
        if "low" in spoken and spoken["low"] == spoken.get("high"):
            spoken |= {"low": _NO_END, "high": _NO_END}  # no interval is without width
        ours = _FORMED.search(entry) is not None
        return _Writer(own).vformat(entry, (), spoken) if ours else entry.format(**spoken)

    def entry(self, language: str) -> tuple[str, str]:
        """Return the template that fits the number `n`, and the language that it is in."""
        entry, own = _entry(self.room, language, self.key)
        if isinstance(entry, str):
            return entry, own
        number = dict(self.values).get("n")
        forms = (f"={number}", plural_form(number, own), "other")
        return next(entry[form] for form in forms if form in entry), own

    def kept(self) -> dict[str, Any]:
        """Return the sentence as plain values, to be kept in a file.

        >>> kept = Sentence.of("common.assessors", n=8).kept()
        >>> str(Sentence.brought_back(kept))
        '8 assessors'
        """
        values = {name: _kept(value) for name, value in self.values}
        return {"key": self.key, "room": self.room, "values": values}

    @classmethod
    def brought_back(cls, kept: Mapping[str, Any]) -> Sentence:
        """Make the sentence from what `kept` returned."""
        values = {name: _brought_back(value) for name, value in kept["values"].items()}
        return cls(str(kept["key"]), tuple(values.items()), str(kept["room"]))

    def __str__(self) -> str:
        return self.to(FALLBACK)


def shown(text: str) -> str:
    r"""Write control signs as signs that can be seen; line ends and tabs stay.

    They come from files and names that people give, and would act on a terminal,
    a page or a workbook.

    >>> shown("a\x1b[2J\x0b"), shown("\u202eabc\x85"), shown("二\n")
    ('a␛[2J␋', '\\u202eabc\\x85', '二\n')
    """
    return text if text.isascii() and text.isprintable() else _UNSEEN.sub(_as_signs, text)


def _as_signs(found: re.Match[str]) -> str:
    number = ord(found[0])
    if number < 0x20:
        return chr(0x2400 + number)
    if number == 0x7F:
        return "␡"
    return f"\\x{number:02x}" if number < 0x100 else f"\\u{number:04x}"


def _kept(value: object) -> object:
    if isinstance(value, Sentence):
        return {"sentence": value.kept()}
    if isinstance(value, (list, tuple)):
        return [_kept(item) for item in value]
    return value


def _brought_back(value: object) -> object:
    if isinstance(value, dict) and set(value) == {"sentence"}:
        return Sentence.brought_back(value["sentence"])
    if isinstance(value, list):
        return [_brought_back(item) for item in value]
    return value


def _spoken(value: object, language: str, around: str) -> object:
    """Write a value out for a reader of `language`, in a sentence that is in `around`."""
    if isinstance(value, Sentence):
        return value.to(language)
    if isinstance(value, (list, tuple)):
        return listed([str(_spoken(item, language, around)) for item in value], around)
    if isinstance(value, Path):
        return shown(str(value)).replace("\n", "␊")
    return shown(value) if isinstance(value, str) else value


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The words of one room.

    Attributes
    ----------
    room : str
        The package with the folder ``words``.
    """

    room: str

    def sentence(self, key: str, /, **values: object) -> Sentence:
        """Make a sentence from this room's words."""
        return Sentence(key, tuple(values.items()), self.room)

    def say(self, key: str, language: str = FALLBACK, /, **values: object) -> str:
        """Write the entry of `key` out with its values.

        Raises
        ------
        KeyError
            If the key stands in no catalogue: a fault of the program.
        """
        return self.sentence(key, **values).to(language)

    def topic(self, language: str, name: str) -> Mapping[str, Any]:
        """Return all entries of one topic in one language (empty where there is none)."""
        return _topic(self.room, language, name)

    def has(self, key: str) -> bool:
        """Tell whether English has an entry for `key`."""
        name, _, entry = key.partition(".")
        return entry in self.topic(FALLBACK, name)

    def languages(self, needed: str) -> tuple[str, ...]:
        """Return the languages that have the topic `needed`, English first."""
        found = {
            folder.name
            for folder in files(self.room).joinpath("words").iterdir()
            if folder.joinpath(f"{needed}.toml").is_file()
        }
        return (FALLBACK, *sorted(found - {FALLBACK}))
