"""How bottles were brewed, year against year and fraction against fraction, beside the scores."""

from __future__ import annotations

from collections.abc import Collection
from itertools import combinations
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import with_ends
from ...analysis.link.brewing_factors import BatchDesign, batch_design
from ..base.words import Sentence, sentence
from ..batches.columns import BREWED, COLUMNS, MEASURED, PLACE, column_name
from ..batches.of_session import Referral
from ..batches.written_cells import plain as tidied
from ..batches.written_cells import tank_key
from ..few.side_by_side import is_few
from ..findings.evidence import BOTTLE_FACTORS
from ..findings.factors import FACTORS, level_of
from ..findings.statement import joined
from .context import Context
from .parts import Block, Grid, Line, Points, Section, caution, method, plain

if TYPE_CHECKING:
    import pandas as pd

APART = (*BREWED, "fraction", "pasteurised")
"""What may differ between two bottles of how they were made."""
CLAIMED = ("scale", "balance")
"""Kinds of claims that stand beside a pair."""
ORDER = ("years", "tanks", "fractions", "portions")
"""Of pairs: the same tank in two years, two tanks, the same mash in two bottlings, and one bottle
served in two ways."""
MOST = 15
"""Pairs that are printed; of more those of which something is shown first, of each kind in turn,
portions last; the rest is counted, with how many of it are shown to differ."""
SERVED_AT = {"temperature_c": "brewed.served_at", "opened_days": "brewed.days_open"}
"""What is a number of a portion as it was served, not of a mash."""


def section(context: Context) -> Section | None:
    """Show the brews beside what this report claims of their bottles."""
    book = context.book
    if book is None:
        return None
    bottles = [name for name in context.products if name in book.places]
    blocks: list[Block] = []
    design = _design(book, bottles)
    if design is not None:
        blocks.append(Points(design.sentences()))
    if bottles:
        blocks.append(caution(sentence("brewed.careful")))
        blocks.append(Grid(sentence("brewed.book"), _table(book, bottles), _sources(book, bottles)))
    shown = _shown(context)
    kinds = _by_kind(context, book, bottles, shown)
    pairs = _pairs(context, book, kinds, shown)
    if len(pairs):
        blocks += [
            Grid(sentence("brewed.pairs"), pairs, sentence("brewed.pairs_note")),
            *_left_out(kinds, shown),
        ]
    blocks += [plain(*lines)] if (lines := (*_filled(book), *book.told)) else []
    if not blocks:
        return None
    if design is not None:
        blocks.append(method(sentence("brewed.method")))
    return Section(
        key="brewed",
        title=sentence("brewed.title"),
        blocks=tuple(blocks),
        tables={"brews": _with_names(_plain_table(book, bottles))} if bottles else {},
        data={
            "batches": design.batches if design else 0,
            "factors": design.factors.to_dict("records") if design else [],
            "bottles": [
                {"sample": name, "year": year, "tank": tank, "lot": lot}
                for name, (year, tank, lot) in book.places.items()
            ],
        },
    )


def _design(book: Referral, bottles: list[str]) -> BatchDesign | None:
    """Tell what the bottles of this session can tell apart of their brewing."""
    if not bottles:
        return None
    table = _plain_table(book, bottles)
    table["batch"] = [f"{tank_key(book.places[one][1])} / {book.places[one][0]}" for one in bottles]
    table["tank"] = [tank_key(tank) for tank in table["tank"]]
    factors = [
        name
        for name in ("year", "tank", *APART)
        if name in table and name != "pressed_on" and (table[name] != "").any()
    ]
    try:
        return batch_design(table, factors)
    except AnalysisError:
        return None


def _plain_table(book: Referral, bottles: list[str]) -> pd.DataFrame:
    """Return a row a bottle with all that the book says, columns as in the book."""
    import pandas as pd

    rows = []
    for name in bottles:
        year, tank, lot = book.places[name]
        own = {column: tidied(fact.value) for column, fact in book.facts[name].items()}
        rows.append({"sample": name, "year": year, "tank": tank, "lot": lot, **own})
    known = [name for name in COLUMNS if name not in PLACE and any(name in row for row in rows)]
    further = [name for row in rows for name in row if name not in (*known, *PLACE, "sample")]
    wanted = dict.fromkeys(["sample", "year", "tank", "lot", *known, *further])
    return pd.DataFrame(rows, columns=list(wanted)).fillna("")


