"""One line a bottle: what stands out for everybody, quality, balance, words, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings import measured, tainted, verdicts
from ..findings.evidence import BALANCE, QUALITY, Evidence, once
from ..findings.statement import Line, Statement, joined, signed
from ..findings.verdicts import BottleVerdict
from .directions import sure, widest
from .side_by_side import ALIKE, Row, people, rows, shared
from .tasters import NOTHING_CLAIMED, inside, mirrored
from .together import SWEET, misfits, reach
from .words_few import TWO, by
from .words_few import told as told_words

if TYPE_CHECKING:
    from collections.abc import Callable

SECTION = "decide"
QUESTIONS = ("stands", "quality", "balance", "numbers", "faults", "words", "do")
APART = (QUALITY, BALANCE)
"""What has a column of its own."""
LOWER = 1.0
"""Points below the mean of the others from which a bottle that is last in quality for
everybody is advised against by itself (a convention, no source)."""
ACIDITY = "acidity"
"""What is measured better than tasted."""
SHOWN = 1.0
"""Points above the mean of the other bottles, for everybody, from which a label may speak of it
(a convention, no source)."""
MOST_SAID = 3
"""Attributes that a label is advised to speak of, the likeliest."""
UNHEARD = ("unasked", "unheard")
FREE = ("open", "pass", "unasked", "unheard", "age")
"""Decisions on a fault beside which a label is spoken of."""
DOUBTED = ("hint", "recheck")
"""Decisions on a bottle in which a fault is suspected."""
HALF = 0.5
"""Share of the sheets above which such a side speaks against a bottle."""
FEWEST_SAY = 0.25
"""Share of the sheets from which a side that they find a bottle on, and no ground, is told."""
BORNE = 0.5
"""Points by which those who find a bottle too sweet mark it sweeter than the others, on average,
from which the advice is given where not every sheet says so (a convention, no source)."""
_OTHER = {"sweet": "dry", "dry": "sweet"}
_RIGHT, _CLOSE = 0.0, 1e-9


def row_of(evidence: Evidence, attribute: str) -> Row | None:
    """Return one attribute's sheets, if it was marked."""
    return next((row for row in rows(evidence) if row.attribute == attribute), None)


@once
def cells(evidence: Evidence) -> list[BottleVerdict]:
    """Return what the table of bottles says, for the questions that this session asked."""
    makers: dict[str, Callable[[str], Sentence]] = {
        "stands": lambda name: stands(evidence, name),
        "do": lambda name: what_to_do(evidence, name),
    }
    if row_of(evidence, QUALITY) is not None:
        makers["quality"] = lambda name: place(evidence, name)
    if row_of(evidence, BALANCE) is not None:
        makers["balance"] = lambda name: balance_cell(evidence, name)
    if measured.chemistry_of(evidence):
        sweet = row_of(evidence, SWEET)
        ends = {sweet.end(1), sweet.end(-1)} if sweet is not None else set()
        makers["numbers"] = lambda name: measured.cell(evidence, name, shared=name in ends)
    if evidence.attributes(Kind.FAULTS):
        makers["faults"] = lambda name: tainted.cell(evidence, name)
    if evidence.attributes(Kind.TICKS):
        makers["words"] = lambda name: words_cell(evidence, name)
    decided = {
        one.sample: one.key
        for one in verdicts.verdicts(evidence, NOTHING_CLAIMED)
        if one.question == "do"
    }
    made = []
    for name in evidence.products:
        for question in QUESTIONS:
            if question in makers:
                text = makers[question](name)
                key = decided[name] if question == "do" else text.key.rpartition(".")[2]
                made.append(BottleVerdict(sample=name, question=question, key=key, text=text))
    return made


