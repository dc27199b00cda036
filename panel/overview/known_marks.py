"""Bottles beside known cups in every attribute, and what is to be made of who missed a fault."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...analysis.core.options import ALPHA
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.evidence import QUALITY, Evidence
from ..findings.people import flat
from ..findings.statement import Statement, joined
from ..findings.tainted import held
from ..findings.ticks import SECTION, questions
from .gaps import clear_of_zero, end, limits, size
from .known_cups import ENOUGH, SEVERAL, clean, noses, spiked, ticked
from .steadiness import along_card
from .told import KNOWN, NEXT, said

if TYPE_CHECKING:
    import pandas as pd

GOES = 0.3
"""Correlation with the others over the whole card from which who missed a fault is said to go
with them in all else (no source)."""


def statements(evidence: Evidence) -> list[Statement]:
    """Set bottles beside the clean cup, and say what silence of who missed the spike is worth."""
    return [
        *_quality_who(evidence),
        *_marks(evidence, clean(evidence)),
        *_marks(evidence, list(spiked(evidence)), spike=True),
        *_fault_part(evidence),
        *_missed(evidence),
        *_not_blended(evidence),
    ]


def _cells(evidence: Evidence, names: list[str]) -> pd.DataFrame:
    still = {code for code, _ in flat(evidence)}
    rows = evidence.rows(names, everybody=True, controls=True)
    rows = rows[~rows["assessor"].isin(still)]
    return rows.pivot_table(index=["attribute", "assessor"], columns="sample", values="score",
                            observed=True)  # fmt: skip


def _of(cells: pd.DataFrame, attribute: str) -> pd.DataFrame:
    """Return the cells of one attribute, a row an assessor."""
    import pandas as pd

    return pd.DataFrame(cells.xs(attribute))


def _quality_who(evidence: Evidence) -> list[Statement]:
    """Say who goes the other way between a bottle or spike and a known cup, and what is left."""
    if not evidence.products or not clean(evidence):
        return []
    cells = _cells(evidence, [QUALITY])
    if cells.empty:
        return []
    cells = _of(cells, QUALITY)
    parts = []
    known = clean(evidence)[0]
    for name in (*evidence.products, *spiked(evidence)):
        if not {name, known} <= set(cells):
            continue
        gap = (cells[name] - cells[known]).dropna()
        if len(gap) < ENOUGH or not gap.mean():
            continue
        way = 1 if gap.mean() > 0 else -1
        against = [str(code) for code in gap.index[way * gap < 0]]
        if len(against) > 1 or len(gap) - 1 < ENOUGH:
            continue
        # Who goes the other way alone, else who carries most.
        code = against[0] if against else str((way * gap).idxmax())
        by, least, most = limits(gap.drop(code).to_numpy(float))
        parts.append(
            sentence("overview.known_not" if against else "overview.known_all", bottle=name,
                     known=known, k=int((way * gap > 0).sum()), n=len(gap), who=code,
                     by=size(by, signed=True), least=end(least, signed=True),
                     most=end(most, signed=True))
        )  # fmt: skip
    if not parts:
        return []
    return [said("known_who", KNOWN, (QUALITY, known), known=known, listed=joined(parts))]


def _marks(evidence: Evidence, known: list[str], *, spike: bool = False) -> list[Statement]:
    """Say which marks of the bottles are clear of those of known cups, of how many looked at."""
    if not evidence.products or not known:
        return []
    names = [one for one in evidence.attributes(Kind.LINE, Kind.CATEGORY) if one != QUALITY]
    cells = _cells(evidence, names)
    told = held(evidence)
    parts, looked = [], 0
    for name in evidence.products:
        for attribute in names:
            if (
                name in told
                or name not in cells
                or attribute not in set(cells.index.get_level_values(0))
            ):
                continue
            own = _of(cells, attribute)
            there = [one for one in known if one in own]
            gap = (own[name] - own[there].mean(axis=1)).dropna()
            if len(gap) < ENOUGH:
                continue
            looked += 1
            clear = clear_of_zero("overview.known_mark", gap.to_numpy(float), bottle=name,
                                  attribute=evidence.name(attribute))  # fmt: skip
            if clear:
                parts.append(clear)
    if not looked:
        return []
    key = f"{'spike' if spike else 'known'}_marks{'' if parts else '_none'}"
    return [
        said(key, KNOWN, tuple(known), controls=known, n=looked,
             listed=joined(parts) if parts else "", k=max(round(ALPHA * looked), 1))
    ]  # fmt: skip


def _fault_part(evidence: Evidence) -> list[Statement]:
    """Set what a fault takes from its own clean sake in quality beside where a held bottle lies."""
    cells = _cells(evidence, [QUALITY])
    if cells.empty or len(clean(evidence)) != 1:
        return []
    cells = _of(cells, QUALITY)
    made = []
    for name in held(evidence):
        rest = [one for one in evidence.products if one in cells and one not in held(evidence)]
        for sample in spiked(evidence):
            if not rest or not {name, sample, *clean(evidence)} <= set(cells):
                continue
            cost = limits((cells[sample] - cells[clean(evidence)[0]]).dropna().to_numpy(float))
            lies = limits((cells[name] - cells[rest].mean(axis=1)).dropna().to_numpy(float))
            if not lies[0] < cost[0] < 0:
                continue
            values = {
                f"{key}{number}": (size if key == "by" else end)(value, signed=True)
                for number, own in enumerate((lies, cost))
                for key, value in zip(("by", "least", "most"), own, strict=True)
            }
            key = "fault_part" if lies[0] < cost[1] else "fault_part_open"
            made.append(said(key, KNOWN, (name, sample, QUALITY), bottle=name,
                             sample=sample, clean=clean(evidence)[0], **values))  # fmt: skip
    return made


def _missed(evidence: Evidence) -> list[Statement]:
    """Say of who found a spike in no cup what else they gave it, and count without them."""
    made = []
    rows = ticked(evidence)
    along = along_card(evidence)
    quality = _cells(evidence, [QUALITY])
    words = evidence.rows(questions(evidence).get(SECTION, []), everybody=True, controls=True)
    given = words[words["score"] > 0].astype({"assessor": str, "sample": str, "attribute": str})
    for sample, fault in spiked(evidence).items():
        missed = [one for one in noses(evidence) if one.cups and not one.by_control[sample][0]]
        finders = [one.code for one in noses(evidence) if one.by_control[sample][0]]
        if not missed or not finders or not evidence.products:
            continue
        for one in missed:
            mine = given[(given["assessor"] == one.code) & (given["sample"] == sample)]
            noticed = mine["attribute"].value_counts()
            noticed = noticed[noticed >= min(SEVERAL, evidence.replicates)]
            elsewhere = given[(given["assessor"] == one.code) & (given["sample"] != sample)]
            own = [name for name in noticed.index if not (elsewhere["attribute"] == name).any()]
            parts = []
            if len(quality) and one.code in quality.index.get_level_values(1):
                marks = _of(quality, QUALITY).T[one.code].dropna()
                rest = [n for n in evidence.products if n in marks and n not in held(evidence)]
                if sample in marks and rest:
                    gap = float(marks[sample]) - float(marks[rest].mean())
                    parts.append(sentence("overview.missed_quality", by=size(gap, signed=True)))
            parts += [
                sentence("overview.missed_word", word=evidence.name(str(name)),
                         k=int(noticed[name]), n=one.by_control[sample][1])
                for name in own
            ]  # fmt: skip
            if along.get(one.code, 0.0) >= GOES:
                parts.append(sentence("overview.missed_along"))
            if parts:
                made.append(
                    said("missed", KNOWN, (one.code, sample, fault), who=one.code, sample=sample,
                         fault=evidence.name(fault), listed=joined(parts))
                )  # fmt: skip
        counts = []
        for name in evidence.products:
            own_rows = rows[(rows["sample"] == name) & (rows["attribute"] == fault)]
            own_rows = own_rows[own_rows["assessor"].isin(finders)]
            if len(own_rows):
                counts.append(
                    sentence("overview.finders_of", bottle=name, n=len(own_rows),
                             k=int((own_rows["score"] > 0).sum()))
                )  # fmt: skip
        if counts:
            made.append(
                said("finders", KNOWN, (fault, *finders), who=finders, n=len(finders),
                     fault=evidence.name(fault), missed=[one.code for one in missed],
                     listed=counts)
            )  # fmt: skip
    return made


def _not_blended(evidence: Evidence) -> list[Statement]:
    """Say that what is held back is no part of a blend either."""
    names = held(evidence)
    if not names:
        return []
    return [said("not_blended", NEXT, tuple(names), kind="advice", bottles=names, n=len(names))]
