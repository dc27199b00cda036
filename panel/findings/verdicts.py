"""One verdict for each bottle and question: box, table, advice and sections are written from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..session.bottles import liquids
from . import balance, differences, measured, promise, tainted, ticks
from .budget import Budget, gap_of
from .design import MANY
from .evidence import BALANCE, QUALITY, SCALED, TASTINGS, Evidence, once
from .statement import Statement, joined

if TYPE_CHECKING:
    from collections.abc import Callable

    from ..session.bottles import Bottle

SECTION = "decide"
QUESTIONS = (
    "do", "difference", "quality", "sweetness", "numbers", "faults", "words", "promise",
)  # fmt: skip
RANK_DO = 56
ALL_FROM = 7
"""Bottles from which on one verdict on all of them names none."""
_CURED = ("sweet", "dry")
ROUGH = 0.1
"""Share of the scale by which a dry bottle is more sour, bitter or astringent than the others, from
which that may be what reads as dry (no source)."""
TASTERS = 4
"""People below which more of them are advised (no source)."""

JUDGED = (
    "quality", "aroma_quality", "aroma_grade", "grade", "demerit", "liking", "another_sip", "keep",
    "cloying",
)  # fmt: skip
"""Attributes of the cards that judge a sake: they make no label."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BottleVerdict:
    """What a session says of one bottle on one question.

    Attributes
    ----------
    sample, question : str
        The question is one of `QUESTIONS`.
    key : str
        The verdict's name, for those that advice hangs on.
    text : Sentence
        The cell of the table of decisions.
    """

    sample: str
    question: str
    key: str
    text: Sentence


@once
def verdicts(evidence: Evidence, budget: Budget) -> list[BottleVerdict]:
    """Return the verdicts on every product, for the questions that this session asked."""
    scored = set(evidence.scores["attribute"])
    makers: dict[str, Callable[[str], Sentence]] = {}
    if evidence.attributes(*SCALED) and len(evidence.products) > 1:
        makers["difference"] = lambda name: differences.bottle_order(evidence, budget, name)
    if QUALITY in scored:
        makers["quality"] = lambda name: differences.quality_of(evidence, budget, name)
    if BALANCE in scored:
        makers["sweetness"] = lambda name: balance.cell(evidence, name)
    if measured.chemistry_of(evidence):
        makers["numbers"] = lambda name: measured.cell(evidence, name, budget)
    if evidence.attributes(Kind.FAULTS):
        makers["faults"] = lambda name: tainted.cell(evidence, name)
    if ticks.SECTION in ticks.questions(evidence):
        makers["words"] = lambda name: ticks.cell(evidence, budget, name)
    if evidence.promise_pair is not None:
        makers["promise"] = lambda name: promise.cell(evidence, budget, name)
    found = []
    for sample in evidence.products:
        key = to_do(evidence, sample)
        found.append(
            BottleVerdict(
                sample=sample,
                question="do",
                key=key,
                text=with_care(evidence, sample, decided(evidence, sample)),
            )
        )
        for question, make in makers.items():
            text = make(sample)
            found.append(
                BottleVerdict(
                    sample=sample,
                    question=question,
                    key=text.key.rpartition(".")[2],
                    text=text,
                )
            )
    return found


def decided(evidence: Evidence, sample: str) -> Sentence:
    """Say in a cell what to do with a bottle."""
    key = _with_taste(evidence, sample, to_do(evidence, sample))
    return sentence(f"findings.do_cell_{key}")


def with_care(evidence: Evidence, sample: str, what: Sentence) -> Sentence:
    """Put how a bottle is kept and opened behind all that is decided of it: it is no reason."""
    bottle = evidence.bottle(sample)
    raw = bottle.pasteurised == "0"
    care = "both" if bottle.lively and raw else "pressure" if bottle.lively else "raw" * raw
    return sentence(f"findings.do_cell_care_{care}", what=what) if care else what


def _cared_for(evidence: Evidence) -> list[Statement]:
    """Say which bottles are raw, all of them, and which may be under pressure, and why."""
    lively = [name for name in evidence.products if evidence.bottle(name).lively]
    raw = [name for name in evidence.products if evidence.bottle(name).pasteurised == "0"]
    said = [_advice("care_raw", raw, called=_liquids(evidence, raw))] if raw else []
    if lively:
        why = dict.fromkeys(_why_lively(evidence.bottle(name)) for name in lively)
        listed = [sentence(f"findings.care_why_{one}") for one in why]
        called = _liquids(evidence, lively)
        said.append(_advice("care_pressure", lively, called=called, why=listed))
    return said


def _why_lively(bottle: Bottle) -> str:
    """Return raw (and cloudy), open (cloudy, and nobody said whether heated), or gas."""
    if bottle.gas:
        return "gas"
    return "open" if bottle.pasteurised == "" else "raw"


