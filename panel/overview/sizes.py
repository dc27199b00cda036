"""What is shown, what is a hint, what stays open; and who goes along with what is shown."""

from __future__ import annotations

from ...analysis.core.options import ALPHA
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.evidence import SCALED, Evidence
from ..findings.statement import Line, Statement, joined
from .gaps import Gap, besides, carried, gaps, leads, parted, size, written
from .told import DIFFER, SURE, said

MOST = 6
"""Leads that are told; more of them would be a list and no lead."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Sum up on the first page, then say who goes along, and name what is clear of 0 by itself."""
    if len(evidence.compared) < 2 or not evidence.attributes(*SCALED) or budget.found is None:
        return []
    return [
        *_summary(evidence, budget),
        *_along(evidence, budget),
        *_leads(evidence, budget),
        *_besides(evidence, budget),
    ]


def told_leads(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return the leads that are told: the surest of them."""
    return leads(evidence, budget)[:MOST]


def _summary(evidence: Evidence, budget: Budget) -> list[Statement]:
    shown = [evidence.name(one.about) for one in budget.claimed("scale", "balance")]
    found = [evidence.name(one.about) for one in budget.hinted("scale", "balance")]
    key = f"sum{'_shown' if shown else '_none'}{'_hints' if found else ''}"
    return [said(key, SURE, n=len(budget.judged), k=len(shown), shown=shown, hints=found,
                 m=len(found))]  # fmt: skip


def _along(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say in which claimed attributes everybody goes along, and who does not elsewhere."""
    claimed: dict[str, list[Gap]] = {}
    for one in gaps(evidence, budget):
        if one.claimed:
            claimed.setdefault(one.attribute, []).append(one)
    every = [name for name, own in claimed.items() if all(len(x.along) == x.n for x in own)]
    n = len(evidence.counted)
    whole = [name for name in every if all(one.n == n for one in claimed[name])]
    made = []
    if whole:
        names = [evidence.name(name) for name in whole]
        made.append(said("all_along", DIFFER, tuple(whole), attributes=names, n=n))
    part = [name for name in every if name not in whole]
    if part:
        listed = [_seen(evidence, name, claimed[name]) for name in part]
        made.append(said("all_seen", DIFFER, tuple(part), listed=joined(listed), n=n))
    rest = [one for name, own in claimed.items() if name not in every for one in own]
    parted = [one for one in rest if one.against]
    tied = [one for one in rest if not one.against and len(one.along) < one.n]
    for key, some in (("some_along", parted), ("some_alike", tied)):
        if some:
            listed = [written(evidence, one) for one in some]
            about = tuple(dict.fromkeys(one.attribute for one in some))
            made.append(said(key, DIFFER, about, listed=joined(listed), n=len(some)))
    return made


def _seen(evidence: Evidence, name: str, own: list[Gap]) -> Sentence:
    """Write of an attribute how many marked both bottles of a pair: the fewest and the most."""
    counts = [one.n for one in own]
    key = "seen" if min(counts) == max(counts) else "seen_from_to"
    return sentence(f"overview.{key}", attribute=evidence.name(name), least=min(counts),
                    most=max(counts))  # fmt: skip


def _leads(evidence: Evidence, budget: Budget) -> list[Statement]:
    found = told_leads(evidence, budget)
    if not found:
        return []
    looked = len(gaps(evidence, budget))
    return [
        said("leads", DIFFER, tuple(one.attribute for one in found), m=len(found), n=looked,
             listed=joined([written(evidence, one) for one in found]),
             k=max(round(ALPHA * looked), 1))
    ]  # fmt: skip


def _besides(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name the further gaps clear of 0, and whom a lead or a claimed gap rests on."""
    made = []
    every = sorted(besides(evidence, budget), key=lambda one: -one.least / one.by)
    more = every[:MOST]
    if more:
        key = "leads_besides" if told_leads(evidence, budget) else "leads_besides_alone"
        about = tuple(dict.fromkeys(one.attribute for one in more))
        listed = joined([written(evidence, one) for one in more])
        made.append(said(key, DIFFER, about, listed=listed, n=len(more),
                         rest=sentence("overview.leads_rest", n=len(every) - len(more))
                         if len(every) > len(more) else ""))  # fmt: skip
    against = parted(evidence, budget)
    if against:
        about = tuple(dict.fromkeys(one.attribute for one in against))
        made.append(said("leads_parted", DIFFER, about, n=len(against)))
    claimed = [one for one in gaps(evidence, budget) if one.claimed]
    parts: list[Line] = []
    names: list[str] = []
    for one in [*claimed, *told_leads(evidence, budget), *more]:
        found = carried(evidence, one)
        if found is not None and len(parts) < MOST:
            names += [one.attribute, found[0]]
            parts.append(
                sentence("overview.carries", attribute=evidence.name(one.attribute), high=one.high,
                         low=one.low, by=size(one.by), who=found[0], left=size(found[1]))
            )  # fmt: skip
    if parts:
        made.append(said("carried", DIFFER, tuple(dict.fromkeys(names)), listed=joined(parts)))
    return made
