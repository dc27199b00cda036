"""Known cups: who found what was put in, who noted a fault in a sound one, what it did to marks."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scipy.special import betaincinv

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import percent
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.people import flat
from ..findings.statement import Line, Statement, joined
from ..findings.tainted import held, noted, worthless
from ..session.bottles import CLEAN
from .gaps import end, limits, size
from .told import KNOWN, SURE, said

if TYPE_CHECKING:
    import pandas as pd

EVERYWHERE = 0.75
"""Share of all cups without the fault in which one assessor notes it, from which it is a habit."""
ENOUGH = 3
"""Assessors below whom no interval is written."""
SEVERAL = 2
"""People who note a fault in a bottle, from whom on it is set beside the spike."""
LIKES = 1.0
"""Points of quality above the clean cups from which it is told that a spike was liked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nose:
    """What one assessor noted in the known cups.

    Attributes
    ----------
    code : str
    found, cups : int
        Spiked cups in which what was put in was noted, and spiked cups.
    false, sound : int
        Clean cups in which any fault was noted, and clean cups.
    by_control : mapping of str to (own, n, others)
        By spiked control: cups in which its fault was noted, cups, and faults noted instead.
    """

    code: str
    found: int
    cups: int
    false: int
    sound: int
    by_control: dict[str, tuple[int, int, tuple[str, ...]]]


@once
def spiked(evidence: Evidence) -> dict[str, str]:
    """Return the fault that was put into each control."""
    rated = {name.partition(":")[2]: name for name in evidence.attributes(Kind.FAULTS)}
    return {one.name: rated[one.control] for one in evidence.bottles if one.control in rated}


@once
def clean(evidence: Evidence) -> list[str]:
    """Name the controls that are known to be sound."""
    return [one.name for one in evidence.bottles if one.control == CLEAN]


@once
def ticked(evidence: Evidence) -> pd.DataFrame:
    """Return every answer about a fault: ``assessor, sample, replicate, attribute, score``."""
    names = evidence.attributes(Kind.FAULTS)
    rows = evidence.rows(names, everybody=True, controls=True)
    kept = rows[["assessor", "sample", "replicate", "attribute", "score"]]
    return kept.astype({"assessor": str, "sample": str, "attribute": str})


@once
def noses(evidence: Evidence) -> list[Nose]:
    """Count for everybody what was found in spiked cups and noted in clean ones."""
    rows = ticked(evidence)
    still = {code for code, _ in flat(evidence)}
    made = []
    for code in evidence.roles:
        own = rows[rows["assessor"] == code]
        own = own[own["sample"].isin([*spiked(evidence), *clean(evidence)])]
        if own.empty or (code in still and not (own["score"] > 0).any()):
            continue
        by: dict[str, tuple[int, int, tuple[str, ...]]] = {}
        for sample, fault in spiked(evidence).items():
            here = own[own["sample"] == sample]
            mine = here[here["attribute"] == fault]["score"]
            rest = here[(here["attribute"] != fault) & (here["score"] > 0)]
            others = Counter(rest["attribute"])
            told = tuple(name for name, k in others.most_common() if 2 * k > len(mine))
            by[sample] = int((mine > 0).sum()), len(mine), told
        sound = own[own["sample"].isin(clean(evidence))]
        cups = (sound["score"] > 0).groupby([sound["sample"], sound["replicate"]]).any()
        made.append(
            Nose(code=code, found=sum(k for k, _, _ in by.values()),
                 cups=sum(n for _, n, _ in by.values()), false=int(cups.sum()), sound=len(cups),
                 by_control=by)
        )  # fmt: skip
    return made


def statements(evidence: Evidence) -> list[Statement]:
    """Say what the known cups show of everybody, and what they show of the bottles."""
    if noted(evidence) is None or not (spiked(evidence) or clean(evidence)):
        return []
    return [
        *_whole(evidence),
        *_instead(evidence),
        *_false(evidence),
        *_habits(evidence),
        *_moved(evidence),
        *_liked(evidence),
        *_quality(evidence),
        *_twins(evidence),
        *_beside(evidence),
        *_practice(evidence),
        *([said("known_only", SURE, kind="caution")] if not evidence.products else []),
    ]


def sure_noses(evidence: Evidence) -> list[str]:
    """Name who found every spike in every cup and noted nothing in the clean ones."""
    return [
        one.code for one in noses(evidence) if one.cups == one.found > 0 == one.false and one.sound
    ]


