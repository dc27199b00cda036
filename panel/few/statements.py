"""Everything that the report of a few assessors says, as a list of statements."""

from __future__ import annotations

from dataclasses import replace

from ..base.words import Sentence, sentence
from ..findings import design, tainted, verdicts
from ..findings.evidence import Evidence
from ..findings.statement import Line, Statement
from . import (
    bottles,
    choices,
    crossed,
    fair_pairs,
    how_sure,
    not_told_apart,
    numbers_few,
    one_against,
    one_side,
    put_in_order,
    suspected,
    tasters,
    together,
    turned,
    words_few,
)
from .side_by_side import BOTTLES, SURE, people
from .tasters import NOTHING_CLAIMED, said

RANK_WHO = 8
_OWN_DESIGN = (
    "confounded",
    "confounded_more",
    "maker_counts",
    "two_once",
    "two_claimed",
    "two_tasters",
    "all_experts",
)
"""What the design says otherwise of a large panel; here it is said shorter."""
_SHORTER = {
    "findings.next_control": "few_report.next_control",
    "findings.silence_no_control": "few_report.silence_no_control",
    "findings.whole_numbers": "few_report.coarse",
    "findings.care_raw": "few_report.care_raw",
    "findings.care_pressure": "few_report.care_pressure",
}
"""What a report of many says at length, and this one in fewer words."""
_CONTROL = "findings.next_control"
_ADVICE = ("findings.do_", "findings.care_", _CONTROL,
           "findings.next_other_", "findings.next_train")  # fmt: skip


def statements(evidence: Evidence) -> list[Statement]:
    """Return all statements, in the order of the report's sections."""
    made = [
        *_who(evidence),
        *_design(evidence),
        *fair_pairs.statements(evidence),
        *put_in_order.shared(evidence),
        *crossed.statements(evidence),
        *put_in_order.parted(evidence),
        *how_sure.statements(evidence),
        *not_told_apart.statements(evidence),
        *how_sure.basis(evidence),
        *_advice(evidence),
        *bottles.statements(evidence),
        *_second_bottle(evidence),
        *suspected.statements(evidence),
        *choices.statements(evidence),
        *tasters.statements(evidence),
        *one_against.statements(evidence),
        *turned.statements(evidence),
        *one_side.statements(evidence),
        *together.statements(evidence),
        *(replace(one, sentence=_shorter(one.sentence)) for one in words_few.statements(evidence)),
        *numbers_few.statements(evidence),
    ]
    # That steps are equal says already what whole numbers may hide.
    equal = any(_key(one) == "equal_steps" for one in made)
    return [one for one in made if not (equal and _key(one) == "coarse")]


def _who(evidence: Evidence) -> list[Statement]:
    listed = [
        sentence("few_report.who_one", assessor=one.code, role=sentence(f"report.role_{one.role}"))
        for one in evidence.people
    ]
    times = (
        sentence("few_report.once")
        if evidence.replicates == 1
        else sentence("few_report.more", n=evidence.replicates)
    )
    made = [said("description", "who", section=SURE, rank=RANK_WHO, people=listed, times=times)]
    inside_ = evidence.makers and not evidence.maker_apart and len(people(evidence)) > 1
    if inside_ and len(evidence.makers) < len(people(evidence)):
        makers = list(evidence.makers)
        made.append(
            said("caution", "maker_counts" if evidence.maker_in_means else "maker_counts_all",
                 tuple(makers), section=SURE, rank=design.RANK,
                 makers=makers)
        )  # fmt: skip
    return made


def _design(evidence: Evidence) -> list[Statement]:
    """Say what the serving allows, and what it forbids."""
    return [
        replace(one, section=SURE, sentence=_shorter(one.sentence))
        for one in design.statements(evidence, NOTHING_CLAIMED)
        if _key(one) not in _OWN_DESIGN
    ]


def _key(one: Statement) -> str:
    return "" if isinstance(one.sentence, str) else one.sentence.key.rpartition(".")[2]


def _advice(evidence: Evidence) -> list[Statement]:
    """Keep of the advice what holds for few assessors: decisions, care, cures, controls."""
    # Controls are asked for beside a second bottle of what is held back.
    again = tainted.held(evidence) or suspected.suspected(evidence)
    kept = tuple(key for key in _ADVICE if key != _CONTROL or not again)
    return [
        replace(one, section=BOTTLES, sentence=_shorter(one.sentence))
        for one in verdicts.statements(evidence, NOTHING_CLAIMED)
        if isinstance(one.sentence, Sentence) and one.sentence.key.startswith(kept)
    ]


def _shorter(line: Line) -> Line:
    """Say in fewer words what a report of many says at length."""
    if isinstance(line, Sentence) and line.key in _SHORTER:
        return replace(line, key=_SHORTER[line.key])
    return line


def _second_bottle(evidence: Evidence) -> list[Statement]:
    """Ask for a second bottle of what is held back: the fault may be this bottle's alone."""
    held = tainted.held(evidence)
    if not held:
        return []
    return [
        said("advice", "second_bottle", tuple(held), section=BOTTLES, bottles=held, n=len(held))
    ]
