"""A sample is a bottle in a condition: what varies, how it is written, what the taster knows of it.

Common practice, no source, where nothing else is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..base.words import Sentence, sentence
from .bottles import CONDITIONS, Bottle

FELT = 3.0
"""°C between cups from which on a taster feels that they differ; no source, set with care."""
OPEN = ("temperature_c", "vessel", "food")
"""Conditions that a taster feels or sees; the others are as blind as the bottle itself."""


def judged(bottles: Iterable[Bottle]) -> list[Bottle]:
    """Return the samples that are no controls."""
    return [one for one in bottles if one.use == "sample" and not one.control]


def how_many(bottles: Iterable[Bottle], key: str = "bottles") -> Sentence:
    """Count what is judged: bottles, or portions where one bottle is served in several conditions.

    Parameters
    ----------
    bottles : iterable of Bottle
    key : str
        ``bottles``; ``served`` for how often each was; or ``many`` for how tiring so many are at
        one sitting.
    """
    samples = [one for one in bottles if one.use == "sample"]
    opened = len({one.liquid for one in samples})
    kind = f"{key}_portions" if opened < len(samples) else key
    return sentence(f"serving.n_{kind}", n=len(samples), opened=opened)


def varied(bottles: Iterable[Bottle]) -> list[str]:
    """Return the conditions in which the samples differ, each known of all."""
    samples = judged(bottles)
    found = {name: [one.level(name) for one in samples] for name in CONDITIONS}
    return [name for name, own in found.items() if all(own) and len(set(own)) > 1]


def lines_over(
    bottles: Iterable[Bottle], condition: str, language: str = ""
) -> dict[str, dict[str, str]]:
    """Follow what is the same but for a condition.

    Returns
    -------
    dict
        From the name of a bottle, with the other conditions that vary, to its samples by level,
        in order. Where nobody said what a sample is poured from, fraction, pasteurising and tank
        together say it, and else its own name.
    """
    samples = judged(bottles)
    others = [name for name in varied(samples) if name != condition]
    found: dict[str, dict[str, str]] = {}
    for one in samples:
        of = [one.level(name) for name in ("fraction", "pasteurised", "tank")]
        what = one.poured_from or " / ".join(filter(None, of)) or one.name
        told = [written(name, one.level(name)) for name in others]
        line = spoken(sentence("serving.line_of", parts=[what, *told]), language)
        found.setdefault(line, {})[one.level(condition)] = one.name
    return {
        line: {level: own[level] for level in in_order(condition, own)}
        for line, own in found.items()
    }


def spoken(text: Sentence | str, language: str = "") -> str:
    """Write what is a sentence or plain text in a language; in the reader's without one."""
    if isinstance(text, str):
        return text
    return text.to(language) if language else str(text)


def estimable(bottles: Iterable[Bottle], language: str = "") -> list[Sentence]:
    """Say what can be told where not every bottle was served in every condition."""
    samples = judged(bottles)
    told = []
    for name in varied(samples):
        lines = lines_over(samples, name, language)
        levels = in_order(name, (one.level(name) for one in samples))
        whole = [line for line, own in lines.items() if len(own) == len(levels)]
        some = [line for line, own in lines.items() if 1 < len(own) < len(levels)]
        one_only = [line for line, own in lines.items() if len(own) == 1]
        what = sentence(f"overview.by_{name}")
        if not whole and not some:
            told.append(sentence("serving.cannot_part", condition=what))
            continue
        if one_only:
            seen = [*whole, *some]
            told.append(
                sentence("serving.partly", condition=what, seen=seen, unseen=one_only, n=len(seen))
            )
        if some:
            told.append(sentence("serving.some_levels", condition=what, lines=some))
        shared = [level for level in levels if all(level in own for own in lines.values())]
        if shared:
            at = [written(name, level) for level in shared]
            told.append(sentence("serving.compared_at", levels=at))
        else:
            told.append(sentence("serving.never_alike", condition=what))
    return told


def written(condition: str, level: str) -> Sentence | str:
    """Write a level of a condition with its unit.

    >>> str(written("temperature_c", "45")), str(written("opened_days", "4"))
    ('45 °C', 'open 4 days')
    >>> str(written("opened_days", "0"))
    'just opened'
    """
    if condition == "opened_days" and level == "0":
        return sentence("serving.level_opened_0")
    return sentence(f"serving.level_{condition}", level=level) if level else ""


def not_blind(bottles: Sequence[Bottle]) -> list[Sentence]:
    """Say what of the conditions a taster cannot help knowing, and what stays blind."""
    told = []
    samples = judged(bottles)
    for name in varied(bottles):
        levels = {one.level(name) for one in samples}
        if name == "temperature_c":
            degrees = sorted(float(one) for one in levels)
            if degrees[-1] - degrees[0] < FELT:
                continue
        listed = [written(name, one) for one in in_order(name, levels)]
        told.append(sentence(f"serving.known_{name}", listed=listed))
    cloudy = [one for one in samples if one.cloudy]
    if told and cloudy and len(cloudy) < len(samples):
        told.append(sentence("serving.known_cloud", bottles=[one.name for one in cloudy]))
    return told


def in_order(condition: str, levels: Iterable[str]) -> list[str]:
    """Return levels as they follow each other: numbers by size, words by the alphabet.

    >>> in_order("opened_days", ["10", "4", "1"]), in_order("vessel", ["glass", "cup"])
    (['1', '4', '10'], ['cup', 'glass'])
    """
    if condition in ("temperature_c", "opened_days", "stored_months"):
        return sorted(set(levels), key=float)
    return sorted(set(levels))