def _whole(evidence: Evidence) -> list[Statement]:
    both = spiked(evidence) and clean(evidence)
    sure = sure_noses(evidence)
    made = []
    if sure and both:
        made.append(said("noses_sure", SURE, tuple(sure), who=sure, n=len(sure),
                         of=len(noses(evidence))))  # fmt: skip
    elif both:
        made.append(said("noses_none", SURE, of=len(noses(evidence))))
    for sample, fault in spiked(evidence).items():
        every = [one for one in noses(evidence) if one.by_control[sample][0]]
        if len(every) == len(evidence.roles):
            k = sum(one.by_control[sample][0] for one in every)
            n = sum(one.by_control[sample][1] for one in every)
            counts = {one.code: one.by_control[sample] for one in every}
            part = [code for code, (mine, cups, _) in counts.items() if mine < cups]
            made.append(
                said("spike_all_but" if part else "spike_all", KNOWN, (sample, fault),
                     sample=sample, k=k, n=n, part=part, fault=evidence.name(fault),
                     severity=_severity(evidence, sample, fault))
            )  # fmt: skip
    return made


def _severity(evidence: Evidence, sample: str, fault: str) -> str:
    rows = ticked(evidence)
    own = rows[(rows["sample"] == sample) & (rows["attribute"] == fault) & (rows["score"] > 0)]
    return size(float(own["score"].mean()))


def _instead(evidence: Evidence) -> list[Statement]:
    """Tell who noticed something in a spiked cup and gave it another name."""
    made = []
    for sample, fault in spiked(evidence).items():
        found: dict[str, list[str]] = {}
        for one in noses(evidence):
            k, _, others = one.by_control[sample]
            if not k:
                for name in others[:1]:
                    found.setdefault(name, []).append(one.code)
        for name, who in found.items():
            made.append(
                said("instead", KNOWN, (sample, fault, name, *who), kind="advice", who=who,
                     n=len(who), sample=sample, fault=evidence.name(fault),
                     other=evidence.name(name))
            )  # fmt: skip
    return made


def _false(evidence: Evidence) -> list[Statement]:
    """Count notes in sound cups by person, with what nobody's silence can exclude."""
    every = [one for one in noses(evidence) if one.sound]
    if not every:
        return []
    listed = [sentence("findings.pair_value", name=one.code, value=f"{one.false}") for one in every]
    k, n = sum(one.false for one in every), sum(one.sound for one in every)
    cups = max(one.sound for one in every)
    key = "false_notes" if any(not one.false for one in every) else "false_notes_all"
    return [
        said(key, KNOWN, tuple(clean(evidence)), listed=listed, k=k, n=n, cups=cups,
             upper=percent(silence_allows(cups)))
    ]  # fmt: skip


def _habits(evidence: Evidence) -> list[Statement]:
    """Tell who notes a fault in nearly every cup, and who writes it on a scale of the own."""
    rows = ticked(evidence)
    made = []
    for fault in evidence.attributes(Kind.FAULTS):
        there = [name for name, own in spiked(evidence).items() if own == fault]
        own = rows[rows["attribute"] == fault]
        for code, mine in own.groupby("assessor"):
            without = mine[~mine["sample"].isin(there)]["score"]
            k, n = int((without > 0).sum()), len(without)
            if n < 4 or k < EVERYWHERE * n:
                continue
            with_it = mine[mine["sample"].isin(there)]["score"]
            low, high = float(without.mean()), float(with_it.mean()) if len(with_it) else 0.0
            key = "habit_scale" if len(with_it) and high >= low + 1 else "habit"
            made.append(
                said(key, KNOWN, (str(code), fault), kind="caution", assessor=str(code), k=k, n=n,
                     fault=evidence.name(fault), low=size(low), high=size(high))
            )  # fmt: skip
    return made


