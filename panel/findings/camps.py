"""Two camps of assessors about one bottle, which a mean would hide.

Camps have a shape (far apart, closed, nobody between) and must be more than the gap that
scatter leaves somewhere: how far assessors stand apart elsewhere on the card says how
much that is.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ...analysis.core.wording import fixed
from ...analysis.inference import chance_of_gap
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from .evidence import QUALITY, Evidence, once
from .statement import Statement

RANK = 35
GAP = 0.3
"""Camps stand apart by at least this share of the scale, with nobody between them
(a convention, no source)."""
FEWEST = 2
"""Assessors who make a camp: one alone is none."""
CLOSE = 0.5
"""Share of the gap that a camp is wide at most."""
FALSE = 0.01
"""Share of reports in which scatter alone may make camps anywhere."""
USUAL = 0.2
"""Standard deviation between assessors as a share of the scale, of which a card that says
nothing of it is thought (a convention, no source)."""
USUAL_DF = 2
"""Degrees of freedom that the usual scatter counts for."""

Values = dict[tuple[str, str], pd.Series]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camps:
    """Who stands above and who below, and where.

    Attributes
    ----------
    low, high : tuple of str
        Assessors.
    low_range, high_range : tuple of float
        The least and the largest of their means.
    """

    low: tuple[str, ...]
    high: tuple[str, ...]
    low_range: tuple[float, float]
    high_range: tuple[float, float]


def split(values: pd.Series, span: float) -> Camps | None:
    """Find two camps among one value an assessor.

    Parameters
    ----------
    values : Series
        By assessor.
    span : float
        Length of the scale.
    """
    given = values.to_numpy(float)
    order = np.argsort(given, kind="stable")  # gaps come last
    order = order[: len(given) - int(np.isnan(given).sum())]
    if len(order) < 2 * FEWEST:
        return None
    numbers = given[order]
    steps = np.diff(numbers)
    at = int(steps.argmax()) + 1
    gap = float(steps[at - 1])
    low, high = numbers[:at], numbers[at:]
    if min(len(low), len(high)) < FEWEST or gap < GAP * span:
        return None
    if max(np.ptp(low), np.ptp(high)) > CLOSE * gap:
        return None
    people = values.index[order]
    return Camps(
        low=tuple(people[:at]),
        high=tuple(people[at:]),
        low_range=(float(low[0]), float(low[-1])),
        high_range=(float(high[0]), float(high[-1])),
    )


@once
def _own(evidence: Evidence) -> Values:
    """Return the panel's marks by attribute and bottle, as shares of the scale."""
    wide = evidence.wide(evidence.attributes(Kind.LINE, Kind.CATEGORY))
    return {
        (attribute, str(sample)): table[sample] / _span(evidence, attribute)
        for attribute, table in wide.items()
        for sample in table.columns
    }


@once
def _apart(evidence: Evidence) -> Values:
    """Return how far each assessor sets each bottle off from the others."""
    own, found = _own(evidence), {}
    for (attribute, sample), values in own.items():
        others = [
            marks for (name, other), marks in own.items() if name == attribute and other != sample
        ]
        if others:
            found[attribute, sample] = values - pd.concat(others, axis=1).mean(axis=1)
    return found


def _span(evidence: Evidence, attribute: str) -> float:
    question = evidence.question(attribute)
    return question.high - question.low


def is_no_chance(found: Camps, others: Iterable[pd.Series], looked_at: int) -> bool:
    """Tell whether two camps are more than scatter leaves anywhere on the card.

    Parameters
    ----------
    found : Camps
        As shares of the scale.
    others : iterable of Series
        Values of other questions and bottles, of which the scatter is learnt.
    looked_at : int
        Places where camps would have been told.
    """
    squares, df = USUAL_DF * USUAL**2, float(USUAL_DF)
    for values in others:
        given = values.to_numpy(float)
        given = given[~np.isnan(given)]
        if len(given) > 1:
            squares += float(((given - given.mean()) ** 2).sum())
            df += len(given) - 1
    gap = (found.high_range[0] - found.low_range[1]) / np.sqrt(squares / df)
    n = len(found.low) + len(found.high)
    return chance_of_gap(float(gap), n, fewest=FEWEST, df=df) <= FALSE / looked_at


def _shown(evidence: Evidence, place: tuple[str, str], values: Values) -> Camps | None:
    """Return the camps at one place in units of its scale, if they are no chance."""
    found = split(values[place], 1.0)
    if found is None:
        return None
    rest = (other for key, other in values.items() if key != place)
    if not is_no_chance(found, rest, len(_own(evidence)) + len(_apart(evidence))):
        return None
    return _scaled(found, _span(evidence, place[0]))


def _scaled(found: Camps, span: float) -> Camps:
    low, high = ((first * span, last * span) for first, last in (found.low_range, found.high_range))
    return replace(found, low_range=low, high_range=high)


def camps_in(
    evidence: Evidence, attribute: str, sample: str, *, less: str | None = None
) -> Camps | None:
    """Find two camps about a bottle: in its marks, or in its marks less those of `less`.

    `less` is another attribute (nose against palate).
    """
    values = _own(evidence)
    if less is not None:
        values = {
            (attribute, name): marks - values[less, name] * _span(evidence, less) / span
            for (question, name), marks in values.items()
            if question == attribute and (less, name) in values
            for span in [_span(evidence, attribute)]
        }
    place = attribute, sample
    if place not in values:
        return None
    found = _shown(evidence, place, values)
    if found is None and less is not None:
        return _carried(evidence, place, less, split(values[place], 1.0))
    return found


