"""Is a bottle held back for a fault; and what may this panel's silence, or its word, say?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ...analysis.core.wording import percent
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..session.bottles import CLEAN
from .evidence import QUALITY, Evidence, once
from .statement import Statement, joined

if TYPE_CHECKING:
    from ...analysis.citations.noted_faults import Faults

SECTION = "faults"
AGE_LIKE = frozenset({"fault:stale"})
"""Faults that smell like age (老香 beside 熟成香): a sheet without a line for it parts them not."""
STRONG = 2.0
"""Severity from which such a note holds an aged bottle back all the same, as `Rule.strong_from`."""
RANK_CONTROLS, RANK_HELD, RANK_AGAIN, RANK_NONE, RANK_GOOD = 10, 12, 38, 39, 40
HALF = 0.5
"""Share of the panel that finds a fault put in, or fails a sound control (no source)."""
REPEATED = 2
"""Tastings of a bottle, all with the same note, that make a nose a sure one (no source)."""
CANNOT_TELL = "fault_unsure:cannot_tell"
"""What is ticked by who cannot tell whether a bottle has a fault."""
SEVERAL = 2
"""Bottles held back from which on it is said that one alone, or none, is left (no source)."""
SLIGHT = 1.0
"""Median severity up to which what holds a bottle back is called a suspicion, where less than half
of its tastings brought it and nobody noted it in two (no source)."""
SLIGHT_OF = 4
"""Tastings of a bottle from which one slight note in one of them is weak: it asks for a look, and
holds no lot up (no source)."""
PANEL = 6
"""Assessors who count from which on such a note asks for nothing by itself (no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """What the panel made of one bottle that is known.

    Attributes
    ----------
    sample : str
    fault : str
        What was put in, or the fault most noted in a clean one; "" for none.
    kind : str
        found, missed (less than half noticed what was there), clear (nothing
        noted in a sound bottle), single (by less than half), false (by half
        or more).
    k, n : int
    """

    sample: str
    fault: str
    kind: str
    k: int
    n: int


@once
def noted(evidence: Evidence) -> Faults | None:
    """Count who noted which fault in which bottle; None where faults were not asked."""
    from ...analysis.citations.noted_faults import Controls, faults

    attributes = evidence.attributes(Kind.FAULTS)
    if not attributes:
        return None
    table = evidence.tidy(attributes, everybody=True, controls=True)
    judged = set(table.samples)
    rated = {name.partition(":")[2]: name for name in attributes}
    known = [bottle for bottle in evidence.bottles if bottle.control and bottle.name in judged]
    spiked = {bottle.name: rated[bottle.control] for bottle in known if bottle.control in rated}
    clean = [bottle.name for bottle in known if bottle.control == CLEAN]
    return faults(
        table,
        attributes=attributes,
        roles=evidence.roles,
        controls=Controls(spiked=spiked, clean=clean),
        written=evidence.written,
        earlier=evidence.earlier,
    )


@once
def controls(evidence: Evidence) -> list[Control]:
    """Judge the panel by the bottles that are known."""
    found = noted(evidence)
    if found is None:
        return []
    made = []
    for sample in evidence.samples:
        rows = found.controls[found.controls["sample"] == sample]
        if rows.empty:
            continue
        row = rows.sort_values("k", ascending=False, kind="stable").iloc[0]
        k, n = int(row["k"]), int(row["n"])
        if row["kind"] == "spiked":
            kind = "found" if k >= HALF * n else "missed"
        elif k == 0:
            kind = "clear"
        else:
            kind = "false" if k >= HALF * n else "single"
        made.append(Control(sample=sample, fault=str(row["fault"]), kind=kind, k=k, n=n))
    return made


@once
def swapped(evidence: Evidence) -> bool:
    """Tell whether a clean and a spiked control look exchanged: cups swapped?"""
    found = noted(evidence)
    if found is None:
        return False
    missed = {one.fault for one in controls(evidence) if one.kind == "missed"}
    wrong = found.controls[(found.controls["kind"] == "clean")]
    wrong = wrong[wrong["k"] >= HALF * wrong["n"]]
    return bool(missed & set(wrong["fault"]))


@once
def worthless(evidence: Evidence) -> set[str]:
    """Return the faults that half of the panel noted in a sound bottle."""
    found = noted(evidence)
    if found is None:
        return set()
    wrong = found.controls[found.controls["kind"] == "clean"]
    return {str(name) for name in wrong.loc[wrong["k"] >= HALF * wrong["n"], "fault"] if name}


@once
def missed(evidence: Evidence) -> set[str]:
    """Return the faults that less than half noticed where they had been put in."""
    return {one.fault for one in controls(evidence) if one.kind == "missed"}


@once
def decision(evidence: Evidence, sample: str) -> str:
    """Return what the rule asks for.

    hold, age, recheck, hint, open, pass, unjudged, swapped, bounded, failed, unheard, unasked:
    see `verdicts.to_do`.
    A fault that half of the panel noted in a sound bottle holds nothing back,
    and lets nothing pass.
    """
    found = noted(evidence)
    if found is None:
        return "unasked"
    own = found.table[found.table["sample"] == sample]
    if own.empty:
        return "unheard"
    void = worthless(evidence)
    sound = own[~own["fault"].isin(void)]
    holding = sound[sound["decision"] == "hold"]
    if len(holding):
        mild = holding["fault"].isin(AGE_LIKE) & (holding["severity"] < STRONG)
        return "age" if evidence.bottle(sample).aged and mild.all() else "hold"
    if void and (own.loc[own["fault"].isin(void), "k"] > 0).any():
        return "unjudged"
    for word in ("recheck", "hint"):
        if (sound["decision"] == word).any():
            return word
    if (sound["decision"] == "open").any():
        return "open"
    if missed(evidence):
        return "swapped" if swapped(evidence) else "bounded"
    return "failed" if void else "pass"


def single_notes(evidence: Evidence, sample: str) -> int:
    """Count the notes on faults of a bottle that are too few to taste it again for them."""
    found = noted(evidence)
    if found is None:
        return 0
    own = found.table[found.table["sample"] == sample]
    return int(own.loc[own["decision"] == "hint", "k"].sum())


@once
def held(evidence: Evidence) -> list[str]:
    """Return the bottles to hold back."""
    return [name for name in evidence.products if decision(evidence, name) == "hold"]


@once
def who_noted(evidence: Evidence, sample: str) -> set[str]:
    """Return who marked in a bottle a fault that holds it back."""
    return {
        who
        for fault in _holding(evidence, sample)
        for who, (k, _) in _cups(evidence, fault, sample).items()
        if k
    }


@once
def noted_cups(evidence: Evidence, sample: str) -> dict[str, set[int]]:
    """Return the tastings of a bottle in which each person marked a fault that holds it back.

    Of those alone who answered about faults in it.
    """
    rows = evidence.rows(_holding(evidence, sample), everybody=True, controls=True)
    rows = rows[rows["sample"] == sample].dropna(subset=["score"])
    found: dict[str, set[int]] = {str(code): set() for code in rows["assessor"].unique()}
    for code, own in rows[rows["score"] > 0].groupby("assessor", observed=True):
        found[str(code)] = {int(cup) for cup in own["replicate"]}
    return found


def quality_by_note(evidence: Evidence, sample: str) -> dict[str, tuple[list[str], list[str]]]:
    """Return each one's marks of a held-back bottle's quality, with the note and without it.

    Makers too; of those alone who noted it in some of their tastings and not in others.
    """
    rows = evidence.rows([QUALITY], everybody=True)
    rows = rows[rows["sample"] == sample].dropna(subset=["score"])
    noted = noted_cups(evidence, sample)
    found = {}
    for code in evidence.roles:
        own = rows[rows["assessor"] == code].sort_values("replicate")
        marks: tuple[list[str], list[str]] = [], []
        for cup, mark in zip(own["replicate"], own["score"], strict=True):
            marks[int(cup) not in noted.get(code, ())].append(f"{mark:g}")
        if code in noted and all(marks):
            found[code] = marks
    return found


@once
def slight_once(evidence: Evidence, sample: str) -> int:
    """Return the tastings of a bottle in which all that was noted is one slight note; else 0.

    At least `SLIGHT_OF` tastings, by two or more.
    """
    if decision(evidence, sample) != "hint":
        return 0
    table = evidence.rows(evidence.attributes(Kind.FAULTS), everybody=True)
    own = table[table["sample"] == sample].dropna(subset=["score"])
    given = own[own["score"] > 0]
    n = len(own[["assessor", "replicate"]].drop_duplicates())
    slight = len(given) == 1 and bool((given["score"] <= SLIGHT).all())
    return n if slight and own["assessor"].nunique() > 1 and n >= SLIGHT_OF else 0


def stands_against_nothing(evidence: Evidence, sample: str) -> bool:
    """Tell whether no fault was noted in a bottle, or by a panel of `PANEL` one slight one once."""
    of_panel = len(evidence.counted) >= PANEL
    found = decision(evidence, sample)
    return found == "pass" or (of_panel and slight_once(evidence, sample) > 0)


@once
def doubtful(evidence: Evidence, sample: str) -> bool:
    """Tell whether all that holds a bottle back is slight, rare among its tastings and unsteady.

    It is held back all the same, but as a suspicion.
    """
    found = noted(evidence)
    if found is None or sample not in held(evidence):
        return False
    own = found.of(sample)
    own = own[own["fault"].isin(_holding(evidence, sample))]
    return all(
        row["severity"] <= SLIGHT and row["cups"] == row["k"] and row["cups"] < HALF * tastings
        for row in own.to_dict("records")
        for tastings in [sum(n for _, n in _cups(evidence, str(row["fault"]), sample).values())]
    )


def statements(evidence: Evidence) -> list[Statement]:
    """Say what controls show, which bottles to hold back, and what was noted at all."""
    found = noted(evidence)
    if found is None:
        return []
    said = _about_controls(evidence)
    for sample in sorted(held(evidence), key=lambda name: doubtful(evidence, name)):
        listed, end = _listed(evidence, sample), "_doubtful" * doubtful(evidence, sample)
        why = _listed(evidence, sample, among=_holding(evidence, sample))
        said.append(
            Statement(
                kind="advice",
                about=(sample,),
                sentence=sentence(f"findings.hold{end}", sample=sample, listed=listed),
                section=SECTION,
                rank=RANK_HELD,
                box="findings.box_hold",
                brief=sentence(f"findings.brief_hold{end}", sample=sample, listed=why),
            )
        )
    said += _left(evidence)
    said += _perhaps_age(evidence, found)
    said += _shared(evidence, found)
    lone = [
        name
        for name in evidence.products
        if decision(evidence, name) not in ("hold", "age") and _listed(evidence, name)
    ]
    for name in lone:
        void = decision(evidence, name) == "unjudged"
        key = "findings.noted_void" if void else "findings.noted"
        said.append(
            Statement(
                kind="description",
                about=(name,),
                sentence=sentence(key, sample=name, listed=_listed(evidence, name)),
                section=SECTION,
                rank=None if void else RANK_AGAIN,
                box="" if void else "findings.box_noted",
                brief=sentence("findings.brief_hold", sample=name, listed=_listed(evidence, name)),
                name=name,
            )
        )
    heard = set(found.table["sample"])
    silent = [name for name in evidence.products if name in heard and not _listed(evidence, name)]
    unheard = [name for name in evidence.products if name not in heard]
    if unheard:
        said.append(_described("unheard", tuple(unheard), samples=unheard))
    if silent:
        said.append(_silence(evidence, found, silent, anything=bool(lone or held(evidence))))
    elif not controls(evidence):
        said.append(_described("no_control", ()))
    return said + _sure_noses(evidence, lone) + _spread(evidence, found)


def _left(evidence: Evidence) -> list[Statement]:
    """Say where one bottle alone of several, or none, is left that is not held back."""
    back = held(evidence)
    left = [name for name in evidence.products if name not in back]
    if len(back) < SEVERAL or len(left) > 1:
        return []
    return [
        Statement(
            kind="advice",
            about=tuple(left or back),
            sentence=sentence(f"findings.left_{'one' if left else 'none'}", samples=left),
            section=SECTION,
            rank=RANK_HELD,
        )
    ]


def _perhaps_age(evidence: Evidence, found: Faults) -> list[Statement]:
    """Say of a bottle stated to be aged that what was noted as stale may be its age."""
    rows = found.table[found.table["fault"].isin(AGE_LIKE) & (found.table["decision"] == "hold")]
    said = []
    for sample in evidence.products:
        if sample not in set(rows["sample"]) or not evidence.bottle(sample).aged:
            continue
        back = decision(evidence, sample) != "age"
        key = "findings.age_held" if back else "findings.age"
        listed = _listed(evidence, sample)
        said.append(
            Statement(
                kind="advice",
                about=(sample,),
                sentence=sentence(key, sample=sample, listed=listed),
                section=SECTION,
                rank=None if back else RANK_HELD + 1,
                box="" if back else "findings.box_age",
                brief=sentence("findings.brief_hold", sample=sample, listed=listed),
            )
        )
    return said


def _cups(evidence: Evidence, fault: str, sample: str) -> dict[str, tuple[int, int]]:
    """Return in how many of their tastings of a bottle people noted a fault."""
    return _all_cups(evidence).get((fault, sample), {})


@once
def _all_cups(evidence: Evidence) -> dict[tuple[str, str], dict[str, tuple[int, int]]]:
    """Return the same of every fault and bottle."""
    rows = evidence.scores
    rows = rows[rows["attribute"].isin(evidence.attributes(Kind.FAULTS))]
    keys = [rows[name].astype(str) for name in ("attribute", "sample", "assessor")]
    cups = (rows["score"] > 0).groupby(keys).agg(["sum", "size"])
    found: dict[tuple[str, str], dict[str, tuple[int, int]]] = {}
    for (fault, sample, who), k, n in cups.itertuples():
        found.setdefault((fault, sample), {})[who] = (int(k), int(n))
    return found


def _sure_noses(evidence: Evidence, lone: list[str]) -> list[Statement]:
    """Tell who noted a fault in every tasting of one bottle, and in no other: no one's slip."""
    said = []
    for sample in lone:
        for fault in evidence.attributes(Kind.FAULTS):
            cups = _cups(evidence, fault, sample)
            noted_it = [who for who, (k, _) in cups.items() if k]
            sure = [
                who
                for who in noted_it
                if cups[who][0] == cups[who][1] >= REPEATED
                and not any(
                    _cups(evidence, fault, other).get(who, (0, 0))[0]
                    for other in evidence.samples
                    if other != sample and evidence.bottle(other).control != _control_of(fault)
                )
            ]
            if not sure or sure != noted_it or len(sure) >= HALF * len(cups):
                continue
            said.append(
                Statement(
                    kind="advice",
                    about=(sample, fault, *sure),
                    sentence=sentence(
                        "findings.sure_nose",
                        sample=sample,
                        fault=evidence.name(fault),
                        who=[_with_role(evidence, one) for one in sure],
                        n=len(sure),
                        cups=cups[sure[0]][1],
                        of=len(cups),
                    ),
                    section=SECTION,
                    rank=RANK_AGAIN,
                )
            )
    return said


def _control_of(fault: str) -> str:
    return fault.partition(":")[2]


def _with_role(evidence: Evidence, who: str) -> Sentence | str:
    expert = evidence.roles[who] == "expert"
    return sentence("findings.who_expert", who=who) if expert else who


def _shared(evidence: Evidence, found: Faults) -> list[Statement]:
    """Say of a fault that holds back every bottle where to look before blaming them all."""
    if len(evidence.products) < 2 or controls(evidence):
        return []
    rows = found.table[found.table["decision"] == "hold"]
    return [
        Statement(
            kind="advice",
            about=(str(fault), *evidence.products),
            sentence=sentence("findings.fault_shared", fault=evidence.name(str(fault))),
            section=SECTION,
            rank=RANK_HELD + 1,
        )
        for fault, own in rows.groupby("fault", sort=False)
        if set(own["sample"]) >= set(evidence.products)
    ]


def _described(key: str, about: tuple[str, ...], **values: object) -> Statement:
    return Statement(
        kind="description",
        about=about,
        sentence=sentence(f"findings.{key}", **values),
        section=SECTION,
    )


def _spread(evidence: Evidence, found: Faults) -> list[Statement]:
    """Say of a fault that a few noted in every bottle, twice by nobody, that it marks none."""
    rows = found.table[found.table["sample"].isin(evidence.products)]
    said = []
    for fault, own in rows.groupby("fault", sort=False):
        several = len(own) > 1 and (own["k"] > 0).all() and (own["decision"] != "hold").all()
        if not several or (own["cups"] > own["k"]).any():
            continue
        each = [
            sentence(
                "findings.word_count", sample=str(row["sample"]), k=int(row["k"]), n=int(row["n"])
            )
            for row in own.to_dict("records")
        ]
        said.append(
            _described(
                "fault_spread",
                (str(fault), *evidence.products),
                fault=evidence.name(str(fault)),
                counts=each,
            )
        )
    return said


@once
def _holding(evidence: Evidence, sample: str) -> tuple[str, ...]:
    """Return the faults that hold a bottle back."""
    found = noted(evidence)
    if found is None:
        return ()
    own = found.table[(found.table["sample"] == sample) & (found.table["decision"] == "hold")]
    return tuple(str(name) for name in own["fault"] if name not in worthless(evidence))


@once
def _listed(
    evidence: Evidence, sample: str, *, among: tuple[str, ...] | None = None
) -> list[Sentence]:
    """Write what was noted in a bottle, most noted fault first; of some faults alone if given."""
    found = noted(evidence)
    if found is None:
        return []
    own = found.of(sample)
    return [
        sentence(
            "findings.fault_written"
            if row["k"] <= row["written"]
            else "findings.fault_count_one"
            if row["k"] == 1
            else "findings.fault_count",
            fault=evidence.name(str(row["fault"])),
            k=row["k"],
            n=row["n"],
            severity=f"{row['severity']:g}",
            written=sentence("findings.also_written", n=row["written"]) if row["written"] else "",
        )
        for row in own[own["k"] > 0].to_dict("records")
        if among is None or row["fault"] in among
    ]


def _silence(evidence: Evidence, found: Faults, silent: list[str], *, anything: bool) -> Statement:
    rows = found.table[found.table["sample"].isin(silent)]
    fewest = int(rows["n"].min())
    who = sentence(f"findings.silence_{'each' if fewest == rows['n'].max() else 'least'}", n=fewest)
    values = {"samples": silent, "who": who, "upper": percent(float(rows["upper"].max()))}
    key = "findings.silence"
    some = [one for one in controls(evidence) if one.kind == "found" and one.k < one.n]
    if some:
        key = "findings.silence_some"
        weakest = min(some, key=lambda one: one.k / one.n)
        values |= {"k": weakest.k, "n": weakest.n, "faults": [evidence.name(weakest.fault)]}
    if missed(evidence):
        key = "findings.silence_deaf"
        values["faults"] = [evidence.name(name) for name in sorted(missed(evidence))]
    elif len(evidence.people) == 1:
        key = "findings.silence_one"
    elif not controls(evidence):
        key = "findings.silence_no_control"
    return Statement(
        kind="description",
        about=tuple(silent),
        sentence=sentence(key, **values),
        section=SECTION,
        rank=None if anything else RANK_NONE,
    )


def _about_controls(evidence: Evidence) -> list[Statement]:
    if not controls(evidence):
        return []
    bad = [one for one in controls(evidence) if one.kind in ("missed", "false")]
    none = [one for one in bad if not one.k]
    said = [
        Statement(
            kind="caution" if one in bad else "description",
            about=(one.sample, one.fault) if one.fault else (one.sample,),
            sentence=sentence(
                f"findings.control_{one.kind}{'_none' if one in none else ''}",
                sample=one.sample,
                fault=evidence.name(one.fault) if one.fault else "",
                k=one.k,
                n=one.n,
            ),
            section=SECTION,
            rank=RANK_CONTROLS if one in bad else None,
        )
        for one in controls(evidence)
    ]
    if not bad and all(one.kind in ("found", "clear") for one in controls(evidence)):
        both = {one.kind for one in controls(evidence)} == {"found", "clear"}
        key = "controls_good" if both else f"controls_{controls(evidence)[0].kind}"
        rated = [evidence.name(one.fault) for one in controls(evidence) if one.kind == "found"]
        made = _described(key, tuple(one.sample for one in controls(evidence)), faults=rated)
        said.append(replace(made, rank=RANK_GOOD))
    said += [told for one in controls(evidence) if (told := _who_noted(evidence, one)) is not None]
    if swapped(evidence):
        said.append(
            Statement(
                kind="caution",
                about=tuple(one.sample for one in bad),
                sentence=sentence("findings.control_swapped"),
                section=SECTION,
                rank=RANK_CONTROLS,
            )
        )
    return said


def _who_noted(evidence: Evidence, control: Control) -> Statement | None:
    """Tell by name who noted a fault in a control, where people differ in it."""
    if not 0 < control.k < control.n:
        return None
    cups = _cups(evidence, control.fault, control.sample)
    groups = {
        "always": [who for who, (k, n) in cups.items() if k == n],
        "some": [who for who, (k, n) in cups.items() if 0 < k < n],
        "never": [who for who, (k, _) in cups.items() if not k],
    }
    parts = [sentence(f"findings.noted_{key}", who=who) for key, who in groups.items() if who]
    return _described(
        "control_who",
        (control.sample, control.fault),
        sample=control.sample,
        fault=evidence.name(control.fault),
        parts=joined(parts),
    )


def cell(evidence: Evidence, sample: str) -> Sentence:
    """Say for the table of decisions what was noted in a bottle."""
    listed = _listed(evidence, sample)
    if listed:
        return sentence("findings.cell_noted", listed=listed)
    found = noted(evidence)
    rows = found.table[found.table["sample"] == sample] if found is not None else None
    if rows is None or rows.empty:
        return sentence("findings.cell_none")
    n, unsure = int(rows["n"].min()), _unsure(evidence, sample)
    if unsure:
        return sentence("findings.cell_silent_unsure", n=n, k=unsure)
    return sentence("findings.cell_silent", n=n)


def _unsure(evidence: Evidence, sample: str) -> int:
    """Count who ticked of a bottle, in any tasting, that they cannot tell whether it has a fault.

    All who answered count, as they do beside it for those who ticked no fault.
    """
    table = evidence.rows([CANNOT_TELL], everybody=True)
    given = table[(table["sample"] == sample) & (table["score"] > 0)]
    return int(given["assessor"].nunique())
