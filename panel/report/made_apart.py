"""What else differs between bottles that a page compares: how they were kept and how made."""

from __future__ import annotations

from collections.abc import Iterable

from ..base.words import Sentence, say
from ..session.bottles import Bottle
from .context import Context

SERVED = ("temperature_c", "vessel", "food")
"""Ways of serving: a label compares a bottle with others that were served in the same way."""
APART = ("tank", "fraction", "pasteurised", "polishing", "abv")
"""Facts of the making that every bottle may have; those of its brew come from its columns."""


def fact(context: Context, bottle: Bottle, column: str) -> str:
    """Return a fact of a bottle, from bottles.csv or the batch book."""
    own = getattr(bottle, column, None)
    if isinstance(own, float):
        return f"{own:g}"
    return str(own or (context.book.value(bottle.name, column) if context.book else ""))


def treated_apart(context: Context, one: Bottle, other: Bottle) -> list[str]:
    """Name the conditions besides serving (opened, stored, degassed) in which two differ."""
    varied = [name for name in context.findings.evidence.varied if name not in SERVED]
    return [name for name in varied if one.level(name) != other.level(name)]


def brewed_apart(context: Context, one: Bottle, other: Bottle, language: str) -> list[str]:
    """Name the facts of the making that are written of two bottles and differ.

    Columns of the maker's own are not named to a buyer: nobody knows what they hold.
    """
    facts = []
    for column in APART:
        own, theirs = (fact(context, bottle, column) for bottle in (one, other))
        if own and theirs and own != theirs:
            facts.append(say(f"offer.unlike_{column}", language))
    for heading, known in context.findings.evidence.made:
        values = {known.get(bottle.name, "").casefold() for bottle in (one, other)}
        if isinstance(heading, Sentence) and len(values) == 2 and "" not in values:
            facts.append(heading.to(language))
    return facts


def said_of_brews(bottles: Iterable[Bottle]) -> bool:
    """Tell whether bottles are of several tanks: of one tank's own their names say what differs."""
    return len({one.tank for one in bottles} - {""}) > 1
