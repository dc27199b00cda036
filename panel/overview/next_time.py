"""The cheapest next step that would settle something, and the further ones."""

from __future__ import annotations

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings import tainted
from ..findings.budget import Budget
from ..findings.evidence import QUALITY, Evidence
from ..findings.power import detectable
from ..findings.statement import Line, Statement
from .bottles_apart import alone_in_two, crossed, level
from .gaps import gaps, size
from .known_cups import clean
from .order import marks
from .sizes import told_leads
from .told import NEXT, SURE, said


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name the cheapest step on the first page, the others in their section."""
    steps = _steps(evidence, budget)
    if not steps:
        return []
    first, *rest = steps
    made = [said("cheapest", SURE, kind="advice", step=first)]
    made += [said("also", NEXT, kind="advice", step=one) for one in rest]
    return [*made, *_price(evidence, budget)]


def _steps(evidence: Evidence, budget: Budget) -> list[Line]:
    """Return the steps that this session asks for, those first that cost least."""
    found: list[Line] = []
    if tainted.worthless(evidence):
        found.append(sentence("overview.step_open_control", controls=clean(evidence),
                              n=len(clean(evidence))))  # fmt: skip
        found.append(sentence("overview.step_own_control"))
        found.append(sentence("overview.step_keep", bottles=evidence.products))
    for own, first, a, second, b in alone_in_two(evidence):
        kind = "heated" if "pasteurised" in (first, second) else "other"
        one, other = (level(first, a), level(second, b))
        found.append(sentence(f"overview.step_{kind}", bottles=own, one=one, other=other))
    leads = told_leads(evidence, budget)
    if leads:
        lead = leads[0]
        table = detectable(evidence, budget)
        able = table[(table["about"] == lead.attribute) & (table["kind"] == "scale")]
        named = able["named"].dropna()
        key = "step_name_from" if len(named) else "step_name"
        found.append(
            sentence(f"overview.{key}", attribute=evidence.name(lead.attribute),
                     high=lead.high, low=lead.low,
                     by=size(float(named.iloc[0])) if len(named) else "")
        )  # fmt: skip
    if crossed(evidence) is not None and "tank" in (crossed(evidence) or ()):
        tanks = {evidence.bottle(name).tank for name in evidence.products}
        found.append(sentence("overview.step_tank", n=len(tanks) + 1, tanks=len(tanks)))
    if evidence.products and not evidence.attributes(Kind.FAULTS):
        found.append(sentence("overview.step_faults"))
    return found


def _price(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say between which bottles quality gives no ground for a step in price or label."""
    if marks(evidence).empty or len(evidence.compared) < 2:
        return []
    own = [one for one in gaps(evidence, budget) if one.attribute == QUALITY]
    alike = [one for one in own if not one.claimed and not one.clear]
    if not alike:
        return []
    if len(alike) == len(own):
        return [said("price_any", NEXT, (QUALITY,), kind="advice", n=len(own))]
    listed = [sentence("overview.pair_of", high=one.high, low=one.low) for one in alike]
    return [said("price", NEXT, (QUALITY,), kind="advice", listed=listed)]
