"""Counts by sheet: sweet and dry, and faults that were noted in bottles."""

from __future__ import annotations

from collections import Counter

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.evidence import BALANCE, Evidence
from ..findings.statement import Statement, joined
from .gaps import size
from .told import FAULTS, SWEETNESS, said

MOST = 6
"""Faults in bottles that are told by sheet."""


def statements(evidence: Evidence) -> list[Statement]:
    """Count the sheets of sweet and dry, and those with a fault, with who wrote them."""
    return [*_balance(evidence), *_noted(evidence)]


def _balance(evidence: Evidence) -> list[Statement]:
    """Say of each bottle on how many sheets it is too dry, just right, too sweet."""
    if BALANCE not in set(evidence.scores["attribute"]) or evidence.replicates < 2:
        return []
    rows = evidence.rows([BALANCE])
    listed = []
    for sample in evidence.products:
        own = rows[rows["sample"] == sample]
        if own.empty:
            continue
        side = np.sign(own["score"].to_numpy(float))
        listed.append(
            sentence("overview.balance_of", bottle=sample, n=len(own), dry=int((side < 0).sum()),
                     right=int((side == 0).sum()), sweet=int((side > 0).sum()))
        )  # fmt: skip
    if not listed:
        return []
    return [said("balance_sheets", SWEETNESS, (BALANCE,), listed=joined(listed))]


def _noted(evidence: Evidence) -> list[Statement]:
    """Say of each fault that was noted in a bottle who noted it, and in how many cups."""
    names = evidence.attributes(Kind.FAULTS)
    rows = evidence.rows(names, everybody=True)
    if rows.empty or evidence.replicates < 2:
        return []
    cups = Counter(zip(rows["sample"].astype(str), rows["attribute"].astype(str), strict=True))
    listed: list[Sentence] = []
    for (sample, name), own in rows[rows["score"] > 0].groupby(
        ["sample", "attribute"], observed=True
    ):
        who = own["assessor"].astype(str).value_counts(sort=False)
        each = [sentence("findings.pair_value", name=code, value=f"{k}") for code, k in who.items()]
        listed.append(
            sentence("overview.noted_of" if len(own) > 1 else "overview.noted_once",
                     bottle=str(sample), fault=evidence.name(str(name)), k=len(own),
                     n=cups[str(sample), str(name)], each=each, who=str(who.index[0]),
                     severity=size(float(own["score"].mean())))
        )  # fmt: skip
    if not listed or len(listed) > MOST:
        return []
    return [said("noted_sheets", FAULTS, listed=joined(listed))]
