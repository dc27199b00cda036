"""What the way in which the session was served allows to say, and what it forbids."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import fixed, limit
from ...forms.questions.question_types import Kind
from ...forms.questions.scorecard import default_scorecard
from ...forms.questions.words import languages
from ..base.words import Sentence, say, sentence
from ..session.conditions import how_many
from .budget import Budget
from .evidence import BALANCE, QUALITY, SCALED, Evidence, once
from .statement import Line, Statement, joined

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

SECTION = "asked"
RANK = 18
RANK_UNASKED = 1
JUDGED = (
    "quality", "grade", "demerit", "liking", "another_sip", "keep", "release", "quality_again",
    "choice",
)  # fmt: skip
"""Questions of which one must be asked before it can be told what is best."""
RANK_PERSON = 38
"""Of an answer about a person in the box: below what is shown of the bottles."""
OTHERS = 4
"""Others from whom on it is told where one more like them would lie (no source)."""
LEAST = 0.03
"""Share of the scale that people scatter at least: on a coarse scale they may all agree."""
LETTERS = 2
"""Letters of a code from which on it is known in a question: "a" and "I" are words."""
WORDS = ("a", "i")
"""Names of bottles that a question in English holds as words."""
TASTES = {"sweetness": "asks_sweet", "acidity": "asks_acid"}
"""What words such as "sour" ask of the card, where somebody is named."""
PERSON_BOTTLES = 4
"""Bottles that an answer about a person names, those furthest off."""
MANY = 8
"""Bottles at one sitting from which on tiredness is a concern (common practice, no source)."""
TOP = 0.8
"""Share of a bottle's marks at one end of a scale from which on the scale was too short."""
BACK = 0.75
"""Share of the planned tastings below which the missing ones stand in the box."""
WAYS = 20
"""Orders of two people's bottles below which no claim can reach 5 %."""
_LISTED = 12
_FACTORS = ("fraction", "pasteurised", "tank")


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what the design itself has to say, weightiest first."""
    return [
        *unanswered(evidence),
        *_about_people(evidence),
        *_alone(evidence),
        *_few(evidence, budget),
        *_same_order(evidence),
        *_first_glass(evidence),
        *_confounded(evidence, budget),
        *_blanks(evidence),
        *_many(evidence),
        *_ends(evidence),
        *_steps(evidence),
    ]


def _said(kind: str, key: str, *, rank: int | None = None, **values: object) -> Statement:
    return Statement(
        kind=kind,
        about=(),
        sentence=sentence(f"findings.{key}", **values),
        section=SECTION,
        rank=rank,
    )


def question_names(evidence: Evidence, key: str) -> bool:
    """Tell whether the question holds one of the words of an entry, in any language.

    Latin words count as whole words, Japanese ones wherever they stand.
    """
    words = "|".join(say(f"findings.{key}", language) for language in languages()).split("|")
    return any(_holds(evidence.asks, word) for word in words)


def _holds(question: str, word: str) -> bool:
    whole = rf"\b{re.escape(word)}\b" if word.isascii() else re.escape(word)
    return re.search(whole, question, re.IGNORECASE) is not None


def unanswered(evidence: Evidence) -> list[Statement]:
    """Say what the session's question asks and no line of its card can answer.

    Three things can be known from words: what is best, without a question of quality or liking;
    how long after opening, without a bottle that was tasted on two days; and attributes of
    today's card that the question names and this card left out.
    """
    asked = {name.partition(":")[0] for name in evidence.scores["attribute"].astype(str)}
    said = []
    if not asked & set(JUDGED) and question_names(evidence, "asks_best"):
        said.append(_said("caution", "unasked_best", rank=RANK_UNASKED))
    days: dict[str, set[str]] = {}
    for bottle in evidence.bottles:
        days.setdefault(bottle.liquid, set()).add(bottle.level("opened_days"))
    if all(len(own) < 2 for own in days.values()) and question_names(evidence, "asks_days"):
        said.append(_said("caution", "unasked_days", rank=RANK_UNASKED))
    left = _left_off_the_card(evidence, asked)
    if left:
        listed = [default_scorecard().name(name, evidence.language) for name in left]
        said.append(_said("caution", "unasked_named", rank=RANK_UNASKED, listed=listed))
    return said


def asked_for(evidence: Evidence) -> list[str]:
    """Return what the session's question, or a question named beforehand, asks of the card.

    Attributes by their name in any language; balance and quality by words such as "too sweet"
    and "better" as well.
    """
    found = [one.attribute for one in evidence.primary if one.attribute]
    for name in evidence.attributes(*SCALED):
        label = evidence.question(name).label
        if any(_holds(evidence.asks, label.to(language)) for language in languages()):
            found.append(name)
    for name, key in ((BALANCE, "asks_balance"), (QUALITY, "asks_best")):
        if name in evidence.attributes(*SCALED) and question_names(evidence, key):
            found.append(name)
    return list(dict.fromkeys(found))


def people_asked_about(evidence: Evidence) -> list[str]:
    """Name the assessors whom the session's question names, by code.

    Capitals count, and what stands in a bottle's name is none.
    """
    asks = evidence.asks
    for bottle in sorted(evidence.samples, key=len, reverse=True):
        asks = re.sub(rf"(?<!\w){re.escape(bottle)}(?!\w)", " ", asks)
    return [code for code in evidence.roles if len(code) >= LETTERS and _names_person(code, asks)]


def _stands_in(question: str, name: str) -> bool:
    """Tell whether a name stands in a question by itself, beside Japanese letters too."""
    whole = rf"(?<![A-Za-z0-9]){re.escape(name)}(?![A-Za-z0-9])"
    return name.casefold() not in WORDS and re.search(whole, question, re.IGNORECASE) is not None


def _bottles_asked(evidence: Evidence) -> list[str]:
    """Name the bottles that the question names, by name or by fraction; all where it names none."""
    fractions = {name: str(evidence.bottle(name).fraction) for name in evidence.compared}
    own = [name for name in evidence.compared if _stands_in(evidence.asks, name)]
    own = own or [
        name
        for name, fraction in fractions.items()
        if fraction and _stands_in(evidence.asks, fraction)
    ]
    return own or list(evidence.compared)


def one_more(rest: NDArray[np.float64], looked: int, least: float) -> tuple[float, float, float]:
    """Return the mean of some people, and where one more like them would lie.

    Student's prediction limits at `ALPHA`, shared by all that is looked at; people are taken to
    scatter by `least` at least.
    """
    mean, spread = float(rest.mean()), max(float(rest.std(ddof=1)), least)
    half = float(-stdtrit(len(rest) - 1, ALPHA / 2 / looked)) * spread * (1 + 1 / len(rest)) ** 0.5
    return mean, mean - half, mean + half


def _about_people(evidence: Evidence) -> list[Statement]:
    """Answer a question that names somebody, by that person's marks beside those of the others.

    Of what the question that names somebody asks, else of quality: how far each bottle lies from
    the mean of the own other bottles, so that levels take no part; they are told beside.
    """
    scaled = evidence.attributes(*SCALED)
    if len(evidence.people) < 2:
        return []
    made = []
    for code in people_asked_about(evidence):
        asks = "".join(one for one in _ENDS.split(evidence.asks) if _names_person(code, one))
        question = replace(evidence, asks=asks, primary=())
        taste = [name for name, key in TASTES.items() if question_names(question, key)]
        asked = [name for name in dict.fromkeys([*asked_for(question), *taste]) if name in scaled]
        names = asked or [name for name in (QUALITY,) if name in scaled]
        told = [one for name in names if (one := _about(question, code, name)) is not None]
        told = told or [_said("description", "person_not", rank=RANK_PERSON, who=code)]
        made += [replace(one, about=(code,)) for one in told]
    return made


_ENDS = re.compile(r"(?<=[?？!！。])|(?<=\.)(?=\s)")


def _names_person(code: str, question: str) -> bool:
    return re.search(rf"(?<![A-Za-z0-9]){code}(?![A-Za-z0-9])", question) is not None


def _about(evidence: Evidence, code: str, name: str) -> Statement | None:
    """Set one person's marks in one attribute beside those of the others who count."""
    rows = evidence.rows([name], everybody=True)
    rows = rows[rows["sample"].isin(evidence.compared)]
    rows = rows.astype({"assessor": str, "sample": str})
    wide = rows.pivot_table(index="assessor", columns="sample", values="score")
    whole = wide.dropna()
    if code not in whole.index or whole.shape[1] < 2:
        return None
    bottles = [one for one in _bottles_asked(evidence) if one in whole]
    total = whole.sum(axis=1)
    n_bottles = whole.shape[1]
    leads = whole.sub((total.to_numpy()[:, None] - whole) / (n_bottles - 1))
    rest = leads[[one in evidence.counted and one != code for one in leads.index]]
    values: dict[str, object] = {"who": code, "attribute": evidence.name(name), "n": len(rest)}
    if rest.empty or not bottles:
        return None
    levels = whole.mean(axis=1)
    values["level"] = sentence(
        "findings.person_level",
        own=fixed(float(levels.to_dict()[code])),
        theirs=fixed(float(levels[rest.index].mean())),
    )
    own = {one: float(leads[one].to_dict()[code]) for one in bottles}
    off = {one: abs(own[one] - float(rest[one].mean())) for one in bottles}
    far = sorted(bottles, key=lambda one: -off[one])[:PERSON_BOTTLES]
    shown = [one for one in bottles if one in far]
    listed: list[Sentence] = []
    if len(rest) < OTHERS:
        for bottle in shown:
            theirs = fixed(float(rest[bottle].mean()), sign=True)
            listed.append(sentence("findings.person_few_of", bottle=bottle, rest=theirs,
                                   by=fixed(own[bottle], sign=True)))  # fmt: skip
        return _said("description", "person_few", rank=RANK_PERSON, listed=joined(listed), **values)
    question = evidence.question(name)
    least = LEAST * float(question.high - question.low)
    beyond = []
    for bottle in bottles:
        mean, low, high = one_more(rest[bottle].to_numpy(float), len(bottles), least)
        by = own[bottle]
        words = {"bottle": bottle, "by": fixed(by, sign=True), "rest": fixed(mean, sign=True)}
        key = "findings.person_few_of"
        if not low <= by <= high:
            beyond.append(bottle)
            k = int((np.sign(rest[bottle]) == np.sign(by)).sum())
            words |= {"least": limit(low, sign=True), "most": limit(high, sign=True)}
            key, words = "findings.person_of", words | {"k": str(k), "n": str(len(rest))}
        if bottle in shown or bottle in beyond:
            listed.append(sentence(key, **words))
    key = "person_beyond" if beyond else "person_within"
    return _said("description", key, rank=RANK_PERSON, listed=joined(listed), bottles=beyond,
                 looked=len(bottles), **values)  # fmt: skip


