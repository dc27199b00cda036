"""What the label of a bottle of sake must carry besides its name, and where that is published.

A list to go through before printing; the local authority decides. Points that are
recalled and not looked up are marked ``memory``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import pandas as pd

from ..core.words import Sentence
from .label_rules import DESIGNATIONS, EDITIONS, Batch

COLUMNS = ("item", "needed", "stated", "rule", "in_force", "known_from")
RULES = {
    **EDITIONS,
    "association": (
        Sentence.of("labelling.edition_strength"),
        "–",
        "memory",
    ),
    "minors": (
        Sentence.of("labelling.edition_minors"),
        "–",
        "memory",
    ),
    "rice": (
        Sentence.of("labelling.edition_rice"),
        "2011-07-01",
        "secondary",
    ),
}
"""Where each item is published.

That the Rice Traceability Act covers sake, and passes on the origin of its rice from 1 July 2011
on, is told by the city of Shiroi's page on it (seen). Its number, and that the Food Labelling
Standards leave to it the origin of the rice, are from memory.
"""
_RAW = ("namazake", "namachozo")
_LIVELY = ("kassei", "sparkling", "origarami", "usunigori", "nigori")


def label_items(batch: Batch, names: Collection[str]) -> pd.DataFrame:
    """List what a label with these names must carry.

    Parameters
    ----------
    batch : Batch
        What is known; decides what is marked as stated.
    names : collection of str
        Names of `label_rules` that the label claims.

    Returns
    -------
    DataFrame
        ``item`` (a Sentence), ``needed`` ("always", "for these names", "voluntary",
        "care"), ``stated`` (True, False, or None where the data do not tell),
        ``rule, in_force, known_from``.
    """
    rows = [
        (Sentence.of(f"labelling.item_{item}"), needed, stated, *RULES[rule])
        for item, needed, stated, rule in _items(batch, frozenset(names))
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _items(batch: Batch, names: frozenset[str]) -> Iterator[tuple[str, str, bool | None, str]]:
    yield "name", "always", None, "association"
    yield "maker", "always", None, "association"
    yield "volume", "always", None, "association"
    yield "abv", "always", None if batch.abv is None else True, "association"
    yield "ingredients", "always", None, "standard"
    yield "minors", "always", None, "minors"
    yield "origin_of_rice", "always", None, "rice"
    yield "made_on", "voluntary", None, "amended"
    if names & set(DESIGNATIONS):
        yield "polishing", "for these names", batch.polishing_printed, "standard"
    if names & set(_RAW) or batch.heated_at_bottling is False:
        yield "keeping", "for these names", batch.keeping_caution, "standard"
        yield "cold", "care", None, "trade"
        yield "date_of_raw", "care", None, "trade"
    if names & set(_LIVELY):
        yield "pressure", "care", None, "trade"
        yield "closure", "care", None, "trade"
    if "sparkling" in names:
        yield "sparkling", "for these names", None, "association"
    if batch.gas_injected:
        yield "gas", "for these names", None, "association"
    if "prize" in names:
        yield "prize", "for these names", batch.prize_named, "amended"
    if "rice only" in names:
        yield "not_junmai", "for these names", batch.says_not_junmai, "standard"
    if "rice variety" in names:
        yield "variety", "for these names", batch.variety_share_printed, "standard"
