"""Words and faults of a few assessors: shared, one person's, or a single tick."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from math import comb

import numpy as np
import numpy.typing as npt

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
SHUFFLES = 400
"""How often everybody's ticks are dealt out anew to reckon what luck would give."""
SEED = 2611
Counts = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]


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


@dataclass(frozen=True, slots=True, eq=False)
class Ticked:
    """How often each assessor ticked one word at each bottle.

    Attributes
    ----------
    given, cups : ndarray of int, shape (assessors, bottles)
        Ticks, and tastings.
    times : int
        Tastings of a bottle by one person, as planned.
    """

    given: Counts
    cups: Counts
    times: int

    @property
    def two(self) -> int:
        """People who make a word shared: `TWO`, or the one there is."""
        return min(TWO, len(self.given))

    def often(self, own: Counts) -> bool:
        """Tell whether these ticks are more than a bottle was tasted by one person."""
        return self.times == 1 or int(own.sum()) > self.times or len(self.given) == 1

    def enough(self, at: int) -> bool:
        """Tell whether the word was ticked `often` at a bottle, or is that one bottle's alone.

        It is one bottle's alone where nobody gave it to another, and all of three did, or two of
        whom one gave it again.
        """
        own = self.given[:, at]
        if self.often(own):
            return True
        if self.given.sum() > own.sum():
            return False
        people_ = int((own > 0).sum())
        everybody = people_ == len(own) > TWO
        return people_ >= TWO and (everybody or int(own.sum()) > TWO)

    def shared(self) -> list[int]:
        """Return the bottles that two people or more gave the word, and not too rarely."""
        people_ = (self.given > 0).sum(axis=0)
        return [at for at, n in enumerate(people_) if n and n >= self.two and self.enough(at)]

    def common(self) -> list[int]:
        """Return the bottles that the word marks.

        One who gave the word to another bottle as often, and more than once, does not count: for
        that person it does not mark this one. A word that two gave to several bottles is told as
        such.
        """
        alone = len(self.shared()) == 1
        found = []
        for at in np.flatnonzero(self.given.any(axis=0)).tolist():
            own = np.where(self._marks(at), self.given[:, at], 0) if alone else self.given[:, at]
            whole = bool((own == self.given[:, at]).all())
            few = not self.often(own) and not (whole and self.enough(at))
            if int((own > 0).sum()) >= self.two and not few and not self.scattered(at):
                found.append(at)
        return found

    def scattered(self, at: int) -> bool:
        """Tell whether the word, given elsewhere too, falls on a bottle as often by luck.

        From `LUCK` on, that so many of its ticks or more fall on this bottle's cups, of all cups
        (hypergeometric); a word of several bottles is told as such.
        """
        own, total = int(self.given[:, at].sum()), int(self.given.sum())
        if own == total or len(self.shared()) > 1:
            return False
        here = int(self.cups[:, at].sum())
        rest = int(self.cups.sum()) - here
        ways = sum(comb(here, k) * comb(rest, total - k) for k in range(own, min(here, total) + 1))
        return ways / comb(here + rest, total) >= LUCK

    def _marks(self, at: int) -> Bools:
        """Tell of each person whether no other bottle got the word as often, and `AGAIN` times."""
        others = np.delete(self.given, at, axis=1).max(axis=1, initial=0)
        made: Bools = others < np.maximum(self.given[:, at], AGAIN)
        return made

    def usable(self) -> list[int]:
        """Return the bottles at which the word is told as usable."""
        common = self.common()
        people_ = (self.given > 0).sum(axis=0)
        return [at for at in common if people_[at] >= TWO and self.enough(at)]

    def alone(self) -> bool:
        """Tell whether it is usable at one bottle alone."""
        return len(self.usable()) == 1

    def by_luck(self, rng: np.random.Generator) -> float:
        """Return how often it would be usable at one bottle alone if cups were alike.

        Everybody's ticks are dealt out anew over that person's own cups, `SHUFFLES` times.
        """
        if int((self.given > 0).any(axis=1).sum()) < TWO:
            return 0.0
        dealt = [
            rng.multivariate_hypergeometric(cups, int(own.sum()), size=SHUFFLES)
            for own, cups in zip(self.given, self.cups, strict=True)
        ]
        known: dict[bytes, bool] = {}
        total = 0
        for given in np.stack(dealt, axis=1):
            key = given.tobytes()
            if key not in known:
                known[key] = replace(self, given=given).alone()
            total += known[key]
        return total / SHUFFLES