def _moved(evidence: Evidence) -> list[Statement]:
    """Say what a spike did to the marks, and how a bottle held back stands, beside the clean."""
    import pandas as pd

    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    still = {code for code, _ in flat(evidence)}
    rows = evidence.rows(names, everybody=True, controls=True)
    if rows.empty or not clean(evidence):
        return []
    rows = rows[~rows["assessor"].isin(still)]
    cells = rows.pivot_table(index=["attribute", "assessor"], columns="sample", values="score",
                             observed=True)  # fmt: skip
    made = []
    for sample in (*spiked(evidence), *held(evidence)):
        parts: list[Line] = []
        about, rest = [], []
        for name in names:
            if name not in cells.index.get_level_values(0) or sample not in cells:
                continue
            own = pd.DataFrame(cells.xs(name))
            gap = own[sample] - own[[one for one in clean(evidence) if one in own]].mean(axis=1)
            values = gap.dropna().to_numpy(float)
            if len(values) < ENOUGH:
                continue
            mean, least, most = limits(values)
            if least > 0 or most < 0:
                way = int(((values > 0) if mean > 0 else (values < 0)).sum())
                parts.append(
                    sentence("overview.moved_by", attribute=evidence.name(name), n=len(values),
                             by=size(mean, signed=True), least=end(least, signed=True),
                             most=end(most, signed=True), k=way)
                )  # fmt: skip
                about.append(name)
            else:
                rest.append(evidence.name(name))
        if parts:
            made.append(said("spike_moved", KNOWN, (sample, *about), sample=sample,
                             listed=joined(parts)))  # fmt: skip
        if rest:
            made.append(said("spike_still", KNOWN, (sample,), sample=sample, attributes=rest,
                             n=len(rest)))  # fmt: skip
    return made


def _liked(evidence: Evidence) -> list[Statement]:
    """Tell who gives a spiked cup clearly more quality than the clean ones."""
    rows = evidence.rows([QUALITY], everybody=True, controls=True)
    if rows.empty or not clean(evidence):
        return []
    cells = rows.pivot_table(index="assessor", columns="sample", values="score", observed=True)
    sound = cells[[name for name in clean(evidence) if name in cells]].mean(axis=1)
    made = []
    for sample in [name for name in spiked(evidence) if name in cells]:
        gap = (cells[sample] - sound).dropna()
        if gap.mean() >= 0:
            continue
        made += [
            said("likes_spike", KNOWN, (str(code), sample, QUALITY), assessor=str(code),
                 sample=sample, mark=size(float(cells[sample][code])),
                 clean=size(float(sound[code])))
            for code in gap.index[gap >= LIKES]
        ]  # fmt: skip
    return made


def _quality(evidence: Evidence) -> list[Statement]:
    """Set the quality of each bottle beside that of each known cup."""
    rows = evidence.rows([QUALITY], everybody=True, controls=True)
    if rows.empty or not evidence.products:
        return []
    cells = rows.pivot_table(index="assessor", columns="sample", values="score", observed=True)
    made = []
    for known in (*clean(evidence), *spiked(evidence)):
        others = [name for name in (*evidence.products, *spiked(evidence)) if name != known]
        listed = [
            sentence("overview.beside_one", bottle=name, **_apart(cells, name, [known]))
            for name in others
            if {name, known} <= set(cells) and (cells[name] - cells[known]).count() >= ENOUGH
        ]
        if listed:
            made.append(said("quality_known", KNOWN, (QUALITY, known), known=known,
                             listed=joined(listed)))  # fmt: skip
    return made


def _twins(evidence: Evidence) -> list[Statement]:
    """Set two clean controls of one lot against each other: a hidden pair."""
    known = clean(evidence)
    batch = {evidence.bottle(name).batch for name in known}
    if len(known) != 2 or len(batch) > 1:
        return []
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    still = {code for code, _ in flat(evidence)}
    rows = evidence.rows(names, everybody=True, controls=True)
    rows = rows[~rows["assessor"].isin(still)]
    cells = rows.pivot_table(index=["attribute", "assessor"], columns="sample", values="score",
                             observed=True)  # fmt: skip
    parts = []
    for name in [one for one in names if one in cells.index.get_level_values(0)]:
        values = (cells.loc[name][known[0]] - cells.loc[name][known[1]]).dropna().to_numpy(float)
        if len(values) < ENOUGH:
            continue
        mean, least, most = limits(values)
        parts.append(
            sentence("overview.pair_gap", attribute=evidence.name(name),
                     by=size(mean, signed=True), least=end(least, signed=True),
                     most=end(most, signed=True))
        )  # fmt: skip
    if not parts:
        return []
    return [said("clean_pair", KNOWN, tuple(known), first=known[0], second=known[1], listed=parts)]


