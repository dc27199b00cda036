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
        ``bottles``, or ``many`` for how tiring so many are at one sitting.
    """
    samples = [one for one in bottles if one.use == "sample"]
    opened = len({one.poured_from or one.name for one in samples})
    kind = f"{key}_portions" if opened < len(samples) else key
    return sentence(f"serving.n_{kind}", n=len(samples), opened=opened)


def varied(bottles: Iterable[Bottle]) -> list[str]:
    """Return the conditions in which the samples differ, each known of all."""
    samples = judged(bottles)
    found = {name: [one.level(name) for one in samples] for name in CONDITIONS}
    return [name for name, own in found.items() if all(own) and len(set(own)) > 1]


def written(condition: str, level: str) -> Sentence | str:
    """Write a level of a condition with its unit.

    >>> str(written("temperature_c", "45")), str(written("opened_days", "4"))
    ('45 °C', 'open 4 days')
    """
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
