"""Words and faults of a few assessors: shared, one person's, or a single tick."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import comb

from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ...rounding import rounded
from ..base.words import Sentence, sentence
from ..findings import tainted
from ..findings.evidence import Evidence, once
from ..findings.statement import Statement
from .side_by_side import people
from .tasters import said

SECTION = "words"
TWO = 2
"""People who gave a word, from whom on it is shared."""
AGAIN = 2
"""Tickings of a word at another bottle from which on, if as many, it marks neither for somebody."""
LUCK = 0.1
"""Chance from which on a word that other bottles got too marks none (a convention, no source)."""


@once
def ticks(evidence: Evidence) -> dict[tuple[str, str], dict[str, tuple[int, int]]]:
    """Return by bottle and word how often each assessor ticked it, of how many tastings."""
    names = evidence.attributes(Kind.TICKS)
    table = evidence.rows(names, everybody=True)
    cups = evidence.scores.groupby(["sample", "assessor"], observed=True)["replicate"].nunique()
    times = dict(zip(cups.index, cups.astype(int), strict=True))
    given = table[table["score"] > 0].groupby(["sample", "attribute", "assessor"], observed=True)
    counted = given.size()
    sums = dict(zip(counted.index, counted.astype(int), strict=True))
    found: dict[tuple[str, str], dict[str, tuple[int, int]]] = {}
    for sample, name, code in product(evidence.products, names, people(evidence)):
        if (sample, name, code) in sums:
            own = found.setdefault((sample, name), {})
            own[code] = sums[sample, name, code], times[sample, code]
    return found


def _at(evidence: Evidence, sample: str, word: str) -> Sentence:
    given = ticks(evidence)[sample, word]
    return sentence(
        "few_report.word_at",
        bottle=sample,
        word=evidence.name(word),
        who=[by(code, k, of) for code, (k, of) in given.items()],
    )


def by(code: str, k: int, of: int) -> Sentence:
    """Write who ticked or answered something, and in how many tastings of several."""
    key = "by_one" if of == 1 else "by_one_times"
    return sentence(f"few_report.{key}", assessor=code, n=k, of=of)


def probability(value: float) -> str:
    """Write a probability with two decimals, and never as 1.

    >>> probability(0.934), probability(0.9972), probability(0.99999)
    ('0.93', '0.997', '> 0.999')
    """
    if value >= 0.9995:
        return "> 0.999"
    return fixed(value, 2) if value < 0.99 else rounded(value, ".3f")


def apart(value: float, bar: float) -> tuple[str, str]:
    """Write a probability and the one that it falls short of, so that they do not look alike.

    >>> apart(0.7953, 0.95), apart(0.9671, 0.9688), apart(0.99432, 0.99437)
    (('0.80', '0.95'), ('0.967', '0.969'), ('0.9943', '0.9944'))
    """
    for digits in (2, 3, 4):
        shown = rounded(value, f".{digits}f"), rounded(bar, f".{digits}f")
        if shown[0] < shown[1]:
            return shown
    return rounded(value, ".6f"), rounded(bar, ".6f")


def shared_words(evidence: Evidence, sample: str) -> list[str]:
    """Return the words that two people or more gave a bottle, and not too rarely."""
    return [name for (one, name), given in ticks(evidence).items()
            if one == sample and len(given) >= min(TWO, len(people(evidence)))
            and _enough(evidence, one, name)]  # fmt: skip


def common(evidence: Evidence, sample: str) -> list[str]:
    """Return the words of `shared_words` that mark a bottle.

    One who gave the word to another bottle as often, and more than once, does not count: for
    that person it does not mark this one. Words that two gave to several bottles are told as such.
    """
    found = []
    for (one, name), given in ticks(evidence).items():
        if one != sample:
            continue
        own = given
        if sum(name in shared_words(evidence, other) for other in evidence.products) == 1:
            own = {code: given[code] for code in given if _marks(evidence, sample, name, code)}
        few = not often(evidence, own) and not (own == given and _enough(evidence, one, name))
        two = len(own) >= min(TWO, len(people(evidence)))
        if two and not few and not _scattered(evidence, sample, name):
            found.append(name)
    return found


def _scattered(evidence: Evidence, sample: str, word: str) -> bool:
    """Tell whether a word, given elsewhere too, falls on a bottle as often by luck.

    From `LUCK` on, that so many of its ticks or more fall on this bottle's cups, of all cups
    (hypergeometric); a word of several bottles is told as such.
    """
    every = ticks(evidence)
    shared = [other for other in evidence.products if word in shared_words(evidence, other)]
    counts = {one: sum(k for k, _ in given.values())
              for (one, name), given in every.items() if name == word}  # fmt: skip
    own, total = counts[sample], sum(counts.values())
    if own == total or len(shared) > 1:
        return False
    pairs = evidence.scores.groupby(["sample", "assessor"], observed=True)["replicate"].nunique()
    cups = pairs.groupby(level="sample", observed=True).sum()
    here, rest = int(cups[sample]), int(cups.loc[list(evidence.products)].sum() - cups[sample])
    ways = sum(comb(here, k) * comb(rest, total - k) for k in range(own, min(here, total) + 1))
    return ways / comb(here + rest, total) >= LUCK


def _marks(evidence: Evidence, sample: str, word: str, code: str) -> bool:
    """Tell whether somebody gave no other bottle a word as often, and `AGAIN` times."""
    every = ticks(evidence)
    own = every[sample, word][code][0]
    others = (every.get((other, word), {}) for other in evidence.products if other != sample)
    return all(given.get(code, (0, 0))[0] < max(own, AGAIN) for given in others)


def often(evidence: Evidence, given: dict[str, tuple[int, int]]) -> bool:
    """Tell whether a word was ticked more often than a bottle was tasted by one person."""
    times = evidence.replicates
    return times == 1 or sum(k for k, _ in given.values()) > times or len(people(evidence)) == 1


def _enough(evidence: Evidence, sample: str, word: str) -> bool:
    """Tell whether a word was ticked `often`, or is one bottle's alone.

    It is one bottle's alone where nobody gave it to another, and all of three did, or two of whom
    one gave it again.
    """
    given = ticks(evidence)[sample, word]
    if often(evidence, given):
        return True
    if any(word == other for one, other in ticks(evidence) if one != sample):
        return False
    everybody = len(given) == len(people(evidence)) > TWO
    again = sum(k for k, _ in given.values()) > TWO
    return len(given) >= TWO and (everybody or again)


def statements(evidence: Evidence) -> list[Statement]:
    """Say which words two gave, which one alone gave, and what was noted of faults."""
    made = _words(evidence) if evidence.attributes(Kind.TICKS) else []
    if evidence.attributes(Kind.FAULTS):
        made += [replace(one, section=SECTION) for one in tainted.statements(evidence)]
    elif all(not bottle.control for bottle in evidence.bottles):
        made.append(said("caution", "no_faults", section=SECTION))
    return made


def _words(evidence: Evidence) -> list[Statement]:
    found = ticks(evidence)
    if not found:
        return [said("description", "words_nothing", section=SECTION)]
    groups: dict[str, list[tuple[str, str]]] = {
        "both": [], "elsewhere": [], "alone": [], "single": []
    }  # fmt: skip
    for key, given in found.items():
        times = sum(k for k, _ in given.values())
        if len(given) >= TWO and _enough(evidence, *key):
            groups["both" if key[1] in common(evidence, key[0]) else "elsewhere"].append(key)
        elif len(given) == 1 and times > 1 and all(2 * k > of for k, of in given.values()):
            groups["alone"].append(key)
        else:
            groups["single"].append(key)
    made = []
    for group, keys in groups.items():
        if not keys:
            continue
        listed = [_at(evidence, *key) for key in keys]
        about = tuple(dict.fromkeys(sample for sample, _ in keys))
        name = f"words_{group}"
        if group == "both" and all(_beside_maker(evidence, found[key]) for key in keys):
            name = "words_both_label" if len(people(evidence)) == TWO else "words_both_use"
        if group == "single" and evidence.replicates == 1:
            name = "words_single_once"
        kind = "advice" if name in ("words_both_label", "words_both_use") else "description"
        made.append(said(kind, name, about, section=SECTION, n=len(keys), listed=listed))
    several: dict[str, list[str]] = {}
    for bottle in evidence.products:
        for word in shared_words(evidence, bottle):
            several.setdefault(word, []).append(bottle)
    listed = [
        sentence("few_report.several_one", word=evidence.name(word), bottles=bottles)
        for word, bottles in several.items()
        if len(bottles) > 1
    ]
    if listed:
        made.append(said("description", "words_several", tuple(several), section=SECTION,
                         listed=listed))  # fmt: skip
    return made


def _beside_maker(evidence: Evidence, given: dict[str, tuple[int, int]]) -> bool:
    return any(code not in evidence.makers for code in given)