def _left_off_the_card(evidence: Evidence, asked: set[str]) -> list[str]:
    """Return the attributes of today's card that the question names and this card has not.

    Acidity is left out where the bottles' own was measured: the question may mean the number;
    what is cloying where balance was asked: its end "too sweet" answers that.
    """
    own = {evidence.name(name).casefold() for name in asked if name in evidence.scorecard}
    found = []
    for question in default_scorecard():
        names = [question.label.to(language) for language in languages()]
        spoken = any(name.casefold() in other for name in names for other in own)
        measured = question.key == "acidity" and any(
            bottle.acidity is not None for bottle in evidence.bottles
        )
        answered = question.key == "cloying" and BALANCE in asked
        if (
            question.kind is not Kind.LINE
            or question.key in asked
            or spoken
            or measured
            or answered
        ):
            continue
        if any(_holds(evidence.asks, name) for name in names):
            found.append(question.key)
    return found


def _alone(evidence: Evidence) -> list[Statement]:
    """Say how blind it was where one person poured and tasted."""
    if not evidence.alone:
        return []
    told = sentence("alone.report")
    return [Statement(kind="caution", about=(), sentence=told, section=SECTION, rank=RANK)]


def _few(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what one bottle, one or two assessors, or the maker alone cannot show."""
    said = []
    people, products = len(evidence.people), len(evidence.products)
    if products == 1:
        controls = any(bottle.control for bottle in evidence.bottles)
        key = "one_bottle_controls" if controls else "one_bottle"
        said.append(_said("description", key, rank=RANK, sample=evidence.products[0]))
    if people == 1:
        maker = bool(evidence.makers)
        said.append(_said("caution", "one_maker" if maker else "one_taster", rank=RANK))
    elif people == len(evidence.makers):
        said.append(_said("caution", "makers_only", rank=RANK, n=people))
    elif evidence.makers and not evidence.maker_apart and not evidence.maker_in_means:
        said.append(_said("caution", "maker_counts", rank=RANK, n=people - len(evidence.makers)))
    if people > 1 and products > 1 and len(evidence.counted) == 2:
        ways = math.factorial(products)
        few = too_few_orders(ways) and evidence.replicates == 1
        claimed = few and bool(budget.claimed("scale", "balance", "gap", "overall"))
        key = "two_claimed" if claimed else "two_once" if few else "two_tasters"
        beside = sentence("findings.beside_maker") if evidence.maker_apart else ""
        said.append(_said("caution", key, rank=RANK + 1, ways=ways, beside=beside))
    if people > 1 and set(evidence.roles.values()) == {"expert"}:
        said.append(_said("description", "all_experts", n=people))
    if "consumer" in evidence.roles.values() and len(set(evidence.roles.values())) > 1:
        mixed = [code for code in evidence.counted if evidence.roles[code] == "consumer"]
        if mixed and len(mixed) < len(evidence.counted):
            said.append(_said("caution", "consumers_mixed", n=len(mixed)))
    if not evidence.attributes(*SCALED):
        said.append(_said("description", "nothing_scored", rank=RANK))
    return said


@once
def orders(evidence: Evidence) -> list[tuple[str, ...]]:
    """Return the order in which each assessor had the bottles, one for each replicate."""
    rows = evidence.rows(evidence.attributes(*SCALED), everybody=True, controls=True)
    rows = rows.dropna(subset=["position"])
    found = []
    for _, own in rows.groupby(["assessor", "replicate"], observed=True):
        cups = own.sort_values("position", kind="stable").drop_duplicates(["position", "sample"])
        found.append(tuple(dict.fromkeys(cups["sample"].astype(str))))
    return found


def _same_order(evidence: Evidence) -> list[Statement]:
    """Say that bottle and place cannot be told apart, where all had one order."""
    every = [order for order in orders(evidence) if len(order) > 1]
    if len(evidence.people) < 2 or len(every) < 2 or len(set(every)) > 1:
        return []
    trend: Line = ""
    rows = evidence.means.reindex([n for n in every[0] if n in evidence.means.index]).dropna(axis=1)
    falling = [name for name in rows if (rows[name].round(1).diff().dropna() < 0).all()]
    if len(rows) > 2 and falling:
        names = [evidence.name(str(name)) for name in falling]
        trend = sentence("findings.falling", attributes=names)
    return [_said("caution", "same_order", rank=RANK, order=list(every[0]), trend=trend)]


def _first_glass(evidence: Evidence) -> list[Statement]:
    """Say that one bottle alone was ever poured first, though the orders were not all the same."""
    every = [order for order in orders(evidence) if len(order) > 1]
    firsts = {order[0] for order in every}
    if len(firsts) != 1 or len(set(every)) < 2 or not firsts <= set(evidence.products):
        return []
    return [_said("caution", "first_of_all", sample=firsts.pop())]


def _confounded(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which two things always changed together, where bottles were told apart."""
    bottles = [evidence.bottle(name) for name in evidence.products]
    if len(bottles) < 2:
        return []
    values = {name: [str(getattr(bottle, name)) for bottle in bottles] for name in _FACTORS}
    varying = [name for name in _FACTORS if len(set(values[name])) > 1 and all(values[name])]
    together = [
        (first, second)
        for first, second in combinations(varying, 2)
        if len(set(zip(values[first], values[second], strict=True)))
        == len(set(values[first]))
        == len(set(values[second]))
    ]
    if not together:
        return _with_making(evidence, budget, varying, values)
    each_own = all(len(set(values[name])) == len(bottles) for pair in together for name in pair)
    claimed = bool(budget.claimed("scale", "balance", "word", "overall", "gap"))
    alone = each_own and len(bottles) > 2  # every bottle is its own in everything
    if alone and not claimed:
        return []
    first, second = together[0]
    also = _made_alike(evidence, dict(zip(evidence.products, values[first], strict=True)))
    same = [name for name in varying if (first, name) in together]
    return [
        _together(
            "confounded_each" if alone else "confounded",
            [*(sentence(f"findings.factor_{name}") for name in (first, *same)), *also],
            RANK + 2 if claimed else None,
            second,
        )
    ]


def _together(key: str, things: list[Line], rank: int | None, advice: str) -> Statement:
    """Name all that changed together; two things are parted by "and", more stand in a list."""
    if len(things) == 2:
        told: dict[str, object] = {"one": things[0], "other": things[1]}
    else:
        key, told = f"{key}_more", {"things": things}
    advised = sentence(f"findings.unconfound_{advice}")
    return _said("caution", key, rank=rank, **told, advice=advised)


def _made_alike(evidence: Evidence, levels: Mapping[str, str]) -> list[Line]:
    """Name the further columns of the making that part the bottles as these levels do."""
    found: list[Line] = []
    for column, known in evidence.made:
        if all(name in known for name in levels):
            pairs = {(level, known[name].casefold()) for name, level in levels.items()}
            if len(pairs) == len(set(levels.values())) == len({own for _, own in pairs}):
                found.append(column)
    return found


def _with_making(
    evidence: Evidence, budget: Budget, varying: list[str], values: Mapping[str, list[str]]
) -> list[Statement]:
    """Say with what of the making the one thing changed in which all bottles are known to differ.

    Of bottles that are each their own in it nothing is said, but of two.
    """
    if len(varying) != 1:
        return []
    names, (factor,) = evidence.products, varying
    if len(set(values[factor])) == len(names) > 2:
        return []
    also = _made_alike(evidence, dict(zip(names, values[factor], strict=True)))
    if not also:
        return []
    claimed = bool(budget.claimed("scale", "balance", "word", "overall", "gap"))
    things: list[Line] = [sentence(f"findings.factor_{factor}"), *also]
    return [_together("confounded", things, RANK + 2 if claimed else None, "made")]


@once
def tastings(evidence: Evidence) -> pd.DataFrame:
    """Return one row a tasting that came back: ``assessor, sample, replicate``."""
    return evidence.scores[["assessor", "sample", "replicate"]].drop_duplicates()


def _blanks(evidence: Evidence) -> list[Statement]:
    """Say how many tastings and answers are missing, and whose."""
    back = tastings(evidence)
    planned = (len(evidence.people) + len(evidence.absent)) * len(evidence.samples)
    planned *= evidence.replicates
    said = []
    if len(back) < planned:
        each = Counter(back["sample"].astype(str))
        counts = [
            sentence("findings.pair_value", name=name, value=str(each.get(name, 0)))
            for name in evidence.samples
        ]
        half = len(back) < BACK * planned
        who = {frozenset(back.loc[back["sample"] == one, "assessor"]) for one in evidence.samples}
        few = "missing_half_evenly" if len(who) == 1 else "missing_half"
        said.append(
            _said(
                "caution",
                few if half else "missing",
                rank=RANK + 3 if half else None,
                n=len(back),
                planned=planned,
                counts=counts,
                who=_incomplete(evidence, back),
            )
        )
        said += _which(evidence, back)
    scaled = evidence.attributes(*SCALED)
    rows = evidence.rows(scaled, everybody=True, controls=True)
    unseen = _unseen(evidence, scaled, rows)
    if unseen:
        listed = [
            sentence("findings.who_missed", who=who, samples=names) for who, names in unseen.items()
        ]
        n = sum(map(len, unseen.values()))
        asked = {name for name in rows["attribute"].astype(str) if _is_look(evidence, name)}
        said.append(_said("description", "looks_missing", n=n, marks=n * len(asked), listed=listed))
    holes, unread = _read(evidence, _holes(evidence, scaled, rows))
    said += _unreadable(evidence, unread)
    if holes:
        listed = [
            sentence("findings.hole", assessor=who, sample=what, attribute=evidence.name(name))
            for who, what, name in holes[:_LISTED]
        ]
        people = Counter(who for who, _, _ in holes)
        per = [sentence("findings.pair_value", name=who, value=str(k)) for who, k in people.items()]
        said.append(
            _said("description", "blanks_listed", n=len(holes), listed=listed)
            if len(holes) <= _LISTED
            else _said("description", "blanks", n=len(holes), listed=per)
        )
    return said


def _read(
    evidence: Evidence, holes: list[tuple[str, str, str]]
) -> tuple[list[tuple[str, str, str]], list[tuple[str, str, str, str]]]:
    """Part the missing marks into those left blank and those that stood there unreadably."""
    unread = [one for one in evidence.unread if one[:3] in holes]
    rest = Counter(one[:3] for one in unread)
    blank = []
    for hole in holes:
        if rest[hole]:
            rest[hole] -= 1
        else:
            blank.append(hole)
    return blank, unread


def _unreadable(evidence: Evidence, unread: list[tuple[str, str, str, str]]) -> list[Statement]:
    listed = [
        sentence("findings.unread", assessor=who, sample=what, attribute=evidence.name(name),
                 found=found)
        for who, what, name, found in unread[:_LISTED]
    ]  # fmt: skip
    if len(unread) > _LISTED:
        listed.append(sentence("findings.unread_more", n=len(unread) - _LISTED))
    return [_said("description", "marks_unread", n=len(unread), listed=listed)] if unread else []


def _is_look(evidence: Evidence, attribute: str) -> bool:
    return evidence.question(attribute).section == "appearance"


def _which(evidence: Evidence, back: pd.DataFrame) -> list[Statement]:
    """Name the bottles that each who answered did not taste at all, where they are few."""
    had = set(zip(back["assessor"].astype(str), back["sample"].astype(str), strict=True))
    gone = {
        who: [one for one in evidence.samples if (who, one) not in had] for who in evidence.roles
    }
    listed = [
        sentence("findings.who_missed", who=who, samples=names)
        for who, names in gone.items()
        if names
    ]
    if not listed or sum(len(names) for names in gone.values()) > _LISTED:
        return []
    return [_said("description", "untasted", listed=joined(listed))]


def _incomplete(evidence: Evidence, back: pd.DataFrame) -> list[Sentence]:
    own = Counter(back["assessor"].astype(str))
    whole = len(evidence.samples) * evidence.replicates
    return [
        sentence("findings.who_has", assessor=code, n=own.get(code, 0), whole=whole)
        for code in (*evidence.roles, *evidence.absent)
        if own.get(code, 0) < whole
    ]


def _unseen(evidence: Evidence, scaled: list[str], rows: pd.DataFrame) -> dict[str, list[str]]:
    """Return by assessor the bottles of the appearance flight of which no look came back.

    Asked were the bottles that anybody looked at, and everybody of whom a cup came back.
    """
    looks = rows[
        rows["attribute"].isin(
            [name for name in scaled if evidence.question(name).section == "appearance"]
        )
    ]
    seen = set(zip(looks["assessor"].astype(str), looks["sample"].astype(str), strict=True))
    shown = [name for name in evidence.samples if any(name == what for _, what in seen)]
    tasted = set(tastings(evidence)["assessor"].astype(str))
    gone = {
        who: [name for name in shown if (who, name) not in seen]
        for who in evidence.roles
        if who in tasted
    }
    return {who: names for who, names in gone.items() if names}


def _holes(evidence: Evidence, scaled: list[str], rows: pd.DataFrame) -> list[tuple[str, str, str]]:
    """Return the answers missing on tastings that came back: assessor, sample, attribute."""
    looks = {name for name in scaled if evidence.question(name).section == "appearance"}
    found = []
    for group in (looks, set(scaled) - looks):
        part = rows[rows["attribute"].isin(group)]
        if part.empty:
            continue
        wide = part.pivot_table(
            index=["assessor", "sample", "replicate"],
            columns="attribute",
            values="score",
            aggfunc="count",
            dropna=False,
            observed=True,
        ).reindex(columns=[name for name in scaled if name in group])
        wide = wide[wide.notna().any(axis=1) & (wide.fillna(0).sum(axis=1) > 0)]
        empty = wide.fillna(0) == 0
        found += [
            (str(who), str(what), str(name))
            for (who, what, _), line in zip(empty.index, empty.to_numpy(bool), strict=True)
            for name in empty.columns[line]
        ]
    return found


def too_few_orders(ways: int) -> bool:
    """Tell whether so few orders cannot reach 5 %."""
    return ways < WAYS


def _many(evidence: Evidence) -> list[Statement]:
    if len(evidence.samples) < MANY:
        return []
    told = how_many(evidence.bottles, "many")
    return [Statement(kind="caution", about=(), sentence=told, section=SECTION, rank=RANK + 6)]


def _ends(evidence: Evidence) -> list[Statement]:
    """Say where a scale was too short: nearly all marks of two bottles at one end."""
    said = []
    for name in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        question = evidence.question(name)
        rows = evidence.rows([name])
        for end, key in ((question.high, "top"), (question.low, "bottom")):
            share = (rows["score"] == end).groupby(rows["sample"]).mean()
            full = [one for one in evidence.products if share.get(one, 0.0) >= TOP]
            if len(full) >= 2 and len(set(rows["score"])) > 1:
                said.append(
                    Statement(
                        kind="caution",
                        about=(name, *full),
                        sentence=sentence(
                            f"findings.at_{key}", samples=full, attribute=evidence.name(name)
                        ),
                        section="differ",
                        rank=RANK + 18,
                    )
                )
    return said


def _steps(evidence: Evidence) -> list[Statement]:
    """Say that whole numbers hide what is smaller than one point."""
    rows = evidence.rows(evidence.attributes(Kind.LINE))
    if len(rows) < 4 or rows["score"].nunique() < 2:
        return []
    if (rows["score"] % 1 == 0).all():
        return [_said("description", "whole_numbers")]
    return []
