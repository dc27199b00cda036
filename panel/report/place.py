"""Own bottles beside bought ones of known price and class, in the same blind flight."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ...analysis.core.wording import fixed, with_ends
from ..base.words import Sentence, sentence
from ..session.bottles import Bottle
from ..session.prices import offered
from .context import Context
from .parts import Block, Grid, Line, Points, Section, caution, method, plain, sized

if TYPE_CHECKING:
    import pandas as pd

ASKED = ("liking", "quality")
"""Questions that say how much a bottle is valued, the first that was asked counts."""


def section(context: Context) -> Section | None:
    """Say of each own bottle what this report claims of it against each bought one."""
    bottles = [context.session.bottle(name) for name in context.products]
    bought = [one for one in bottles if is_bought(one)]
    own = [one for one in bottles if one.tank or one.lot]
    if not bought or not own:
        return None
    asked = next((name for name in ASKED if context.findings.budget.of("scale", name)), "")
    blocks: list[Block]
    table = None
    if asked:
        table = _pairs(context, asked, own, bought)
        blocks = [Points(tuple(_said(context, asked, own, table)))]
        blocks.append(Grid(sentence("place.table"), _shown(table, bought), sentence("place.note")))
    else:
        blocks = [plain(sentence("place.not_asked"))]
    blocks.append(caution(sentence("place.no_measure"), *_beyond(bought)))
    priced = [sentence("place.own_price", bottle=one.name, price=offered(one).price)
              for one in own if offered(one).price]  # fmt: skip
    blocks += [plain(*priced)] if priced else []
    blocks.append(method(sentence("place.method")))
    return Section(
        key="place",
        title=sentence("place.title"),
        blocks=tuple(blocks),
        tables={"place": table} if table is not None else {},
        data=[] if table is None else table.to_dict("records"),
    )


def is_bought(bottle: Bottle) -> bool:
    """Tell whether a bottle is one of known price or class that is not of the own tanks."""
    sold = offered(bottle)
    return bool(sold.price or sold.designation) and not bottle.tank and not bottle.lot


def _pairs(context: Context, asked: str, own: list[Bottle], bought: list[Bottle]) -> pd.DataFrame:
    """Return a row a pair: own less bought, its limits, and whether it is claimed."""
    import pandas as pd

    found = context.findings.budget.found
    rows = []
    for one in own:
        for other in bought:
            row: dict[str, object] = {"sample": one.name, "bought": other.name}
            row |= {"difference": math.nan, "low": math.nan, "high": math.nan, "claimed": False}
            pairs = found.pairs if found is not None else pd.DataFrame(columns=["kind", "about"])
            pairs = pairs[(pairs["kind"] == "scale") & (pairs["about"] == asked)]
            for told in pairs.to_dict("records"):
                if {told["sample_a"], told["sample_b"]} == {one.name, other.name}:
                    side = 1 if told["sample_a"] == one.name else -1
                    low, high = sorted((side * told["low"], side * told["high"]))
                    row |= {"difference": side * told["difference"], "low": low, "high": high}
                    row["claimed"] = bool(told["claimed"])
            rows.append({**row, "attribute": asked})
    return pd.DataFrame(rows)


def _said(context: Context, asked: str, own: list[Bottle], table: pd.DataFrame) -> list[Line]:
    """Say of each own bottle over and under which bought ones it is shown, and what is open."""
    said: list[Line] = []
    found = context.findings.budget.found
    rows = found.table if found is not None else None
    needed = math.nan
    if rows is not None:
        mine = rows[(rows["kind"] == "scale") & (rows["about"] == asked)]
        needed = float(mine["needed"].iloc[0]) if len(mine) else math.nan
    attribute = context.name(asked).lower()
    for one in own:
        pairs = table[table["sample"] == one.name]
        groups = {
            "above": pairs[pairs["claimed"] & (pairs["difference"] > 0)],
            "below": pairs[pairs["claimed"] & (pairs["difference"] < 0)],
        }
        for way, rows_of in groups.items():
            if len(rows_of):
                told = {
                    "bottle": one.name,
                    "attribute": attribute,
                    "others": list(rows_of["bought"]),
                }
                said.append(sentence(f"place.{way}", **told))
        left = list(pairs.loc[~pairs["claimed"], "bought"])
        if left:
            told = {"bottle": one.name, "attribute": attribute, "others": left}
            key = "place.open" if math.isfinite(needed) else "place.open_unsized"
            said.append(sentence(key, needed=fixed(needed), **told))
    return said


def _shown(table: pd.DataFrame, bought: list[Bottle]) -> pd.DataFrame:
    """Write a row a pair, the bought ones by their price where prices can be set side by side."""
    import pandas as pd

    sold = {one.name: offered(one) for one in bought}
    order = [one.name for one in (_by_price(bought) or bought)]
    rows = []
    ranked = sorted(table.to_dict("records"), key=lambda row: order.index(str(row["bought"])))
    first = list(dict.fromkeys(table["sample"]))
    for row in sorted(ranked, key=lambda row: first.index(row["sample"])):
        ends = [row[name] for name in ("difference", "low", "high")]
        size, low, high = with_ends(ends, sign=True)
        known = math.isfinite(row["difference"])
        other = str(row["bought"])
        rows.append(
            {
                sentence("place.col_own"): row["sample"],
                sentence("place.col_bought"): other,
                sentence("place.col_class"): sold[other].designation or "–",
                sentence("place.col_price"): sold[other].price or "–",
                sentence("place.col_difference"): sized(size, low, high) if known else "–",
                sentence("place.col_claimed"): sentence(
                    "place.shown" if row["claimed"] else "place.not_shown"
                ),
            }
        )
    return pd.DataFrame(rows)


def _by_price(bought: list[Bottle]) -> list[Bottle] | None:
    """Return the bottles by price; None where prices cannot be set side by side."""
    sold = [offered(one) for one in bought]
    if any(one.amount is None for one in sold) or len({one.currency for one in sold}) > 1:
        return None
    if len({one.volume_ml for one in bought}) > 1:
        return None
    return sorted(bought, key=_amount)


def _amount(bottle: Bottle) -> float:
    return offered(bottle).amount or 0.0


def _beyond(bought: list[Bottle]) -> list[Sentence]:
    """Say what no order of prices shows, and what would make prices comparable."""
    said = []
    if any(offered(one).designation for one in bought):
        said.append(sentence("place.no_class"))
    priced = [one for one in bought if offered(one).price]
    if len(priced) < 2:
        return said
    if _by_price(priced) is None:
        unread = [one.name for one in priced if offered(one).amount is None]
        key = "place.unread_price" if unread else "place.not_comparable"
        said.append(sentence(key, bottles=unread))
    else:
        orders = math.factorial(len(priced))
        said.append(sentence("place.orders", n=len(priced), orders=orders))
    return said