def _with_names(table: pd.DataFrame) -> pd.DataFrame:
    """Head a table's columns as people call them."""
    names = [str(name) for name in table if name != "sample"]
    return table.rename(columns={name: column_name(name) for name in names})


def _table(book: Referral, bottles: list[str]) -> pd.DataFrame:
    """Write what is known as rows, and a column a batch: bottles with all of it alike share one."""
    import pandas as pd

    known = _plain_table(book, bottles).set_index("sample")
    shown = [name for name in known.columns if (known[name] != "").any()]
    batches: dict[tuple[str, ...], list[str]] = {}
    for name in bottles:
        cells = tuple(str(one) or "–" for one in known.loc[name, shown])
        batches.setdefault(cells, []).append(name)
    heads: list[Line] = [sentence("brewed.what")]
    heads += [
        names[0] if len(names) == 1 else sentence("brewed.alike", bottles=names)
        for names in batches.values()
    ]
    rows = zip(map(column_name, shown), *batches, strict=True)
    return pd.DataFrame(list(rows), columns=pd.Index(heads, dtype=object))


def _sources(book: Referral, bottles: list[str]) -> Sentence:
    """Name the tables that the book has it from."""
    facts = [fact for name in bottles for fact in book.facts[name].values()]
    return sentence("brewed.sources", listed=sorted({fact.file for fact in facts}))