def stands(evidence: Evidence, bottle: str) -> Sentence:
    """Say in what everybody puts a bottle at the upper or the lower end."""
    parts = [
        sentence(f"few_report.stands_{key}", attributes=[evidence.name(r.attribute) for r in own])
        for key, sign in (("high", 1), ("low", -1))
        if (own := [r for r in shared(evidence, bottle, sign) if r.attribute not in APART])
    ]
    if not parts:
        return sentence("few_report.stands_nothing")
    if len(parts) == 1:
        return parts[0]
    return sentence("few_report.stands_both", first=parts[0], second=parts[1])


def place(evidence: Evidence, bottle: str) -> Sentence:
    """Say where a bottle stands in each one's order of quality; none within own scatter."""
    row = row_of(evidence, QUALITY)
    if row is None or bottle not in row.marks:
        return sentence("few_report.cell_none")
    listed = []
    far, none = reach(evidence), []
    for code in row.marks.index:
        own = row.marks.loc[code].dropna()
        if bottle in own and str(code) in far and float(np.ptp(own)) < far[str(code)] - ALIKE:
            none.append(str(code))
        elif bottle in own:
            above = int((own > own[bottle] + ALIKE).sum())
            tied = int(((own - own[bottle]).abs() <= ALIKE).sum()) > 1
            key = "place_tied" if tied else "place"
            listed.append(
                sentence(f"few_report.{key}", assessor=str(code), place=above + 1, of=len(own))
            )
    if none:
        listed.append(sentence("few_report.place_none", assessors=none))
    return sentence("few_report.places", listed=listed)


@once
def balances(evidence: Evidence) -> dict[str, dict[str, dict[str, int]]]:
    """Return by bottle and side (sweet, dry, right) how often each assessor said it."""
    table = evidence.rows([BALANCE], everybody=True)
    found: dict[str, dict[str, dict[str, int]]] = {}
    for row in table.to_dict("records"):
        score = float(row["score"])
        side = "right" if abs(score) <= _CLOSE else "sweet" if score > _RIGHT else "dry"
        own = found.setdefault(str(row["sample"]), {}).setdefault(side, {})
        own[str(row["assessor"])] = own.get(str(row["assessor"]), 0) + 1
    return {
        bottle: {side: evidence.by_roster(by_code) for side, by_code in sides.items()}
        for bottle, sides in found.items()
    }


def balance_cell(evidence: Evidence, bottle: str) -> Sentence:
    """Say on how many sheets a bottle was too sweet, too dry or just right, and whose."""
    own = balances(evidence).get(bottle, {})
    if not own:
        return sentence("few_report.cell_none")
    parts: list[Line] = [
        sentence(
            f"few_report.balance_{side}",
            n=sum(own[side].values()),
            who=[by(code, k, evidence.replicates) for code, k in own[side].items()],
        )
        for side in sorted(own, key=lambda side: -sum(own[side].values()))
    ]
    return sentence("few_report.parts", parts=joined(parts))


def off(evidence: Evidence, bottle: str) -> tuple[str, list[str]]:
    """Return the side on which more than half find a bottle, and who they are.

    Whose answers do not fit their own marks for sweetness are left out of those who find so.
    """
    own = balances(evidence).get(bottle, {})
    answered = {code for side in own.values() for code in side}
    doubted = misfits(evidence)
    for side in ("sweet", "dry"):
        mine = [
            code
            for code in people(evidence)
            if code not in doubted
            and 2 * own.get(side, {}).get(code, 0)
            > sum(given.get(code, 0) for given in own.values())
        ]
        if 2 * len(mine) > len(answered) and _borne(evidence, bottle, side, mine):
            return side, mine
    return "", []


def _borne(evidence: Evidence, bottle: str, side: str, mine: list[str]) -> bool:
    """Tell whether the marks for sweetness bear a side, where not every sheet lies on it."""
    own = balances(evidence).get(bottle, {})
    row = row_of(evidence, SWEET)
    if set(own) == {side} or row is None or bottle not in row.marks:
        return True
    gaps = row.from_others(bottle)
    mean = float(gaps[[code for code in mine if code in gaps.index]].mean())
    return (mean if side == "sweet" else -mean) >= BORNE


