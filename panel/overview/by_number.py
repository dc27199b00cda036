"""Meter value and acidity beside the tongue, pair by pair: where they agree and where they do not.

A number explains nothing here: of fewer than `ENOUGH` bottles the same sentence says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..base.words import sentence
from ..findings.budget import Budget
from ..findings.evidence import Evidence
from ..findings.measured import ALIKE, SWEET
from ..findings.statement import Line, Statement, joined
from .gaps import Gap, end, gaps, size
from .told import SWEETNESS, said

ACID = "acidity"


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberOnTongue:
    """A number and the attribute it is set beside.

    Attributes
    ----------
    field, attribute : str
    way : int
        1 where more of the number is more on the tongue, else -1.
    near, far : float
        Differences up to which two bottles count as nearly alike by it, and from which on as
        plainly apart (conventions, no source).
    """

    field: str
    attribute: str
    way: int
    near: float
    far: float


SCALES = (
    NumberOnTongue(field="meter_value", attribute=SWEET, way=-1, near=1.0, far=3.0),
    NumberOnTongue(field="acidity", attribute=ACID, way=1, near=0.1, far=0.3),
)
MOST = 4
"""Pairs that are told of each kind."""
ENOUGH = 10
"""Bottles from which on it is no longer told that a number cannot be parted from all else in which
they differ (a rule of thumb, no source; that of the chapter's last line)."""
EXACT = 1e-9


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say for meter value and acidity which pairs go with the tongue, and which do not."""
    return [made for scale in SCALES for made in _of(evidence, budget, scale)]


def _of(evidence: Evidence, budget: Budget, scale: NumberOnTongue) -> list[Statement]:
    known = {name: getattr(evidence.bottle(name), scale.field) for name in evidence.compared}
    if not known or None in known.values():
        return []
    if max(known.values()) - min(known.values()) < scale.near:
        return []
    sure = any(
        one.about == scale.attribute for one in (*budget.claimed("scale"), *budget.hinted("scale"))
    )
    kinds: dict[str, list[Line]] = {"along": [], "against": [], "near": [], "still": []}
    about: list[str] = []
    for one in sorted(gaps(evidence, budget), key=lambda gap: -gap.by):
        if one.attribute != scale.attribute:
            continue
        kind = kind_of(one, known, scale, sure=sure)
        if not kind or len(kinds[kind]) == MOST:
            continue
        about += [one.high, one.low]
        kinds[kind].append(
            sentence("overview.by_number_pair", high=one.high, low=one.low, by=size(one.by),
                     least=end(one.least), most=end(one.most), going=one.going,
                     a=f"{known[one.high]:g}".replace("-", "\u2212"),
                     b=f"{known[one.low]:g}".replace("-", "\u2212"))
        )  # fmt: skip
    parts: list[Line] = [
        sentence(f"overview.by_number_{kind}_{scale.field}", listed=joined(found))
        for kind, found in kinds.items()
        if found
    ]
    parts += _furthest(evidence, known, scale)
    if not parts:
        return []
    about = list(dict.fromkeys(about))
    few = sentence("overview.by_number_few", n=len(known)) if len(known) < ENOUGH else ""
    name = f"by_number_{scale.field}"
    return [said(name, SWEETNESS, (scale.attribute, *about), listed=joined(parts), few=few)]


def kind_of(one: Gap, known: dict[str, float], scale: NumberOnTongue, *, sure: bool) -> str:
    """Tell how a gap on the tongue goes with the two numbers: "" where nothing is to be told.

    Gaps that are claimed, or clear of 0, go along or, where the attribute is claimed or a hint
    (`sure`), against; claimed ones may lie between bottles that are nearly alike by the number.
    Bottles plainly apart by it, whose gap is neither, are not shown apart on the tongue.
    """
    by = scale.way * (known[one.high] - known[one.low])
    told = one.claimed or one.clear
    if abs(by) <= scale.near + EXACT:
        return "near" if one.claimed else ""
    if not told:
        return "still" if abs(by) >= scale.far - EXACT else ""
    return "along" if by > 0 else "against" if sure else ""


def _furthest(evidence: Evidence, known: dict[str, float], scale: NumberOnTongue) -> list[Line]:
    """Say that the bottle with most of acidity by its number is not the sourest on the tongue."""
    if scale.field != ACID or ACID not in evidence.means:
        return []
    means = evidence.means[ACID].dropna()
    means = means[[name for name in means.index if name in known]]
    most = max(known.values())
    top = [name for name, value in known.items() if value >= most - EXACT]
    if len(top) != 1 or len(means) < 2 or top[0] not in means.index:
        return []
    tongue = str(means.idxmax())
    if tongue == top[0] or means[tongue] - means[top[0]] < ALIKE:
        return []
    return [
        sentence("overview.by_number_other", bottle=top[0], value=f"{most:g}", other=tongue,
                 mark=size(float(means[tongue])), own=size(float(means[top[0]])))
    ]  # fmt: skip
