"""What is asked while a sip is in the mouth: what strikes now, and how strong one thing is.

The literature calls the first temporal dominance of sensations (Pineau et al. 2009, Food Qual.
Pref. 20:450-455) and the second time-intensity. Each takes a sip of its own. Paper has no clock:
only the pages of telephones ask it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from .question_types import Option, Scorecard, Text
from .term_vocabulary import KEY, vocabulary
from .words import has

DOMINANCE, INTENSITY = "dominance", "intensity"
WORDS = ("sweetness", "acidity", "umami", "bitterness", "alcohol_warmth")
"""What is offered unless a session says otherwise."""
SECONDS, LEAST, MOST = 60, 5, 180
"""How long a sip is followed: by default, at least and at most (common practice, no source)."""
FEWEST_WORDS, MOST_WORDS = 2, 8
"""Chance is one over their number; more buttons cannot be seen at once on a small telephone."""
TOP = 10.0
"""The end of the line of intensity, which begins at 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedPart:
    """The timed part of a cup.

    Attributes
    ----------
    seconds : int
        How long a sip is followed.
    words : tuple of Option
        What may strike, in the order in which it is offered; empty where that is not asked.
    intensity : Option or None
        Of what the intensity is followed.
    orders : tuple of (str, tuple of str)
        The order of the words for each assessor.
    """

    seconds: int = SECONDS
    words: tuple[Option, ...] = ()
    intensity: Option | None = None
    orders: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """What is asked, one sip each."""
        asked = ((DOMINANCE, bool(self.words)), (INTENSITY, self.intensity is not None))
        return tuple(part for part, there in asked if there)

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of the words, in the order in which they are offered."""
        return tuple(one.key for one in self.words)

    @property
    def content(self) -> tuple[str, ...]:
        """What a fingerprint holds of it: all but the order of the words."""
        followed = self.intensity.key if self.intensity else ""
        return ("timed", str(self.seconds), *sorted(self.keys), followed)

    def of(self, assessor: str) -> TimedPart:
        """Return the part with the words in the order of one assessor.

        Who came late gets one of the orders of the others.
        """
        if not self.orders:
            return self
        rows = dict(self.orders)
        order = rows.get(assessor) or self.orders[sum(map(ord, assessor)) % len(rows)][1]
        words = tuple(sorted(self.words, key=lambda one: order.index(one.key)))
        return replace(self, words=words, orders=())

    def plain(self) -> dict[str, Any]:
        """Return it as plain values."""
        told = [_plain(one) for one in self.words]
        followed = _plain(self.intensity) if self.intensity else None
        orders = [{"assessor": who, "words": list(order)} for who, order in self.orders]
        return {"seconds": self.seconds, "words": told, "intensity": followed, "orders": orders}

    @classmethod
    def brought_back(cls, content: Mapping[str, Any]) -> TimedPart:
        """Return it from plain values."""
        followed = content["intensity"]
        return cls(
            seconds=int(content["seconds"]),
            words=tuple(_option(one) for one in content["words"]),
            intensity=_option(followed) if followed else None,
            orders=tuple((one["assessor"], tuple(one["words"])) for one in content["orders"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedFault:
    """A wish about the timed part that cannot be met.

    Attributes
    ----------
    kind : str
        ``few``, ``many``, ``twice``, ``unknown``, ``no_label``, ``nothing``.
    found : object
    """

    kind: str
    found: object = ""


def timed_part(
    words: Sequence[str | Mapping[str, Any]], seconds: int, intensity: str, scorecard: Scorecard
) -> tuple[TimedPart, tuple[TimedFault, ...]]:
    """Make the timed part that a session wishes, and tell what of its wishes is faulty.

    Parameters
    ----------
    words : sequence of str or mapping
        Keys of questions or of the vocabulary; own words with ``key`` and ``label``.
    seconds : int
    intensity : str
        One of the words or another key; empty for none.
    scorecard : Scorecard
        Its own questions can be named too.

    Examples
    --------
    >>> made, wrong = timed_part(["sweetness", "acidity"], 30, "sweetness", Scorecard(()))
    >>> made.parts, [one.label.to("ja") for one in made.words], wrong
    (('dominance', 'intensity'), ['甘味', '酸味'], ())
    """
    faults: list[TimedFault] = []
    made: list[Option] = []
    for one in words:
        found = _named(one, scorecard)
        if isinstance(found, TimedFault):
            faults.append(found)
        else:
            made.append(found)
    keys = [one.key for one in made]
    again = dict.fromkeys(key for key in keys if keys.count(key) > 1)
    faults += [TimedFault(kind="twice", found=key) for key in again]
    if words and len(words) < FEWEST_WORDS:
        faults.append(TimedFault(kind="few", found=len(words)))
    if len(words) > MOST_WORDS:
        faults.append(TimedFault(kind="many", found=len(words)))
    followed = None
    if intensity:
        own = next((one for one in made if one.key == intensity), None)
        named = own or _named(intensity, scorecard)
        if isinstance(named, TimedFault):
            faults.append(named)
        else:
            followed = named
    elif not words:
        faults.append(TimedFault(kind="nothing"))
    return TimedPart(seconds=seconds, words=tuple(made), intensity=followed), tuple(faults)


def _named(one: str | Mapping[str, Any], scorecard: Scorecard) -> Option | TimedFault:
    """Give a word its label: its own, or that of the card, the catalogue or the vocabulary."""
    if not isinstance(one, str):
        key, label = one.get("key"), one.get("label")
        if not isinstance(key, str) or not KEY.fullmatch(key):
            return TimedFault(kind="unknown", found=key)
        given = Text.of(label) if isinstance(label, (str, dict)) and label else Text()
        if not all(isinstance(text, str) and text.strip() for _, text in given.texts) or not given:
            return TimedFault(kind="no_label", found=key)
        return Option(key=key, label=given)
    if one in scorecard:
        return Option(key=one, label=scorecard[one].label)
    for topic in ("card", "scorecard"):
        if KEY.fullmatch(one) and has(f"{topic}.{one}") and has(f"{topic}.{one}_low"):
            return Option(key=one, label=Text.known(f"{topic}.{one}"))
    if one in vocabulary():
        return Option(key=one, label=vocabulary()[one].label)
    return TimedFault(kind="unknown", found=one)


def _plain(one: Option) -> dict[str, Any]:
    return {"key": one.key, "label": dict(one.label.texts)}


def _option(content: Mapping[str, Any]) -> Option:
    return Option(key=content["key"], label=Text.of(content["label"]))