def _advised(evidence: Evidence, bottle: str) -> bool:
    return any(how in ("sweet", "dry") for how, _ in tasted(evidence, bottle))


def words_cell(evidence: Evidence, bottle: str) -> Sentence:
    """Name the words that two or more gave a bottle."""
    found = told_words(evidence, bottle)
    if not found:
        return sentence("few_report.no_words")
    return sentence("few_report.words_of", words=[evidence.name(name) for name in found])


@once
def last_for_all(evidence: Evidence, bottle: str) -> bool:
    """Tell whether everybody puts a bottle last in quality, well below the others."""
    row = row_of(evidence, QUALITY)
    if row is None or len(row.marks) < 2 or row.end(-1) != bottle:
        return False
    return bool((row.from_others(bottle) <= -LOWER).all())


@once
def parted_on(evidence: Evidence, bottle: str) -> bool:
    """Tell whether one puts a bottle well above the others in quality, and one well below."""
    row = row_of(evidence, QUALITY)
    if row is None or bottle not in row.marks or not row.whole:
        return False
    gaps = row.from_others(bottle)
    widest = max(float(np.ptp(row.from_others(one))) for one in row.marks.columns)
    here = float(np.ptp(gaps)) >= widest - ALIKE
    return bool(here and gaps.max() >= LOWER and gaps.min() <= -LOWER)


def style_in_it(evidence: Evidence, bottle: str) -> bool:
    """Tell whether a split over quality may be one of style.

    Somebody likes or dislikes the style, or more than half find the bottle too sweet or too dry.
    """
    known = any(one.style in ("likes", "dislikes") for one in evidence.people)
    return known or bool(off(evidence, bottle)[0])


@once
def tasted(evidence: Evidence, bottle: str) -> list[tuple[str, list[str]]]:
    """Return what the taste of a bottle advises and whose it is.

    Last, parted (over style) or split, sweet, dry. A bottle that is held back for a fault gets
    no other advice.
    """
    everybody = people(evidence)
    if tainted.decision(evidence, bottle) == "hold" or len(everybody) == 1:
        return []
    if last_for_all(evidence, bottle):
        return [("last", everybody)]
    found = []
    noted = tainted.decision(evidence, bottle) in DOUBTED
    if not noted and parted_on(evidence, bottle):
        found = [("parted" if style_in_it(evidence, bottle) else "split", everybody)]
    side, whose = off(evidence, bottle) if row_of(evidence, BALANCE) is not None else ("", [])
    return [*found, (side, whose)] if side else found


def what_to_do(evidence: Evidence, bottle: str) -> Sentence:
    """Say the one decision on a bottle, and what its taste advises beside it."""
    text = verdicts.decided(evidence, bottle)
    for how, _ in tasted(evidence, bottle):
        text = sentence(f"few_report.do_{how}", what=text)
    return verdicts.with_care(evidence, bottle, text)


def statements(evidence: Evidence) -> list[Statement]:
    """Advise on each bottle by its taste, with the ground; then on those that show little."""
    made = [
        _advice(evidence, bottle, how, whose)
        for bottle in evidence.products
        for how, whose in tasted(evidence, bottle)
    ]
    if len(people(evidence)) == 1:
        return made
    return [*made, *_described(evidence), *_brewed(evidence)]