def _filled(book: Referral) -> list[Sentence]:
    """Say which numbers of the bottles come from the book."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for name, columns in book.filled.items():
        alike.setdefault(columns, []).append(name)
    return [
        sentence("brewed.filled", bottles=names, listed=[column_name(one) for one in columns])
        for columns, names in alike.items()
    ]


def _kind(context: Context, book: Referral, pair: tuple[str, str]) -> str:
    one, other = (context.session.bottle(name) for name in pair)
    if one.liquid == other.liquid:
        return "portions"
    (year, tank, _), (other_year, other_tank, _) = (book.places[name] for name in pair)
    if tank_key(tank) == tank_key(other_tank):
        return "fractions" if year == other_year else "years"
    return "tanks"


def _shown(context: Context) -> set[frozenset[str]]:
    """Return the pairs of which something is claimed; the page of few writes no such claims."""
    found = context.findings.budget.found
    if found is None or is_few(context.findings.evidence):
        return set()
    rows = found.pairs[found.pairs["claimed"] & found.pairs["kind"].isin(CLAIMED)]
    both = zip(rows["sample_a"], rows["sample_b"], strict=True)
    return {frozenset((str(one), str(other))) for one, other in both}


def _by_kind(
    context: Context, book: Referral, bottles: list[str], shown: set[frozenset[str]]
) -> dict[str, list[tuple[str, str]]]:
    """Return all pairs by their kind; first those of which something is shown, then the likest."""

    def place(pair: tuple[str, str]) -> tuple[bool, int]:
        one, other = (context.session.bottle(name) for name in pair)
        apart = sum(one.level(factor) != other.level(factor) for factor in FACTORS)
        return frozenset(pair) not in shown, apart

    kinds: dict[str, list[tuple[str, str]]] = {kind: [] for kind in ORDER}
    for pair in sorted(combinations(bottles, 2), key=place):
        kinds[_kind(context, book, pair)].append(pair)
    return kinds


def printed(
    kinds: dict[str, list[tuple[str, str]]], shown: Collection[frozenset[str]] = ()
) -> dict[str, list[tuple[str, str]]]:
    """Choose up to `MOST` pairs, the first of each kind, then what is `shown`, of each in turn.

    Of one bottle served apart what is left. In each kind what is shown stands first.
    """
    turns = [
        (kind == "portions", at > 0 and frozenset(pair) not in shown, at, ORDER.index(kind))
        for kind, pairs in kinds.items()
        for at, pair in enumerate(pairs)
    ]
    taken = [ORDER[one[-1]] for one in sorted(turns)[:MOST]]
    return {kind: kinds[kind][: taken.count(kind)] for kind in ORDER}


def _left_out(
    kinds: dict[str, list[tuple[str, str]]], shown: Collection[frozenset[str]] = ()
) -> list[Block]:
    """Count by kind what the table of pairs does not print; nothing where it prints all.

    Of how many of these something is shown, and where that stands, is said too.
    """
    chosen = printed(kinds, shown)
    left = {kind: len(kinds[kind]) - len(chosen[kind]) for kind in ORDER}
    if not any(left.values()):
        return []
    counts = [sentence(f"brewed.left_{kind}", n=n) for kind, n in left.items() if n]
    told = sentence("brewed.pairs_some", n=MOST, all=MOST + sum(left.values()), left=counts)
    out = [pair for kind in ORDER for pair in kinds[kind][len(chosen[kind]) :]]
    n = sum(frozenset(pair) in shown for pair in out)
    where = sentence("report.differ")
    return [plain(told, *([sentence("brewed.left_shown", n=n, where=where)] if n else []))]


def _pairs(
    context: Context,
    book: Referral,
    kinds: dict[str, list[tuple[str, str]]],
    shown: set[frozenset[str]],
) -> pd.DataFrame:
    """Set two bottles side by side: how they were made, their numbers, what is claimed of them."""
    import pandas as pd

    few = is_few(context.findings.evidence)
    rows = [
        {
            sentence("brewed.col_pair"): sentence(f"brewed.pair_{kind}", one=one, other=other),
            sentence("brewed.col_made"): _apart(context, book, one, other),
            sentence("brewed.col_numbers"): _numbers(context, one, other),
        }
        | ({} if few else {sentence("brewed.col_claimed"): _claimed(context, one, other)})
        for kind, pairs in printed(kinds, shown).items()
        for one, other in pairs
    ]
    return pd.DataFrame(rows)


def _apart(context: Context, book: Referral, one: str, other: str) -> Line:
    """Name what differs in the making of two bottles, as far as it is known of both.

    The book comes first; of what it does not know, the session's own bottles.csv tells.
    """
    parts = []
    for column in APART:
        values = [book.value(name, column) for name in (one, other)]
        told_by_book = all(values)
        if not told_by_book and column in BOTTLE_FACTORS:
            values = [context.session.bottle(name).level(column) for name in (one, other)]
        if all(values) and len({tidied(value).casefold() for value in values}) == 2:
            shown = values if told_by_book else [level_of(column, value) for value in values]
            told = {"column": column_name(column), "one": shown[0], "other": shown[1]}
            parts.append(sentence("brewed.part", **told))
    told_of = {str(column_name(column)) for column in APART}
    for heading, known in context.findings.evidence.made:
        also = context.findings.evidence.also_apart([(one, other)])
        if str(heading) not in told_of and heading in also:
            differ = {"column": heading, "one": known[one], "other": known[other]}
            parts.append(sentence("brewed.part", **differ))
    return joined(parts) if parts else sentence("brewed.nothing_known")


def _numbers(context: Context, one: str, other: str) -> Line:
    parts = []
    for column in dict.fromkeys((*SERVED_AT, *MEASURED)):
        values = [getattr(context.session.bottle(name), column, None) for name in (one, other)]
        if None not in values and values[0] != values[1]:
            served = SERVED_AT.get(column)
            told = {
                "column": sentence(served) if served else column_name(column),
                "one": f"{values[0]:g}",
                "other": f"{values[1]:g}",
            }
            parts.append(sentence("brewed.part", **told))
    return joined(parts) if parts else "–"


def _claimed(context: Context, one: str, other: str) -> Line:
    """Write what this report claims of a pair, with the limits of the pair."""
    found = context.findings.budget.found
    parts = []
    if found is not None:
        rows = found.pairs[found.pairs["claimed"] & found.pairs["kind"].isin(CLAIMED)]
        for row in rows.to_dict("records"):
            if {row["sample_a"], row["sample_b"]} != {one, other}:
                continue
            turned = row["sample_a"] != one
            ends = [-row["high"], -row["low"]] if turned else [row["low"], row["high"]]
            values = [-row["difference"] if turned else row["difference"], *ends]
            size, low, high = with_ends(values, sign=True)
            told = {"attribute": context.name(str(row["about"])), "size": size}
            parts.append(sentence("brewed.claimed", low=low, high=high, **told))
    return joined(parts) if parts else sentence("brewed.nothing_claimed")
