"""What the answer to one set of cups says, once its bottles are known: right, wrong or unusable."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .set_settings import SetTest

NO_DIFFERENCE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Set:
    """One presentation that came back.

    Attributes
    ----------
    assessor : str
    number : int
        Presentation, from 1.
    codes, bottles : tuple of str
        In serving order; bottles are empty without the key.
    answers : dict
        From attribute to value.
    """

    assessor: str
    number: int
    codes: tuple[str, ...]
    bottles: tuple[str, ...]
    answers: dict[str, Any]

    def bottle(self, code: object) -> str:
        """Return the bottle behind a code."""
        return self.bottles[self.codes.index(str(code))]


Rule = Callable[[Set, SetTest], bool | None]
"""Tells whether the answer to a set is right; None if it cannot be used.

Unusable are a missing half of a pair, one cup named twice, and the reference
named as the cup that is like it.
"""


def odd_one(one: Set, _: SetTest) -> bool | None:
    """Tell whether the cup named as different is the only one of its bottle."""
    if "odd" not in one.answers:
        return None
    return one.bottles.count(one.bottle(one.answers["odd"])) == 1


def like_the_first(one: Set, _: SetTest) -> bool | None:
    """Tell whether the cup named as the reference's equal holds the reference."""
    chosen = one.answers.get("like_first")
    if chosen is None or chosen == one.codes[0]:
        return None
    return one.bottle(chosen) == one.bottles[0]


def pair_of(*asked: str) -> Rule:
    """Return the rule for two cups that were named as a pair of their own."""

    def pair(one: Set, _: SetTest) -> bool | None:
        first, second = (one.answers.get(name) for name in asked)
        if first is None or second is None or first == second:
            return None
        a, b = one.bottle(first), one.bottle(second)
        return a == b and one.bottles.count(a) == 2

    return pair


def not_the_blank(one: Set, test: SetTest) -> bool | None:
    """Tell whether the cup called stronger is another than the blank."""
    chosen = one.answers.get("stronger")
    return None if chosen is None else one.bottle(chosen) != test.reference


def the_stronger(one: Set, test: SetTest) -> bool | None:
    """Tell whether the bottle called stronger is the one that should be."""
    found = chosen_bottle(one)
    return None if found in {None, NO_DIFFERENCE} else found == test.stronger


def chosen_bottle(one: Set) -> str | None:
    """Return the bottle that was called the stronger, ``"none"`` for no difference."""
    chosen = one.answers.get("stronger")
    if chosen is None:
        return None
    if isinstance(chosen, str):
        return one.bottle(chosen)
    return NO_DIFFERENCE if chosen == 0 else one.bottles[int(chosen) - 1]
