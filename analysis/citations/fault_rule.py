"""When a fault is acted on, and how often that rule errs in a panel of this size.

A false note is a fault noted in a cup that has none. At a small rate a cup and
fault, a session of many cups and faults still brings some; so one note alone
is a hint, and the rule counts two.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ..core.errors import OptionError
from ..core.options import share_of, whole
from ..core.result import Result, copies
from ..core.wording import percent, short, stated_percent
from ..core.words import Sentence
from ..inference.proportions import at_least, clopper_pearson

DEFAULT_RATE = 0.01
"""False notes a cup and fault where a panel's own rate is not known: assumed, no source."""
DEFAULT_WEIGHT = 100
"""Answers that the default is worth beside a panel's own."""
FEWEST_NOTES = 2
"""Notes of one fault from which a bottle is tasted again, whatever their rate."""
FEWEST_ASSESSORS = 2
"""Assessors without whom no bottle is held back: one alone never holds it."""
SHARES = (0.3, 0.5, 0.7, 0.9)
DECISIONS = ("hold", "recheck", "hint", "open", "pass")
"""Words of the rule, strictest first; `Rule` says what each asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """When to hold a bottle back, when to taste it again. Common practice, no source.

    Attributes
    ----------
    hold_share : float
        Hold where at least this share of assessors noted the same fault, and
        at least two assessors did.
    strong_share, strong_from : float, int
        Hold also where at least `strong_share` noted it at severity
        `strong_from` or more, and at least two assessors did.
    recheck_from : int, optional
        Taste again where the same fault was noted in at least so many cups:
        by two assessors, or twice by one. By default the smallest number from
        2 on at which false notes flag any sound bottle in at most `most_false`
        of sessions of this size (`fitted`); 2 where the size is not known.
    most_false : float
    fewest : int
        With fewer assessors silence is not enough to pass a bottle: it stays
        open.
    """

    hold_share: float = 0.5
    strong_share: float = 1 / 3
    strong_from: int = 2
    recheck_from: int | None = None
    most_false: float = 0.2
    fewest: int = 5

    def __post_init__(self) -> None:
        for name in ("hold_share", "strong_share", "most_false"):
            value = getattr(self, name)
            if not 0 < value <= 1:
                raise OptionError("faults.bad_share", name=name, value=value)
        whole("strong_from", self.strong_from)
        if self.recheck_from is not None:
            whole("recheck_from", self.recheck_from)
        whole("fewest", self.fewest)

    def sentence(self) -> Sentence:
        """Say the rule."""
        return Sentence.of(
            "faults.rule",
            hold=percent(self.hold_share),
            strong=percent(self.strong_share),
            severity=self.strong_from,
            recheck=Sentence.of("faults.cups", n=self.recheck_from or FEWEST_NOTES),
            fewest=self.fewest,
        )

    def decide(self, k: int, strong: int, n: int, cups: int | None = None) -> str:
        """Return the word for one fault of one bottle.

        Parameters
        ----------
        k, strong, n : int
            Assessors who noted it, who noted it strongly, and all.
        cups : int, optional
            Cups in which it was noted, at least `k`; by default `k`.

        Returns
        -------
        str
            "hold" (back), "recheck" (taste again), "hint" (one note: costs a
            second look only where the bottle can still be had), "open" (nobody
            noted it, but they were too few), "pass".

        Examples
        --------
        >>> rule = Rule()
        >>> rule.decide(4, 0, 8), rule.decide(2, 0, 8), rule.decide(1, 1, 8), rule.decide(0, 0, 8)
        ('hold', 'recheck', 'hint', 'pass')
        >>> rule.decide(1, 0, 8, cups=2), rule.decide(0, 0, 3)
        ('recheck', 'open')
        """
        share = k / n
        both = strong >= FEWEST_ASSESSORS and strong / n >= self.strong_share
        if k >= FEWEST_ASSESSORS and (share >= self.hold_share or both):
            return "hold"
        if max(k, cups or 0) >= (self.recheck_from or FEWEST_NOTES):
            return "recheck"
        if k:
            return "hint"
        return "pass" if n >= self.fewest else "open"

    def needed(self, n: int) -> int:
        """Return the fewest of `n` assessors who can have a bottle held back."""
        share = min(self.hold_share, self.strong_share)
        return max(FEWEST_ASSESSORS, math.ceil(share * n - 1e-9))

    def fitted(self, cups: int, kinds: int, rate: float) -> Rule:
        """Return the rule with `recheck_from` chosen for a session.

        Parameters
        ----------
        cups : int
            Cups poured of each bottle, over assessors and replicates.
        kinds : int
            Bottles times faults asked for.
        rate : float
            False notes a cup and fault.
        """
        if self.recheck_from is not None:
            return self
        notes = np.arange(FEWEST_NOTES, cups + 2)
        any_flagged = -np.expm1(kinds * np.log1p(-at_least(notes, cups, rate)))
        fit = int(notes[np.flatnonzero(any_flagged <= self.most_false)[0]])
        return replace(self, recheck_from=fit)


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseNotes:
    """How often this panel notes a fault in a cup that has none.

    Attributes
    ----------
    k, n : int
        False notes and answers about faults in cups known to be sound.
    rate : float
        ``(k + DEFAULT_RATE * DEFAULT_WEIGHT) / (n + DEFAULT_WEIGHT)``: the
        default where nothing is known, the panel's own where much is.
    low, high : float
        Exact limits from k of n alone; 0 and 1 without answers.
    level : float
    """

    k: int
    n: int
    rate: float
    low: float
    high: float
    level: float

    def sentence(self) -> Sentence:
        """Say the rate and where it comes from."""
        values = {"rate": percent(self.rate), "k": self.k, "n": self.n}
        if not self.n:
            return Sentence.of("faults.rate_default", **values)
        limits = {"low": percent(self.low), "high": percent(self.high)}
        return Sentence.of("faults.rate_own", level=stated_percent(self.level), **limits, **values)


def false_notes(k: int = 0, n: int = 0, *, level: float = 0.95) -> FalseNotes:
    """Estimate the rate of false notes a cup and fault.

    Parameters
    ----------
    k, n : int
        Faults noted, and answers about faults, in cups known to be sound
        (clean controls of this session and of earlier ones).
    level : float
        Confidence level of the limits.

    Raises
    ------
    OptionError
        If k is above n.

    Examples
    --------
    >>> none, own = false_notes(), false_notes(6, 900)
    >>> none.rate, round(own.rate, 4), round(own.low, 4), round(own.high, 4)
    (0.01, 0.007, 0.0025, 0.0145)
    """
    share_of("level", level)
    if not 0 <= k <= n:
        raise OptionError("faults.bad_notes", k=k, n=n)
    low, high = (float(x) for x in clopper_pearson(k, n, level)) if n else (0.0, 1.0)
    rate = (k + DEFAULT_RATE * DEFAULT_WEIGHT) / (n + DEFAULT_WEIGHT)
    return FalseNotes(k=k, n=n, rate=rate, low=low, high=high, level=level)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FaultErrors(Result):
    """How often the rule errs, counted out for the size of a session.

    Attributes
    ----------
    assessors, bottles, faults, replicates : int
        Bottles without controls; faults asked for each.
    false : FalseNotes
    rule : Rule
        With `recheck_from` fitted to the session.
    table : DataFrame
        Columns ``decision, needed, flagged, any_flagged``, one row for hint
        (or stricter), recheck (or stricter) and hold: notes needed for one
        fault, sound bottles that get the word in a session on average, and the
        chance that any does. For hold the largest that either way of reaching
        it allows.
    missed : DataFrame
        Columns ``share, hint, recheck, hold``: the chance that a fault which
        each assessor notices with probability ``share`` in each cup does not
        get the word, at a severity that is not strong.
    """

    assessors: int
    bottles: int
    faults: int
    replicates: int
    false: FalseNotes
    rule: Rule
    table: pd.DataFrame
    missed: pd.DataFrame
    method: str = "binomial, assessors and faults independent"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say false flags a session, and what is missed."""
        own = {str(row["decision"]): row for row in self.table.to_dict("records")}
        missed = next(row for row in self.missed.to_dict("records") if row["share"] == 0.5)
        return (
            self.false.sentence(),
            Sentence.of(
                "faults.errors",
                n=self.bottles,
                hint=_about(float(own["hint"]["flagged"])),
                recheck=_about(float(own["recheck"]["flagged"])),
                hold=percent(float(own["hold"]["any_flagged"])),
            ),
            Sentence.of(
                "faults.missed",
                recheck=percent(float(missed["recheck"])),
                hold=percent(float(missed["hold"])),
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return false flags and misses."""
        return copies(**{"faults.errors_table": self.table, "faults.missed_table": self.missed})


def fault_errors(
    assessors: int,
    bottles: int,
    faults: int,
    *,
    replicates: int = 1,
    false: FalseNotes | None = None,
    rule: Rule | None = None,
) -> FaultErrors:
    """Count out how often the rule flags sound bottles, and misses faults.

    Parameters
    ----------
    assessors, bottles, faults : int
        Who tasted, products tasted, faults asked for in each cup.
    replicates : int
        Cups of a bottle that each assessor had.
    false : FalseNotes, optional
        By default `false_notes()`: nothing known of the panel.
    rule : Rule, optional

    Returns
    -------
    FaultErrors

    Raises
    ------
    OptionError
        For a number below 1.

    Examples
    --------
    >>> found = fault_errors(8, 4, 15)
    >>> found.table.set_index("decision")["any_flagged"].round(3).to_dict()
    {'hint': 0.992, 'recheck': 0.149, 'hold': 0.003}
    """
    n, b = whole("assessors", assessors), whole("bottles", bottles)
    f, r = whole("faults", faults), whole("replicates", replicates)
    known, cups = false or false_notes(), n * r
    rule = (rule or Rule()).fitted(cups, b * f, known.rate)
    again_from = rule.recheck_from or FEWEST_NOTES

    def beyond(rate: float) -> dict[str, float]:
        """Return the chance of each word or a stricter one, for one fault."""
        noting = 1 - (1 - rate) ** r
        hold = float(at_least(rule.needed(n), n, noting))
        again = float(at_least(again_from, cups, rate))
        return {
            "hint": float(at_least(1, cups, rate)),
            "recheck": max(again, hold),
            "hold": hold,
        }

    wrong = beyond(known.rate)
    needed = {"hint": 1, "recheck": again_from, "hold": rule.needed(n)}
    rows = []
    for word, chance in wrong.items():
        one = -math.expm1(f * math.log1p(-chance)) if chance < 1 else 1.0
        rows.append((word, needed[word], b * one, 1 - (1 - one) ** b))
    half = math.ceil(rule.hold_share * n - 1e-9)
    missed = []
    for share in SHARES:
        noting = 1 - (1 - share) ** r
        held = float(at_least(max(FEWEST_ASSESSORS, half), n, noting))
        again = float(at_least(again_from, cups, share))
        noted_once = float(at_least(1, cups, share))
        missed.append((share, 1 - noted_once, 1 - max(again, held), 1 - held))
    return FaultErrors(
        assessors=n,
        bottles=b,
        faults=f,
        replicates=r,
        false=known,
        rule=rule,
        table=pd.DataFrame(rows, columns=["decision", "needed", "flagged", "any_flagged"]),
        missed=pd.DataFrame(np.array(missed), columns=["share", "hint", "recheck", "hold"]),
    )


def _about(count: float) -> str | Sentence:
    """Write an expected number of bottles, never finer than a hundredth of one."""
    return short(count, 2) if count >= 0.01 else Sentence.of("faults.hardly_any", limit="0.01")