def _beside(evidence: Evidence) -> list[Statement]:
    """Set the severity that each bottle got beside that of the sound control and of the spike."""
    if not evidence.products or not clean(evidence):
        return []
    rows = ticked(evidence)
    made = []
    for fault in evidence.attributes(Kind.FAULTS):
        own = rows[rows["attribute"] == fault]
        cells = own.pivot_table(index="assessor", columns="sample", values="score", observed=True)
        sound = [name for name in clean(evidence) if name in cells]
        there = [name for name, put in spiked(evidence).items() if put == fault and name in cells]
        noted_in = [
            name for name in evidence.products if name in cells and float(cells[name].sum()) > 0
        ]
        parts = [
            sentence("overview.beside_one", bottle=name, **_apart(cells, name, sound))
            for name in noted_in
            if sound and (cells[name] - cells[sound].mean(axis=1)).count() >= ENOUGH
        ]
        if not parts:
            continue
        values: dict[str, Any] = {
            "fault": evidence.name(fault), "controls": sound, "listed": joined(parts)
        }  # fmt: skip
        key = "beside_clean"
        if there:
            values |= {"spiked": there, **_apart(cells, there[0], sound)}
            key = "beside_clean_spiked"
        place = SURE if fault in worthless(evidence) else KNOWN
        made.append(said(key, place, (fault, *noted_in), **values))
        made += _beside_spike(evidence, fault, cells, there)
    return made


def _beside_spike(
    evidence: Evidence, fault: str, cells: pd.DataFrame, there: list[str]
) -> list[Statement]:
    """Set a bottle in which a fault was noted by two or more beside the spike of that fault."""
    made = []
    for name in evidence.products:
        if not there or name not in cells or int((cells[name] > 0).sum()) < SEVERAL:
            continue
        if (cells[name] - cells[there[0]]).count() < ENOUGH:
            continue
        own = _apart(cells, name, there[:1])
        key = "beside_spike_less" if own["most"].startswith("\u2212") else "beside_spike"
        made.append(said(key, KNOWN, (fault, name, there[0]), fault=evidence.name(fault),
                         bottle=name, spiked=there[0], **own))  # fmt: skip
    return made


def _apart(cells: pd.DataFrame, sample: str, sound: list[str]) -> dict[str, Any]:
    """Return how far one cup stands above the sound ones, with limits and their number."""
    gap = (cells[sample] - cells[sound].mean(axis=1)).dropna().to_numpy(float)
    mean, least, most = limits(gap)
    ends = {"least": end(least, signed=True), "most": end(most, signed=True)}
    return {"by": size(mean, signed=True), "n": len(gap), **ends}


def _practice(evidence: Evidence) -> list[Statement]:
    """Say what each who missed or called falsely could practise, and what to serve next."""
    students = [one for one in noses(evidence) if evidence.roles[one.code] == "student"]
    every = students or noses(evidence)
    made = []
    wrong = [one.code for one in every if one.false]
    if wrong:
        cups = max(one.sound for one in every)
        made.append(said("practise_clean", KNOWN, tuple(wrong), kind="advice", who=wrong,
                         n=len(wrong), cups=2 * cups))  # fmt: skip
    for fault in dict.fromkeys(spiked(evidence).values()):
        there = [name for name, own in spiked(evidence).items() if own == fault]
        missed = [one.code for one in every if not any(one.by_control[x][0] for x in there)]
        if missed:
            made.append(said("practise_fault", KNOWN, (fault, *missed), kind="advice", who=missed,
                             n=len(missed), fault=evidence.name(fault)))  # fmt: skip
    weak = [
        name
        for name in spiked(evidence)
        if 2 * sum(one.by_control[name][0] > 0 for one in noses(evidence)) < len(evidence.roles)
    ]
    if weak:
        made.append(said("stronger_dose", KNOWN, tuple(weak), kind="advice", controls=weak,
                         n=len(weak)))  # fmt: skip
    few = max((one.sound for one in every), default=0)
    cups = max((one.cups for one in every), default=0)
    if clean(evidence) and few < cups:
        made.append(said("more_clean", KNOWN, kind="advice", sound=few, cups=cups))
    return made


def silence_allows(cups: int) -> float:
    """Return the largest share of false notes that silence in `cups` sound cups still allows.

    Exact (Clopper and Pearson), upper 95 % limit of 0 of n.

    >>> round(silence_allows(4), 2)
    0.6
    """
    return float(betaincinv(1, cups, 1 - ALPHA / 2))
