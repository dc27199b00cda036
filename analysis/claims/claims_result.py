"""What may be claimed of a session: the tables, and the statements that they allow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from ..core.errors import OptionError
from ..core.options import share_of
from ..core.result import Result, copies, each_row
from ..core.wording import short
from ..core.words import Sentence
from .claim_members import NAMED_WEIGHTS, OTHERS_SHARE, WEIGHTS, Named
from .power_of_claims import detectable_table


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Claims(Result):
    """What may be claimed of a session, at one familywise error for all of it.

    Attributes
    ----------
    table : DataFrame
        One row a question whether the bottles differ: ``kind`` (scale, balance,
        gap, word, fault, overall), ``about`` (the attribute; "palate-nose" for
        a gap; "" for overall), ``named`` (beforehand), ``weight``, ``tested``,
        ``n`` (assessors who count), ``samples`` (compared), ``statistic`` (the
        widest pair's t; for overall the sum of -log p), ``df`` (of the error;
        inf for words and faults), ``p`` (of this question alone), ``p_adjusted``
        (for everything in the report: claimed where it is at most `alpha`),
        ``claimed``, ``sd`` (of a cell, within assessors), ``needed`` (the
        difference of a pair from which on this question would have been
        claimed, scale points or share of assessors; of a word, and where there are
        three bottles, for one bottle that stands apart from all others).
    pairs : DataFrame
        ``kind, about, sample_a, sample_b, higher, difference, low, high, p,
        p_adjusted, claimed``: difference is a less b, its limits are those of
        one pair alone (not adjusted), higher is the bottle with more.
    majority : DataFrame
        One row a bottle and balance: `counts_by_side`, with ``attribute, named,
        p_adjusted, claimed``. Claimed: more than half of such people find it
        too sweet, or too dry.
    shifts : DataFrame
        `maker_shifts`, with ``named, p_adjusted, claimed``.
    effects : DataFrame
        What crossed factors do: `factor_effects`, with ``weight, p_adjusted, claimed``;
        without rows where no factors were given.
    alpha : float
        Chance of any false claim that is held.
    kind : {'all shuffles', 'random shuffles', 'rotations'}
        How the reference was made.
    shuffles : int
        Number of shuffles, the data among them.
    seed : int or None
        Of random shuffles and rotations.
    smallest_panel : int
        Assessors who must all say the same for a majority to be claimed (first step).
    level_first, level_last : float
        p that a question of weight 1 needed for a claim, when nothing was
        claimed yet and after all claims.
    """

    table: pd.DataFrame
    pairs: pd.DataFrame
    majority: pd.DataFrame
    shifts: pd.DataFrame
    alpha: float
    kind: str
    shuffles: int
    seed: int | None
    smallest_panel: int
    level_first: float
    level_last: float
    named: tuple[Named, ...] = ()
    effects: pd.DataFrame = field(default_factory=pd.DataFrame)
    method: str = (
        "weighted step-down over shuffled bottles of the studentized range (three bottles: F); "
        "pairs by closed testing; exact sign test and prediction t for the rest"
    )

    def claimed(self, kind: str, about: str = "") -> bool:
        """Tell whether the bottles may be said to differ in one thing.

        Raises
        ------
        OptionError
            If it is not in the table.
        """
        rows = self.table[(self.table["kind"] == kind) & (self.table["about"] == about)]
        if rows.empty:
            raise OptionError("claims.no_question", kind=kind, about=about)
        return bool(rows["claimed"].any())

    def pairs_claimed(self, kind: str, about: str) -> pd.DataFrame:
        """Return the pairs that may be told apart in one thing, the surest first."""
        rows = self.pairs[(self.pairs["kind"] == kind) & (self.pairs["about"] == about)]
        return rows[rows["claimed"]].sort_values("p_adjusted", kind="stable")

    def detectable(self, power: float = 0.80) -> pd.DataFrame:
        """Return the smallest difference of two bottles that this very rule finds.

        Parameters
        ----------
        power : float
            Chance of finding it, between 0 and 1: 0.80 is 8 of 10 tastings
            like this one.

        Returns
        -------
        DataFrame
            ``kind, about, unnamed, named, alone``: scale points, for a question
            that was not named beforehand, for one named beforehand, and for
            the pair alone at 5 % (which a report of one question would find).
        """
        return detectable_table(
            self.table,
            self.pairs,
            level=self.level_first,
            weights=(WEIGHTS, NAMED_WEIGHTS[0]),
            alpha=self.alpha * (1 - OTHERS_SHARE),
            power=share_of("power", power),
        )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what may be claimed, or that nothing may."""
        said = each_row(self.table[self.table["claimed"]], self._difference)
        said += each_row(
            self.majority[self.majority["claimed"]],
            lambda row: Sentence.of(f"claims.{row.side}", sample=row.sample),
        )
        said += each_row(
            self.shifts[self.shifts["claimed"]],
            lambda row: Sentence.of(
                "claims.maker_above" if row.shift > 0 else "claims.maker_below",
                maker=row.maker,
                about=row.attribute,
            ),
        )
        if len(self.effects):
            said += each_row(self.effects[self.effects["claimed"]], _effect)
        return said or (Sentence.of("claims.nothing"),)

    def _difference(self, row: Any) -> Sentence:
        if row.kind == "overall":
            return Sentence.of("claims.overall")
        key = "claims.more" if row.kind in {"word", "fault"} else "claims.higher"
        pairs = each_row(self.pairs_claimed(row.kind, row.about), _pair)
        return Sentence.of(key, about=row.about, listed=pairs)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the tables that have rows."""
        shown = {
            "claims.heading": self.table,
            "claims.heading_pairs": self.pairs,
            "claims.heading_majority": self.majority,
            "claims.heading_shifts": self.shifts,
            "claims.heading_effects": self.effects,
        }
        return copies(**{key: table for key, table in shown.items() if len(table)})


def _effect(row: Any) -> Sentence:
    """Say what one factor does, or that two change what each other does."""
    names = row.effect.split(":")
    values = {"about": row.attribute, "factor": names[0], "other": names[-1]}
    turned = row.estimate < 0
    ends = (-row.high, -row.low) if turned else (row.low, row.high)
    size = {"by": short(abs(row.estimate)), "low": short(ends[0]), "high": short(ends[1])}
    first, last = row.levels[0][:: -1 if turned and len(names) == 1 else 1]
    if len(names) == 1:
        return Sentence.of("claims.effect_higher", first=first, last=last, **values, **size)
    one, more = row.levels[1][:: -1 if turned else 1]
    return Sentence.of(
        "claims.effect_more", first=first, last=last, one=one, more=more, **values, **size
    )


def _pair(row: Any) -> Sentence:
    lower = row.sample_b if row.higher == row.sample_a else row.sample_a
    return Sentence.of("claims.pair", higher=row.higher, lower=lower)
