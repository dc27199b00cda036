"""Too sweet, too dry or just right: counts of assessors, bottle by bottle."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ...analysis.core.wording import percent
from ..base.words import Sentence, sentence
from .budget import Budget
from .evidence import BALANCE, Evidence, once
from .statement import Line, Statement

if TYPE_CHECKING:
    import pandas as pd

SECTION = "sweetness"
RANK = 42
SPLIT_FROM, SPLIT_SHARE = 2, 0.25
"""A split: on either side at least two assessors, and at least a quarter of them."""
MOST = 0.5
"""More than this share of tastings are most of them (a majority, as of the assessors)."""
SIDES = {"too_sweet": "sweet", "too_dry": "dry", "just_right": "right"}
COUNTED = ("n", "too_dry", "just_right", "too_sweet", "undecided")
Row = Mapping[Hashable, Any]


@once
def counts(evidence: Evidence) -> pd.DataFrame:
    """Count the panel's assessors on each side of just right; controls are no products."""
    from ...analysis.claims.cell_table import CellTable
    from ...analysis.claims.most_people import counts_by_side

    cells = CellTable(evidence.tidy([BALANCE]), evidence.counted, evidence.products)
    return counts_by_side(cells, BALANCE, evidence.counted)


def standing(row: Row) -> str:
    """Name what the counts of one bottle say: sweet, dry, right, split or open."""
    n, dry, sweet = row["n"], row["too_dry"], row["too_sweet"]
    if min(dry, sweet) >= SPLIT_FROM and min(dry, sweet) >= SPLIT_SHARE * n:
        return "split"
    return SIDES.get(str(row["side"]), "open")


def unanimous(evidence: Evidence, sample: str) -> bool:
    """Tell whether all who answered about a bottle are on one side."""
    found = counts(evidence)
    return bool(found.loc[found["sample"] == sample, "unanimous"].any())


def split_bottles(evidence: Evidence) -> list[str]:
    """Name the bottles that split the panel into too sweet and too dry."""
    if BALANCE not in set(evidence.scores["attribute"]):
        return []
    rows = counts(evidence).to_dict("records")
    return [str(row["sample"]) for row in rows if standing(row) == "split"]


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say for each bottle how many found it too sweet, too dry or just right."""
    if BALANCE not in set(evidence.scores["attribute"]):
        return []
    claims = {one.sample: one for one in budget.claimed("majority")}
    said = []
    rows = counts(evidence).to_dict("records")
    if len(evidence.counted) == 1:
        return _of_one(rows)
    for row in rows:
        sample, how = str(row["sample"]), standing(row)
        values = {key: row[key] for key in ("sample", *COUNTED)}
        claimed = claims.get(sample) if how in ("sweet", "dry") else None
        key = _key(row, how)
        sure = percent(row["at_least"]) if row["side"] else ""
        tell = how in ("sweet", "dry", "split") and row["n"] > 1
        said.append(
            Statement(
                kind="claim" if claimed else "description",
                about=(sample,),
                sentence=sentence(key, **values, at_least=sure, rest=_rest(row), who=_who(row)),
                section=SECTION,
                p=claimed.p if claimed else None,
                p_adjusted=claimed.adjusted if claimed else None,
                family="majority" if claimed else "",
                rank=RANK if tell else None,
                box="findings.box_balance" if tell else "",
                brief=sentence(f"findings.brief_{how}", **values),
            )
        )
    if said and not any(one.kind == "claim" for one in said):
        fewest = budget.majority_from
        if fewest is not None and counts(evidence)["n"].max() < fewest:
            said.append(
                Statement(
                    kind="description",
                    about=(),
                    sentence=sentence("findings.majority_needs", n=fewest),
                    section=SECTION,
                )
            )
    return said


def _of_one(rows: Sequence[Row]) -> list[Statement]:
    """Say what one assessor found, bottles of one answer together."""
    found: dict[str, list[str]] = {}
    for row in rows:
        found.setdefault(standing(row), []).append(str(row["sample"]))
    return [
        Statement(
            kind="description",
            about=tuple(samples),
            sentence=sentence(f"findings.balance_one_{how}", samples=samples),
            section=SECTION,
        )
        for how, samples in found.items()
    ]


def _key(row: Row, how: str) -> str:
    if row["n"] == 1:
        return "findings.balance_single"
    if how in ("sweet", "dry", "right") and row["unanimous"]:
        return f"findings.balance_all_{how}"
    return f"findings.balance_{how}"


def _who(row: Row) -> Sentence:
    return sentence("findings.who_both" if row["n"] == 2 else "findings.who_all", n=row["n"])


def _rest(row: Row) -> Line:
    """Tell those whose own answers fall on no side more than half of the time."""
    return sentence("findings.balance_rest", n=row["undecided"]) if row["undecided"] else ""


def cell(evidence: Evidence, sample: str) -> Sentence:
    """Say a bottle's balance for the table of decisions."""
    found = counts(evidence)
    own = found[found["sample"] == sample] if len(found) else found
    if own.empty:
        return sentence("findings.cell_none")
    row = own.to_dict("records")[0]
    values = {key: row[key] for key in COUNTED}
    undecided = row["undecided"]
    wavering = sentence("findings.cell_wavering", n=undecided) if undecided else ""
    return sentence(
        f"findings.cell_{standing(row)}",
        **values,
        wavering=wavering,
        tastings=_by_tasting(evidence, sample),
    )


def most_tastings(scores: Sequence[float]) -> tuple[str, int]:
    """Name the fault that more than half of all tastings find, and how many; "" and 0 for none.

    >>> most_tastings([-1] * 9 + [0] * 5), most_tastings([-1] * 7 + [0] * 7)
    (('dry', 9), ('', 0))
    """
    sides = {"dry": sum(score < 0 for score in scores), "sweet": sum(score > 0 for score in scores)}
    side = max(sides, key=lambda one: sides[one])
    return (side, sides[side]) if sides[side] > MOST * len(scores) else ("", 0)


def _by_tasting(evidence: Evidence, sample: str) -> Line:
    """Tell a side that most tastings are on where no side has most of the assessors.

    Of the same people as the counts; who tasted twice counts twice, so it is a description.
    """
    rows = evidence.tidy([BALANCE]).data
    rows = rows[(rows["sample"] == sample) & rows["assessor"].isin(evidence.counted)]
    scores = [float(score) for score in rows["score"].dropna()]
    side, k = most_tastings(scores)
    return sentence(f"findings.cell_tastings_{side}", k=k, m=len(scores)) if side else ""