def _advice(evidence: Evidence, bottle: str, how: str, whose: list[str]) -> Statement:
    row = row_of(evidence, QUALITY)
    gaps = [] if row is None else list(row.from_others(bottle).dropna().items())
    listed = [
        sentence("few_report.maker_other", assessor=str(code), by=signed(float(gap)))
        for code, gap in gaps
    ]
    every = len(whose) == len(people(evidence))
    # What may be a fault is cleared first: a blend would carry it on.
    doubted = tainted.decision(evidence, bottle) in DOUBTED
    cleared: Line = sentence("few_report.cleared") if doubted else ""
    return Statement(
        kind="advice",
        about=(bottle,),
        sentence=sentence(
            f"few_report.taste_{how}",
            bottle=bottle,
            listed=listed,
            who=inside(evidence) if every else whose,
            own=_own(evidence, bottle) if how in ("parted", "split") else "",
            cleared=cleared,
            other=partner(evidence, bottle, how) or sentence(f"few_report.partner_{how}")
            if how in ("sweet", "dry")
            else "",
        ),
        section=SECTION,
        rank=verdicts.RANK_DO + 1,
        box="few_report.box_taste",
        brief=sentence(
            f"few_report.brief_{'last_cleared' if doubted and how == 'last' else how}",
            bottle=bottle,
            cleared=cleared,
        ),
    )


def _own(evidence: Evidence, bottle: str) -> Line:
    """Name who sets a bottle apart in quality beyond own scatter: taste, and not care."""
    row, far = row_of(evidence, QUALITY), reach(evidence)
    if row is None or not far:
        return ""
    gaps = row.marks.sub(row.marks[bottle], axis=0).abs().max(axis=1)
    codes = [str(code) for code, gap in gaps.items() if float(gap) >= far[str(code)]]
    return sentence("few_report.own_taste", assessors=codes) if codes else ""


def partner(evidence: Evidence, bottle: str, how: str) -> str:
    """Return the bottle of this tasting to blend one with that is off balance; "" for none.

    The one furthest the other way in balance for everybody, not held back, as often pasteurised
    and of the same tank as far as known.
    """
    row = row_of(evidence, BALANCE)
    if row is None or bottle not in row.marks:
        return ""
    own, sign = evidence.bottle(bottle), 1 if how == "sweet" else -1
    found = [
        (sign * float(row.marks[name].mean()), str(name))
        for name in row.marks.columns
        if name != bottle
        and _between(row, bottle, str(name), sign)
        and tainted.decision(evidence, str(name)) != "hold"
        and not off(evidence, str(name))[0]
        and evidence.bottle(str(name)).pasteurised == own.pasteurised
        and evidence.bottle(str(name)).tank == own.tank
    ]
    return min(found)[1] if found else ""


def _between(row: Row, bottle: str, other: str, sign: int) -> bool:
    """Tell whether a bottle lies further that way than another for some, and for nobody less."""
    gaps = sign * (row.marks[bottle] - row.marks[other])
    return bool((gaps >= -ALIKE).all() and (gaps > ALIKE).any())


def own_of(evidence: Evidence, bottle: str) -> list[str]:
    """Return what describes a bottle: what everybody put highest in it, and shared words."""
    words = [evidence.name(name) for name in told_words(evidence, bottle)]
    return [*(evidence.name(name).lower() for name in _highest(evidence, bottle)), *words]


def _highest(evidence: Evidence, bottle: str) -> list[str]:
    """Return the attributes that everybody put highest in a bottle, the surest first."""
    high = [
        row
        for row in shared(evidence, bottle, 1)
        if row.attribute not in (*APART, ACIDITY) and row.from_others(bottle).min() >= SHOWN
    ]
    surest = sorted(high, key=lambda row: _doubt(evidence, row.attribute))[:MOST_SAID]
    return [row.attribute for row in surest]


def _surely(evidence: Evidence, bottle: str) -> list[str]:
    """Return the other bottles than which all that describes one is surely higher in it."""
    if told_words(evidence, bottle):
        return []
    told = {(one.attribute, one.low) for one in sure(evidence) if one.high == bottle}
    return [
        other
        for other in evidence.products
        if other != bottle and all((name, other) in told for name in _highest(evidence, bottle))
    ]


def _label_of(evidence: Evidence, bottle: str) -> Sentence:
    """Write what describes a bottle; where it is sure beside some of the others, beside which."""
    beside = _surely(evidence, bottle)
    what = own_of(evidence, bottle)
    if 0 < len(beside) < len(evidence.products) - 1:
        return sentence("few_report.label_part", bottle=bottle, what=what, others=beside)
    return sentence("few_report.label_one", bottle=bottle, what=what)