@once
def ticked(evidence: Evidence) -> dict[str, Ticked]:
    """Return everybody's ticks of each word that was ticked at all, bottles as in the session."""
    who, bottles = people(evidence), list(evidence.products)
    table = evidence.scores.groupby(["assessor", "sample"], observed=True)["replicate"].nunique()
    cups = table.unstack("sample").reindex(index=who, columns=bottles).fillna(0).to_numpy(int)
    used = {word for _, word in ticks(evidence)}
    made = {
        word: Ticked(np.zeros_like(cups), cups, evidence.replicates)
        for word in evidence.attributes(Kind.TICKS)
        if word in used
    }
    for (sample, word), given in ticks(evidence).items():
        for code, (k, _) in given.items():
            made[word].given[who.index(code), bottles.index(sample)] = k
    return made


@once
def by_luck(evidence: Evidence) -> float:
    """Return how many usable words there would be if all cups were alike (seeded)."""
    rng = np.random.default_rng(SEED)
    return sum(one.by_luck(rng) for one in ticked(evidence).values())


@once
def above_luck(evidence: Evidence) -> bool:
    """Tell whether more words are usable at one bottle alone than luck would give."""
    return sum(one.alone() for one in ticked(evidence).values()) > by_luck(evidence)


def told(evidence: Evidence, sample: str) -> list[str]:
    """Return the words that may describe a bottle: `common`, but no more than luck would give.

    Words of several bottles are told as such.
    """
    clear = above_luck(evidence)
    return [
        name for name in common(evidence, sample) if clear or not ticked(evidence)[name].alone()
    ]


def shared_words(evidence: Evidence, sample: str) -> list[str]:
    """Return the words that two people or more gave a bottle, and not too rarely."""
    at = evidence.products.index(sample)
    return [word for word, one in ticked(evidence).items() if at in one.shared()]


def common(evidence: Evidence, sample: str) -> list[str]:
    """Return the words of `shared_words` that mark a bottle: see `Ticked.common`."""
    at = evidence.products.index(sample)
    return [word for word, one in ticked(evidence).items() if at in one.common()]


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
        "both": [], "luck": [], "elsewhere": [], "alone": [], "single": []
    }  # fmt: skip
    for key, given in found.items():
        times = sum(k for k, _ in given.values())
        one, at = ticked(evidence)[key[1]], evidence.products.index(key[0])
        if len(given) >= TWO and one.enough(at):
            luck_ = one.alone() and not above_luck(evidence)
            usable = "luck" if luck_ else "both"
            groups[usable if at in one.usable() else "elsewhere"].append(key)
        elif len(given) == 1 and times > 1 and all(2 * k > of for k, of in given.values()):
            groups["alone"].append(key)
        else:
            groups["single"].append(key)
    made = []
    luck = fixed(by_luck(evidence), 1)
    for group, keys in groups.items():
        if not keys:
            continue
        listed = [_at(evidence, *key) for key in keys]
        about = tuple(dict.fromkeys(sample for sample, _ in keys))
        name = f"words_{group}"
        alone = any(ticked(evidence)[word].alone() for _, word in keys)
        if group == "both" and not alone:
            name = "words_several_given"
        elif group == "both" and all(_beside_maker(evidence, found[key]) for key in keys):
            name = "words_both_label" if len(people(evidence)) == TWO else "words_both_use"
        if group == "single" and evidence.replicates == 1:
            name = "words_single_once"
        kind = "advice" if name in ("words_both_label", "words_both_use") else "description"
        made.append(said(kind, name, about, section=SECTION, n=len(keys), listed=listed,
                         luck=luck))  # fmt: skip
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