@once
def to_do(evidence: Evidence, sample: str) -> str:
    """Return the one decision on a bottle.

    hold, age (an aged bottle, noted as stale: it may be its age), unjudged (the panel's word on
    a fault is void), thin (one tasting only), recheck, hint (one note alone), open (too few for
    their silence to count), swapped (a clean and a spiked control look exchanged), bounded (the
    panel missed a spike), failed (it noted a fault in a sound bottle), maker (nobody independent
    tasted), unheard (no answer about faults), unasked (not on the card), pass.
    """
    found = tainted.decision(evidence, sample)
    own = evidence.scores[evidence.scores["sample"] == sample]
    if found == "hold":
        return "hold"
    if len(own[["assessor", "replicate"]].drop_duplicates()) < TASTINGS:
        return "thin"
    if found == "unjudged":
        return "unjudged"
    if len(evidence.makers) == len(evidence.people):
        return "maker"
    return found


def _with_taste(evidence: Evidence, sample: str, key: str) -> str:
    """Add to a verdict how a bottle without a fault is off balance, or how doubtful a fault is."""
    if key == "hold" and tainted.doubtful(evidence, sample):
        return "hold_doubtful"
    if key == "hint" and tainted.single_notes(evidence, sample) > 1:
        return "hint_several"
    if key == "hint" and tainted.stands_against_nothing(evidence, sample):
        return "hint_slight"
    return f"{key}_{off}" if key == "pass" and (off := _off(evidence, sample)) else key


def _off(evidence: Evidence, sample: str) -> str:
    """Return sweet or dry for a bottle that more than half of several assessors found so."""
    if BALANCE not in set(evidence.scores["attribute"]):
        return ""
    for row in balance.counts(evidence).to_dict("records"):
        how = balance.standing(row)
        if str(row["sample"]) == sample and how in _CURED and row["n"] > 1:
            return how
    return ""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Advise on each bottle, on blends, labels and the next brew, each with its ground."""
    every: dict[str, list[str]] = {}
    for sample in evidence.products:
        key = _with_taste(evidence, sample, to_do(evidence, sample))
        every.setdefault(key, []).append(sample)
    order = (
        "age", "recheck", "hint", "hint_several", "hint_slight", "open", "thin", "unjudged",
        "swapped", "bounded", "failed", "maker", "unheard", "unasked", "pass_sweet", "pass_dry",
        "pass",
    )  # fmt: skip
    said = [
        _advice(
            f"do_{key}",
            every[key],
            rank=RANK_DO,
            box="findings.box_do",
            all_of=len(evidence.products),
        )
        for key in order
        if key in every
    ]
    said += _cared_for(evidence)
    said += _cures(evidence)
    said += _promises(evidence, budget)
    said += _label(evidence, budget)
    said += _next(evidence, warned="maker" in every)
    return said


def _liquids(evidence: Evidence, names: list[str]) -> list[str]:
    """Name each bottle once that portions were poured from."""
    return liquids(evidence.bottle(name) for name in names)


def _advice(
    key: str, about: list[str], *, rank: int | None = None, box: str = "", all_of: int = 0,
    called: list[str] | None = None, **values: object,
) -> Statement:  # fmt: skip
    every = ALL_FROM <= len(about) == all_of
    names = called or about
    named = sentence("findings.all_samples", n=all_of) if every else names
    return Statement(
        kind="advice",
        about=tuple(about),
        sentence=sentence(f"findings.{key}", samples=named, n=len(names), **values),
        section=SECTION,
        rank=rank,
        box=box,
        brief=sentence(f"findings.brief_{key}", samples=named, n=len(about)) if box else "",
    )


def _cures(evidence: Evidence) -> list[Statement]:
    """Propose what to try against a bottle that most found too sweet or too dry."""
    held = tainted.held(evidence)
    found: dict[str, list[str]] = {}
    for sample in evidence.products:
        how = _off(evidence, sample)
        if how and sample not in held:
            found.setdefault(how, []).append(sample)
    every: dict[str, list[str]] = {"sweet": found.get("sweet", [])}
    for name in found.get("dry", []):
        every.setdefault(reads_as_dry(evidence, name), []).append(name)
    return [_advice(f"cure_{how}", names) for how, names in every.items() if names]


def reads_as_dry(evidence: Evidence, sample: str) -> str:
    """Name what a bottle's dryness may come of: sour, rough or, as far as is known, dry itself.

    Sour: its acidity is the highest of all bottles and `ROUGH` of the scale above the mean of
    the others. Rough: bitterness or astringency is so, and sweetness is not the lowest.
    """
    means = evidence.means
    others = [name for name in evidence.products if name != sample]
    if not others:
        return "dry"
    lowest = True
    if measured.SWEET in means:
        sweet = means[measured.SWEET]
        lowest = not sweet[sample] > sweet[others].min()
    for name, how in (("acidity", "sour"), ("bitterness", "rough"), ("astringency", "rough")):
        if name not in means or (how == "rough" and lowest):
            continue
        rest = means[name][others]
        question = evidence.question(name)
        by = means[name][sample] - rest.mean()
        if means[name][sample] > rest.max() and by >= ROUGH * (question.high - question.low):
            return how
    return "dry"


def _promises(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say where a label may speak of the nose alone, and which bottle keeps its promise."""
    found = promise.gaps(evidence)
    if found is None or isinstance(found, AnalysisError):
        return []
    gap = found.table.set_index("sample")["difference"]
    held = tainted.held(evidence)
    said = []
    for one in budget.claimed("gap"):
        if one.about != gap_of("promise", evidence):
            continue
        below = [name for name in dict.fromkeys(low for _, low in one.pairs) if gap[name] < 0]
        below = [name for name in below if name not in held]
        over = dict.fromkeys(high for high, _ in one.pairs)
        keeps = [name for name in over if name not in (*below, *held)]
        if below:
            more = sentence("findings.keeps_more", keeps=keeps, n=len(keeps)) if keeps else ""
            said.append(_advice("promise", below, more=more))
    return said