def to_draw(evidence: Evidence, most: int) -> list[str]:
    """Return at most so many attributes to draw: quality, and those whose widest pair is surest."""
    lines = evidence.attributes(Kind.LINE)
    names = [row.attribute for row in rows(evidence) if row.attribute in lines]
    names.sort(key=lambda name: (name != QUALITY, _doubt(evidence, name)))
    return names[:most]


def _doubt(evidence: Evidence, attribute: str) -> float:
    pair = widest(evidence, attribute)
    return -pair.above if pair is not None else 0.0


def _described(evidence: Evidence) -> list[Statement]:
    """Say what a label may speak of; and of which bottles nothing of their own is shown."""
    doubted = {name for one in mirrored(evidence) for name in one[1:3]}
    free = [
        name
        for name in evidence.products
        if name not in doubted
        and tainted.decision(evidence, name) in FREE
        and "last" not in (how for how, _ in tasted(evidence, name))
    ]
    said_of = {name: own_of(evidence, name) for name in free}
    made = []
    spoken = [name for name in free if said_of[name]]
    if spoken:
        sided = {bottle for bottle, _, k, of in _to_one_side(evidence) if k > HALF * of}
        good = [name for name in spoken if not tasted(evidence, name) and name not in sided]
        plain_: Line = sentence("few_report.label_plain", bottles=good) if good else ""
        often = "two" if len(people(evidence)) <= TWO else "three"
        chance = sentence(f"few_report.label_chance_{often}")
        surely = [name for name in spoken if _surely(evidence, name)]
        by_key = {"label_sure": surely, "label": [one for one in spoken if one not in surely]}
        by_key = {key: names for key, names in by_key.items() if names}
        for key, names in by_key.items():
            made.append(
                _of(tuple(names), key, listed=joined([_label_of(evidence, one) for one in names]),
                    plain=plain_ if key == list(by_key)[-1] else "", chance=chance)
            )  # fmt: skip
    plain = [name for name in free if not said_of[name] and not tasted(evidence, name)]
    if plain:
        unasked = any(tainted.decision(evidence, name) in UNHEARD for name in plain)
        then = sentence(f"few_report.{'faults_first' if unasked else 'then_release'}")
        made.append(_of(tuple(plain), "nothing_own", bottles=plain, n=len(plain), then=then))
    return made


def _brewed(evidence: Evidence) -> list[Statement]:
    """Name bottles that some, but no majority, find too sweet or too dry: no ground to change."""
    found = _to_one_side(evidence)
    if not found or row_of(evidence, BALANCE) is None:
        return []
    listed = [
        sentence(f"few_report.brewed_{side}", bottle=bottle, k=given, of=sheets)
        for bottle, side, given, sheets in found
    ]
    return [_of(tuple(evidence.products), "brewed", listed=listed)]


def _to_one_side(evidence: Evidence) -> list[tuple[str, str, int, int]]:
    """Return bottle, side, answers and sheets where some find a bottle too sweet, or too dry."""
    found = []
    for bottle in evidence.products:
        own = balances(evidence).get(bottle, {})
        sheets = sum(sum(given.values()) for given in own.values())
        if _advised(evidence, bottle) or tainted.decision(evidence, bottle) == "hold":
            continue
        for side in ("sweet", "dry"):
            given, other = (sum(own.get(one, {}).values()) for one in (side, _OTHER[side]))
            if not other and FEWEST_SAY * sheets <= given and given:
                found.append((bottle, side, given, sheets))
    return found


def _of(about: tuple[str, ...], key: str, **values: object) -> Statement:
    return Statement(
        kind="advice",
        about=about,
        sentence=sentence(f"few_report.{key}", **values),
        section=SECTION,
    )