def _carried(
    evidence: Evidence, place: tuple[str, str], less: str, found: Camps | None
) -> Camps | None:
    """Return the camps of a difference that are those of one of its two attributes."""
    if found is None:
        return None
    attribute, sample = place
    both = {frozenset(found.low), frozenset(found.high)}
    for name in (attribute, less):
        own = camps_in(evidence, name, sample)
        if own is not None and both == {frozenset(own.low), frozenset(own.high)}:
            return _scaled(found, _span(evidence, attribute))
    return None


def against_others(evidence: Evidence, attribute: str, sample: str) -> Camps | None:
    """Find two camps in how far assessors set a bottle off from the others."""
    values = _apart(evidence)
    if (attribute, sample) not in values:
        return None
    found = _shown(evidence, (attribute, sample), values)
    if found is None or not (found.low_range[1] < 0 < found.high_range[0]):
        return None
    return found


@once
@once
def statements(evidence: Evidence) -> list[Statement]:
    """Tell every bottle and attribute about which the panel falls into two camps.

    Camps in a bottle's own marks are told as such; else camps in how far it is set off
    from the others, of two bottles once.
    """
    said = []
    for attribute in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        own = {
            sample: found
            for sample in evidence.products
            if (found := camps_in(evidence, attribute, sample)) is not None
        }
        said += [_told("camps", attribute, name, found, evidence) for name, found in own.items()]
        others = [name for name in evidence.products if name not in own]
        if own:  # one bottle's camps move how all others are set off from the rest
            continue
        for sample in reversed(others):
            apart = against_others(evidence, attribute, sample)
            if apart is not None:
                said.append(_told("camps_apart", attribute, sample, apart, evidence))
                break
    told = {one.about for one in said}
    return said + [one for one in _by_taste(evidence) if one.about not in told]


def _by_taste(evidence: Evidence) -> list[Statement]:
    """Tell where those who declared to like the style and those who do not part over quality."""
    if QUALITY not in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        return []
    styles = {one.code: one.style for one in evidence.people if one.code in evidence.counted}
    wide = evidence.wide([QUALITY]).get(QUALITY)
    if wide is None:  # controls alone
        return []
    said = []
    for sample in (name for name in evidence.products if name in wide):
        own = wide[sample].dropna()
        likes, dislikes = (
            own[[styles.get(str(who), "") == style for who in own.index]]
            for style in ("likes", "dislikes")
        )
        if min(len(likes), len(dislikes)) < FEWEST:
            continue
        gap = float(likes.mean() - dislikes.mean())
        if abs(gap) < GAP * _span(evidence, QUALITY):
            continue
        values = {
            "sample": sample,
            "attribute": evidence.name(QUALITY),
            "n_likes": len(likes),
            "n_dislikes": len(dislikes),
            "likes": fixed(likes.mean()),
            "dislikes": fixed(dislikes.mean()),
        }
        said.append(
            Statement(
                kind="caution",
                about=(sample, QUALITY),
                sentence=sentence("findings.camps_taste", **values),
                section="differ",
                rank=RANK,
                box="findings.box_camps",
                brief=sentence("findings.brief_camps_taste", **values),
            )
        )
    return said


def _told(key: str, attribute: str, sample: str, found: Camps, evidence: Evidence) -> Statement:
    others = [name for name in evidence.products if name != sample]
    signed = key == "camps_apart"
    values = {
        "sample": sample,
        "others": others[0] if len(others) == 1 else sentence("findings.the_others"),
        "attribute": evidence.name(attribute),
        "n_low": len(found.low),
        "n_high": len(found.high),
        "low": _less(found.low_range) if signed else _range(found.low_range),
        "high": _range(found.high_range),
        "who_low": sorted(found.low),
        "who_high": sorted(found.high),
        "apart": "",
        "drinkers": _drinkers(evidence, attribute),
    }
    by_liking = "_drinkers" if values["drinkers"] else ""
    values["again"] = sentence(f"findings.camps_again{by_liking}")
    apart = against_others(evidence, attribute, sample)
    if apart is not None and set(apart.high) == set(found.high):
        values["apart"] = sentence("findings.camps_too", others=values["others"])
    return Statement(
        kind="caution",
        about=(sample, attribute),
        sentence=sentence(f"findings.{key}", **values),
        section="differ",
        rank=RANK,
        box="findings.box_camps",
        brief=sentence(f"findings.brief_{key}", **values),
    )


def _drinkers(evidence: Evidence, attribute: str) -> Sentence | str:
    """Say of camps in what consumers gave for quality what they may be."""
    both = evidence.counted and all(evidence.roles[one] == "consumer" for one in evidence.counted)
    return sentence("findings.two_kinds") if both and attribute == QUALITY else ""


def _less(ends: tuple[float, float]) -> Sentence | str:
    """Write how far below others a camp stands, without signs."""
    return _range((-ends[1], -ends[0]))


def _range(ends: tuple[float, float]) -> Sentence | str:
    first, last = (fixed(end) for end in ends)
    return first if first == last else sentence("findings.from_to", low=first, high=last)


def of_bottle(evidence: Evidence, sample: str) -> list[str]:
    """Name the attributes about which camps are told for a bottle."""
    return [one.about[1] for one in statements(evidence) if one.about[0] == sample]