def _label(evidence: Evidence, budget: Budget) -> list[Statement]:
    if ticks.SECTION not in ticks.questions(evidence) or len(evidence.products) < 2:
        return []
    held = tainted.held(evidence)
    found = ticks.label_words(evidence, budget)
    words = {sample: names for sample, names in found.items() if sample not in held}
    if words:
        listed = [
            sentence(
                "findings.label_of",
                sample=sample,
                words=[evidence.name(name) for name in names],
            )
            for sample, names in words.items()
        ]
        return [_advice("label", list(words), listed=listed)]
    # Words that no label may take: of bottles that are held back, or not of the smell.
    other = "_held" if found else "_words" if budget.claimed("word") else ""
    given = [] if other else _given(evidence, held)
    told = budget.claimed("scale", "balance")
    fit = [one for one in told if one.kind == "scale" and one.about not in JUDGED]
    if fit:
        names = [evidence.name(one.about) for one in fit]
        return [_advice(f"label_scales{other}", [], attributes=names), *given]
    if told and not other:
        return [_advice("label_none_judged", []), *given]
    return [_advice(f"label_none{other}", []), *given]


def _given(evidence: Evidence, held: list[str]) -> list[Statement]:
    """Name the words that half or more gave, though none is shown to tell the bottles apart."""
    free = [name for name in evidence.products if name not in held]
    names = ticks.questions(evidence)[ticks.SECTION]
    told = [line for name in free if (line := ticks.given_to(evidence, name, names))]
    return [_advice("label_given", [], listed=joined(told))] if told else []


def _next(evidence: Evidence, *, warned: bool = False) -> list[Statement]:
    """Say what the next session would have to be, for what this one could not tell."""
    said = []
    bottles = [evidence.bottle(name) for name in evidence.products]
    if len(bottles) == 1:
        controls = any(bottle.control for bottle in evidence.bottles)
        key = "next_second_bottle_only" if controls else "next_second_bottle"
        said.append(_advice(key, [], rank=RANK_DO + 1))
    if len(evidence.people) == 1:
        maker = "maker" if evidence.makers else "taster"
        said += [] if warned else [_advice(f"next_other_{maker}", [], rank=RANK_DO + 1)]
    elif len(evidence.people) < TASTERS and len(bottles) > 1:
        said.append(_advice("next_more_tasters", [], people=len(evidence.people)))
    twins = any(bottle.twin for bottle in evidence.bottles)
    if evidence.replicates < 2 and len(evidence.people) > 1 and not twins:
        many = len(evidence.samples) >= MANY
        said.append(_advice("next_twice_many" if many else "next_twice", []))
    if evidence.attributes(Kind.FAULTS) and not tainted.controls(evidence):
        said.append(_advice("next_control", []))
    elif tainted.missed(evidence) and not tainted.swapped(evidence):
        said.append(_advice("next_train", []))
    tanks = {bottle.tank for bottle in bottles}
    if len(bottles) > 1 and len(tanks) == 1 and tanks != {""}:
        said.append(_advice("next_tank", []))
    if "consumer" in evidence.roles.values():
        consumers = [code for code, role in evidence.roles.items() if role == "consumer"]
        said.append(_advice("next_consumers", [], people=len(consumers)))
    elif evidence.products:
        said.append(_advice("next_drinkers", []))
    return _one_in_box(said, several=len(bottles) > 1)


def _one_in_box(said: list[Statement], *, several: bool) -> list[Statement]:
    """Put the first of what to do next time into the box, if none of it stands there."""
    if any(one.rank is not None for one in said) or not several:
        return said
    if len(said) == 1:  # whom it holds for is no step
        said = [_advice("next_name", []), *said]
    return [replace(said[0], rank=RANK_DO + 1), *said[1:]]
