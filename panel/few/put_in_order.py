"""In what everybody puts the bottles in one order, and where they part."""

from __future__ import annotations

import math

from ..base.words import sentence
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Line, Statement
from .bottles import row_of
from .not_told_apart import answers_price
from .side_by_side import ALIKE, SHEETS, Row, people, rows
from .tasters import inside, points, said, who
from .together import reach

RANK_PUT, RANK_PART = 30, 32
TWO = 2


def by_luck(evidence: Evidence, found: list[Row]) -> int:
    """Return in how many attributes one bottle would be at an end for everybody by luck.

    Where everybody's order is one of all orders, each as likely as any other, and nobody ties.
    """
    n, bottles = len(people(evidence)), len(evidence.products)
    if bottles == TWO:
        return round(float(len(found) / TWO ** (n - 1)))
    one = 1 / float(bottles ** (n - 1))
    both = 1 / float((bottles * (bottles - 1)) ** (n - 1))
    return round(float(len(found) * (2 * one - both)))


def shared(evidence: Evidence) -> list[Statement]:
    """Count the attributes in which everybody has one order, or one bottle at an end."""
    found = rows(evidence)
    if len(people(evidence)) == 1:
        return [said("description", "one_marks", section=SHEETS, rank=RANK_PUT)]
    whole = [row for row in found if row.order]
    ends = [row for row in found if row.end(1) or row.end(-1)]
    parted = [row for row in found if row.parted]
    throughout: Line = ""
    if whole and len(evidence.products) > 2:
        throughout = sentence("few_report.throughout", n=len(whole))
    apart = sentence("few_report.parted_in", n=len(parted)) if parted else ""
    about = tuple(row.attribute for row in ends)
    if not ends:
        return [
            said("description", "same_end_none", section=SHEETS, rank=RANK_PUT,
                 who=inside(evidence), parted=apart)
        ]  # fmt: skip
    return [
        said("description", "same_end", about, section=SHEETS, rank=RANK_PUT, who=who(evidence),
             n=len(ends), of=len(found), whole=throughout, parted=apart,
             luck=by_luck(evidence, found))
    ]  # fmt: skip


def parted(evidence: Evidence) -> list[Statement]:
    """Say where the assessors part: on quality with sizes, elsewhere by name."""
    made = []
    row = row_of(evidence, QUALITY)
    quality = row is not None and bool(row.parted)
    if row is not None and row.parted:
        made += _quality(evidence, row, None if answers_price(evidence) else RANK_PART)
    others = [one for one in rows(evidence) if one.parted and one.attribute != QUALITY]
    rest = [evidence.name(one.attribute).lower() for one in rows(evidence) if not one.parted]
    if len(others) > len(rest):  # Those few in which they do not part are named instead.
        about = tuple(one.attribute for one in others)
        made.append(said("description", "part_all_but" if rest else "part_all", about,
                         section=SHEETS, attributes=rest))  # fmt: skip
    elif others:
        key = "part_others" if quality else "part_attributes"
        names = [evidence.name(one.attribute) for one in others]
        about = tuple(one.attribute for one in others)
        made.append(said("description", key, about, section=SHEETS, attributes=names))
    return made


def _quality(evidence: Evidence, row: Row, rank: int | None) -> list[Statement]:
    """Name the pair on which they part furthest; within everybody's own scatter it shows none."""
    far = reach(evidence)

    def beyond(pair: tuple[str, str]) -> bool:
        gaps = row.marks[pair[0]] - row.marks[pair[1]]
        signs = {float(gap) > 0 for code, gap in gaps.dropna().items()
                 if abs(float(gap)) >= far.get(str(code), ALIKE)}  # fmt: skip
        return len(signs) > 1

    def size(pair: tuple[str, str]) -> float:
        return float((row.marks[pair[0]] - row.marks[pair[1]]).abs().min())

    first, second = max(row.parted, key=lambda pair: (beyond(pair), size(pair)))
    gaps = (row.marks[first] - row.marks[second]).dropna()
    within = all(abs(float(gap)) < far.get(str(code), ALIKE) for code, gap in gaps.items())
    listed = []
    for code, gap in gaps.items():
        if abs(gap) < ALIKE:
            listed.append(sentence("few_report.ties", assessor=str(code)))
        else:
            listed.append(
                sentence("few_report.prefers", assessor=str(code), by=points(abs(float(gap))),
                         bottle=first if gap > 0 else second)
            )  # fmt: skip
    key = "part_within" if within else "part_pair"
    clear: list[Line] = []  # Who has a first bottle beyond own scatter, though the pair shows none.
    for code, own in row.marks.iterrows() if within else ():
        two = own.dropna().sort_values(ascending=False)
        if len(two) > 1 and two.iloc[0] - two.iloc[1] >= far.get(str(code), math.inf):
            clear.append(
                sentence("few_report.first_of", assessor=str(code), bottle=str(two.index[0]))
            )
    first_of: Line = sentence("few_report.first_clear", listed=clear) if clear else ""
    return [
        said("description", key, (QUALITY, first, second), section=SHEETS,
             rank=rank, first=first, second=second, listed=listed, clear=first_of)
    ]  # fmt: skip
